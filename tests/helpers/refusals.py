"""Pieces of board files, and running the program where it answers or refuses."""

from __future__ import annotations

from click.testing import CliRunner

from helpers.program import without_progress
from sigsim.cli.main import cli
from sigsim.errors import SigsimError

ENDS = """
[instrument]
resistance = "8 kΩ"
inductance = "3 H"
[destination]
input_resistance = "1 MΩ"
[cables.lead]
capacitance = "100 pF/m"
"""


LEAD = '[[chain]]\ncable = "lead"\nlength = "10 ft"\n'


CHAIN = '[[chain]]\nstage = "pedal"\n'


STAGE = '[[chain]]\nstage = "fuzz"\ninput_resistance = "1M"\noutput_resistance = "1k"\n'


def assert_refused(run: object, *words: str) -> None:
    status, out, err = run.status, run.out, run.err  # type: ignore[attr-defined]
    assert status == 2, err
    assert out == ""
    assert "Traceback" not in err
    for word in words:
        assert word in err, f"{word!r} not in {err!r}"


def quick(*arguments: object) -> str:
    """Return what the program prints, run in this process."""
    result = CliRunner().invoke(cli, [*map(str, arguments)], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return str(result.stdout)


def refused(*arguments: object) -> str:
    """Return the message with which the program refuses arguments, run in this process."""
    result = CliRunner().invoke(cli, [*map(str, arguments)])
    if isinstance(result.exception, SigsimError):
        assert without_progress(result.output) == ""
        return str(result.exception)
    assert result.exit_code == 2, result.output
    return str(result.output)

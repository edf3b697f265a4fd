"""`sigsim verify`: what it takes, what it refuses, what it prints, and its exit status.

What is compared and suspected is tested in `tests/measure`; here most results are made by hand.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from helpers.in_process import sigsim_here
from helpers.program import EXAMPLES
from helpers.results import verified

from sigsim.board.model import Board
from sigsim.board.reader import read_board
from sigsim.measure.known import Across
from sigsim.measure.verdict import Verified
from sigsim.show.plots.style import new_figure
from sigsim.show.plots.verify import draw_verify
from sigsim.units import Quantity

BASS = EXAMPLES / "ferry-bass.toml"
# A board that a sum can follow: a lead of 600 pF from 100 kΩ into 1 MΩ.
LEAD = """\
[instrument]
resistance = "10 kΩ"
inductance = "4 H"
capacitance = "100 pF"
[destination]
input_resistance = "1 MΩ"
input_capacitance = 0
[cables.lead]
capacitance = "100 pF/m"
[[chain]]
cable = "lead"
length = "6 m ± 2 %"
[[chain]]
stage = "tuner"
input_resistance = "1 MΩ"
output_resistance = "1 kΩ"
"""


class Asked:
    """Stands for the comparison, and keeps what it was asked."""

    def __init__(self, *, wrong: bool) -> None:
        self.wrong = wrong
        self.compared: Sequence[Any] = ()
        self.given: dict[str, Any] = {}

    def __call__(self, board: Board, compared: Sequence[Any], **given: Any) -> Verified:
        self.compared, self.given = compared, given
        on = tuple(one.state.on for one in compared)
        return verified(board, wrong=self.wrong, on=on)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder with tables of ratios, and go there."""
    monkeypatch.chdir(tmp_path)
    for name in ("through", "also", "a=b", "without"):
        table(f"{name}.csv", 600e-12)
    return tmp_path


def table(name: str, farads: float) -> None:
    """Write what a capacitance loses between 100 kΩ and 1 MΩ, by Ohm's law."""
    f = np.geomspace(50, 20_000, 300)
    parallel = 1 / (1 / 1e5 + 1 / 1e6)
    ratio = 1 / (1 + 2j * np.pi * f * farads * parallel)
    rows = zip(f, 20 * np.log10(abs(ratio)), np.degrees(np.angle(ratio)), strict=True)
    text = "".join(f"{x},{y},{z}\n" for x, y, z in rows)
    Path(name).write_text(f"frequency_hz,gain_db,phase_deg\n{text}", encoding="utf-8")


def asking(monkeypatch: pytest.MonkeyPatch, *, wrong: bool) -> Asked:
    import importlib

    found = Asked(wrong=wrong)
    home = importlib.import_module(COMPARISON)
    monkeypatch.setattr(home, "verify", found)
    return found


COMPARISON = "sigsim.measure.comparison"


def test_what_is_asked_for_reaches_the_comparison(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = asking(monkeypatch, wrong=False)
    run = sigsim_here(
        "verify", BASS, "--through", "through.csv", "--scene", "storm", "--limit", "2",
        "--driven-by", "100k", "--input", "1 MΩ, 150 pF ± 5 %", "--without-means", "ideal",
        "--also", "tuner,bilge fuzz=also.csv", "--also", "=a=b.csv",
    )  # fmt: skip
    assert run.status == 0, run.err
    board = read_board(BASS)
    assert [one.state.on for one in asked.compared] == [
        board.scene("storm").on, board.checked({"tuner", "bilge fuzz"}).on, (),
    ]  # fmt: skip
    assert asked.given["driven_by"] == 1e5
    assert asked.given["limit"] == 2.0
    assert asked.given["without_means"] == "ideal"
    assert asked.given["interface"] == Across(Quantity(1e6), Quantity(150e-12, 0.05))
    assert [one.ratio.name for one in asked.compared] == ["through.csv", "also.csv", "a=b.csv"]


def test_what_is_not_said_is_left_to_the_comparison(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = asking(monkeypatch, wrong=False)
    tables = ("--through", "through.csv", "--without", "without.csv")
    assert sigsim_here("verify", BASS, *tables, "--driven-by", "Instrument").status == 0
    assert [one.state.on for one in asked.compared] == [()]
    assert asked.given["driven_by"] is None
    assert asked.given["interface"] is None
    assert asked.given["without_means"] is None


def test_a_scene_may_stand_for_what_is_on_in_it(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = asking(monkeypatch, wrong=False)
    run = sigsim_here("verify", BASS, "--through", "through.csv", "--also", "storm=also.csv")
    assert run.status == 0, run.err
    assert asked.compared[1].state.on == read_board(BASS).scene("storm").on


def test_agreement_is_said_first(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asking(monkeypatch, wrong=False)
    run = sigsim_here("verify", BASS, "--through", "through.csv")
    assert run.status == 0
    assert run.out.startswith("Agrees with the plan within 0.3 dB up to 10 kHz.\n")
    assert "Check first" not in run.out
    assert run.err == "note: T.wav: the right channel has the sweep\n"


def test_what_to_check_first_is_said_and_the_status_is_1(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asking(monkeypatch, wrong=True)
    also = ("--also", "tuner=also.csv")
    run = sigsim_here("verify", BASS, "--through", "through.csv", *also, "--plot", "plot.svg")
    assert run.status == 1
    assert Path("plot.svg").stat().st_size
    text = " ".join(run.out.split())
    assert text.startswith("3.0 dB more loss at 10 kHz than planned, with all off.")
    assert "Driven by 100 kΩ and not by the instrument" in text
    assert "The limit is 1 dB. Below that they agree within 0.6 dB up to 2.2 kHz." in text
    assert "Check first: the length of 'the 6 m of lead' or 'the 3 m of to amp': 2.4 m more" in text
    assert "The capacitance of the wiring in 'tuner' or 'wah': 240 pF more" in text
    assert (
        "Record next with 'tuner' on, which tells these apart: --also \"tuner=NEXT.wav\"." in text
    )
    assert max(map(len, run.out.splitlines())) <= 80


def test_json_says_what_the_manual_lists(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asking(monkeypatch, wrong=True)
    run = sigsim_here("verify", BASS, "--through", "through.csv", "--json")
    assert run.status == 1
    found = json.loads(run.out)
    assert found["within_limit"] is False
    assert found["files"] == [{"role": "through", "file": "through.csv"}]
    (group,) = found["suspects"]
    likeliest = {"key": "length", "change": 2.4, "unit": "m", "explains": 0.97}
    assert group["each"][0] == {
        "names": ["the 6 m of lead", "the 3 m of to amp"], "things": ["lead", "to amp"],
        **likeliest,
    }  # fmt: skip
    assert group.items() >= likeliest.items()
    assert group["names"] == ["lead", "to amp", "tuner", "wah", "instrument", "fuzz"]
    assert found["record_next"] == ["tuner"]
    assert len(found["states"][0]["bands"]) == 21  # third octaves from 100 Hz to 10 kHz


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--through", "through.wav"), "beside one without the board"),
        (("--through", "through.csv", "--without", "./through.csv"), "already --through"),
        (("--through", "through.csv", "--also", "tuner=through.csv"), "already --through"),
        (("--through", "through.csv", "--also", "also.csv"), "not clear which pedals"),
        (("--through", "through.csv", "--also", "tunr=also.csv"), 'did you mean "tuner"?'),
        (("--through", "through.csv", "--driven-by", "10 nF"), "--driven-by: "),
        (("--through", "through.csv", "--driven-by", "0"), "--driven-by: "),
        (("--through", "through.csv", "--input", "1 H"), "--input: "),
        (("--through", "through.csv", "--limit", "nan"), "--limit: "),
        (("--through", "through.csv", "--sweep", "also.csv"), "--sweep: "),
        (("--through", "nothing.csv"), "nothing.csv"),
        (("--through", "through.csv", "--on", "tuner", "--all-off"), "one combination"),
    ],
)
def test_what_does_not_go_together_is_refused_in_one_sentence(
    arguments: tuple[str, ...], said: str, folder: Path
) -> None:
    run = sigsim_here("verify", BASS, *arguments, "--plot", "plot.png")
    assert run.status == 2
    assert said in run.err
    assert run.out == ""
    assert run.err.count("\n") == 1
    assert not Path("plot.png").exists()


def test_each_state_has_its_panel(folder: Path) -> None:
    board = read_board(BASS)
    on = ((), ("tuner",), ("bilge fuzz",))
    panels = draw_verify(new_figure(), verified(board, wrong=True, on=on))
    assert [axes.get_title(loc="left") for axes in panels] == [
        "all off", "'tuner' on", "'bilge fuzz' on",
    ]  # fmt: skip
    assert [axes.get_ylabel() for axes in panels] == ["loss (dB)"] * 3
    assert panels[-1].get_xlabel() == "frequency (Hz)"


# From a table to a verdict


def test_a_lead_as_planned_and_a_lead_that_is_longer(folder: Path) -> None:
    """Ohm's law: 600 pF of cable, and 840 pF, which is 2.4 m more of 100 pF/m."""
    Path("board.toml").write_text(LEAD, encoding="utf-8")
    asked = ("verify", "board.toml", "--through", "through.csv", "--driven-by", "100k", "--json")
    run = sigsim_here(*asked)
    assert run.status == 0, run.err
    # A line of 6 m is not quite a capacitor, and the bands are not quite points.
    assert json.loads(run.out)["largest_difference_db"] < 0.05
    table("through.csv", 840e-12)
    run = sigsim_here(*asked)
    assert run.status == 1, run.err
    found = json.loads(run.out)
    (length,) = [s for s in found["suspects"][0]["each"] if s["key"] == "length"]
    # The table's uncertainty of 0.05 dB is some 2 % of the picofarads.
    assert length["change"] == pytest.approx(2.4, abs=0.15)

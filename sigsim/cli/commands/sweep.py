"""`sigsim sweep`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click

from sigsim.cli import options
from sigsim.cli.ranges import Number, Whole
from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from sigsim.measure.played import Sweep

_ENDINGS: Final = (".wav",)
# The options by what they are called where a sweep is made.
_OPTIONS: Final = {
    "rate": "--rate",
    "seconds": "--seconds",
    "low": "--from",
    "high": "--to",
    "level_db": "--level",
    "repeats": "--repeat",
}


@click.command("sweep")
@click.argument("out", metavar="OUT.wav", type=click.Path())
@options.setting(
    "--rate",
    type=Whole("samples a second, such as 44100 or 48000"),
    default=48_000,
    metavar="HZ",
    help="Samples a second; record at the same rate.",
)
@options.setting(
    "--seconds",
    type=Number("seconds, such as 10"),
    default=10.0,
    metavar="S",
    help="How long each sweep takes.",
)
@click.option(
    "--from",
    "low",
    type=options.FREQUENCY,
    default=20.0,
    help="Where it begins.  [default: 20 Hz]",
)
@click.option(
    "--to",
    "high",
    type=options.FREQUENCY,
    default=20_000.0,
    help="Where it ends.  [default: 20 kHz]",
)
@options.setting(
    "--level",
    type=Number("decibels below full scale, such as -20"),
    default=-20.0,
    metavar="DBFS",
    help="Its peak; 0 is full scale.",
)
@options.setting(
    "--repeat",
    type=Whole("how many, such as 3"),
    default=3,
    metavar="N",
    help="How many sweeps, one after the other; they show what noise there is.",
)
@options.force_option
def command(
    out: str,
    rate: int,
    seconds: float,
    low: float,
    high: float,
    level: float,
    repeat: int,
    force: bool,
) -> None:
    """Write the test signal to play and record, and say how to wire it.

    A sweep from low to high, several times, as WAV of 24 bits, mono. It is quiet on purpose. Play
    it out of the interface and record what comes back; "sigsim measure" and "sigsim verify" take
    the recordings.

    Ears and loudspeakers first: monitors and headphones off before you play it.
    """
    from sigsim.cli.output import check_writable, checked_ending
    from sigsim.measure.played import Sweep

    check_writable(out, force)
    checked_ending(out, _ENDINGS, "the test signal is a WAV file", "OUT.wav")
    try:
        sweep = Sweep(rate, seconds, low, high, level, repeat)
    except SigsimError as error:
        raise error.at(_OPTIONS.get(error.problem.where, "sweep")) from None
    _write(sweep, out, force)


def _write(sweep: Sweep, out: str, force: bool) -> None:
    from sigsim.audio.files import write_wav
    from sigsim.cli.output import whole_file
    from sigsim.show.render.terminal import print_document
    from sigsim.show.sweep import document

    samples = sweep.samples()
    with whole_file(out, force) as part:
        write_wav(part, samples[:, None], sweep.rate)
    print_document(document(sweep, samples.size / sweep.rate, out))

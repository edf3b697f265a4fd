"""`sigsim sweep`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click

from sigsim.cli import options
from sigsim.cli.ranges import Range
from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from sigsim.measure.played import Sweep

_ENDINGS: Final = (".wav",)
# Of the sample rate: above, an interface's own filter begins.
_HIGHEST: Final = 0.46
# A sweep that is narrower cannot tell a resistor from a capacitor.
_NARROWEST: Final = 10.0
_LONGEST_S: Final = 600.0


@click.command("sweep")
@click.argument("out", metavar="OUT.wav", type=click.Path())
@options.setting(
    "--rate",
    type=click.IntRange(8000, 192_000),
    default=48_000,
    metavar="HZ",
    help="Samples a second; record at the same rate.",
)
@options.setting(
    "--seconds", type=Range(1, 120), default=10.0, metavar="S", help="How long each sweep takes."
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
    type=Range(-60, -1),
    default=-20.0,
    metavar="DBFS",
    help="Its peak; 0 is full scale.",
)
@options.setting(
    "--repeat",
    type=click.IntRange(1, 20),
    default=3,
    help="How many sweeps, one after the other: they show what noise there is.",
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

    _check(rate, low, high, repeat * seconds)
    check_writable(out, force)
    checked_ending(out, _ENDINGS, "the test signal is a WAV file", "OUT.wav")
    _write(Sweep(rate, seconds, low, high, level, repeat), out, force)


def _check(rate: int, low: float, high: float, seconds: float) -> None:
    """Refuse a sweep that cannot be played, or that would tell too little."""
    if high > _HIGHEST * rate:
        raise options.unfit(
            "--to",
            f"{high:g}",
            f"a sweep ends below {_HIGHEST:g} times the rate, here {_HIGHEST * rate:g} Hz",
            f"a lower --to, or a --rate from {high / _HIGHEST:.0f} Hz on",
        )
    if high < _NARROWEST * low:
        raise options.unfit(
            "--from",
            f"{low:g}",
            "this sweep is too narrow to tell anything",
            f"--to at least {_NARROWEST:g} times as high as --from",
        )
    if seconds > _LONGEST_S:
        what = f"all sweeps together take {seconds:g} s"
        accepted = f"{_LONGEST_S:g} s at most"
        raise SigsimError(what, where="--seconds, --repeat", accepted=accepted)


def _write(sweep: Sweep, out: str, force: bool) -> None:
    from sigsim.audio.files import write_wav
    from sigsim.cli.output import whole_file
    from sigsim.show.render.terminal import print_document
    from sigsim.show.sweep import document

    samples = sweep.samples()
    with whole_file(out, force) as part:
        write_wav(part, samples[:, None], sweep.rate)
    print_document(document(sweep, samples.size / sweep.rate, out))

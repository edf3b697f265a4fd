"""What to do with the test signal: the wiring in words, and what comes next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.show.commands import command_lines, word
from sigsim.show.document import Document, Items, Paragraph
from sigsim.show.render.text import count, plain

if TYPE_CHECKING:
    from sigsim.measure.played import Sweep

TITLE: Final = "The test signal"

# What `measure` takes for granted at any rate; how loud it was is in all recordings alike.
_USUAL: Final = (10.0, 20.0, 20_000.0, 3)
_RECORDED: Final = (
    "--loop loop.wav", "--before before.wav", "--with cable.wav", '--resistor "100 kΩ"',
)  # fmt: skip
_UNUSUAL: Final = ("Keep the --sweep in it, for this is not the usual signal.",)
_REST: Final = '"sigsim measure pickup --help" and its like tell the rest.'
_CAUTION: Final = (
    "Ears and loudspeakers first: monitors and headphones off or muted, and nobody "
    "wears them. The amp is not part of the loop: leave it out. Open nothing that is "
    "mains-powered. On the interface: phantom power off, direct monitoring off, no "
    "automatic gain, no effects; the pad stays as it is.",
    "",
)
_WIRING: Final = (
    "The wiring, for a cable, a pickup or a pedal:",
    "1. loop: interface output, resistor (100 kΩ) with a wire across it, lead, "
    "instrument input. Play, and turn up until it peaks between -12 and -6 dB. From here "
    "on touch no knob.",
    "2. before: take the wire off the resistor. Where resistor and lead meet there is a "
    "third socket: leave it empty, or for a bass or a pedal put its own lead into it.",
    "3. with: plug what you measure there, or at the end of that lead; its own far end stays free.",
    "Record the whole signal each time, from before it starts to after it ends.",
    "",
)


def document(sweep: Sweep, seconds: float, path: str) -> Document:
    """Return what was written, the cautions, the wiring, and the command that comes next.

    Parameters
    ----------
    sweep : what was written
    seconds : length of the file [s]
    path : of the file
    """
    span = f"{sweep.low:g} to {sweep.high:,g} Hz"
    written = (
        f"{plain(path)}: {seconds:.3g} s, {sweep.rate / 1000:g} kHz, 24 bits, mono; "
        f"{count(sweep.repeats, 'sweep')} of {sweep.seconds:g} s from {span}, peak "
        f"{-sweep.level_db:g} dB below full scale."
    )
    mine = (sweep.seconds, sweep.low, sweep.high, sweep.repeats)
    played = () if mine == _USUAL else (f"--sweep {word(path)}",)
    blocks = (
        Paragraph((written,)),
        Paragraph(_CAUTION),
        Items(_WIRING),
        Paragraph(("Then:",)),
        Items(tuple(command_lines("sigsim measure cable", (*_RECORDED, *played)))),
        Paragraph((*(_UNUSUAL if played else ()), _REST)),
    )
    return Document(TITLE, blocks)

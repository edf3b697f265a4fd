"""The plot of what was heard: the spectrum of a recording before and after, and the loss."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.metrics import AUDIBLE_HZ
from sigsim.show.document import Drawing
from sigsim.show.listen import sentence
from sigsim.show.plots import style

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sigsim.audio.report import Listening

# Where the plot begins [Hz]: a low B string has 31 Hz.
_LOWEST_HZ: Final = 25.0
# It goes up to here [Hz] even where a recording does not.
_LEAST_HZ: Final = 1000.0


def drawing(heard: Listening) -> Drawing:
    """Return the plot of what was heard."""
    said = f"The recording's level over frequency, before and after. {sentence(heard)}"
    return Drawing(lambda figure: _draw(figure, heard), said)


def _draw(figure: Figure, heard: Listening) -> None:
    frequency, level, loss = heard.bands()
    matched = heard.levels.matched != 1.0
    loss = loss - heard.levels.matched_db
    below = "difference (dB)" if matched else "loss (dB)"
    ends = _LOWEST_HZ, min(max(heard.edge, _LEAST_HZ), AUDIBLE_HZ[1])
    upper, lower = style.over_frequency(figure, "level (dB)", below, ends)
    look = next(style.looks())
    name = style.literal(heard.state.title, 44) + (" (equally loud)" if matched else "")
    reference = f"reference: {style.literal(heard.reference_title)}"
    upper.plot(frequency, level, color=style.REFERENCE_COLOUR, lw=1.4, label=reference)
    upper.plot(frequency, style.seen(level - loss), label=name, **look)
    lower.plot(frequency, style.seen(loss), **look)
    style.zero_line(lower)
    style.limit_gain(upper, [level, level - loss])
    style.finish(figure, style.literal(heard.recording.path.name, 40))

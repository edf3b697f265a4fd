"""The plot of what was heard: the spectrum of a recording before and after, and the loss."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.metrics import AUDIBLE_HZ
from sigsim.show.document import Drawing
from sigsim.show.listen import sentence
from sigsim.show.plots.style import (
    REFERENCE_COLOUR,
    frequency_axis,
    headline,
    legend_below,
    limit_gain,
    literal,
    seen,
    styles,
    two_axes,
    zero_line,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.audio.report import Listening

# Where the plot begins [Hz]: a low B string has 31 Hz.
_LOWEST_HZ: Final = 25.0
# It goes up to here [Hz] even where a recording does not.
_LEAST_HZ: Final = 1000.0


def drawing(heard: Listening) -> Drawing:
    """Return the plot of what was heard."""
    said = f"The recording's level over frequency, before and after. {sentence(heard)}"
    return Drawing(lambda figure: draw_listening(figure, heard), said)


def draw_listening(figure: Figure, heard: Listening) -> tuple[Axes, Axes]:
    """Draw the spectrum of a recording before and after, and the loss.

    Parameters
    ----------
    figure : an empty figure
    heard : what was heard

    Returns
    -------
    the two axes
    """
    upper, lower = two_axes(figure, one_x=True)
    frequency, level, loss = heard.bands()
    matched = heard.levels.matched != 1.0
    loss = loss - heard.levels.matched_db
    style = next(styles())
    name = literal(heard.state.title, 44) + (" (equally loud)" if matched else "")
    reference = f"reference: {literal(heard.reference)}"
    upper.plot(frequency, level, color=REFERENCE_COLOUR, lw=1.4, label=reference)
    upper.plot(frequency, seen(level - loss), label=name, **style)
    lower.plot(frequency, seen(loss), **style)
    zero_line(lower)
    ends = _LOWEST_HZ, min(max(heard.edge, _LEAST_HZ), AUDIBLE_HZ[1])
    frequency_axis(upper, "level (dB)", *ends)
    frequency_axis(lower, "difference (dB)" if matched else "loss (dB)", *ends)
    limit_gain(upper, [level, level - loss])
    upper.set_xlabel("")
    headline(figure, literal(heard.recording.path.name, 40))
    legend_below(figure)
    return upper, lower

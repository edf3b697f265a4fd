"""The plot of what was heard: the spectrum of a recording before and after, and the loss."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.metrics import AUDIBLE_HZ, USUAL_BASIS
from sigsim.show.document import Drawing
from sigsim.show.listen import sentence
from sigsim.show.plots import style
from sigsim.show.plots.finish import Entry, finish

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
    answer = sentence(heard)
    said = f"The recording's level over frequency, before and after. {answer}"
    return Drawing(lambda figure: draw_listen(figure, heard), said, answer)


def draw_listen(figure: Figure, heard: Listening) -> tuple[Axes, Axes]:
    """Draw the levels of a recording and what is lost into an empty figure; return both axes."""
    frequency, level, loss = heard.bands()
    matched = heard.levels.matched != 1.0
    loss = loss - heard.levels.matched_db
    below = "difference (dB)" if matched else "loss (dB)"
    span = _LOWEST_HZ, min(max(heard.edge, _LEAST_HZ), AUDIBLE_HZ[1])
    band = USUAL_BASIS.band
    upper, lower = style.over_frequency(figure, "level (dB)", below, band, span)
    look = style.look(0)
    grey: style.Look = {"color": style.REFERENCE_COLOUR, "linewidth": 1.4}
    (reference,) = upper.plot(frequency, style.seen(level), **grey)
    (after,) = upper.plot(frequency, style.seen(level - loss), **look)
    lower.plot(frequency, style.seen(loss), **look)
    style.limit_gain(upper, [level, level - loss])
    style.hang(lower, [loss])
    loud = " (equally loud)" if matched else ""
    legend = [
        Entry(after, heard.state.title, loud),
        Entry(reference, heard.reference_title, " (reference)"),
    ]
    finish(
        figure, sentence(heard), f"{heard.board.name}: {heard.recording.path.name}", legend=legend
    )
    return upper, lower

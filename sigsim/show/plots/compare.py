"""The plot of a comparison: gain and loss of several boards over one another."""

from __future__ import annotations

from string import ascii_uppercase
from typing import TYPE_CHECKING, Final

from sigsim.show.compare import sentence
from sigsim.show.document import Drawing
from sigsim.show.plots.style import (
    PALETTE,
    STYLES,
    TEXT_SIZE,
    Look,
    frequency_axis,
    headline,
    legend_below,
    limit_gain,
    literal,
    seen,
    two_axes,
    zero_line,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.compare import BoardCurves, CompareReport
    from sigsim.decide.loss.curves import NamedCurve

_MOST_BOARDS: Final = 8
# With more boards than this only the worst state of each is drawn.
_MOST_WITH_OFF: Final = 3


def drawing(report: CompareReport, curves: Sequence[BoardCurves]) -> Drawing:
    """Return the plot of a report and its curves."""
    names, lines = [one.board.name for one in curves], [one.curves for one in curves]
    said = f"Gain and loss of each board over frequency. {sentence(report)}"
    return Drawing(lambda figure: draw_compare(figure, names, lines), said)


def draw_compare(
    figure: Figure, names: Sequence[str], boards: Sequence[Sequence[NamedCurve]]
) -> tuple[Axes, Axes]:
    """Draw the gain and the loss of several boards over one another.

    Parameters
    ----------
    figure : an empty figure
    names : of the boards
    boards : the curves of each; a board keeps its colour and a state its line

    Returns
    -------
    the two axes
    """
    upper, lower = two_axes(figure, one_x=True)
    drawn = [curves if len(boards) <= _MOST_WITH_OFF else curves[-1:] for curves in boards]
    for number, (name, curves) in enumerate(zip(names, drawn[:_MOST_BOARDS], strict=False)):
        # Boards differ in colour and in thickness, so that they stay apart in grey.
        looks: Look = {
            "color": PALETTE[number % len(PALETTE)],
            "linewidth": (1.3, 2.8)[number % 2],
            "zorder": 3 - number % 2,
        }
        # A state keeps its line; where each board has but one, the line tells boards apart as well.
        lines = STYLES if len(boards) <= _MOST_WITH_OFF else STYLES[number % len(STYLES) :]
        for looks["linestyle"], curve in zip(lines, curves, strict=False):
            label = f"{ascii_uppercase[number]} {literal(name, 40)}: {literal(curve.name, 24)}"
            upper.plot(curve.frequency, seen(curve.gain), label=label, **looks)
            lower.plot(curve.frequency, seen(curve.loss), **looks)
    frequency_axis(upper, "gain (dB)")
    frequency_axis(lower, "loss (dB)")
    upper.set_xlabel("")
    zero_line(lower)
    limit_gain(upper, [curve.gain for curves in boards for curve in curves])
    headline(figure, "Boards compared")
    legend_below(figure, 1, TEXT_SIZE - 1)
    return upper, lower

"""The plot of a comparison: gain and loss of several boards over one another."""

from __future__ import annotations

from string import ascii_uppercase
from typing import TYPE_CHECKING, Final

from sigsim.show.compare import sentence
from sigsim.show.document import Drawing
from sigsim.show.plots import style

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
    """Return the plot of a report, with its curves from `compare_curves`."""
    names, lines = [one.board.name for one in curves], [one.curves for one in curves]
    said = f"Gain and loss of each board over frequency. {sentence(report)}"
    return Drawing(lambda figure: draw_compare(figure, names, lines), said)


def draw_compare(
    figure: Figure, names: Sequence[str], boards: Sequence[Sequence[NamedCurve]]
) -> tuple[Axes, Axes]:
    """Draw the curves of boards by their names into an empty figure; return both axes."""
    upper, lower = style.over_frequency(figure, "gain (dB)", "loss (dB)")
    few = len(boards) <= _MOST_WITH_OFF
    drawn = [curves if few else curves[-1:] for curves in boards]
    for number, (name, curves) in enumerate(zip(names, drawn[:_MOST_BOARDS], strict=False)):
        # Boards differ in colour and in thickness, so that they stay apart in grey.
        look: style.Look = {"linewidth": (1.3, 2.8)[number % 2], "zorder": 3 - number % 2}
        look["color"] = style.PALETTE[number % len(style.PALETTE)]
        # A state keeps its line; where each board has but one, the line tells boards apart as well.
        lines = style.STYLES if few else style.STYLES[number % len(style.STYLES) :]
        board = f"{ascii_uppercase[number]} {style.literal(name, 40)}"
        for look["linestyle"], curve in zip(lines, curves, strict=False):
            label = f"{board}: {style.literal(curve.name, 24)}"
            upper.plot(curve.frequency, style.seen(curve.gain), label=label, **look)
            lower.plot(curve.frequency, style.seen(curve.loss), **look)
    style.zero_line(lower)
    style.limit_gain(upper, [curve.gain for curves in boards for curve in curves])
    sizes = style.TEXT_SIZE + 2, style.TEXT_SIZE - 1
    style.finish(figure, "Boards compared", 1, sizes=sizes)
    return upper, lower

"""The plot of buffer places: one bar a gap, in the order of the chain."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.metrics import WORDS
from sigsim.show.buffer import place, sentence, short_places
from sigsim.show.document import Drawing
from sigsim.show.plots.style import (
    GRID_COLOUR,
    PALE_COLOUR,
    PALETTE,
    TEXT_SIZE,
    Look,
    headline,
    legend_below,
    literal,
    name_axes,
    quiet_axes,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.buffer.report import BufferReport

_MOST_BARS: Final = 14


def drawing(report: BufferReport) -> Drawing:
    """Return the plot of a report."""
    said = f"The treble loss for a buffer in each place. {sentence(report)}"
    return Drawing(lambda figure: draw_buffer(figure, report), said)


def draw_buffer(figure: Figure, report: BufferReport) -> Axes:
    """Draw the treble loss for a buffer in each place.

    Parameters
    ----------
    figure : an empty figure
    report : from `buffer_report`

    Returns
    -------
    the axes
    """
    axes = figure.subplots()
    shown = report.placements[:_MOST_BARS]
    if len(report.placements[0].gaps) == 1:
        shown = tuple(sorted(shown, key=lambda p: p.gaps[0].index))
    bars: list[tuple[str, float | None]] = [(place(gap), None) for gap in report.refused]
    bars += [(short_places(p.gaps), p.loss) for p in shown]
    best = report.placements[0].loss
    text: Look = {"va": "center", "fontsize": TEXT_SIZE - 1}
    for row, (_, loss) in enumerate(bars):
        if loss is None:
            refused: Look = {"color": "#555555", "transform": axes.get_yaxis_transform(), **text}
            axes.text(0.02, row, "refused: hides the pickup", **refused)
            continue
        is_best = loss == best
        axes.barh(row, loss, height=0.7, color=PALETTE[0] if is_best else PALE_COLOUR)
        weight = "bold" if is_best else "normal"
        axes.text(loss, row, f" {loss:.1f}", fontweight=weight, **text)
    line: Look = {"color": PALETTE[1], "linestyle": (0, (6, 2)), "linewidth": 1.4}
    axes.axvline(report.now, label=f"without a buffer: {report.now:.1f} dB", **line)
    for limit, _ in WORDS:
        if limit < report.now:
            axes.axvline(limit, color=GRID_COLOUR, linewidth=0.6, zorder=0)
    axes.set_yticks(range(len(bars)), [literal(name, 48) for name, _ in bars])
    axes.set_ylim(len(bars) - 0.4, -0.8)
    axes.set_xlim(right=1.12 * max(report.now, *(loss or 0.0 for _, loss in bars), 0.1))
    what = "worst of all states" if not report.views[0].name else "weighted mean of the scenes"
    name_axes(axes, f"treble loss, {what} (dB)")
    quiet_axes(axes, "x", TEXT_SIZE - 1)
    headline(figure, literal(report.board.name, 60))
    legend_below(figure, 1)
    return axes

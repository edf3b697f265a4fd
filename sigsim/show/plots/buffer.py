"""The plot of buffer places: one bar a gap, in the order of the chain."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.metrics import WORDS
from sigsim.show.buffer import sentence
from sigsim.show.document import Drawing
from sigsim.show.places import place, short_places
from sigsim.show.plots import style

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sigsim.decide.buffer.report import BufferReport

_MOST_BARS: Final = 14
_BLUE, _RED = style.PALETTE[:2]


def drawing(report: BufferReport) -> Drawing:
    """Return the plot of a report."""
    said = f"The treble loss for a buffer in each place. {sentence(report)}"
    return Drawing(lambda figure: _draw(figure, report), said)


def _draw(figure: Figure, report: BufferReport) -> None:
    axes = figure.subplots()
    shown = report.placements[:_MOST_BARS]
    if report.count == 1:
        shown = tuple(sorted(shown, key=lambda p: p.gaps[0].index))
    bars: list[tuple[str, float | None]] = [(place(gap), None) for gap in report.refused]
    bars += [(short_places(p.gaps), p.loss) for p in shown]
    best = report.placements[0].loss if report.placements else None
    text: style.Look = {"va": "center", "fontsize": style.TEXT_SIZE - 1}
    beside = axes.get_yaxis_transform()
    for row, (_, loss) in enumerate(bars):
        if loss is None:
            why = "refused: hides the pickup"
            axes.text(0.02, row, why, color="#555555", transform=beside, **text)
            continue
        colour, weight = (_BLUE, "bold") if loss == best else (style.PALE_COLOUR, "normal")
        axes.barh(row, loss, height=0.7, color=colour)
        axes.text(loss, row, f" {loss:.1f}", fontweight=weight, **text)
    line: style.Look = {"color": _RED, "linestyle": (0, (6, 2)), "linewidth": 1.4}
    axes.axvline(report.now, label=f"without a buffer: {report.now:.1f} dB", **line)
    for limit, _ in WORDS:
        if limit < report.now:
            axes.axvline(limit, color=style.GRID_COLOUR, linewidth=0.6, zorder=0)
    axes.set_yticks(range(len(bars)), [style.literal(name, 48) for name, _ in bars])
    axes.set_ylim(len(bars) - 0.4, -0.8)
    axes.set_xlim(right=1.12 * max(report.now, *(loss or 0.0 for _, loss in bars), 0.1))
    what = "worst of all states" if not report.views[0].name else "weighted mean of the scenes"
    x = f"treble loss, {what} (dB)"
    style.quiet_axes(axes, x, grid="x", size=style.TEXT_SIZE - 1)
    style.finish(figure, style.literal(report.board.name, 60), 1)

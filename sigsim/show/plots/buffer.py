"""The plot of buffer places: one bar a gap, in the order of the chain."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.metrics import WORDS
from sigsim.show.buffer import place, short_places
from sigsim.show.plots.style import GRID_COLOUR, PALETTE, TEXT_SIZE, literal

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.buffer.report import BufferReport

_MOST_BARS = 14


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
    for row, (_, loss) in enumerate(bars):
        if loss is None:
            axes.text(0.02, row, "refused: hides the pickup", va="center",
                      fontsize=TEXT_SIZE - 1, color="#555555",
                      transform=axes.get_yaxis_transform())  # fmt: skip
            continue
        is_best = loss == best
        axes.barh(row, loss, height=0.7, color=PALETTE[0] if is_best else "#b9c9da")
        axes.text(loss, row, f" {loss:.1f}", va="center", fontsize=TEXT_SIZE - 1,
                  fontweight="bold" if is_best else "normal")  # fmt: skip
    axes.axvline(report.now, color=PALETTE[1], linestyle=(0, (6, 2)), linewidth=1.4,
                 label=f"without a buffer: {report.now:.1f} dB")  # fmt: skip
    for limit, _ in WORDS:
        if limit < report.now:
            axes.axvline(limit, color=GRID_COLOUR, linewidth=0.6, zorder=0)
    axes.set_yticks(range(len(bars)), [literal(name, 48) for name, _ in bars])
    axes.set_ylim(len(bars) - 0.4, -0.8)
    axes.set_xlim(right=1.12 * max(report.now, *(loss or 0.0 for _, loss in bars), 0.1))
    _finish(axes, report)
    figure.suptitle(literal(report.board.name, 60), fontsize=TEXT_SIZE + 2, x=0.02, ha="left")
    figure.legend(loc="outside lower left", fontsize=TEXT_SIZE - 0.5, frameon=False)
    return axes


def _finish(axes: Axes, report: BufferReport) -> None:
    what = "worst of all states" if not report.views[0].name else "weighted mean of the scenes"
    axes.set_xlabel(f"treble loss, {what} (dB)", fontsize=TEXT_SIZE)
    axes.tick_params(labelsize=TEXT_SIZE - 1, length=2)
    axes.grid(True, axis="x", color=GRID_COLOUR, linewidth=0.6)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)

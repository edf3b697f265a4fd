"""The plot of buffer places: one bar a gap, in the order of the chain."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.metrics import WORDS
from sigsim.show.buffer import sentence
from sigsim.show.document import Drawing
from sigsim.show.places import place, short_places
from sigsim.show.plots import style
from sigsim.show.plots.finish import Entry, finish
from sigsim.show.plots.wrap import panel_title, row_names
from sigsim.show.render.text import decibel

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.buffer.report import BufferReport

_MOST_BARS: Final = 14
_BLUE, _RED = style.PALETTE[:2]


def drawing(report: BufferReport) -> Drawing:
    """Return the plot of a report."""
    answer = sentence(report)
    said = f"The treble loss for a buffer in each place. {answer}"
    return Drawing(lambda figure: draw_buffer(figure, report), said, answer)


def draw_buffer(figure: Figure, report: BufferReport) -> Axes:
    """Draw the loss for each place into an empty figure; return the axes."""
    axes = figure.subplots()
    most = min(_MOST_BARS, style.rows_that_fit(figure) // 2)
    refused = [(place(gap), None) for gap in report.refused][: most // 3]
    shown = report.placements[: max(1, most - len(refused))]
    if report.count == 1:
        shown = tuple(sorted(shown, key=lambda p: p.gaps[0].place))
    bars: list[tuple[str, float | None]] = [
        *refused,
        *((short_places(p.gaps), p.loss) for p in shown),
    ]
    _scale(axes, [loss for _, loss in bars if loss is not None], report.now)
    # Only a place that is worth it stands out.
    best = "" if report.advised is None else decibel(report.advised.loss)
    for row, (_, loss) in enumerate(bars):
        _bar(axes, row, loss, best)
    line: style.Look = {"color": _RED, "linestyle": (0, (6, 2)), "linewidth": 1.6}
    now = axes.axvline(report.now, label="now", **line)
    for limit, _ in WORDS:
        if limit < report.now:
            axes.axvline(limit, color=style.GRID_COLOUR, linewidth=0.6, zorder=0)
    row_names(axes, [name for name, _ in bars], len(bars), 0.38)
    if len(shown) < len(report.placements):
        panel_title(axes, f"the best {len(shown)} of {len(report.placements)} places")
    axes.set_ylim(len(bars) - 0.4, -0.6)
    what = (
        "worst of all combinations" if not report.views[0].name else "weighted mean of the scenes"
    )
    style.quiet_axes(axes, "treble loss (dB)", grid="x")
    style.decibel_axis(axes)
    legend = [Entry(now, "", f"without a buffer: {decibel(report.now)} dB ({what})")]
    finish(figure, sentence(report), report.board.name, legend=legend)
    return axes


def _scale(axes: Axes, losses: list[float], now: float) -> None:
    low, high = min(0.0, *losses, now), max(style.LEAST_DB, *losses, now)
    room = 0.14 * (high - low)
    axes.set_xlim(low - (room if low < 0 else 0.0), high + room)


def _bar(axes: Axes, row: int, loss: float | None, best: str) -> None:
    text: style.Look = {"va": "center", "fontsize": style.size(axes, -1), "gid": "value"}
    # The line of what is lost now does not cross a number or a word.
    text["bbox"] = {"facecolor": "white", "edgecolor": "none", "pad": 0.6, "alpha": 0.85}
    if loss is None:
        beside = axes.get_yaxis_transform()
        why = "refused: hides the pickup"
        axes.text(0.02, row, why, color=style.QUIET, transform=beside, **text)
        return
    first = decibel(loss) == best
    axes.barh(row, loss, height=0.66, color=_BLUE if first else style.PALE_COLOUR)
    weight = "bold" if first else "normal"
    axes.annotate(
        decibel(loss),
        (max(loss, 0.0), row),
        (3, 0),
        textcoords="offset points",
        fontweight=weight,
        **text,
    )

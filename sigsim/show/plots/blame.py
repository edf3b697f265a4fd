"""The plot of what costs: what the loss counts as bars, and what it does not count apart."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final, NamedTuple

from sigsim.decide.blame.report import folded_blames, most_felt_folds
from sigsim.show import kinds
from sigsim.show.blame import group_name, row_name, sentence
from sigsim.show.document import Drawing
from sigsim.show.plots import style
from sigsim.show.plots.finish import Entry, finish
from sigsim.show.plots.wrap import panel_title, row_names
from sigsim.show.render.text import decibel

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.blame.report import Blame, BlameReport
    from sigsim.decide.folding import Fold

_COSTS: Final = style.PALETTE[0]
_MOST_ROWS: Final = 10
_NAME: Final = kinds.names(60, 60)


class Row(NamedTuple):
    """Things that cost alike: what each saves when taken out, what each costs alone [dB]."""

    name: str
    saved: float
    alone: float


def drawing(report: BlameReport) -> Drawing:
    """Return the plot of a report."""
    answer = sentence(report)
    said = f"What each thing costs, taken out and alone. {answer}"
    return Drawing(lambda figure: draw_blame(figure, report), said, answer)


def draw_blame(figure: Figure, report: BlameReport) -> Sequence[Axes]:
    """Draw what things cost, groups of them, and what is not counted; return the axes."""
    groups = [blame for blame in report.groups if not blame.in_reference and blame.count > 1]
    kept = [blame for blame in report.items if blame.in_reference]
    most = style.rows_that_fit(figure)
    counted = rows_of(report.counted)[: min(_MOST_ROWS, max(3, most // 2))]
    together = [
        Row(group_name(blame.group, report.board), blame.saved, blame.costs) for blame in groups
    ]
    apart = rows_of(kept)
    sections = [("what the loss counts, each taken out alone", counted, _COSTS)]
    left = most - len(counted) - 4
    for title, rows, colour in (
        ("several together", together[:4], _COSTS),
        ("not counted: the reference has it as well", apart[:5], style.REFERENCE_COLOUR),
    ):
        if left >= len(rows) + 2 and any(math.isfinite(row.saved) for row in rows):
            sections.append((title, rows, colour))
            left -= len(rows) + 2
    heights = [max(1, len(rows)) + 0.8 for _, rows, _ in sections]
    grid = figure.subplots(len(sections), 1, sharex=True, height_ratios=heights, squeeze=False)
    panels = list(grid[:, 0])
    _scale(panels[0], [row for _, rows, _ in sections for row in rows])
    legend: list[Entry] = []
    for axes, (title, rows, colour) in zip(panels, sections, strict=True):
        _bars(axes, rows, colour, legend)
        panel_title(axes, title)
        row_names(axes, [row.name for row in rows], round(sum(heights)) + 1)
    panels[-1].set_xlabel("treble (dB)", fontsize=style.size(figure))
    finish(figure, sentence(report), report.board.name, legend=legend)
    return panels


def rows_of(blames: Sequence[Blame]) -> list[Row]:
    """Return what is felt most as rows, named and folded as in the table."""
    folds = most_felt_folds(folded_blames(blames))
    return [Row(_name(fold), fold.first.saved, fold.first.costs) for fold in folds]


def _name(fold: Fold[Blame]) -> str:
    """Return the name in the table; how much each saves stands at the end of its bar."""
    named = row_name(fold)
    each = named.after.startswith(", ")
    return _NAME.text(replace(named, after=", each") if each else named)


def _scale(axes: Axes, rows: Sequence[Row]) -> None:
    values = [v for row in rows for v in (row.saved, row.alone) if math.isfinite(v)] or [0.0]
    low, high = min(0.0, *values), max(style.LEAST_DB, *values)
    narrow = style.width_cm(style.figure_of(axes)) < style.NARROW_CM
    room = (0.5 if narrow else 0.3) * (high - low)
    axes.set_xlim(low - 0.02 * (high - low), high + room)


def _bars(axes: Axes, rows: Sequence[Row], colour: str, legend: list[Entry]) -> None:
    for place, row in enumerate(rows):
        if not math.isfinite(row.saved):
            continue
        bar = axes.barh(place, row.saved, height=0.6, color=colour, label="out")
        (alone,) = axes.plot(
            row.alone,
            place,
            "D",
            color=style.PALETTE[1],
            markersize=5,
            label="alone",
            clip_on=False,
        )
        axes.annotate(
            f"{decibel(row.saved)}; alone {decibel(row.alone)}",
            (max(row.saved, row.alone, 0.0), place),
            (6 * style.scale(style.figure_of(axes)), 0),
            textcoords="offset points",
            va="center",
            fontsize=style.size(axes, -1),
            gid="value",
        )
        if not legend:
            legend += [
                Entry(bar.patches[0], "", "less lost with it alone taken out"),
                Entry(alone, "", "lost if nothing else were real"),
            ]
    if not rows:
        beside = axes.transAxes
        axes.text(0.02, 0.5, "nothing is felt", transform=beside, fontsize=style.size(axes, -1))
    axes.set_ylim(max(len(rows), 1) - 0.4, -0.6)
    style.quiet_axes(axes, grid="x")
    style.decibel_axis(axes)
    axes.axvline(0, color=style.REFERENCE_COLOUR, linewidth=0.8, zorder=0.5)

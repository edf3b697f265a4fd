"""The drawing of a layout: boxes from above, to scale, with the ways of the cables."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Final

from sigsim.quantities import length_text
from sigsim.show.box_names import fitted
from sigsim.show.document import Drawing
from sigsim.show.layout import sentence
from sigsim.show.plan import EDGE, bar_of, bounds, letters_of, plan
from sigsim.show.plan_jacks import loop_words
from sigsim.show.plots import style
from sigsim.show.plots.finish import Entry, finish
from sigsim.show.plots.letters import written
from sigsim.show.plots.wrap import Ruler, panel_title
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.layout.proposal import Proposal
    from sigsim.decide.layout.report import LayoutReport, Standing
    from sigsim.show.plan import Line, Plan

_WRONG: Final = style.PALETTE[1]
_BOARD: Final = "#f4f2ec"
# Letters of names and numbers, against the usual size [points].
_NAMES: Final = (1.0, 0.0, -1.0, -2.0, -3.0, -4.0)
_NUMBER: Final = -2.0
_LEAST: Final = 4.0
# A number and the disc it stands on, by the size of its letters [-].
_RADIUS: Final = 0.85
_BELOW, _ABOVE = 0.085, 0.02  # room under and over a board, by the longest side drawn [-]
_MOST_LOOPS: Final = 4
_AREA: Final = (0.94, 0.72)  # of the figure, for all boards


@dataclass(frozen=True)
class _Panel:
    """One board of the figure.

    Attributes
    ----------
    standing : its layout
    title : what it shows, empty where there is but one
    """

    standing: Standing
    title: str


def drawing(reports: Sequence[LayoutReport], tried: Sequence[Proposal]) -> Drawing:
    """Return the drawing of some boards, now and in the rows that are proposed.

    Parameters
    ----------
    reports : one for each board
    tried : rows that were looked for, one for each board or none
    """
    answer = sentence(reports[0])
    said = f"The boards from above, to scale, with every cable and its number. {answer}"
    return Drawing(lambda figure: draw_layout(figure, reports, tried), said, answer)


def draw_layout(
    figure: Figure, reports: Sequence[LayoutReport], tried: Sequence[Proposal]
) -> list[Axes]:
    """Draw every board, all to one scale; return their axes."""
    panels = _panels(reports, tried)
    corners = [bounds(panel.standing) for panel in panels]
    longest = max(max(h[0] - low[0], h[1] - low[1]) for low, h in corners)
    wide = max(h[0] - low[0] for low, h in corners) + 2 * _ABOVE * longest
    high = [h[1] - low[1] + (_BELOW + 2 * _ABOVE) * longest for low, h in corners]
    every = _arranged(figure, wide, high)
    for axes, (low, h), tall in zip(every, corners, high, strict=True):
        middle = (low[0] + h[0]) / 2
        axes.set_xlim(middle - wide / 2, middle + wide / 2)
        bottom = low[1] - _BELOW * longest
        axes.set_ylim(bottom, bottom + tall)
        axes.set_aspect("equal")
        axes.axis("off")
    for axes, panel in zip(every, panels, strict=True):
        if panel.title:
            panel_title(axes, panel.title)
    names = [report.board.name for report in reports]
    answer = sentence(reports[0]) if len(reports) == 1 else f"{len(reports)} boards from above"
    finish(figure, answer, ", ".join(names), legend=_legend(panels))
    for axes, panel in zip(every, panels, strict=True):
        _draw(axes, panel.standing)
    return every


def _panels(reports: Sequence[LayoutReport], tried: Sequence[Proposal]) -> list[_Panel]:
    found = []
    proposals: Sequence[Proposal | None] = tried or [None] * len(reports)
    for report, proposal in zip(reports, proposals, strict=True):
        better = None if proposal is None else proposal.better
        own = "" if len(reports) == 1 else plain(report.board.name, 60)
        for one in report.standing:
            words = [own, _inside(one)]
            if better is not None and better.own is not None and not one.file:
                now = f"now: {length_text(report.total)} of runs"
                found.append(_Panel(one, ", ".join(filter(None, (own, now)))))
                then = f"proposed: {length_text(better.total)} of runs"
                one, words = better.own, [own, then]
            elif len(report.standing) > 1 and not one.file:
                words.append("this board")
            found.append(_Panel(one, ", ".join(filter(None, words))))
    return found


def _inside(one: Standing) -> str:
    return f"in '{plain(one.loop, 30)}': {plain(one.file, 50)}" if one.file else ""


def _arranged(figure: Figure, wide: float, high: Sequence[float]) -> list[Axes]:
    """Return axes in as many columns as make the boards largest."""
    width, height = (
        part * side for part, side in zip(_AREA, figure.get_size_inches(), strict=True)
    )
    arranged = []
    for columns in range(1, len(high) + 1):
        rows = [max(high[at : at + columns]) for at in range(0, len(high), columns)]
        arranged.append((min(width / (wide * columns), height / sum(rows)), -columns, rows))
    _, columns, rows = max(arranged)
    made = figure.subplots(len(rows), -columns, squeeze=False, height_ratios=rows).ravel()
    for axes in made[len(high) :]:
        axes.axis("off")
    return list(made[: len(high)])


def _draw(axes: Axes, standing: Standing) -> None:
    from matplotlib.patches import Rectangle

    figure = style.figure_of(axes)
    points = _points_a_metre(axes)
    letters = letters_of(standing, style.size(axes, _NUMBER), _LEAST, points)
    drawn = plan(standing, _RADIUS * letters / points)
    thick = style.scale(figure)
    look: style.Look = {
        "facecolor": _BOARD,
        "edgecolor": style.REFERENCE_COLOUR,
        "linewidth": 1.2 * thick,
    }
    axes.add_patch(Rectangle((0, 0), *drawn.size, zorder=1, gid="board", **look))
    for line in drawn.lines:
        _draw_line(axes, line, thick)
    _draw_boxes(axes, drawn, points, thick)
    for line in drawn.lines:
        axes.text(
            *line.label,
            str(line.number),
            ha="center",
            va="center_baseline",
            fontsize=letters,
            color=_colour(line),
            fontweight="bold",
            zorder=6,
            bbox={"boxstyle": "round,pad=0.1", "facecolor": "white", "edgecolor": "none"},
            gid="number of a cable",
        )
    for mark in drawn.marks:
        axes.text(
            *mark.at, mark.text, ha="center", va="center_baseline", fontsize=mark.size * letters,
            color=style.INK, zorder=6, gid="letters of a jack",
        )  # fmt: skip
    _draw_edge(axes, drawn, points)


def _points_a_metre(axes: Axes) -> float:
    """Return how many points of paper a metre of the board takes."""
    (x0, _), (x1, _) = axes.transData.transform([(0.0, 0.0), (1.0, 0.0)])
    return float(x1 - x0) * 72 / style.figure_of(axes).dpi


def _colour(line: Line) -> str:
    return style.QUIET if line.lead else style.PALETTE[line.colour]


def _draw_line(axes: Axes, line: Line, thick: float) -> None:
    xs, ys = zip(*line.points, strict=True)
    look: style.Look = {"color": _colour(line), "linewidth": 1.5 * thick, "zorder": 4}
    look["linestyle"] = (0, (4, 1.5)) if line.lead else "-"
    axes.plot(xs, ys, solid_joinstyle="round", gid="lead" if line.lead else "cable", **look)
    if line.lead:
        mark: style.Look = {"marker": "o", "markersize": 4 * thick, "color": style.INK}
        axes.plot(*line.points[0], zorder=5, gid="edge", **mark)


def _draw_boxes(axes: Axes, drawn: Plan, points: float, thick: float) -> None:
    from matplotlib.patches import Rectangle

    figure = style.figure_of(axes)
    sizes = [style.size(axes, step) / points for step in _NAMES]

    widest = Ruler(figure, sizes[0] * points)

    # Letters of every size are alike but for rounding, which the edge of a box has room for.
    @cache
    def relative(text: str) -> float:
        return widest.width(text) * 72 / figure.dpi / points / sizes[0]

    def measure(text: str, size: float) -> float:
        return relative(text) * size

    for shape in drawn.shapes:
        x, y, width, depth = shape.outline
        edge = _WRONG if shape.wrong else style.INK
        look: style.Look = {"facecolor": "white", "edgecolor": edge, "linewidth": 1.1 * thick}
        if shape.wrong:
            look |= {"linestyle": (0, (3, 1.5)), "linewidth": 2.0 * thick, "facecolor": "none"}
        axes.add_patch(Rectangle((x, y), width, depth, zorder=3, gid="box", **look))
        x, y, width, depth = shape.room
        name = fitted(shape.name, width, depth, sizes, measure)
        axes.text(
            x + width / 2,
            y + depth / 2,
            "\n".join(map(written, name.lines)),
            rotation=90 if name.upright else 0,
            ha="center",
            va="center",
            linespacing=1.05,
            fontsize=name.size * points,
            color=style.INK,
            zorder=5,
            gid="name of a box",
        )
    for begin, end in drawn.jacks:
        ends = zip(begin, end, strict=True)
        look = {"color": style.INK, "linewidth": 2.4 * thick, "zorder": 5}
        axes.plot(*ends, solid_capstyle="butt", gid="jack", **look)


def _draw_edge(axes: Axes, drawn: Plan, points: float) -> None:
    """Say at the near edge who stands there, and draw a scale."""
    figure, size = style.figure_of(axes), style.size(axes, -1)
    bar = bar_of(drawn.size[0])
    room = (drawn.size[0] - bar) * points * figure.dpi / 72
    wanted = Ruler(figure, size).width(f"{EDGE}mm{length_text(bar)}mm")
    size *= min(1.0, room / wanted)
    line = 1.5 * size / points
    # Under a cable along the near edge stands its number.
    numbers = [one.label[1] for one in drawn.lines if one.label[1] < 0]
    low = min([0.0, drawn.low[1], *numbers]) - 0.9 * line
    width = drawn.size[0]
    axes.plot((0, width), (0, 0), color=style.INK, linewidth=2.2, zorder=2, gid="near edge")
    axes.text(
        0, low, EDGE, ha="left", va="center", fontsize=size,
        color=style.INK, gid="near edge",
    )  # fmt: skip
    ends, heights = (width - bar, width), (low, low)
    look: style.Look = {"color": style.INK, "linewidth": 3, "solid_capstyle": "butt"}
    axes.plot(ends, heights, gid="scale", clip_on=False, **look)
    axes.text(
        width - bar - 0.3 * line, low, written(length_text(bar)), ha="right", va="center",
        fontsize=size, color=style.INK, gid="scale",
    )  # fmt: skip


def _legend(panels: Sequence[_Panel]) -> list[Entry]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    runs = [run for panel in panels for run in panel.standing.runs]
    found = []
    if any(run.way is not None for run in runs):
        line = Line2D([], [], color=style.PALETTE[0], linewidth=1.5)
        found.append(Entry(line, "", "cable, with its number on the wiring sheet"))
    if any(run.lead_way is not None for run in runs):
        line = Line2D([], [], color=style.QUIET, linewidth=1.5, linestyle=(0, (4, 1.5)))
        found.append(Entry(line, "", "lead on the board, from the dot at its edge"))
    boxes = [box for panel in panels for box in panel.standing.laying.layout.boxes.values()]
    for box in dict.fromkeys(box for box in boxes if box.loops):
        shown = [plain(name, 20) for name in box.loops[:_MOST_LOOPS]]
        more = len(box.loops) - len(shown)
        said = loop_words(box, shown) + (f" and {more} more" if more else "")
        found.append(Entry(Line2D([], [], linestyle=""), "", f"send and return: {said}"))
    if any(panel.standing.overlaps or panel.standing.overhangs for panel in panels):
        look: style.Look = {"facecolor": "none", "edgecolor": _WRONG, "linewidth": 2}
        patch = Patch(linestyle="--", **look)
        found.append(Entry(patch, "", "stands in another, or over the edge"))
    return found

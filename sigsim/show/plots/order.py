"""The plot of an order: the chain now and in the best order, cables drawn to length."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.metrics import verdict
from sigsim.physics.arrays import scalar
from sigsim.quantities import length_text
from sigsim.show.document import Drawing
from sigsim.show.order import sentence
from sigsim.show.plots import style
from sigsim.show.plots.finish import Entry, finish
from sigsim.show.plots.letters import written
from sigsim.show.plots.wrap import Ruler
from sigsim.show.render.text import decibel, in_the_middle

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.board.model import Board
    from sigsim.decide.order.report import OrderReport
    from sigsim.items.base import Item

_HEIGHT: Final = 0.2
_NOW, _BEST = 1.0, 0.0
_NAMES: Final = 1.35  # room for names over and under the two lines
_BLUE, _RED = style.PALETTE[0], style.PALETTE[1]
# Of the width that all boxes take: so much for each, and no more than that together [-].
_EACH, _ALL, _LEAST = 0.045, 0.75, 0.15
_BARS: Final = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
_BAR: Final = 0.2  # a scale is no longer than this part of the line
_NAME_PART: Final = 0.215  # of the height of the figure
_MOST_LETTERS, _FEWEST_LETTERS = 40, 4
_PITCH: Final = 1.05  # names need this part of their size from one to the next


@dataclass(frozen=True)
class _Piece:
    """One thing of a line.

    Attributes
    ----------
    item : the thing
    begin, end : where it lies along the line; a tap or split is a point
    """

    item: Item
    begin: float
    end: float

    @property
    def middle(self) -> float:
        return (self.begin + self.end) / 2


def drawing(report: OrderReport) -> Drawing:
    """Return the plot of a report."""
    answer = sentence(report)
    said = f"The boxes in the order of the chain, the cables drawn to length. {answer}"
    return Drawing(lambda figure: draw_order(figure, report), said, answer)


def draw_order(figure: Figure, report: OrderReport) -> Axes:
    """Draw the chain now, and the best order under it if it is worth it; return the axes."""
    axes = figure.subplots()
    best = report.advised
    boards = [report.question.board, *([report.board_of(best)] if best is not None else [])]
    lists = [_items(board, report.loop) for board in boards]
    box = _box_width(lists[0])
    lines = [_line(items, box) for items in lists]
    length = max((line[-1].end for line in lines if line), default=1.0) or 1.0
    axes.set_xlim(-0.01 * length, 1.01 * length)
    axes.set_ylim(_BEST - _NAMES if best is not None else _NOW - 0.5, _NOW + _NAMES)
    axes.axis("off")
    moved = {one.box for one in best.reason.moved} if best is not None else set()
    if report.question.buffer is not None:
        moved.add(report.question.buffer.stage)
    for line, height in zip(lines, (_NOW, _BEST), strict=False):
        _draw(axes, line, height, moved)
        _write_names(axes, line, height, moved, length)
    if best is not None:
        _link(axes, lines[0], lines[1], moved)
    _write_losses(axes, report)
    legend = _legend(axes, lines, moved, length)
    finish(figure, sentence(report), report.question.board.name, legend=legend)
    return axes


def _items(board: Board, loop: str) -> tuple[Item, ...]:
    """Return what stands at the level, the wiring in place."""
    if not loop:
        return board.laid
    found = (item for item in board.items() if isinstance(item, Loop) and item.loop == loop)
    return next(found).inside


def _metres(item: Item) -> float:
    return scalar(item.length) if isinstance(item, Cable) else 0.0


def _is_box(item: Item) -> bool:
    return not isinstance(item, Cable | Tap | Split)


def _box_width(items: Sequence[Item]) -> float:
    """Return how wide a box is drawn on the scale of the cables [m]."""
    boxes = sum(map(_is_box, items))
    cables = math.fsum(map(_metres, items))
    part = min(max(_EACH * boxes, _LEAST), _ALL)
    return part / (1 - part) * cables / boxes if cables and boxes else 1.0


def _line(items: Sequence[Item], box: float) -> list[_Piece]:
    found, at = [], 0.0
    for item in items:
        wide = box if _is_box(item) else _metres(item)
        found.append(_Piece(item, at, at + wide))
        at += wide
    return found


def _draw(axes: Axes, line: Sequence[_Piece], height: float, moved: set[str]) -> None:
    from matplotlib.patches import Rectangle

    points = style.scale(style.figure_of(axes))
    for piece in line:
        if isinstance(piece.item, Cable):
            ends = (piece.begin, piece.end)
            axes.plot(ends, (height, height), color=_BLUE, linewidth=1.8, gid="cable")
        elif not _is_box(piece.item):
            down = (height, height - 1.1 * _HEIGHT)
            axes.plot((piece.begin,) * 2, down, color=style.QUIET, linewidth=1.2, gid="branch")
        else:
            mine = piece.item.label in moved
            corner, wide = (piece.begin, height - _HEIGHT / 2), piece.end - piece.begin
            look: style.Look = {
                "facecolor": style.TINT if mine else "white",
                "edgecolor": _RED if mine else _BLUE,
                "linewidth": (2.2 if mine else 1.1) * points,
                "zorder": 3,
            }
            axes.add_patch(Rectangle(corner, wide, _HEIGHT, gid="box", **look))
            if isinstance(piece.item, Loop):
                inner = (piece.begin + 0.18 * wide, height - 0.32 * _HEIGHT)
                look |= {"linewidth": 0.8 * points, "facecolor": "none"}
                axes.add_patch(Rectangle(inner, 0.64 * wide, 0.64 * _HEIGHT, gid="loop", **look))


def _write_names(
    axes: Axes, line: Sequence[_Piece], height: float, moved: set[str], length: float
) -> None:
    """Write the names over the upper line and under the lower one; only of what moves if many."""
    figure, points = style.figure_of(axes), style.size(axes, -1)
    rulers = {mine: Ruler(figure, points, "bold" if mine else "normal") for mine in (True, False)}
    room = _PITCH * points * figure.dpi / 72 / (0.94 * figure.bbox.width) * length
    up = height == _NOW
    last = -math.inf
    boxes = [piece for piece in line if _is_box(piece.item)]
    tight = any(b.middle - a.middle < room for a, b in pairwise(boxes))
    for piece in boxes:
        mine = piece.item.label in moved
        if (tight and not mine) or piece.middle - last < room:
            continue
        last = piece.middle
        axes.text(
            piece.middle,
            height + (0.75 if up else -0.75) * _HEIGHT,
            _fitting(rulers[mine], piece.item.label, _NAME_PART * figure.bbox.height),
            rotation=90,
            ha="center",
            va="bottom" if up else "top",
            fontsize=points,
            color=_RED if mine else style.INK,
            fontweight="bold" if mine else "normal",
            gid="name of a box",
        )


def _fitting(ruler: Ruler, name: str, widest: float) -> str:
    """Return a name in one line of a width [pixels], left out in its middle where it is longer."""
    for longest in range(_MOST_LETTERS, _FEWEST_LETTERS, -1):
        text = in_the_middle(name, longest)
        if ruler.width(text) <= widest:
            break
    return written(text)


def _link(axes: Axes, now: Sequence[_Piece], best: Sequence[_Piece], moved: set[str]) -> None:
    """Lead from where a box that moves stands to where it goes."""
    was = {piece.item.label: piece for piece in now if _is_box(piece.item)}
    for piece in best:
        name = piece.item.label
        if name in moved and name in was and _is_box(piece.item):
            ends = (was[name].middle, piece.middle)
            heights = (_NOW - _HEIGHT / 2, _BEST + _HEIGHT / 2)
            look: style.Look = {"color": _RED, "linewidth": 0.9, "linestyle": (0, (4, 2))}
            axes.plot(ends, heights, zorder=1, gid="move", **look)


def _write_losses(axes: Axes, report: OrderReport) -> None:
    found, best = report.found, report.advised
    if found is None:
        return
    said = [("now", found.now.loss, _NOW - 0.75 * _HEIGHT, "top")]
    if best is not None:
        name = "best" if found.proven else "best found"
        said.append((name, best.ordered.loss, _BEST + 0.75 * _HEIGHT, "bottom"))
    for name, loss, height, va in said:
        word = verdict(loss)
        axes.text(
            axes.get_xlim()[1],
            height,
            written(f"{name}: {decibel(loss)} dB{f' ({word})' if word else ''}"),
            ha="right",
            va=va,
            fontsize=style.size(axes),
            fontweight="bold",
            color=style.INK,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.85},
            gid="loss",
        )


def _legend(
    axes: Axes, lines: Sequence[Sequence[_Piece]], moved: set[str], length: float
) -> list[Entry]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    found: list[tuple[Artist, str]] = []
    bar = max((b for b in _BARS if b <= _BAR * length), default=0.0)
    if bar and any(isinstance(piece.item, Cable) for piece in lines[0]):
        ends, low = (0.0, bar), axes.get_ylim()[0]
        (drawn,) = axes.plot(ends, (low, low), color=_BLUE, linewidth=3, gid="scale", clip_on=False)
        drawn.set_solid_capstyle("butt")
        axes.annotate(
            length_text(bar),
            (bar, low),
            (3, 0),
            textcoords="offset points",
            va="center",
            fontsize=style.size(axes, -1),
            gid="scale",
            annotation_clip=False,
        )
        found.append((Line2D([], [], color=_BLUE, linewidth=1.8), "cable, drawn to length"))
    if len(lines) > 1 and moved:
        look: style.Look = {"facecolor": style.TINT, "edgecolor": _RED, "linewidth": 2}
        found.append((Patch(**look), "moves"))
    items = [piece.item for piece in lines[0]]
    if any(isinstance(item, Loop) for item in items):
        found.append((Patch(facecolor="white", edgecolor=_BLUE), "double outline: a loop"))
    if any(isinstance(item, Tap | Split) for item in items):
        found.append((Line2D([], [], color=style.QUIET, linewidth=1.2), "tap or split"))
    return [Entry(artist, "", name) for artist, name in found]

"""The drawing of a layout from above, in metres on the board: what any renderer needs to know."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim.show.lanes import apart
from sigsim.show.plan_jacks import marks, ticks
from sigsim.show.plan_numbers import colours, places

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.decide.layout.report import Run, Standing
    from sigsim.layout.floor import Outline
    from sigsim.layout.model import Point
    from sigsim.show.plan_jacks import Mark

EDGE: Final = "near edge: you stand here"
_BARS: Final = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
_BAR: Final = 0.25  # the bar of a scale is no longer than this part of the board

# From one line to the next, by the radius of a number.
_STEP: Final = 0.75
# How far a jack is drawn into its box [radii of a number], and what that leaves to a name at least,
# of the box [-], and where letters stand at its jacks.
_JACK: Final = 0.6
_NAME: Final = 0.8
_NAME_MARKED: Final = 0.4
# The letters of a number, by the shorter side of the smallest box [-].
_NUMBER: Final = 0.28


@dataclass(frozen=True)
class Line:
    """One cable as it is drawn.

    Attributes
    ----------
    number : of the connection
    points : its corners [m]
    label : where its number stands [m]
    lead : whether it comes to the board or leaves it
    colour : number of its colour, another one than that of any cable it comes near to, if there
        are enough of them
    """

    number: int
    points: tuple[Point, ...]
    label: Point
    lead: bool
    colour: int


@dataclass(frozen=True)
class Shape:
    """One box as it is drawn.

    Attributes
    ----------
    name : of the box
    outline : where it stands [m]
    room : the part of it in which its name stands [m]: free of other boxes, if one is
    wrong : whether it stands in another, or hangs over an edge
    """

    name: str
    outline: Outline
    room: Outline
    wrong: bool


@dataclass(frozen=True)
class Plan:
    """A layout as it is drawn.

    Attributes
    ----------
    size : of the board [m]
    shapes : the boxes
    jacks : each as a short line from the outline into the box [m]
    marks : letters at the jacks of boxes with loops
    lines : the cables
    low, high : corners of all that is drawn [m]
    """

    size: Point
    shapes: tuple[Shape, ...]
    jacks: tuple[tuple[Point, Point], ...]
    marks: tuple[Mark, ...]
    lines: tuple[Line, ...]
    low: Point
    high: Point


def bounds(standing: Standing) -> tuple[Point, Point]:
    """Return the corners of all that stands or runs on a layout, and of its board [m]."""
    points: list[Point] = [(0.0, 0.0), standing.laying.layout.size]
    for outline in standing.floor.outlines.values():
        points += [
            (outline.x, outline.y),
            (outline.x + outline.width, outline.y + outline.depth),
        ]
    for run in standing.runs:
        way = run.way or run.lead_way
        points += [] if way is None else list(way.points)
    xs, ys = zip(*points, strict=True)
    return (min(xs), min(ys)), (max(xs), max(ys))


def letters_of(standing: Standing, usual: float, least: float, metre: float) -> float:
    """Return the size of the numbers, smaller where the boxes are small.

    Parameters
    ----------
    standing : the layout
    usual, least : sizes on paper, in any unit
    metre : of the board on paper, in that unit
    """
    sides = [min(box.width, box.depth) for box in standing.floor.outlines.values()]
    return max(least, min([usual, *(_NUMBER * metre * side for side in sides)]))


def bar_of(width: float) -> float:
    """Return how long the bar of a scale is beside a board of a width [m]."""
    return max((one for one in _BARS if one <= _BAR * width), default=_BARS[0])


def plan(standing: Standing, radius: float) -> Plan:
    """Return the drawing of a layout.

    Parameters
    ----------
    standing : the layout
    radius : of a number that stands beside a cable [m on the board]
    """
    outlines = standing.floor.outlines
    drawn = [(run, way.points) for run in standing.runs if (way := run.way or run.lead_way)]
    moved = apart([points for _, points in drawn], outlines.values(), _STEP * radius)
    low, high = bounds(standing)
    return Plan(
        standing.laying.layout.size,
        tuple(_shapes(standing, 1.3 * _JACK * radius, 1.6 * radius)),
        tuple(ticks(standing, _JACK * radius)),
        tuple(marks(standing, _JACK * radius, radius)),
        tuple(_lines([run for run, _ in drawn], moved, list(outlines.values()), radius)),
        low,
        high,
    )


def _shapes(standing: Standing, edge: float, mark: float) -> Iterator[Shape]:
    wrong = {name for pair in standing.overlaps for name in pair}
    wrong |= {over.name for over in standing.overhangs}
    for name, outline in standing.floor.outlines.items():
        mine = [other for pair in standing.overlaps if name in pair for other in pair]
        others = [standing.floor.outlines[other] for other in mine if other != name]
        marked = bool(standing.laying.layout.boxes[name].loops)
        wide, least = (edge + mark, _NAME_MARKED) if marked else (edge, _NAME)
        yield Shape(name, outline, _inset(_room(outline, others), wide, least), name in wrong)


def _inset(part: Outline, edge: float, least: float) -> Outline:
    """Return a part of a box without its edges, where jacks are; at least so much of it."""
    x, y, width, depth = part
    across, along = (min(edge, (1 - least) / 2 * side) for side in (width, depth))
    return part._replace(
        x=x + across, y=y + along, width=width - 2 * across, depth=depth - 2 * along
    )


def _room(outline: Outline, others: Sequence[Outline]) -> Outline:
    """Return the largest part of a box beside, before or behind others that stand in it."""
    parts = [outline]
    for other in others:
        parts = [piece for part in parts for piece in _beside(part, other)]
    return max(parts, key=lambda part: part.width * part.depth, default=outline)


def _beside(part: Outline, other: Outline) -> Iterator[Outline]:
    """Yield what is left of a part on each side of another box."""
    x, y, width, depth = part
    right, back = x + width, y + depth
    left_of, right_of = min(right, other.x), max(x, other.x + other.width)
    before, behind = min(back, other.y), max(y, other.y + other.depth)
    if left_of > x:
        yield part._replace(width=left_of - x)
    if right_of < right:
        yield part._replace(x=right_of, width=right - right_of)
    if before > y:
        yield part._replace(depth=before - y)
    if behind < back:
        yield part._replace(y=behind, depth=back - behind)


def _lines(
    runs: Sequence[Run], moved: Sequence[Sequence[Point]], boxes: Sequence[Outline], radius: float
) -> Iterator[Line]:
    numbers, colour = places(moved, boxes, radius), colours(moved, radius)
    for index, run in enumerate(runs):
        points = tuple(moved[index])
        yield Line(run.link.number, points, numbers[index], run.way is None, colour[index])

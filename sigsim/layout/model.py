"""What a file says of where its boxes stand: plain lengths and names, seen from above.

x goes from the left edge of the board to the right, y from the near edge to the back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal, NamedTuple, TypeAlias

Point: TypeAlias = tuple[float, float]
Side: TypeAlias = Literal["in", "out", "send", "return"]

# Where the jacks of a box are, by the word of a file.
RIGHT_TO_LEFT: Final = "right to left"
JACKS: Final = (RIGHT_TO_LEFT, "left to right", "back")
# Where the lead comes in or goes out, besides a position.
EDGES: Final = ("right", "left", "back")


class Socket(NamedTuple):
    """A place to plug in a cable.

    Attributes
    ----------
    name : of the stage or loop, as the outermost board calls it
    side : of a loop, "in" and "out" are outside, "send" and "return" inside
    """

    name: str
    side: Side


@dataclass(frozen=True)
class Box:
    """What stands on a board: a stage, or a box with the jacks of several loops.

    Attributes
    ----------
    name : of the stage, or of the table under `[boxes]`; in a board inside with its prefix
    width, depth : [m]
    jacks : one of `JACKS`
    input_at, output_at : of the jacks, from its near left corner [m]; None where `jacks` says it
    place : of its near left corner on the board [m]; None for one that stands in a row
    loops : whose sends and returns it has, in the order of their jacks
    """

    name: str
    width: float
    depth: float
    jacks: str = RIGHT_TO_LEFT
    input_at: Point | None = None
    output_at: Point | None = None
    place: Point | None = None
    loops: tuple[str, ...] = ()


@dataclass(frozen=True)
class Layout:
    """Where the boxes of one board file stand.

    Attributes
    ----------
    file : that says so
    size : width and depth of the board [m]
    rows : names of boxes, the back row first, each from left to right
    boxes : all that stand somewhere, by name
    gap : between boxes and between rows [m]
    slack : once on every cable [m]
    plug_length : how far a plug goes straight out [m]
    entry, exit : where the lead comes in and goes out: one of `EDGES`, a position [m], or None
    """

    file: str
    size: Point
    rows: tuple[tuple[str, ...], ...]
    boxes: Mapping[str, Box] = field(default_factory=dict)
    gap: float = 0.0
    slack: float = 0.0
    plug_length: float = 0.02
    entry: str | Point | None = None
    exit: str | Point | None = None

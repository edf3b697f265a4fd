"""What a board file says of where things stand: their sizes, their jacks, and the board itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from sigsim.items.feeding import Fed
from sigsim.items.fields import Declared, choice, edge, names, quantity, rows
from sigsim.items.needs import Need
from sigsim.layout.model import EDGES, JACKS, RIGHT_TO_LEFT

if TYPE_CHECKING:
    from sigsim.layout.model import Point

_AT: tuple[str, ...] = ("input_at", "output_at")


@dataclass(frozen=True, kw_only=True)
class Outlined(Declared):
    """What may stand on a board: its outline from above, its jacks, its place."""

    width: float | None = quantity(
        "length", "of the box, from left to right", None, above_zero=True, exact=True
    )
    depth: float | None = quantity(
        "length", "of the box, from the near edge to the back", None, above_zero=True, exact=True
    )
    jacks: str = choice(
        "where the input and the output are: in the middle of two sides, or both on the back",
        JACKS,
        RIGHT_TO_LEFT,
    )
    input_at: Point | None = quantity(
        "length", "where the input is, from the near left corner of the box", None, several="pair"
    )
    output_at: Point | None = quantity(
        "length", "where the output is, from the near left corner of the box", None, several="pair"
    )
    place: Point | None = quantity(
        "length", "of its near left corner on the board, for a box in no row", None, several="pair"
    )

    needs: ClassVar[tuple[Need, ...]] = (
        Need(
            ("jacks",),
            _AT,
            "input_at and output_at say where both jacks are",
            words=(None,),
        ),
    )


@dataclass(frozen=True, kw_only=True)
class BoxTable(Outlined, Fed):
    """A table under `[boxes]`: one box with the jacks of several loops."""

    loops: tuple[str, ...] = names("whose sends and returns it has, from right to left", once=True)


@dataclass(frozen=True, kw_only=True)
class LayoutTable(Declared):
    """The table `[layout]`: the board that the boxes of a file stand on."""

    size: Point = quantity(
        "length", "width and depth of the board", above_zero=True, several="pair"
    )
    rows: tuple[tuple[str, ...], ...] = rows(
        "the boxes by name, the back row first, each from left to right"
    )
    gap: float = quantity("length", "between boxes, and between rows", 0.0, exact=True)
    slack: float = quantity("length", "more on every cable, for bending", 0.0, exact=True)
    plug_length: float = quantity("length", "that a plug goes straight out", 0.02, exact=True)
    entry: str | Point | None = edge("where the lead comes in on the board", EDGES)
    exit: str | Point | None = edge("where the lead goes out from the board", EDGES)

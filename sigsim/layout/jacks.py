"""Where the jacks of a box are, and which way a plug goes out of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from sigsim.layout.exact import spot
from sigsim.layout.model import RIGHT_TO_LEFT

if TYPE_CHECKING:
    from sigsim.layout.exact import Heading, Rect, Spot
    from sigsim.layout.model import Box, Point, Socket


class At(NamedTuple):
    """A jack.

    Attributes
    ----------
    spot : where it is [nm]
    out : straight out of it
    """

    spot: Spot
    out: Heading


def jack_at(box: Box, outline: Rect, socket: Socket) -> At | None:
    """Return where a jack of a box is, None for one that the box does not have.

    Parameters
    ----------
    box : what stands there
    outline : where [nm]
    socket : of the box itself, or of one of its loops
    """
    width, depth = outline.right - outline.left, outline.back - outline.near
    if socket.side in ("in", "out"):
        x, y, out = _own(box, width, depth, is_input=socket.side == "in")
    elif socket.name in box.loops:
        number = 2 * box.loops.index(socket.name) + (1 if socket.side == "send" else 2)
        count = 2 * len(box.loops)
        x, y, out = width * (2 * (count - number) + 1) // (2 * count), depth, (0, 1)
    else:
        return None
    return At((outline.left + x, outline.near + y), out)


def _own(box: Box, width: int, depth: int, *, is_input: bool) -> tuple[int, int, Heading]:
    """Return position from the near left corner and heading of an input or output."""
    at = box.input_at if is_input else box.output_at
    if at is not None:
        return _on_side(at, width, depth)
    if box.jacks == "back":
        return width * 3 // 4 if is_input else width // 4, depth, (0, 1)
    if is_input == (box.jacks == RIGHT_TO_LEFT):
        return width, depth // 2, (1, 0)
    return 0, depth // 2, (-1, 0)


def _on_side(at: Point, width: int, depth: int) -> tuple[int, int, Heading]:
    """Return a position on the side that it is nearest to: but for rounding it is on it."""
    x, y = spot(at)
    sides: list[tuple[int, int, int, Heading]] = [
        (abs(x), 0, y, (-1, 0)),
        (abs(width - x), width, y, (1, 0)),
        (abs(y), x, 0, (0, -1)),
        (abs(depth - y), x, depth, (0, 1)),
    ]
    _, x, y, out = min(sides)
    return x, y, out

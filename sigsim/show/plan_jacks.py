"""The jacks of a layout as they are drawn, with letters where a box has several loops' jacks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.decide.layout.report import Standing
    from sigsim.layout.model import Box, Point, Socket

# From the end of the tick of a jack to the middle of its letters, along a tick that stands upright
# and along one that lies [radii of a number].
_UPRIGHT, _LYING = 0.8, 1.3
_LETTERS: Final = {"send": "S", "return": "R", "in": "in", "out": "out"}


@dataclass(frozen=True)
class Mark:
    """What a jack is.

    Attributes
    ----------
    text : a letter or two
    at : where they stand [m]
    """

    text: str
    at: Point


def ticks(standing: Standing, length: float) -> Iterator[tuple[Point, Point]]:
    """Yield each jack that has a plug in it, as a line from the outline into its box [m].

    Parameters
    ----------
    standing : the layout
    length : of the line [m]
    """
    for socket in _sockets(standing):
        jack = standing.floor.jack(socket)
        if jack is not None:
            yield (jack.x, jack.y), (jack.x - length * jack.dx, jack.y - length * jack.dy)


def marks(standing: Standing, length: float, radius: float) -> Iterator[Mark]:
    """Yield the letters at the jacks of boxes with loops.

    Parameters
    ----------
    standing : the layout
    length : of the tick of a jack [m]
    radius : of a number beside a cable, whose letters are as large [m]
    """
    found: dict[Point, Mark] = {}
    for socket in _sockets(standing):
        name, jack = standing.floor.box_of(socket.name), standing.floor.jack(socket)
        box = standing.laying.layout.boxes.get(name or "")
        if box is not None and box.loops and jack is not None:
            away = length + radius * (_LYING if jack.dx else _UPRIGHT)
            at = jack.x - away * jack.dx, jack.y - away * jack.dy
            found[jack.x, jack.y] = Mark(letters(box, socket), at)
    yield from found.values()


def letters(box: Box, socket: Socket) -> str:
    """Return what stands at a jack: `S2`, the send of the second loop; `in`, the box's own input.

    Parameters
    ----------
    box : with loops
    socket : of it
    """
    inside = socket.side in ("send", "return") and len(box.loops) > 1
    return _LETTERS[socket.side] + (str(box.loops.index(socket.name) + 1) if inside else "")


def loop_words(box: Box, names: Sequence[str]) -> str:
    """Say which letters are the send and the return of which loop of a box.

    Parameters
    ----------
    box : with loops
    names : of the loops, in their order, as they are shown
    """
    numbers = [str(n + 1) for n in range(len(names))] if len(box.loops) > 1 else [""]
    return ", ".join(f"S{n} and R{n} of {name}" for n, name in zip(numbers, names, strict=True))


def _sockets(standing: Standing) -> list[Socket]:
    """Return the sockets that have a plug in them."""
    ends = (run.link.pair or (run.link.on_board,) for run in standing.runs)
    return list(dict.fromkeys(s for pair in ends for s in pair if s is not None))

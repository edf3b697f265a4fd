"""The jacks of a layout as they are drawn, with letters where a box has several loops' jacks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.decide.layout.report import Standing
    from sigsim.layout.model import Box, Point, Socket

# From the end of the tick of a jack to the middle of its letters, along a tick that stands upright
# and along one that lies [radii of a number].
_UPRIGHT, _LYING = 0.8, 1.3
# The height of a letter [radii of a number], and its width [heights]; no smaller than this share of
# a number, to be read at all.
_HEIGHT, _WIDTH, _LEAST = 1.5, 0.6, 0.55
_LETTERS: Final = {"send": "S", "return": "R", "in": "in", "out": "out"}


@dataclass(frozen=True)
class Mark:
    """What a jack is.

    Attributes
    ----------
    text : a letter or two
    at : where they stand [m]
    size : of the letters, against those of the numbers: 1, or less where jacks are close [-]
    """

    text: str
    at: Point
    size: float = 1.0


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
    every = list(found.values())
    for mark in every:
        near = [_share(mark, other, radius) for other in every if other is not mark]
        yield replace(mark, size=max(_LEAST, min([1.0, *near])))


def _share(one: Mark, other: Mark, radius: float) -> float:
    """Return how large letters may be that they do not meet those at another jack [-]."""
    height = _HEIGHT * radius
    x, y = (abs(a - b) for a, b in zip(one.at, other.at, strict=True))
    wide = _WIDTH * height * (len(one.text) + len(other.text) + 1) / 2
    return max(x / wide, y / height)


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

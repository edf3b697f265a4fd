"""Names that fit into the boxes of a drawing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, NamedTuple, TypeAlias

from sigsim.show.render.text import in_the_middle, plain

# The width of a text in one line of letters of a size.
Measure: TypeAlias = Callable[[str, float], float]

_LEADING: Final = 1.2
_STEPS: Final = 3  # a name becomes so many sizes smaller before it is turned
_FEWEST_LETTERS: Final = 2
_MOST_LETTERS: Final = 60


class Fitted(NamedTuple):
    """A name as it is written into its box.

    Attributes
    ----------
    lines : of text
    size : of its letters, in the unit of the box
    upright : whether it is turned, to be read from the right
    """

    lines: tuple[str, ...]
    size: float
    upright: bool


def fitted(
    name: str, width: float, depth: float, sizes: Sequence[float], measure: Measure
) -> Fitted:
    """Return a name broken, turned, made smaller and at last shortened until it fits.

    Parameters
    ----------
    name : of the box
    width, depth : that there is for it
    sizes : of letters in the same unit, the largest first
    measure : the width of a text
    """
    text = plain(name, _MOST_LETTERS)
    tries = sorted((i + _STEPS * turned, turned) for i in range(len(sizes)) for turned in (0, 1))
    for step, turned in tries:
        size, upright = sizes[step - _STEPS * turned], bool(turned)
        across, along = (depth, width) if upright else (width, depth)
        lines = _lines(text, across, size, measure)
        if lines and len(lines) * _LEADING * size <= along:
            return Fitted(lines, size, upright)
    upright = depth > width
    return Fitted((_shortened(name, max(width, depth), sizes[-1], measure),), sizes[-1], upright)


def _lines(text: str, room: float, size: float, measure: Measure) -> tuple[str, ...]:
    """Return a text broken between words, nothing where a word alone is too wide."""
    found: list[str] = []
    for word in text.split(" "):
        longer = f"{found[-1]} {word}" if found else word
        if found and measure(longer, size) <= room:
            found[-1] = longer
        elif measure(word, size) <= room:
            found.append(word)
        else:
            return ()
    return tuple(found)


def _shortened(name: str, room: float, size: float, measure: Measure) -> str:
    for longest in range(_MOST_LETTERS, _FEWEST_LETTERS, -1):
        text = in_the_middle(name, longest)
        if measure(text, size) <= room:
            return text
    return in_the_middle(name, _FEWEST_LETTERS)

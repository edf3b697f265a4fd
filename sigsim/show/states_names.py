"""The names of what is on as cells of CSV, for many states at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from sigsim.show.render import csv
from sigsim.show.render.digits import as_rows

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from typing import TypeAlias

    from numpy.typing import NDArray

    from sigsim.show.render.digits import Bytes

    Bits: TypeAlias = NDArray[np.uint64]
    # Rows of bytes as items of one array, each of which is copied in one go.
    Cells: TypeAlias = NDArray[Any]

_JOIN: Final = " + "
# What the texts of one group of switches may take [bytes], and how many bits a state has.
_GROUP: Final = 1 << 20
_MOST_TOGETHER: Final = 12
_WORD: Final = 64


def whole(rows: Bytes) -> Cells:
    """Return rows of bytes as items, shape (rows,)."""
    return rows.view(f"V{rows.shape[1]}")[:, 0]


def copy_cells(cells: Cells, which: NDArray[np.intp], place: Bytes) -> None:
    """Write the cells of these numbers into the rows of a place as wide as they are."""
    place.view(cells.dtype)[:, 0] = cells.take(which)


class Names:
    """The names of what is on, joined by ` + `, as the first cell of a row.

    Parameters
    ----------
    names : of the bits of a state, from the lowest; of all in them something is seen

    Attributes
    ----------
    width : how many bytes a cell takes, those that stay empty too
    """

    def __init__(self, names: Sequence[str]) -> None:
        names = names[:_WORD]
        self._formula = _bits(map(csv.is_formula, names))
        self._quoted = _bits(map(csv.is_quoted, names))
        self._groups = list(_groups([csv.doubled(name) for name in names]))
        self._before = whole(as_rows(["", "'", '"', "\"'"], 2))
        self._behind = whole(as_rows(["", '"'], 1))
        self.width = 2 + sum(group.width for group in self._groups) + 1

    def put(self, on: Bits, place: Bytes) -> None:
        """Write one cell for each state, zero where it stays empty.

        Parameters
        ----------
        on : what is on as bits, shape (states,)
        place : shape (states, `width`)
        """
        quoted = (on & self._quoted != 0).astype(np.intp)
        # A cell begins with the name of the lowest bit.
        formula = on & (~on + np.uint64(1)) & self._formula != 0
        copy_cells(self._before, 2 * quoted + formula, place[:, :2])
        at = 2
        for group in self._groups:
            copy_cells(group.cells, group.which(on), place[:, at : at + group.width])
            at += group.width
        copy_cells(self._behind, quoted, place[:, at:])


class _Group(NamedTuple):
    """Neighbouring switches: the texts of all that can be on of them.

    Attributes
    ----------
    first, switches : the lowest of their bits, and how many there are
    cells : first all texts that begin a cell, then the same where something is on before them
    """

    first: int
    switches: int
    cells: Cells

    @property
    def width(self) -> int:
        return self.cells.itemsize

    def which(self, on: Bits) -> NDArray[np.intp]:
        """Return the numbers of the cells for these states."""
        own = on >> np.uint64(self.first) & np.uint64((1 << self.switches) - 1)
        after = on & np.uint64((1 << self.first) - 1) != 0
        number: NDArray[np.intp] = own.astype(np.intp) + (after.astype(np.intp) << self.switches)
        return number


def _groups(names: Sequence[str]) -> Iterator[_Group]:
    """Yield groups of switches, each as large as its texts stay small."""
    first = 0
    while first < len(names):
        count, width = 1, _length(names[first])
        while count < _MOST_TOGETHER and first + count < len(names):
            width += _length(names[first + count])
            if width << (count + 2) > _GROUP:
                break
            count += 1
        yield _group(first, names[first : first + count])
        first += count


def _group(first: int, names: Sequence[str]) -> _Group:
    parts = [""]
    for name in names:
        parts += [f"{part}{_JOIN}{name}" for part in parts]
    begins = [part.removeprefix(_JOIN) for part in parts]
    return _Group(first, len(names), whole(as_rows(begins + parts, sum(map(_length, names)))))


def _length(name: str) -> int:
    return len(f"{_JOIN}{name}".encode())


def _bits(which: Iterable[bool]) -> np.uint64:
    return np.uint64(sum(1 << i for i, is_so in enumerate(which) if is_so))

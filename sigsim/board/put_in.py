"""A box put into the text of a board, with the cables beside it that no layout can measure yet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from sigsim.board import edit, edit_file
from sigsim.errors import QuantityError
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.units import parse

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.board.wiring import Run
    from sigsim.items.base import Item


def put_in(
    text: str,
    board: Board,
    place: Place,
    box: Item,
    keys: Mapping[str, Any],
    remark: str,
    length: float | None = None,
) -> str:
    """Return a file's text with a box in it.

    The box stands nowhere yet, so that the cables beside it which have their lengths from the
    layout are written with them.

    Parameters
    ----------
    text : of the file
    board : what it says
    place : of the box
    box : that is put in
    keys : of its table
    remark : a comment behind the table's header
    length : of the cables beside it [m]; None for that of the cable that was there

    Raises
    ------
    SigsimError : the text would not say the same with the box in it
    """
    text = edit_file.inserted(text, place, keys, remark)
    if not board.has_layout:
        return text
    boxed = edit.inserted(board, place, box)
    lengths = _Beside(boxed, place, box.label)
    # From the last on, so that those before it keep their places.
    for where, run in sorted(lengths.found(), key=lambda one: one[0], reverse=True):
        assert run.made is not None, "a box that stands nowhere is joined to nothing"
        own = {"length": length_value(run.made.length if length is None else length)}
        if run.listed:
            text = edit_file.with_values(text, where, own)
        else:
            text = edit_file.inserted(text, where, {"cable": run.cable.cable, **own}, remark)
    return text


def stands_nowhere(board: Board, names: Sequence[str]) -> str:
    """Return a sentence on boxes that were put into a board with a layout, empty without one."""
    if board.laying is None:
        return ""
    one = len(names) == 1
    them, their = ("it", "its") if one else ("them", "their")
    named = " and ".join(f"'{name}'" for name in names)
    return (
        f" {named} {'stands' if one else 'stand'} nowhere in [layout] yet, so that {their} cables "
        f"have lengths of their own: put {them} into a row, and take these out."
    )


def length_value(length: Any) -> str:
    """Return a length [m] as a file has it: what is read is the same to the last bit."""
    for text in (getattr(length, "text", ""), f"{100 * length:.12g} cm", f"{length:.12g} m"):
        try:
            if text and parse(text, "length").value == length:
                return str(text)
        except QuantityError:
            continue
    return f"{float(length)!r} m"


class _Beside:
    """The cables that are plugged into a box of a board, with where they are in its file.

    Parameters
    ----------
    board : with the box
    place, name : of the box
    """

    def __init__(self, board: Board, place: Place, name: str) -> None:
        self.board, self.place, self.name = board, place, name
        self.runs = [run for run in board.runs if run.cable.lays is not None]

    def found(self) -> Iterator[tuple[Place, Run]]:
        """Yield the place of each cable that is named, and where one has to be for wiring."""
        index, items = self.place[-1], edit.siblings(self.board, self.place)
        before = [i for i, item in enumerate(items[:index]) if not isinstance(item, Tap | Split)]
        for run in self.runs:
            if run.end.socket is not None and run.end.socket.name == self.name:
                number = before[-1] if run.listed else index
                yield (*self.place[:-1], number), run
        yield from self._behind(items, index + 1, self.place[:-1])

    def _behind(
        self, items: Sequence[Item], start: int, above: Place
    ) -> Iterator[tuple[Place, Run]]:
        """Yield what comes next behind the box among some items, and in the splits before that."""
        for index in range(start, len(items)):
            item = items[index]
            if isinstance(item, Split):
                yield from self._behind(item.inside, 0, (*above, index))
            elif not isinstance(item, Tap):
                yield from self._from(item, (*above, index))
                return
        loop = edit.item_at(self.board, above) if above else None
        if isinstance(loop, Loop):
            yield from self._from(loop, (*above, len(items)))

    def _from(self, item: Item, where: Place) -> Iterator[tuple[Place, Run]]:
        """Yield the cable from the box that is this item, or leads to it."""
        for run in self.runs:
            from_box = run.begin.socket is not None and run.begin.socket.name == self.name
            to = run.cable is item if isinstance(item, Cable) else run.end.name == item.label
            if from_box and to and run.listed == isinstance(item, Cable):
                yield where, run
                return

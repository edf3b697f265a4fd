"""Edits of boxes: taken out, moved, and called by another name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.board import edit, edit_file
from sigsim.board.inside import boards_inside
from sigsim.board.reorder_file import reordered
from sigsim.errors import SigsimError, quote
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.live.edits.named import cable_words
from sigsim.live.edits.registry import Asked, Edited, edits, refusal
from sigsim.live.edits.variants import followed, into_variant, name_in_file, out_of_variant
from sigsim.live.edits.ways import refuse_included

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.items.base import Item


@edits("take-out")
def take_out(asked: Asked) -> Edited:
    """Take something out of the chain, a loop with all that is in it."""
    if "wiring" in asked.spot():
        raise SigsimError(
            "this patch stands in no line of the file: it lies between any two boxes",
            accepted="take out a box, or give the patch another length",
        )
    board, place = asked.board, asked.place()
    item = edit.item_at(board, place)
    refuse_included(board, place)
    _refuse_alone(asked, place)
    what = cable_words(board, place) if isinstance(item, Cable) else item.label
    words = f"take out {what}"
    if asked.variant:
        if isinstance(item, Cable):
            asked.as_written()
        return Edited(out_of_variant(asked, name_in_file(board, item.label)), words)
    text = edit_file.taken_out(asked.text, place, _names_inside(item))
    for name in sorted(_names((item,))):
        text = followed(text, name, None)
    return Edited(text, words)


def _refuse_alone(asked: Asked, place: Place) -> None:
    """Refuse to take out the last thing of the chain or of a loop."""
    around = edit.item_at(asked.board, place[:-1]) if len(place) > 1 else None
    if not isinstance(around, Split):
        count = len(edit.siblings(asked.board, place))
        edit.refuse_last(count, inside=isinstance(around, Loop))


def _names_inside(item: Item) -> set[str]:
    """Return the names of what is in boards of other files inside an item."""
    names: set[str] = set()
    for held in boards_inside((item,)):
        names |= _names(held.loop.inside)
    return names


def _names(items: tuple[Item, ...]) -> set[str]:
    found = {item.label for item in items if not isinstance(item, Cable)}
    return found.union(*(_names(i.inside) for i in items if isinstance(i, Loop | Split)))


@edits("move")
def move(asked: Asked) -> Edited:
    """Move a box over the wiring, by so many places of its level."""
    asked.as_written()
    board, place, by = asked.board, asked.place(), asked.number("by")
    item = edit.item_at(board, place)
    if isinstance(item, Cable | Tap | Split):
        why = "cables keep their places, and a tap or split goes with the box before it"
        raise SigsimError(f"only boxes move: {why}", found=quote(item.label))
    refuse_included(board, place)
    boxes = [
        index
        for index, other in enumerate(edit.siblings(board, place))
        if not isinstance(other, Cable | Tap | Split)
    ]
    here = boxes.index(place[-1])
    there = here + by
    if by == 0 or not 0 <= there < len(boxes):
        where = "first" if by < 0 else "last"
        around = edit.item_at(board, place[:-1]).label if len(place) > 1 else "the chain"
        if 0 < here < len(boxes) - 1 or by == 0:
            most = f"{here} places earlier to {len(boxes) - 1 - here} later"
            raise refusal(f"{item.label} cannot move so far", by, most)
        raise refusal(f"{item.label} is the {where} box of {around} already", by, "another box")
    order = [number for number in range(len(boxes)) if number != here]
    order.insert(there, here)
    way = "later" if by > 0 else "earlier"
    words = f"{item.label} {way}" if abs(by) == 1 else f"{item.label} {abs(by)} places {way}"
    return Edited(reordered(asked.text, place[:-1], order), words)


@edits("rename")
def rename(asked: Asked) -> Edited:
    """Give a thing another name, which scenes and all who name it follow."""
    board, place, name = asked.board, asked.place(), asked.word("name")
    item = edit.item_at(board, place)
    refuse_included(board, place)
    if isinstance(item, Cable):
        raise refusal("a cable goes by its kind", item.cable, "a stage, loop, tap or split")
    words = f"{item.label} is now {name}"
    if asked.variant:
        return Edited(into_variant(asked, name_in_file(board, item.label), {item.key: name}), words)
    text = edit_file.with_values(asked.text, place, {item.key: name})
    return Edited(followed(text, item.label, name), words)

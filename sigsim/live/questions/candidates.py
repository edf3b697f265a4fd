"""What is tried for a board that loses treble: changes of some kinds, with their edits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from sigsim.board import edit
from sigsim.board.cable_parts import library_cables
from sigsim.board.inside import board_of_cable, board_of_place
from sigsim.decide.buffer.gaps import first_wanting_pickup
from sigsim.decide.cables.candidates import candidates
from sigsim.decide.cables.limit import role_of
from sigsim.decide.moves import along
from sigsim.decide.order.obeyed import broken_by
from sigsim.decide.pickup import has_pickup, hides_more, on_way, steady
from sigsim.items.cable import Cable
from sigsim.items.split import Split
from sigsim.items.stage import ActiveStage
from sigsim.items.tap import Tap
from sigsim.live.edits.named import after_words, cable_words
from sigsim.live.questions.lengths import shorter
from sigsim.physics.arrays import scalar
from sigsim.quantities import length_text
from sigsim.units import parse

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board

# A cable shorter than this [m] is a patch, and these are shortened all at once.
_PATCH_M: Final = 0.8
# Boxes of which other places are tried: behind the first isolators little is to be gained.
_MOST_MOVED: Final = 4


@dataclass(frozen=True)
class Change:
    """A change that can be tried.

    Attributes
    ----------
    kind : "buffer", "bypass", "cable", "shorter", "moved"
    words : of it
    edit : that makes it
    board : then
    with_lead : whether it changes the instrument's own lead, so that this has to count
    """

    kind: str
    words: str
    edit: dict[str, Any]
    board: Board
    with_lead: bool = False


def buffered_bypasses(board: Board) -> Iterator[Change]:
    """Yield a buffered bypass for each pedal that hides the pickup from none behind it."""
    stages = [(p, item) for p, item in edit.places(board) if isinstance(item, ActiveStage)]
    for number, (place, stage) in enumerate(stages):
        later = (s for where, s in stages[number + 1 :] if on_way(board, place, where))
        hides = has_pickup(board) and (stage.needs_pickup or any(s.needs_pickup for s in later))
        elsewhere = board_of_place(board, place) is not None
        if stage.always_on or stage.bypass == "buffered" or hides or elsewhere:
            continue
        made = edit.with_values(board, place, {"bypass": "buffered"}, {})
        do = {"do": "set", "at": {"place": list(place)}, "keys": {"bypass": "buffered"}}
        yield Change("bypass", f"a buffered bypass for {stage.stage}", do, made)


def better_cables(board: Board) -> Iterator[Change]:
    """Yield cables of less capacitance for each kind of cable that the board's own file has."""
    tried = candidates(board, library_cables(board.library))
    for name in dict.fromkeys(cable.cable for cable in board.pieces()):
        if board_of_cable(board, name) is not None:
            continue
        role = role_of(board, name)
        for candidate in tried:
            less = scalar(candidate.spec.capacitance) < scalar(role.spec.capacitance)
            if candidate.in_library and candidate.fits(role) and less:
                spec = replace(candidate.spec, sold=role.spec.sold)
                do = {"do": "cable-part", "name": name, "part": candidate.name}
                yield Change(
                    "cable",
                    f"low-capacitance {name}",
                    do,
                    edit.with_cable(board, name, spec),
                    any(role.leads),
                )


def shorter_cables(board: Board) -> Iterator[Change]:
    """Yield each long cable in the next shorter usual length, and all patches so."""
    lead = board.lead_place
    for place, item in edit.places(board) if not board.changes.variants else ():
        if not isinstance(item, Cable) or item.lays or board_of_place(board, place) is not None:
            continue
        length = scalar(item.length)
        found = shorter(length, item.spec.sold) if length >= _PATCH_M else None
        if found is None:
            continue
        made = edit.with_values(board, place, {"length": parse(found[0], "length").value}, {})
        words = f"{cable_words(board, place)} {length_text(length)} → {found[0]}"
        do = {"do": "length", "at": {"place": list(place)}, "length": found[0]}
        yield Change("shorter", words, do, made, place == lead)
    yield from _shorter_patches(board)


def _shorter_patches(board: Board) -> Iterator[Change]:
    wiring = board.wiring
    if wiring is None or wiring.lays is not None:
        return
    length = scalar(wiring.length)
    found = shorter(length, wiring.spec.sold)
    if found is not None:
        made = replace(wiring, length=parse(found[0], "length").value)
        words = f"all patches {length_text(length)} → {found[0]}"
        do = {"do": "all-lengths", "length": found[0]}
        yield Change("shorter", words, do, replace(board, wiring=made))


def moved_boxes(board: Board) -> Iterator[Change]:
    """Yield other places of the boxes that isolate even when they are off."""
    if board.changes.variants:
        return
    boxes = [
        (place, item)
        for place, item in edit.places(board)
        if isinstance(item, ActiveStage) and steady(item) and board_of_place(board, place) is None
    ]
    for place, stage in boxes[:_MOST_MOVED]:
        here = _number(board, place)
        for move in along(board, place):
            by = _number(move.board, move.gap.place) - here
            do = {"do": "move", "at": {"place": list(place)}, "by": by}
            words = f"move {stage.stage} {after_words(move.board, move.gap.place, there=True)}"
            yield Change("moved", words, do, move.board)


def is_allowed(change: Change, board: Board) -> bool:
    """Return whether a box that moved hides no pickup, and breaks no rule of the file."""
    if change.kind != "moved":
        return True
    if broken_by(change.board, board) or hides_more(change.board, board):
        return False
    place = next(p for p, i in edit.places(change.board) if i.label == _moved(change, board))
    behind = edit.siblings(change.board, place)[place[-1] + 1 :]
    return not has_pickup(board) or first_wanting_pickup(behind) is None


def _moved(change: Change, board: Board) -> str:
    return edit.item_at(board, tuple(change.edit["at"]["place"])).label


def _number(board: Board, place: Place) -> int:
    """Return which box of its level one is."""
    items = edit.siblings(board, place)[: place[-1]]
    return sum(not isinstance(item, Cable | Tap | Split) for item in items)

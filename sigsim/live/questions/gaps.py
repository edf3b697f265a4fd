"""A part in hand: what each gap on the line would make of the state that is shown."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from functools import cached_property
from pathlib import Path
from time import thread_time
from typing import TYPE_CHECKING, Any, Final

from sigsim.board import edit
from sigsim.board.ends import loops_around
from sigsim.board.part_stage import stage_of
from sigsim.decide.buffer.gaps import gap_at, is_place
from sigsim.decide.buffer.gaps import gaps as gaps_on_way
from sigsim.decide.buffer.sums import Sums
from sigsim.decide.buffer.views import ALL_STATES
from sigsim.decide.pickup import has_pickup, steady
from sigsim.items.stage import ActiveStage
from sigsim.live.boards import board_of
from sigsim.live.edits.inserting import new_name
from sigsim.live.questions.losses import Losses
from sigsim.metrics import USUAL_BASIS
from sigsim.show.page.things import things
from sigsim.states.measure import treble

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.items.base import Stage
    from sigsim.live.questions.losses import Cancelled
    from sigsim.show.page.things import Thing

# The worst of all states is looked for so long [s] in all gaps together; what is heard now comes
# first, and the pills wait for both.
_SEARCHED_S: Final = 0.4


def gaps(
    text: str,
    path: Path,
    part: str,
    on: Collection[str],
    cancelled: Cancelled,
    variant: str = "",
    at: str = "",
) -> dict[str, Any]:
    """Return what a part would do in each gap on the line.

    Parameters
    ----------
    text, path, variant, at : of the board, as for `board_of`
    part : a stage of the library or of the file's own parts
    on : the names of what is on in the state that is shown
    cancelled : asked between two gaps

    Returns
    -------
    a `GapOffer` for each, see types.js

    Raises
    ------
    CancelledError : nobody waits any more
    SigsimError : the text is no board, or there is no such part
    """
    board = board_of(text, path, variant, at)
    box = stage_of(part, new_name(board, part), board.library)
    hand = Hand(board, box, Losses(board, on, cancelled))
    return {"gaps": [hand.offer(gap) for gap in places_on_line(board)]}


class OnLine:
    """A gap as the line shows it.

    Parameters
    ----------
    key : of the cable or joint
    place : where a box would be in the file; None where it has none
    file : of the board inside that it stands in, empty for the board's own
    """

    def __init__(self, key: str, place: Place | None, file: str) -> None:
        self.key, self.place, self.file = key, place, file


def places_on_line(board: Board) -> Iterator[OnLine]:
    """Yield the gaps of a board as the page shows them, in the order of the signal."""
    yield from _on_line(things(board), "")


def _on_line(along: Iterable[Thing], file: str) -> Iterator[OnLine]:
    for thing in along:
        about: Mapping[str, Any] = thing.about
        if about["kind"] in ("cable", "joint"):
            gap = about.get("gap")
            if gap is not None or file:
                yield OnLine(about["key"], tuple(gap["place"]) if gap else None, file)
        yield from _on_line(thing.inside, str(about.get("boardFile", file)))


class Hand:
    """A box that is tried in gaps.

    Parameters
    ----------
    board : without it
    box : it
    losses : of the state that is shown
    """

    def __init__(self, board: Board, box: Stage, losses: Losses) -> None:
        self.board, self.box, self.losses = board, box, losses
        self.on_way = [gap for gap in gaps_on_way(board) if is_place(board, gap)]
        self._allowed = {gap.place for gap in self.on_way}
        self._sums: Sums | None = None
        self._searched = 0.0

    def offer(self, gap: OnLine) -> dict[str, Any]:
        """Return what the box does in one gap."""
        self.losses.check()
        refused = self.refused(gap)
        offer: dict[str, Any] = {
            "key": gap.key,
            "then": None,
            "worst": None,
            "refused": refused,
            "says": "",
        }
        if refused or gap.place is None:
            return offer
        boxed = edit.inserted(self.board, gap.place, self.box)
        offer["edit"] = self.edit(gap.place)
        if any(loop not in self.losses.on for loop in loops_around(self.board.listed, gap.place)):
            return offer | {"says": "the loop is out"}
        offer["then"] = _told(self.losses.loss(boxed))
        if offer["then"] is None:
            return offer | {"says": "nothing is heard with it here"}
        begin = thread_time()
        if self._searched < _SEARCHED_S:
            offer["worst"] = _told(self.worst(gap.place, boxed))
        self._searched += thread_time() - begin
        return offer

    def edit(self, place: Place) -> dict[str, Any]:
        """Return the edit that puts the box into a gap."""
        return {"do": "insert", "gap": {"place": list(place)}, "part": self.box.part}

    def refused(self, gap: OnLine) -> str:
        """Return why the box has no place in a gap, empty where it has one."""
        if gap.place is None:
            return f"this stands in {gap.file}: put it in there"
        if self.board.changes.variants:
            return 'a variant puts nothing in: choose "as written" first'
        found = gap_at(self.board, gap.place)
        if not is_place(self.board, found):
            return "no place: nothing leads on from here"
        wanting = found.forbidden_by if has_pickup(self.board) else None
        if wanting and isinstance(self.box, ActiveStage) and steady(self.box):
            return f"{wanting} wants to see the pickup, and this would hide it"
        return ""

    def worst(self, place: Place, boxed: Board) -> float:
        """Return the worst of all states [dB] with the box in a gap."""
        always = isinstance(self.box, ActiveStage) and self.box.always_on
        if place in self._allowed and always and self._sounds:
            if self._sums is None:
                assert isinstance(self.box, ActiveStage), "only a powered stage is always on"
                measure = treble(USUAL_BASIS)
                self._sums = Sums(self.board, self.box, self.on_way, ALL_STATES, measure)
            found = self._sums.total([next(g for g in self.on_way if g.place == place)])
            if math.isfinite(found):
                return found
        return self.losses.worst(boxed).loss

    @cached_property
    def _sounds(self) -> bool:
        """Whether something is heard in some state, so that the worst is a sum of pieces."""
        return math.isfinite(self.losses.worst(self.board).loss)


def _told(loss: float) -> float | None:
    return loss if math.isfinite(loss) else None

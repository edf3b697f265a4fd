"""What is worth trying in the state that is shown: three changes, each of another kind."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from sigsim.board import edit
from sigsim.board.part_stage import stage_of
from sigsim.live.boards import board_of
from sigsim.live.edits.inserting import new_name
from sigsim.live.edits.named import after_words
from sigsim.live.questions import candidates
from sigsim.live.questions.candidates import Change, is_allowed
from sigsim.live.questions.gaps import Hand, OnLine, places_on_line
from sigsim.live.questions.losses import Losses

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.live.questions.losses import Cancelled

# The buffer that is put in where nobody says which; as `sigsim buffer` has it.
BUFFER: Final = "buffer-opamp"
_MOST: Final = 3
_LEAST_GAIN_DB: Final = 0.2
# Two that print alike are told apart by the worst of all states.
_ALIKE_DB: Final = 0.05
# The worst of all is looked for in so many changes of a kind.
_MOST_SEARCHED: Final = 4
# What the worst of all may be more without being worse: less than the search tells [dB].
_SAME_DB: Final = 1e-3


@dataclass(frozen=True)
class _Found:
    """A change with its numbers [dB]."""

    change: Change
    now: float
    then: float
    worst: float

    @property
    def gain(self) -> float:
        return _gain(self.now, self.then)


def _gain(now: float, then: float) -> float:
    """Return how much less is lost [dB]: brighter than without the board is no further gain."""
    return max(now, 0.0) - max(then, 0.0)


def worth(
    text: str,
    path: Path,
    on: Collection[str],
    cancelled: Cancelled,
    variant: str = "",
    at: str = "",
) -> dict[str, Any]:
    """Return the three changes of another kind each that help most in the state shown.

    Parameters
    ----------
    text, path, variant, at : of the board, as for `board_of`
    on : the names of what is on
    cancelled : asked between two boards

    Returns
    -------
    "list" with a `Worth` for each, see types.js, and whether all worst states are "proven"

    Raises
    ------
    CancelledError : nobody waits any more
    SigsimError : the text is no board
    """
    board = board_of(text, path, variant, at)
    trial = _Trial(board, Losses(board, on, cancelled))
    found = trial.best()
    return {"list": [_told(one) for one in found], "proven": trial.losses.proven}


def _told(found: _Found) -> dict[str, Any]:
    return {
        "words": found.change.words,
        "edit": found.change.edit,
        "now": found.now,
        "then": found.then,
        "worst": found.worst,
        "withLead": found.change.with_lead,
    }


class _Trial:
    """All changes of one board."""

    def __init__(self, board: Board, losses: Losses) -> None:
        self.board, self.losses = board, losses
        self._now: dict[bool, float] = {}
        self._worst: dict[bool, float] = {}
        self._hand: Hand | None = None

    def best(self) -> list[_Found]:
        """Return the best of each kind, the best three, the best first."""
        kinds: tuple[Iterable[Change], ...] = (
            self._buffers(),
            candidates.buffered_bypasses(self.board),
            candidates.better_cables(self.board),
            candidates.shorter_cables(self.board),
            candidates.moved_boxes(self.board),
        )
        found = [one for kind in kinds if (one := self._best_of(kind)) is not None]
        found.sort(key=lambda one: (-round(one.gain / _ALIKE_DB) * _ALIKE_DB, one.worst))
        return found[:_MOST]

    def _buffers(self) -> Iterator[Change]:
        if self.board.changes.variants:
            return
        name = new_name(self.board, BUFFER)
        hand = self._hand = Hand(
            self.board, stage_of(BUFFER, name, self.board.library), self.losses
        )
        for gap in places_on_line(self.board):
            if gap.place is not None and not self._refused(hand, gap):
                boxed = edit.inserted(self.board, gap.place, hand.box)
                words = f"a buffer {after_words(self.board, gap.place)}"
                yield Change("buffer", words, hand.edit(gap.place), boxed)

    def _refused(self, hand: Hand, gap: OnLine) -> bool:
        return bool(hand.refused(gap))

    def _best_of(self, changes: Iterable[Change]) -> _Found | None:
        """Return the best change of one kind that makes the worst of all states no worse."""
        tried: list[tuple[float, int, Change]] = []
        for number, change in enumerate(changes):
            gain = _gain(self._shown(change.with_lead), self._then(change))
            if math.isfinite(gain) and gain >= _LEAST_GAIN_DB:
                tried.append((-gain, number, change))
        best: _Found | None = None
        searched = 0
        for minus, _, change in sorted(tried, key=lambda one: one[:2]):
            over = best is not None and -minus < best.gain - _ALIKE_DB
            if over or searched >= _MOST_SEARCHED:
                break
            if not is_allowed(change, self.board):
                continue
            searched += 1
            found = self._found(change)
            if found is not None and (best is None or found.worst < best.worst):
                best = found
        return best

    def _found(self, change: Change) -> _Found | None:
        """Return a change with its numbers, None where it makes the worst of all worse."""
        lead = change.with_lead
        worst = self._worst_of(change)
        if not worst <= self._worst_now(lead) + _SAME_DB:
            return None
        return _Found(change, self._shown(lead), self._then(change), worst)

    def _worst_of(self, change: Change) -> float:
        if change.kind == "buffer" and self._hand is not None:
            place: Place = tuple(change.edit["gap"]["place"])
            return self._hand.worst(place, change.board)
        return self.losses.worst(change.board, with_lead=change.with_lead).loss

    def _then(self, change: Change) -> float:
        return self.losses.loss(change.board, with_lead=change.with_lead)

    def _shown(self, lead: bool) -> float:
        if lead not in self._now:
            self._now[lead] = self.losses.loss(self.board, with_lead=lead)
        return self._now[lead]

    def _worst_now(self, lead: bool) -> float:
        if lead not in self._worst:
            self._worst[lead] = self.losses.worst(self.board, with_lead=lead).loss
        return self._worst[lead]

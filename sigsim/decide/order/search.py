"""The search for the best order."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.decide.order.bounded import Bounded
from sigsim.decide.order.clock import Clock, EndedError, Progress
from sigsim.decide.order.freely import Freely
from sigsim.decide.order.losses import Together, losses_of
from sigsim.decide.order.permitted import MOST_IN_SETS, Permitted
from sigsim.decide.order.picked import Picked
from sigsim.decide.order.proof import Proof
from sigsim.decide.order.question import Found, Ordered
from sigsim.decide.order.ranking import LITTLE_DB, Candidate, Pairs, told
from sigsim.decide.order.trial import Trial, by_loss, with_moves
from sigsim.states.options import UnfitError

if TYPE_CHECKING:
    from sigsim.decide.order.question import Order, Question
    from sigsim.states.graph import Index

# How long a search may take [s] before it says what it has.
USUAL_SECONDS: Final = 20.0
# So many orders are all looked at.
_MOST_LOOKED_AT: Final = 6000
# So many times more, if bounds leave few of them or if nothing is proven without.
_MORE: Final = 8
# By when, as shares of the time, nothing more is proven, and no more boxes are moved.
_PROVING: Final = 0.6
_MOVING: Final = 0.8
# By when no more of all orders are looked at.
_LOOKING: Final = 0.85
# By when nothing more is proven where all orders can be looked at instead.
_PROVING_FEW: Final = 0.1
# So many orders in which boxes of the file are moved are looked at.
_MOST_MOVED: Final = 40_000


def never() -> bool:
    """Do not stop."""
    return False


def search(
    question: Question,
    *,
    top: int = 1,
    seconds: float = USUAL_SECONDS,
    stop: Callable[[], bool] = never,
    progress: Callable[[Progress], None] | None = None,
) -> Found:
    """Return the best orders of the boxes of a level, see `ranking`.

    Parameters
    ----------
    question : what is asked
    top : how many orders
    seconds : how long it may take; what is found then may not be the best
    stop : asked now and then whether it is to end at once
    progress : called now and then
    """
    permitted = Permitted(question)
    plain = replace(question, buffer=None)
    now = told(plain, tuple(range(len(question.boxes))), Pairs.of(plain))
    first = permitted.one()
    if first is None:
        return Found(now, (), None, {}, True, True, math.nan, 0, ())
    run = _Run(question, permitted, now, Clock(seconds, stop, None), progress)
    with np.errstate(all="ignore"):
        with suppress(EndedError):
            run.whole(first, top)
        return run.found(top, first)


class _Run:
    """One search.

    Parameters
    ----------
    question : what is asked
    permitted : the orders that obey the constraints
    now : the order of the file
    clock : ends it
    progress : called now and then
    """

    def __init__(
        self,
        question: Question,
        permitted: Permitted,
        now: Ordered,
        clock: Clock,
        progress: Callable[[Progress], None] | None,
    ) -> None:
        self.question, self.permitted, self.now, self.clock = question, permitted, now, clock
        self.progress = progress
        clock.said = None if progress is None else self._say
        self.trial = Trial(question, permitted, losses_of(question), clock)
        self.proof: Proof | None = None
        self.all, self.least = 0, math.inf
        self.moved: dict[int, tuple[Order, ...]] = {}
        self.groups: tuple[Order, ...] = ()
        self._told: dict[Order, Ordered] = {}

    def _say(self, seconds: float) -> None:
        assert self.progress is not None
        best = self.trial.best()
        ordered = None if best is None else self.told(best)
        self.progress(Progress(seconds, ordered, self.bound))

    @property
    def bound(self) -> float:
        """What no order is below [dB]."""
        if self.all:
            return min(self.least, self.trial.lowest)
        return -math.inf if self.proof is None else self.proof.bound

    def told(self, one: Candidate) -> Ordered:
        """Return an order with all that is said of it."""
        if one.order not in self._told:
            self._told[one.order] = told(self.question, one.order, self.trial.pairs)
        return self._told[one.order]

    def whole(self, first: Order, top: int) -> None:
        """Search for all that is wanted.

        Parameters
        ----------
        first : any order that obeys the constraints
        top : how many orders are wanted

        Raises
        ------
        EndedError : the time is up
        """
        trial = self.trial
        # Whatever ends it, one order is known.
        trial.look(np.array([first]))
        trial.bounded = self._bounded()
        every = self.permitted.every(_MOST_LOOKED_AT * _MORE)
        few = every is not None and len(every) <= _MOST_LOOKED_AT
        if not few and (every is None or trial.bounded is None):
            self._climb(first)
            self._prove(_PROVING if every is None else _PROVING_FEW)
        if every is not None and not self._is_proven():
            with self.clock.part(_LOOKING):
                self._all(every, top)
        with self.clock.part(_MOVING):
            self._moved()
        best = trial.best()
        if best is not None:
            Freely(trial, best).find(self._take)

    def _bounded(self) -> Bounded | None:
        losses, size = self.trial.losses, self.permitted.size
        if not isinstance(losses, Together) or size > MOST_IN_SETS:
            return None
        try:
            return Bounded(losses, size, self.clock.tick)
        except UnfitError:
            return None

    def _all(self, orders: Index, top: int) -> None:
        """Look at all orders, or at all that may be wanted."""
        if self.trial.bounded is None:
            self.trial.look(orders)
        else:
            picked = Picked(self.trial, self.trial.bounded, orders, whole=True)
            self.least = picked.lowest()
            picked.first(top)
            picked.first(1, picked.custom <= self.now.custom)
        self.all = len(orders)

    def _is_proven(self) -> bool:
        best = self.trial.best()
        return self.proof is not None and self.proof.proven and self._ranks(best)

    def _ranks(self, best: Candidate | None) -> bool:
        return self.proof is not None and best is not None and self.proof.ranks(best)

    def _prove(self, share: float) -> None:
        losses = self.trial.losses
        if isinstance(losses, Together) and self.permitted.size <= MOST_IN_SETS:
            self.proof = Proof(self.trial, losses, self.now)
            with self.clock.part(share):
                if self.trial.limit <= LITTLE_DB:
                    # Then it does not depend on the lowest what counts as equal.
                    self.proof.first()
                    self.proof.lowest()
                else:
                    self.proof.lowest()
                    self.proof.first()
                self.proof.customary()

    def _take(self, groups: tuple[Order, ...]) -> None:
        self.groups = groups

    def _climb(self, first: Order) -> None:
        """Look for good orders before anything is proven."""
        trial = self.trial
        starts = [first]
        for rank in (False, True):
            own = self._in_file(by_rank=rank)
            if own is not None:
                starts.append(own)
        for start in dict.fromkeys(starts):
            trial.climb(start, by_loss)
        best = trial.best()
        assert best is not None
        trial.climb(best.order, lambda one: one.key(trial.limit))

    def _in_file(self, *, by_rank: bool) -> Order | None:
        """Return the order of the file, or of the custom, if it is permitted, a buffer first."""
        boxes = list(self.question.boxes)
        if by_rank:
            boxes.sort(key=lambda box: min(box.ranks, default=math.inf))
        numbers = [box.number for box in boxes]
        orders = np.array([numbers])
        if self.question.buffer is not None:
            places = range(len(numbers) + 1)
            orders = np.array([[*numbers[:p], len(numbers), *numbers[p:]] for p in places])
        good = orders[self.permitted.allows(orders)]
        return tuple(good[0].tolist()) if len(good) else None

    def _moved(self) -> None:
        for moves in (1, 2):
            orders = with_moves(self.question, moves)
            if len(orders) > _MOST_MOVED:
                break
            self.moved[moves] = tuple(map(tuple, orders.tolist()))
            if self.trial.bounded is None:
                self.trial.look(orders)
            else:
                orders = orders[self.permitted.allows(orders)]
                Picked(self.trial, self.trial.bounded, orders).first(1)

    def found(self, top: int, first: Order) -> Found:
        """Return what was found, even if the search was ended."""
        trial = self.trial
        if not trial.known:
            # Not even one was looked at in the time there was.
            custom, turned = (int(c[0]) for c in trial.pairs.counted(np.array([first])))
            trial.known[first] = Candidate(first, math.nan, custom, turned)
        limit = trial.limit
        known = sorted(trial.known.values(), key=lambda one: one.key(limit))
        proof = self.proof
        orders = tuple(self.told(one) for one in known[:top])
        return Found(
            now=self.now,
            orders=orders,
            customary=self._customary(known),
            moved=self._best_moved(),
            proven=self.all > 0 or (proof is not None and proof.proven),
            ranking_proven=self.all > 0 or self._ranks(known[0]),
            bound=self.bound,
            tried=max(len(trial.known), self.all) + (0 if proof is None else proof.tried),
            groups=self.groups,
        )

    def _customary(self, known: Iterable[Candidate]) -> Ordered | None:
        keeping = (one for one in known if one.custom <= self.now.custom)
        best = next(keeping, None)
        return None if best is None else self.told(best)

    def _best_moved(self) -> dict[int, Ordered]:
        found = {moves: self.trial.among(orders) for moves, orders in self.moved.items()}
        return {moves: self.told(one) for moves, one in found.items() if one is not None}

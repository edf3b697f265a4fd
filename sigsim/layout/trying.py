"""The arrangement of boxes in the rows of a board that makes the sum of runs shortest.

Fewest runs without a way, then the shortest sum, then the fewest pairs of boxes turned round as one
reads the rows, then the fewest boxes in another row, then the order of the layout. So many
arrangements as nine boxes have in one row are all looked at: bounds of all, then exact sums in the
order of the bounds until no bound is as low as the best sum. Where there are more, boxes are
swapped and moved as long as that is better, from several beginnings.
"""

from __future__ import annotations

import math
import random
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple, TypeAlias

import numpy as np

from sigsim.layout.arranging import Arrangement, Rows, all_orders, neighbours, some_orders
from sigsim.layout.bounds import Bounds
from sigsim.layout.exact import metres, whole
from sigsim.layout.floor import Floor
from sigsim.layout.totals import Totals

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy.typing as npt

    from sigsim.layout.arranging import Standing
    from sigsim.layout.model import Layout, Socket

    Whole: TypeAlias = npt.NDArray[np.int64]

# So many arrangements are all looked at: those of nine boxes in a row.
_ALL: Final = math.factorial(9)
# So many at once: their arrays stay in the cache.
_CHUNK: Final = 1 << 14
# So often as many arrangements by chance are looked at for one that is permitted.
_CHUNKS: Final = 64
# Of candidates, of which the runs are bounded again one by one.
_FEW: Final = 256
# More than the sum of all runs of a board [nm]: what a run without a way counts as.
_NO_WAY: Final = 1 << 48
# More runs without a way than there are: rows that do not fit, where those are wanted that do.
_UNFIT: Final = 1 << 14
# So many beginnings in turn that lead to nothing better end a search.
_IN_VAIN: Final = 12
# So many swaps and moves by chance make another beginning.
_SHAKES: Final = 3


def never() -> bool:
    """Do not stop."""
    return False


@dataclass(frozen=True)
class Trial:
    """What was found.

    Attributes
    ----------
    rows : the best arrangement, the back row first
    total : the sum of its runs, slack included [m]; None where one of them has no way
    exact : there is no better one; else it is the best that was found
    now : the sum of runs of the layout as it is, slack included [m]; None where one has no way
    fits : nothing that was moved overlaps or hangs over, if rows that fit were wanted
    """

    rows: tuple[tuple[str, ...], ...]
    total: float | None
    exact: bool
    now: float | None
    fits: bool = False


class _Key(NamedTuple):
    """How good an arrangement is: the least is the best."""

    no_way: int
    total: int
    turned: int
    moved: int
    arrangement: Arrangement

    @property
    def number(self) -> int:
        """Runs without a way and the sum of the others in one number."""
        return self.no_way * _NO_WAY + self.total


def tried(
    layout: Layout,
    links: Sequence[tuple[Socket, Socket]],
    *,
    seconds: float = 10.0,
    stop: Callable[[], bool] = never,
    fits: bool = False,
) -> Trial:
    """Return the arrangement with the shortest sum of runs.

    Nothing is proposed in which a box overlaps another that it does not overlap now, or hangs over
    an edge farther than any does now. All rows that hold boxes without a place keep some.

    Parameters
    ----------
    layout : as it is; boxes with a place stay there
    links : from jack to jack; what has an end that stands nowhere or is joined in a box is left out
    seconds : how long it may take
    stop : asked now and then whether it is to end at once
    fits : whether rows are wanted in which nothing overlaps or hangs over an edge, boxes with a
        place left aside: the best of them, be it longer than now; where none is found, it is `now`
    """
    floor = Floor(layout)
    counted = [link for link in links if all(map(floor.jack, link)) and not floor.joined(*link)]
    ends = time.monotonic() + seconds
    search = _Search(floor, counted, lambda: stop() or time.monotonic() > ends, fits=fits)
    now = search.now
    exact = search.all_of_them() if search.rows.count() <= _ALL else search.by_moves()
    slack = whole(layout.slack) * len(counted)
    found = search.best if search.fitting else now
    total, before = (None if key.no_way else metres(key.total + slack) for key in (found, now))
    rows = search.rows.named(found.arrangement)
    return Trial(rows, total, exact, before, fits and search.fitting)


class _Many(NamedTuple):
    """Arrangements that may be better than the best so far, each with a bound on what it comes to.

    Attributes
    ----------
    orders : (arrangements, boxes)
    lengths : of the rows, (arrangements, rows)
    bounds : on runs without a way and the sum of the others in one number (arrangements,)
    """

    orders: Whole
    lengths: Whole
    bounds: Whole

    def where(self, which: npt.NDArray[np.bool_] | Sequence[int]) -> _Many:
        """Return some of them."""
        return _Many(*(part[which] for part in self))

    def arrangement(self, number: int) -> Arrangement:
        """Return one of them."""
        return Arrangement(
            tuple(self.orders[number].tolist()), tuple(self.lengths[number].tolist())
        )


class _Search:
    """A search, with the best that was found so far."""

    def __init__(
        self,
        floor: Floor,
        links: Sequence[tuple[Socket, Socket]],
        ended: Callable[[], bool],
        *,
        fits: bool,
    ) -> None:
        self.rows = Rows(floor.layout)
        self._fits = fits
        self._bounds = Bounds(self.rows, floor, links)
        self._totals = Totals(floor, links)
        self._ended = ended
        self._links = len(links)
        self._cut = False
        found = self._totals.of(floor.rects, [0] * len(links), None)
        self.now = _Key(*(found or (0, 0)), 0, 0, self.rows.now)
        self.best = self.now if self._permits_now() else self.now._replace(no_way=_UNFIT)

    @property
    def fitting(self) -> bool:
        """Whether the best is permitted; else nothing is that was looked at."""
        return self.best.no_way < _UNFIT

    def _permits_now(self) -> bool:
        now = np.array([self.rows.now.order]), np.array([self.rows.now.lengths])
        return not self._fits or bool(self._permitted(self.rows.standing(*now)).all())

    def _permitted(self, standing: Standing) -> npt.NDArray[np.bool_]:
        return self.rows.permitted(standing, fits=self._fits)

    def all_of_them(self) -> bool:
        """Look at all arrangements; return whether there was time for it."""
        if len(self.rows.names) < 2:
            return True
        orders, kept = all_orders(len(self.rows.names)), []
        for lengths in self.rows.all_lengths():
            for begin in range(0, len(orders), _CHUNK):
                if self._ended():
                    return False
                some = orders[begin : begin + _CHUNK]
                many = self._promising(some, np.tile(lengths, (len(some), 1)), self.best)
                self.best = self._best_of(many.where(many.bounds.argsort()[:1].tolist()), self.best)
                kept.append(many)
        many = _Many(*map(np.concatenate, zip(*kept, strict=True)))
        many = many.where(many.bounds <= self.best.number)
        self.best = self._best_of(many, self.best)
        return not self._cut

    def by_moves(self) -> bool:
        """Swap and move boxes from several beginnings; that none is better is never certain."""
        chance = random.Random(0)
        self._begin(chance)
        self.best, vain = self._descended(self.best), 0
        while vain < _IN_VAIN and not self._ended():
            found = self._descended(self._shaken(chance))
            vain = 0 if found < self.best else vain + 1
            self.best = min(self.best, found)
        return False

    def _begin(self, chance: random.Random) -> None:
        """Begin at the best of many arrangements by chance, where the one now is not permitted."""
        for _ in range(_CHUNKS):
            if self.fitting or self._ended():
                return
            now = self.rows.now
            some = some_orders(chance, len(now.order), len(now.lengths), _CHUNK // 8)
            many = self._promising(*some, self.best)
            self.best = self._best_of(many.where(many.bounds.argsort()[:1].tolist()), self.best)

    def _promising(self, orders: Whole, lengths: Whole, best: _Key) -> _Many:
        """Return the arrangements that are permitted and may be as good as the best."""
        standing = self.rows.standing(orders, lengths)
        bounds, no_way = self._bounds.of(standing)
        many = _Many(orders, lengths, bounds.sum(axis=0) + _NO_WAY * no_way)
        return many.where(self._permitted(standing) & (many.bounds <= best.number))

    def _best_of(self, many: _Many, best: _Key, *, first: bool = False) -> _Key:
        """Return the best of many arrangements and one, or the first that is better than that."""
        turned, moved = self._changed(many)
        keys = (*many.lengths.T[::-1], *many.orders.T[::-1], moved, turned, many.bounds)
        sorted_ = np.lexsort(keys)
        for begin in range(0, len(sorted_), _FEW):
            few = sorted_[begin : begin + _FEW]
            standing = self.rows.standing(many.orders[few], many.lengths[few])
            bounds, no_way = self._bounds.of(standing)
            for at, number in enumerate(few.tolist()):
                if self._ended():
                    self._cut = True
                    return best
                bound = bounds[:, at].tolist()
                key = _Key(
                    int(no_way[at]), sum(bound), int(turned[number]), int(moved[number]),
                    many.arrangement(number),
                )  # fmt: skip
                if key >= best:
                    return best
                rects = self.rows.outlines(standing, at)
                found = self._totals.of(rects, bound, (best.no_way, best.total))
                key = best if found is None else key._replace(no_way=found[0], total=found[1])
                if key < best:
                    best = key
                    if first:
                        return best
        return best

    def _descended(self, key: _Key) -> _Key:
        """Swap and move boxes as long as that is better."""
        while True:
            orders, lengths = neighbours(key.arrangement)
            found = self._best_of(self._promising(orders, lengths, key), key, first=True)
            if found == key or self._cut:
                return found
            key = found

    def _shaken(self, chance: random.Random) -> _Key:
        """Return the best arrangement after a few swaps and moves by chance."""
        key = self.best
        for _ in range(_SHAKES):
            orders, lengths = neighbours(key.arrangement)
            standing = self.rows.standing(orders, lengths)
            possible = np.flatnonzero(self._permitted(standing)).tolist()
            if not possible:
                return self.best
            key = self._key(_Many(orders, lengths, lengths[:, 0]).where([chance.choice(possible)]))
        return key

    def _key(self, one: _Many) -> _Key:
        """Return how good an arrangement is."""
        rects = self.rows.outlines(self.rows.standing(one.orders, one.lengths), 0)
        turned, moved = self._changed(one)
        found = self._totals.of(rects, [0] * self._links, None) or (0, 0)
        return _Key(*found, int(turned[0]), int(moved[0]), one.arrangement(0))

    def _changed(self, many: _Many) -> tuple[Whole, Whole]:
        """Return how many pairs are turned, and how many boxes stand in another row."""
        standing = self.rows.standing(many.orders, many.lengths)
        return self.rows.turned(many.orders), self.rows.moved(standing)

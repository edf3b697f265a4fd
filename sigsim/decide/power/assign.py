"""Which pedal on which output: an integer programme, solved for one aim after the other.

The aims: most pedals fed, of those with a known current first; then fewest that share an output, of
those with an unknown current first; then the largest smallest fraction left on an output; then the
order of the file. Each aim is solved exactly, with what the earlier ones came to as a constraint.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.board.supplied import ROUNDING
from sigsim.decide.solver import solved
from sigsim.errors import SigsimError, quote

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

    from sigsim.decide.power.question import PowerQuestion
    from sigsim.physics.arrays import FloatArray

# A pedal of unknown current is put only where as much [A] is left for it.
LEAST_UNKNOWN: Final = 1e-3
# So long [s] may all of the aims together take; what was found by then is said to be no more.
MOST_SECONDS: Final = 20.0
# So much of that the order of the file may take, which no one is told of.
_OF_ORDER: Final = 0.25
# What the solver takes for a whole number, and how near two fractions are one.
_HALF, _NEAR = 0.5, 1e-7


class NotKeptError(SigsimError):
    """Supplies written at pedals that cannot all be kept."""

    def __init__(self, names: Sequence[str], supply: str) -> None:
        named = ", ".join(map(quote, names))
        super().__init__(
            f"the supplies that are written cannot all be kept: nothing is left for {named}",
            where="supply",
            found=quote(supply),
            accepted="a supply that can feed all that name it, or the line left out at some",
        )
        self.names = tuple(names)


@dataclass(frozen=True)
class Assignment:
    """Where each drain is.

    Attributes
    ----------
    outlet : by drain the number of its outlet, None for one that is not fed
    proven : whether no other is better, whatever the order of the file
    """

    outlet: tuple[int | None, ...]
    proven: bool

    def on(self, outlet: int) -> list[int]:
        """Return the drains on an outlet."""
        return [drain for drain, where in enumerate(self.outlet) if where == outlet]


def assignment(question: PowerQuestion, seconds: float = MOST_SECONDS) -> Assignment:
    """Return the best assignment.

    Parameters
    ----------
    question : what is to be fed
    seconds : so long may it take

    Raises
    ------
    NotKeptError : the supplies that are written at pedals cannot all be kept
    """
    if not question.outlets or not question.drains:
        return Assignment((None,) * len(question.drains), True)
    return _Programme(question, seconds).solved()


class _Programme:
    """The programme: its variables, its rows, and the bounds that earlier aims set.

    Variables: x for each drain on each outlet that can feed it, y for each outlet at each of its
    voltages; for each outlet whether it is shared, how many share it, how many of these are of
    unknown current; and the smallest fraction left.
    """

    def __init__(self, question: PowerQuestion, seconds: float) -> None:
        self.question = question
        drains, outlets = range(len(question.drains)), range(len(question.outlets))
        self.pairs = [(d, o) for d in drains for o in question.allowed(d)]
        volts = [(o, v) for o in outlets for v in range(len(question.outlets[o].output.voltage))]
        self.x = {pair: i for i, pair in enumerate(self.pairs)}
        self.y = {pair: len(self.x) + i for i, pair in enumerate(volts)}
        first = len(self.x) + len(self.y)
        self.is_shared, self.sharing, self.unknown = (
            {o: first + part * len(outlets) + o for o in outlets} for part in range(3)
        )
        self.fraction = first + 3 * len(outlets)
        self.size = self.fraction + 1
        self.low, self.high = np.zeros(self.size), np.ones(self.size)
        for o in outlets:
            self.high[[self.sharing[o], self.unknown[o]]] = len(drains)
        self.low[self.fraction] = -1.0
        self.whole = np.zeros(self.size)
        self.whole[: first + len(outlets)] = 1
        self.rows: list[dict[int, float]] = []
        self.bounds: list[tuple[float, float]] = []
        self.seconds = seconds
        self.until = time.monotonic() + seconds
        self.proven = True
        self.found: FloatArray = np.zeros(self.size)
        self._limit()

    def _row(self, terms: Mapping[int, float], low: float, high: float) -> None:
        self.rows.append(dict(terms))
        self.bounds.append((low, high))

    def _limit(self) -> None:
        q = self.question
        for d in range(len(q.drains)):
            self._row({self.x[p]: 1.0 for p in self.pairs if p[0] == d}, 0, 1)
        for o in range(len(q.outlets)):
            self._outlet(o, [d for d, on in self.pairs if on == o])
        self._alike()

    def _outlet(self, o: int, drains: Sequence[int]) -> None:
        """Put in what holds on one outlet."""
        q, output = self.question, self.question.outlets[o].output
        self._row({i: 1.0 for (on, _), i in self.y.items() if on == o}, 1, 1)
        for d in drains:
            can = {round(v, 6) for v in q.drains[d].fed.voltage}
            fitting = [v for v, volts in enumerate(output.voltage) if round(volts, 6) in can]
            self._row({self.x[d, o]: 1.0} | {self.y[o, v]: -1.0 for v in fitting}, -np.inf, 0)
            if q.turned(d, o):  # it stands alone: as many others as there are weigh as much as it
                others = [other for other in drains if other != d]
                terms = {self.x[other, o]: 1.0 for other in others}
                self._row(terms | {self.x[d, o]: len(others)}, -np.inf, len(others))
        known = {d: q.drains[d].load / output.current for d in drains if q.drains[d].draws}
        unknown = [d for d in drains if d not in known]
        fits = known | dict.fromkeys(unknown, LEAST_UNKNOWN / output.current)
        self._row({self.x[d, o]: part for d, part in fits.items()}, -np.inf, 1 + ROUNDING)
        left = {self.x[d, o]: part for d, part in known.items()}
        self._row(left | {self.fraction: 1.0}, -np.inf, 1)
        count = {self.x[d, o]: 1.0 for d in drains}
        most = max(len(drains), 1)
        self._row(count | {self.is_shared[o]: 1.0 - most}, -np.inf, 1)
        self._row(count | {self.sharing[o]: -1.0, self.is_shared[o]: 1.0}, -np.inf, 1)
        many = float(len(unknown))
        terms = {self.x[d, o]: 1.0 for d in unknown}
        self._row(terms | {self.unknown[o]: -1.0, self.is_shared[o]: many}, -np.inf, many)

    def _alike(self) -> None:
        """Use outlets that nothing tells apart in the order of their first drains.

        Of assignments that only exchange such outlets this leaves the first in the order of the
        file, which the last aim would take anyway.
        """
        q, last = self.question, dict[object, int]()
        for o, outlet in enumerate(q.outlets):
            output = outlet.output
            drains = [d for d, on in self.pairs if on == o]
            kind = (output, outlet.supply.isolated, tuple(drains))
            before = last.get(kind)
            last[kind] = o
            for d in drains if before is not None else ():
                earlier = {self.x[e, before]: -1.0 for e in drains if e < d and before is not None}
                self._row({self.x[d, o]: 1.0} | earlier, -np.inf, 0)

    def solved(self) -> Assignment:
        """Return the best assignment, by one aim after the other."""
        q, outlets = self.question, range(len(self.question.outlets))
        known = [d for d, drain in enumerate(q.drains) if drain.draws is not None]
        unknown = [d for d in range(len(q.drains)) if d not in known]
        self._keep_written()
        for drains in (known, unknown):
            self._aim({self.x[p]: 1.0 for p in self.pairs if p[0] in drains}, slack=_HALF)
        self._aim({self.sharing[o]: -1.0 for o in outlets}, slack=_HALF)
        if unknown:
            self._aim({self.unknown[o]: -1.0 for o in outlets}, slack=_HALF)
        self._aim({self.fraction: 1.0}, slack=_NEAR)
        proven = self.proven
        self.until = time.monotonic() + _OF_ORDER * self.seconds
        for d in range(len(q.drains)):
            self._first_in_file(d)
        where = {d: o for d, o in self.pairs if self.found[self.x[d, o]] > _HALF}
        return Assignment(tuple(where.get(d) for d in range(len(q.drains))), proven)

    def _keep_written(self) -> None:
        """See that all are fed whose supply is written and whose current is told."""
        q = self.question
        held = [
            d
            for d, drain in enumerate(q.drains)
            if q.written[d] is not None and not drain.guess and drain.draws is not None
        ]
        self._aim({self.x[p]: 1.0 for p in self.pairs if p[0] in held}, slack=_HALF)
        fed = {d for d, o in self.pairs if self.found[self.x[d, o]] > _HALF}
        left = [q.drains[d] for d in held if d not in fed]
        if left and self.proven:
            raise NotKeptError([drain.name for drain in left], left[0].fed.supply)

    def _aim(self, terms: Mapping[int, float], slack: float) -> None:
        """Make a sum as large as it can be, and hold it there."""
        if not terms:
            return
        value = self._best(terms)
        if value is not None:
            self._row(terms, value - slack, np.inf)

    def _first_in_file(self, d: int) -> None:
        """Put a drain on the first outlet it can have, and hold it there."""
        mine = [o for on, o in self.pairs if on == d]
        if not mine:
            return
        if self.found[self.x[d, mine[0]]] <= _HALF and time.monotonic() < self.until:
            self._best({self.x[d, o]: float(len(mine) - place) for place, o in enumerate(mine)})
        for o in mine:
            i = self.x[d, o]
            self.low[i] = self.high[i] = float(self.found[i] > _HALF)

    def _best(self, terms: Mapping[int, float]) -> float | None:
        """Return the largest value of a sum, None where the time was up before any was found."""
        result = self._solve(terms)
        if result.x is None:
            self.proven = False
            return None
        self.proven &= result.status == 0
        self.found = np.asarray(result.x, dtype=float)
        return float(sum(factor * self.found[i] for i, factor in terms.items()))

    def _solve(self, terms: Mapping[int, float]) -> OptimizeResult:
        # Loaded only where something is to be fed: it takes longer to load than to solve.
        from scipy.optimize import Bounds, LinearConstraint
        from scipy.sparse import csr_array

        aim = np.zeros(self.size)
        aim[list(terms)] = [-factor for factor in terms.values()]
        entries = [(r, i, f) for r, row in enumerate(self.rows) for i, f in row.items()]
        row, column, factor = _columns(entries)
        matrix = csr_array((factor, (row, column)), shape=(len(self.rows), self.size))
        low, high = np.array(self.bounds).T
        left = max(self.until - time.monotonic(), 0.1)
        return solved(
            aim,
            integrality=self.whole,
            bounds=Bounds(self.low, self.high),
            constraints=LinearConstraint(matrix, low, high),
            options={"mip_rel_gap": 0.0, "time_limit": left},
        )


def _columns(entries: Iterable[tuple[int, int, float]]) -> tuple[list[int], list[int], list[float]]:
    rows, columns, factors = zip(*entries, strict=True)
    return list(rows), list(columns), list(factors)

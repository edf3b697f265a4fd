"""The integer programme of an assignment: its variables, its rows, and the solver's answer."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple, TypeAlias

import numpy as np

from sigsim.board.supplied import ROUNDING
from sigsim.decide.solver import solved

if TYPE_CHECKING:
    from sigsim.decide.power.figures import Figures, Places

# What the solver takes for a whole number, and how near two fractions are one.
HALF: Final = 0.5
NEAR: Final = 1e-7

Terms: TypeAlias = Mapping[int, float]


class Answer(NamedTuple):
    """What the solver found.

    Attributes
    ----------
    places : the assignment, None where it found none
    is_best : whether there is no better one
    """

    places: Places | None
    is_best: bool


class Numbers:
    """The variables of the programme by their numbers.

    Parameters
    ----------
    figures : the question

    Attributes
    ----------
    x : by drain and outlet that can feed it: whether it does
    y : by outlet and one of its voltages: whether that is what it gives
    is_shared : by outlet: whether it is shared
    sharing : by outlet: how many share it
    unknown : by outlet: how many of these are of unknown current
    fraction : the smallest fraction left
    """

    def __init__(self, figures: Figures) -> None:
        outlets = len(figures.gives)
        volts = [(o, v) for o in range(outlets) for v in figures.given_volts[o]]
        self.x = {pair: i for i, pair in enumerate(figures.pairs)}
        self.y = {pair: len(self.x) + i for i, pair in enumerate(volts)}
        first = len(self.x) + len(self.y)
        self.is_shared, self.sharing, self.unknown = (
            range(first + part * outlets, first + (part + 1) * outlets) for part in range(3)
        )
        self.fraction = first + 3 * outlets


class Programme:
    """The programme.

    Parameters
    ----------
    figures : the question
    numbers : of its variables
    """

    def __init__(self, figures: Figures, numbers: Numbers) -> None:
        self._figures, self._numbers = figures, numbers
        self._size = numbers.fraction + 1
        self._low, self._high = np.zeros(self._size), np.ones(self._size)
        self._high[[*numbers.sharing, *numbers.unknown]] = len(figures.load)
        self._low[numbers.fraction] = -1.0
        self._whole = np.zeros(self._size)
        self._whole[: numbers.is_shared.stop] = 1
        self._rows: list[dict[int, float]] = []
        self._bounds: list[tuple[float, float]] = []
        for d, outlets in enumerate(figures.allowed):
            self._row({numbers.x[d, o]: 1.0 for o in outlets}, 0, 1)
        for o in range(len(figures.gives)):
            self._outlet(o)
        self._alike()

    def hold(self, terms: Terms, least: float) -> None:
        """Let a sum be no less than this from now on."""
        self._row(terms, least, np.inf)

    def _row(self, terms: Terms, low: float, high: float) -> None:
        self._rows.append(dict(terms))
        self._bounds.append((low, high))

    def _outlet(self, o: int) -> None:
        """Put in what holds on one outlet."""
        figures, numbers = self._figures, self._numbers
        gives, drains = figures.gives[o], figures.can_be_on(o)
        x = {d: numbers.x[d, o] for d in drains}
        self._row({numbers.y[o, v]: 1.0 for v in figures.given_volts[o]}, 1, 1)
        for d in drains:
            fitting = [numbers.y[o, v] for v in figures.given_volts[o] if v in figures.volts[d]]
            self._row({x[d]: 1.0} | dict.fromkeys(fitting, -1.0), -np.inf, 0)
            if o in figures.turned[d]:  # it stands alone: all others weigh as much as it
                others = {x[other]: 1.0 for other in drains if other != d}
                self._row(others | {x[d]: len(others)}, -np.inf, len(others))
        self._row({x[d]: figures.takes(d) / gives for d in drains}, -np.inf, 1 + ROUNDING)
        left = {x[d]: figures.load[d] / gives for d in drains if not figures.unknown[d]}
        self._row(left | {numbers.fraction: 1.0}, -np.inf, 1)
        count, shared = {x[d]: 1.0 for d in drains}, numbers.is_shared[o]
        self._row(count | {shared: 1.0 - max(len(drains), 1)}, -np.inf, 1)
        self._row(count | {numbers.sharing[o]: -1.0, shared: 1.0}, -np.inf, 1)
        unknown = {x[d]: 1.0 for d in drains if figures.unknown[d]}
        many = float(len(unknown))
        self._row(unknown | {numbers.unknown[o]: -1.0, shared: many}, -np.inf, many)

    def _alike(self) -> None:
        """Use outlets that nothing tells apart in the order of their first drains."""
        last, x = dict[object, int](), self._numbers.x
        for o, kind in enumerate(self._figures.kinds()):
            before = last.get(kind)
            last[kind] = o
            if before is None:
                continue
            drains = self._figures.can_be_on(o)
            for d in drains:
                earlier = {x[e, before]: -1.0 for e in drains if e < d}
                self._row({x[d, o]: 1.0} | earlier, -np.inf, 0)

    def best(self, terms: Terms, *, nodes: int, seconds: float) -> Answer:
        """Return the assignment that makes a sum as large as it can be.

        Parameters
        ----------
        terms : the sum
        nodes : so many parts of the search may be looked at
        seconds : so long may it take
        """
        # Loaded only where something is to be solved: it takes longer to load than to solve.
        from scipy.optimize import Bounds, LinearConstraint
        from scipy.sparse import csr_array

        aim = np.zeros(self._size)
        aim[list(terms)] = [-factor for factor in terms.values()]
        entries = [(r, i, f) for r, row in enumerate(self._rows) for i, f in row.items()]
        row, column, factor = _columns(entries)
        matrix = csr_array((factor, (row, column)), shape=(len(self._rows), self._size))
        low, high = np.array(self._bounds).T
        result = solved(
            aim,
            integrality=self._whole,
            bounds=Bounds(self._low, self._high),
            constraints=LinearConstraint(matrix, low, high),
            options={"mip_rel_gap": 0.0, "node_limit": nodes, "time_limit": seconds},
        )
        if result.x is None:
            return Answer(None, False)
        where = {d: o for (d, o), i in self._numbers.x.items() if result.x[i] > HALF}
        places = tuple(where.get(d) for d in range(len(self._figures.load)))
        return Answer(places, result.status == 0)


def _columns(entries: Iterable[tuple[int, int, float]]) -> tuple[Sequence[float], ...]:
    return tuple(zip(*entries, strict=True))

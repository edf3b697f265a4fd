"""Which pedal on which output: small changes first, then an integer programme for each aim.

The aims: most pedals fed; then fewest that share an output; then the largest smallest fraction left
on an output, of known currents. Only among equals: more with a known current fed, fewer with an
unknown one sharing, the order of the file. An aim is solved where it is not known yet that nothing
is better, with what the earlier ones came to as a constraint. The limits count work and no time,
so that every command says the same in every run.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice
from math import inf
from typing import TYPE_CHECKING, Final, NamedTuple

from sigsim.decide.power.figures import Places, Worth, figures, written_figures
from sigsim.decide.power.in_order import first_in_order
from sigsim.decide.power.programme import HALF, NEAR, Numbers, Programme
from sigsim.decide.power.repair import first_guess, improved
from sigsim.errors import SigsimError, quote

if TYPE_CHECKING:
    from sigsim.decide.power.figures import Figures
    from sigsim.decide.power.programme import Answer, Terms
    from sigsim.decide.power.question import PowerQuestion

# With more pairs of a drain and an outlet the solver takes long before it can be told to end.
_MOST_PAIRS: Final = 400
# So many parts of its search may be looked at for one aim, times the pairs squared: with more pairs
# each takes about as much longer.
_MOST_NODES: Final = 8_000_000
# A last resort [s]: the work that is allowed takes far less.
_MOST_SECONDS: Final = 120.0


class NotKeptError(SigsimError):
    """Supplies written at pedals that cannot all be kept, whatever is drawn by unknown ones."""

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
    by_clock : whether the time ended the search, so that another run may find another
    """

    outlet: Places
    proven: bool
    by_clock: bool = False

    def on(self, outlet: int) -> list[int]:
        """Return the drains on an outlet."""
        return [drain for drain, where in enumerate(self.outlet) if where == outlet]


def assignment(question: PowerQuestion) -> Assignment:
    """Return the best assignment.

    Parameters
    ----------
    question : what is to be fed
    """
    if not question.outlets or not question.drains:
        return Assignment((None,) * len(question.drains), True)
    return _assigned(figures(question), None)


def see_kept(question: PowerQuestion) -> None:
    """See that the supplies that are written at pedals can all be kept.

    A current that is not told may be next to nothing: whether that is enough cannot be told.

    Parameters
    ----------
    question : what is to be fed, without guesses

    Raises
    ------
    NotKeptError : they cannot, whatever the currents are that nobody told
    """
    written, alone = written_figures(question)
    if not written:
        return
    found = _assigned(alone, _FED)
    left = [question.drains[d] for d, o in zip(written, found.outlet, strict=True) if o is None]
    if left and found.proven:
        raise NotKeptError([drain.name for drain in left], left[0].fed.supply)


class _Aim(NamedTuple):
    """One aim.

    Attributes
    ----------
    place : of its value in the worth of an assignment
    terms : the sum that is to be large
    bound : it is no larger than this
    slack : so near two values are one
    """

    place: int
    terms: Terms
    bound: float
    slack: float = HALF


# Where it only counts how many are fed, so many aims matter.
_FED: Final = 2


@lru_cache(maxsize=16)
def _assigned(figures: Figures, aims: int | None) -> Assignment:
    """Return the best assignment, by so many of the aims."""
    return _Search(figures).done(aims)


class _Search:
    """The best that was found, and the programme as far as it was solved."""

    def __init__(self, figures: Figures) -> None:
        self.figures, self.numbers = figures, Numbers(figures)
        self.until = time.monotonic() + _MOST_SECONDS
        self.proven, self.by_clock = True, False
        self.best = improved(figures, first_guess(figures))

    @property
    def worth(self) -> Worth:
        found = self.figures.worth(self.best)
        assert found is not None, "only what can be is kept"
        return found

    def done(self, aims: int | None) -> Assignment:
        """Return the best by the first aims, the first of these in the order of the file."""
        programme: Programme | None = None
        solvable = len(self.figures.pairs) <= _MOST_PAIRS
        held: list[tuple[Terms, float]] = []
        for aim in islice(self._aims(), aims):
            if self.worth[aim.place] < aim.bound - NEAR:
                if not solvable:
                    self.proven = False
                    break
                programme = programme or Programme(self.figures, self.numbers)
                for terms, least in held:
                    programme.hold(terms, least)
                held.clear()
                self._take(self._solved(programme, aim.terms))
            held.append((aim.terms, self.worth[aim.place] - aim.slack))
        enough = (*self.worth[:aims], *[-inf] * (len(Worth._fields) - len(self.worth[:aims])))
        places = first_in_order(self.figures, self.best, Worth(*enough))
        return Assignment(places, self.proven, self.by_clock)

    def _aims(self) -> Iterator[_Aim]:
        """Yield the aims, each with a bound that follows from what the earlier ones came to."""
        numbers = self.numbers
        held, able = self.figures.held, [d for d, on in enumerate(self.figures.allowed) if on]
        yield _Aim(0, {i: 1.0 for (d, _), i in numbers.x.items() if d in held}, len(held))
        yield _Aim(1, dict.fromkeys(numbers.x.values(), 1.0), len(able))
        usable = {o for _, o in numbers.x}
        fed = self.worth.fed
        # All outlets but one feed one each, and the rest share that one.
        least = max(fed - len(usable) + 1, 0) if fed > len(usable) else 0
        yield _Aim(2, dict.fromkeys(numbers.sharing, -1.0), -least)
        yield _Aim(3, {numbers.fraction: 1.0}, self._most_left(), NEAR)
        known = [d for d in able if not self.figures.unknown[d]]
        terms = {i: 1.0 for (d, _), i in numbers.x.items() if d in known}
        yield _Aim(4, terms, min(fed, len(known)))
        yield _Aim(5, dict.fromkeys(numbers.unknown, -1.0), 0)

    def _most_left(self) -> float:
        """Return what the smallest fraction is at most: where all are fed, each has its best."""
        figures = self.figures
        able = [d for d, outlets in enumerate(figures.allowed) if outlets]
        if not able or self.worth.fed < len(able):
            return 1.0
        return min(
            max(1 - figures.load[d] / figures.gives[o] for o in figures.allowed[d]) for d in able
        )

    def _solved(self, programme: Programme, terms: Terms) -> Answer:
        nodes = max(_MOST_NODES // len(self.figures.pairs) ** 2, 1)
        left = max(self.until - time.monotonic(), 1.0)
        found = programme.best(terms, nodes=nodes, seconds=left)
        if not found.is_best:
            self.proven = False
            self.by_clock |= time.monotonic() > self.until
        return found

    def _take(self, found: Answer) -> None:
        """Keep what was found, made better by small changes, if it is worth more."""
        if found.places is None or self.figures.worth(found.places) is None:
            self.proven = False
            return
        better = improved(self.figures, found.places)
        if (self.figures.worth(better) or self.worth) > self.worth:
            self.best = better

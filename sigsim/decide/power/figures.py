"""A power question as plain numbers, and what an assignment of it is worth."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple, TypeAlias

from sigsim.board.supplied import ROUNDING

if TYPE_CHECKING:
    from sigsim.decide.power.question import PowerQuestion

# A pedal of unknown current is put only where as much [A] is left for it: the output is not full.
LEAST_UNKNOWN: Final = 1e-3
# Fractions are as near as this one and the same: what is left of binary fractions is far smaller.
DIGITS: Final = 9

# For each drain the number of its outlet, None for one that is not fed.
Places: TypeAlias = tuple[int | None, ...]


class Part(NamedTuple):
    """What one outlet adds to the worth of an assignment: numbers of drains, the fraction left."""

    held: int = 0
    fed: int = 0
    sharing: int = 0
    left: float = 1.0
    known: int = 0
    unknown_sharing: int = 0


class Worth(NamedTuple):
    """What an assignment is worth, by one aim after the other; more is better.

    Attributes
    ----------
    held : how many are fed of those that have to be
    fed : how many are fed
    sharing : minus how many share an outlet
    left : the smallest fraction left on an outlet, of known currents
    known : how many of those that are fed have a known current
    unknown_sharing : minus how many of those that share have an unknown one
    """

    held: float
    fed: float
    sharing: float
    left: float
    known: float
    unknown_sharing: float


@dataclass(frozen=True)
class Figures:
    """A question as plain numbers: drains and outlets are counted from 0.

    Attributes
    ----------
    load : of each drain [A], 0 where it is unknown
    unknown : whether it is unknown
    volts : that each drain can be fed with [V]
    allowed : the outlets that the file allows each drain and that can feed it alone
    turned : those of them on which its plug is turned round, so that it stands alone
    held : the drains that have to be fed
    gives : what each outlet can give [A]
    given_volts : the voltages that each outlet can give [V]
    least : what has to be left for a drain of unknown current [A]
    """

    load: tuple[float, ...]
    unknown: tuple[bool, ...]
    volts: tuple[frozenset[float], ...]
    allowed: tuple[tuple[int, ...], ...]
    turned: tuple[frozenset[int], ...]
    held: frozenset[int]
    gives: tuple[float, ...]
    given_volts: tuple[tuple[float, ...], ...]
    least: float

    @property
    def pairs(self) -> list[tuple[int, int]]:
        """Each drain with each outlet that can feed it."""
        return [(d, o) for d, outlets in enumerate(self.allowed) for o in outlets]

    def can_be_on(self, outlet: int) -> tuple[int, ...]:
        """Return the drains that an outlet can feed."""
        return tuple(d for d, outlets in enumerate(self.allowed) if outlet in outlets)

    def kinds(self) -> list[object]:
        """Return for each outlet what tells it from others: equal ones can be exchanged."""
        return [
            (
                self.gives[o],
                frozenset(self.given_volts[o]),
                tuple((d, o in self.turned[d]) for d in self.can_be_on(o)),
            )
            for o in range(len(self.gives))
        ]

    def takes(self, drain: int) -> float:
        """Return what has to be left on an outlet for a drain [A]."""
        return self.least if self.unknown[drain] else self.load[drain]

    def part(self, outlet: int, drains: Collection[int]) -> Part | None:
        """Return what an outlet adds with these drains on it, None where it cannot feed them."""
        if not drains:
            return Part()
        common = frozenset(self.given_volts[outlet]).intersection(*(self.volts[d] for d in drains))
        if not common or (len(drains) > 1 and any(outlet in self.turned[d] for d in drains)):
            return None
        gives = self.gives[outlet]
        if sum(map(self.takes, drains)) > gives * (1 + ROUNDING):
            return None
        unknown = sum(self.unknown[d] for d in drains)
        shared = len(drains) > 1
        return Part(
            sum(d in self.held for d in drains),
            len(drains),
            len(drains) if shared else 0,
            round(1 - sum(self.load[d] for d in drains) / gives, DIGITS),
            len(drains) - unknown,
            unknown if shared else 0,
        )

    def on(self, places: Places) -> list[list[int]]:
        """Return the drains on each outlet."""
        found: list[list[int]] = [[] for _ in self.gives]
        for drain, outlet in enumerate(places):
            if outlet is not None:
                found[outlet].append(drain)
        return found

    def worth(self, places: Places) -> Worth | None:
        """Return what an assignment is worth, None for one that cannot be."""
        parts = [self.part(o, drains) for o, drains in enumerate(self.on(places))]
        can_be = [part for part in parts if part is not None]
        return worth(can_be) if len(can_be) == len(parts) else None


def worth(parts: Iterable[Part]) -> Worth:
    """Return what outlets are worth together."""
    held, fed, sharing, left, known, unknown = zip(*parts, strict=True)
    return Worth(sum(held), sum(fed), -sum(sharing), min(left), sum(known), -sum(unknown))


def figures(question: PowerQuestion) -> Figures:
    """Return a question as plain numbers; those whose supply is written have to be fed.

    Of these only they whose current is told: whether there is enough for others cannot be told.
    """
    told = [
        d
        for d, drain in enumerate(question.drains)
        if question.written[d] is not None and not drain.guess and drain.draws is not None
    ]
    return _figures(question, range(len(question.drains)), told, LEAST_UNKNOWN)


def written_figures(question: PowerQuestion) -> tuple[list[int], Figures]:
    """Return only those whose supply is written, with their numbers in the question.

    What is unknown weighs nothing here: what cannot be kept then cannot be kept at all.
    """
    written = [d for d, outlets in enumerate(question.written) if outlets is not None]
    return written, _figures(question, written, (), 0.0)


def _figures(
    question: PowerQuestion, drains: Sequence[int], held: Collection[int], least: float
) -> Figures:
    allowed = [tuple(question.allowed(d)) for d in drains]
    outputs = [outlet.output for outlet in question.outlets]
    return Figures(
        load=tuple(question.drains[d].load for d in drains),
        unknown=tuple(question.drains[d].draws is None for d in drains),
        volts=tuple(_volts(question.drains[d].fed.voltage) for d in drains),
        allowed=tuple(allowed),
        turned=tuple(
            frozenset(o for o in outlets if question.turned(d, o))
            for d, outlets in zip(drains, allowed, strict=True)
        ),
        held=frozenset(held),
        gives=tuple(output.current for output in outputs),
        given_volts=tuple(tuple(sorted(_volts(output.voltage))) for output in outputs),
        least=least,
    )


def _volts(values: Iterable[float]) -> frozenset[float]:
    return frozenset(round(volts, 6) for volts in values)

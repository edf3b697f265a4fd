"""What is not fed, why, and what one more supply would have to give."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

from sigsim.decide.power.question import Drain, Outlet, Range

if TYPE_CHECKING:
    from sigsim.decide.power.assign import Assignment
    from sigsim.decide.power.question import PowerQuestion

# What stands in the way: no output has its voltage, none its polarity, none gives as much, or those
# that could feed it have to feed others.
Obstacle: TypeAlias = Literal["voltage", "polarity", "current", "taken"]


@dataclass(frozen=True)
class Taken:
    """An output that could feed a pedal if it did not feed others.

    Attributes
    ----------
    outlet : the output
    names : of those on it
    left : what is left of it [A]
    how : what keeps the pedal out: the current, the voltage that the others take, or that one of
        them, or the pedal itself, needs a plug turned round and stands alone
    """

    outlet: Outlet
    names: tuple[str, ...]
    left: float
    how: Literal["current", "voltage", "alone"]


@dataclass(frozen=True)
class Missing:
    """A pedal that is not fed.

    Attributes
    ----------
    drain : the pedal
    obstacle : what stands in its way
    best : of the outputs that have its voltage and polarity the one that gives most, if that is
        the obstacle; None elsewhere
    taken : the outputs that could feed it alone
    written : whether only the supply that the file writes was looked at
    """

    drain: Drain
    obstacle: Obstacle
    best: Outlet | None = None
    taken: tuple[Taken, ...] = ()
    written: bool = False


@dataclass(frozen=True)
class Wanted:
    """What a supply would have to give at one voltage.

    Attributes
    ----------
    voltage : [V]
    polarity : of the plug
    current : together [A]; of those that are known
    drains : for which
    """

    voltage: float
    polarity: str
    current: Range
    drains: tuple[Drain, ...]

    @property
    def unknown(self) -> tuple[str, ...]:
        """Those whose current is not known."""
        return tuple(drain.name for drain in self.drains if drain.draws is None)

    @property
    def guess(self) -> bool:
        """Whether a guess is in it."""
        return any(drain.guess for drain in self.drains)


def missing(question: PowerQuestion, found: Assignment) -> tuple[Missing, ...]:
    """Return all that is not fed, in the order of the file."""
    return tuple(
        _missing(question, found, d) for d, where in enumerate(found.outlet) if where is None
    )


def _missing(question: PowerQuestion, found: Assignment, d: int) -> Missing:
    drain, written = question.drains[d], question.written[d]
    allowed = question.allowed(d)
    if allowed:
        taken = tuple(_taken(question, found, d, o) for o in allowed)
        return Missing(drain, "taken", taken=taken, written=written is not None)
    seen = [o for o in range(len(question.outlets)) if written is None or o in written]
    right = [o for o in seen if question.voltages(o, [d])]
    obstacle: Obstacle = "voltage"
    best = None
    if right:
        round_ = [o for o in right if not question.turned(d, o) or _isolated(question, o)]
        obstacle = "current" if round_ else "polarity"
        best = max(
            (question.outlets[o] for o in round_),
            key=lambda outlet: outlet.output.current,
            default=None,
        )
    return Missing(drain, obstacle, best, written=written is not None)


def _isolated(question: PowerQuestion, o: int) -> bool:
    return question.outlets[o].supply.isolated


def _taken(question: PowerQuestion, found: Assignment, d: int, o: int) -> Taken:
    on = found.on(o)
    drains = [question.drains[other] for other in on]
    outlet = question.outlets[o]
    left = outlet.output.current - sum(one.load for one in drains)
    turned = any(question.turned(other, o) for other in (d, *on))
    voltage = not question.voltages(o, [d, *on])
    how: Literal["current", "voltage", "alone"]
    how = "alone" if turned and on else "voltage" if voltage else "current"
    return Taken(outlet, tuple(one.name for one in drains), left, how)


def wanted(drains: Sequence[Drain]) -> tuple[Wanted, ...]:
    """Return what a supply for some pedals would have to give, by voltage and polarity.

    What takes several voltages goes along with what takes one of them only, else by its first.
    """
    only = {drain.fed.voltage[0] for drain in drains if len(drain.fed.voltage) == 1}
    groups: dict[tuple[float, str], list[Drain]] = {}
    for drain in drains:
        volts = drain.fed.voltage
        voltage = next((v for v in volts if v in only), volts[0])
        groups.setdefault((voltage, drain.fed.polarity), []).append(drain)
    return tuple(
        Wanted(voltage, polarity, _together(group), tuple(group))
        for (voltage, polarity), group in groups.items()
    )


def _together(drains: Sequence[Drain]) -> Range:
    known = [drain.needs for drain in drains if drain.needs is not None]
    return Range(sum(one.low for one in known), sum(one.high for one in known))

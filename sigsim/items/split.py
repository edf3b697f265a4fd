"""A split: one output that feeds two ways at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, ClassVar, TypeAlias

from sigsim.items.base import Item
from sigsim.items.destination import Destination
from sigsim.items.fields import text
from sigsim.physics.source import Source, shunt

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, Impedance, Value
    from sigsim.physics.source import Step, TwoPort

# An item that the signal meets, and whether it is on.
Meeting: TypeAlias = tuple[Item, bool]


@dataclass(frozen=True, kw_only=True)
class Split(Item):
    """A second way that starts where it stands, with a destination of its own.

    What it is to the first way depends on what is on inside it: `branch` has one item for each
    such case.

    Attributes
    ----------
    turned : whether it is no split of the file but the way that one of those leaves, seen from its
        end
    """

    key: ClassVar[str] = "split"

    split: str = text("its name")
    inside: tuple[Item, ...]
    destination: Destination
    turned: bool = False

    def branch(self, run: tuple[Meeting, ...], end: Meeting | None) -> Branch:
        """Return what the first way sees; the same case is one item, so that it is computed once.

        Parameters
        ----------
        run : the passive items from its beginning to its first isolator
        end : that isolator, None for its destination
        """
        key = tuple((id(item), on) for item, on in (*run, *([end] if end else [])))
        made = self._branches.get(key)
        if made is None:
            made = Branch(
                split=self.split,
                run=run,
                end=end,
                destination=self.destination,
                turned=self.turned,
            )
            self._branches[key] = made
        return made

    @cached_property
    def _branches(self) -> dict[tuple[tuple[int, bool], ...], Branch]:
        return {}

    def step(self, jw: ComplexArray, on: bool) -> TwoPort:
        """Return it as if it were not there: a state has one of its branches instead."""
        return shunt(0.0 * jw)


@dataclass(frozen=True, kw_only=True)
class Branch(Item):
    """A split in one state, as a load on the way that it leaves.

    Attributes
    ----------
    split : its name
    run : the passive items from its beginning to its first isolator, each with whether it is on
    end : that isolator, None where its destination comes first
    destination : of the split
    turned : as of the split
    """

    key: ClassVar[str] = "split"

    split: str
    run: tuple[Meeting, ...]
    end: Meeting | None
    destination: Destination
    turned: bool = False

    def step(self, jw: ComplexArray, on: bool) -> TwoPort:
        """Return it as a shunt admittance."""
        return self.shunt(jw, lambda item, is_on: item.step(jw, is_on))

    def shunt(self, jw: ComplexArray, step: Callable[[Item, bool], Step]) -> TwoPort:
        """Return it as a shunt admittance, with the steps of its items from `step`."""
        Y = self.load(jw, step)
        for item, on in reversed(self.run):
            Y = step(item, on).admittance(Y)
        return shunt(Y)

    def share(self, jw: ComplexArray, step: Callable[[Item, bool], Step]) -> Impedance:
        """Return the voltage [-] at the end of its run for 1 V where it begins."""
        reached = Source(1.0, 0.0)
        for item, on in self.run:
            reached = step(item, on).drive(reached)
        return reached.into(self.load(jw, step))

    def load(self, jw: ComplexArray, step: Callable[[Item, bool], Step]) -> Impedance:
        """Return the admittance [S] at the end of its run."""
        return self.destination.load(jw).Y if self.end is None else step(*self.end).input

    def divides(self, on: bool) -> bool:
        """Whether something in it sees another resistance than the line does."""
        return any(item.divides(is_on) for item, is_on in self.run)

    def shunt_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] of all as far as its first isolator."""
        C: Value = sum(item.shunt_capacitance(is_on) for item, is_on in self.run)
        if self.end is None:
            return C + self.destination.input_capacitance
        item, is_on = self.end
        return C + item.load_capacitance(is_on)

    def resistive(self) -> Branch:
        """Close the coupling capacitors in it."""
        end = None if self.end is None else (self.end[0].resistive(), self.end[1])
        return replace(self, run=tuple((i.resistive(), on) for i, on in self.run), end=end)

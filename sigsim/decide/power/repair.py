"""An assignment made better step by step: the start of the search, and where its limit ends it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Final, TypeAlias

from sigsim.decide.power.figures import Part, Places, worth

if TYPE_CHECKING:
    from sigsim.decide.power.figures import Figures

# So many changes are looked at, so that every run comes to the same.
_MOST_TRIED: Final = 20_000

# Where some drains go, None for nowhere.
_Change: TypeAlias = Mapping[int, int | None]
# What an assignment is worth, more is better.
_Value: TypeAlias = tuple[float, ...]


def first_guess(figures: Figures) -> Places:
    """Return an assignment: those that can go to few outlets first, then those that draw most."""
    on: list[list[int]] = [[] for _ in figures.gives]
    places: list[int | None] = [None] * len(figures.load)

    def hard(drain: int) -> tuple[bool, int, float, int]:
        outlets = len(figures.allowed[drain])
        return drain not in figures.held, outlets, -figures.load[drain], drain

    for drain in sorted(range(len(places)), key=hard):
        best: tuple[bool, float, int] | None = None
        for outlet in figures.allowed[drain]:
            part = figures.part(outlet, [*on[outlet], drain])
            if part is not None:
                # An empty one first: of these the tightest; else where the most is left.
                shared = bool(on[outlet])
                rank = (not shared, part.left if shared else -part.left, -outlet)
                best = rank if best is None else max(best, rank)
        if best is not None:
            places[drain] = -best[2]
            on[-best[2]].append(drain)
    return tuple(places)


def improved(figures: Figures, places: Places) -> Places:
    """Return an assignment that no small change makes better, if there is one near enough.

    Parameters
    ----------
    figures : the question
    places : an assignment that can be
    """
    near = _Repair(figures, places, worth)
    far = _Repair(figures, _Repair(figures, near.done(), _evenly).done(), worth)
    far.done()
    return tuple(max(near, far, key=lambda repair: repair.value).places)


def _evenly(parts: Sequence[Part]) -> _Value:
    """Return what outlets are worth if what is left counts on all, the smallest first.

    A change that helps the second smallest is often what lets the next one help the smallest.
    """
    value = worth(parts)
    return value.held, value.fed, value.sharing, *sorted(part.left for part in parts)


class _Repair:
    """The assignment, what each outlet adds to its worth, and what they are worth together."""

    def __init__(
        self, figures: Figures, places: Places, valued: Callable[[Sequence[Part]], _Value]
    ) -> None:
        self.valued = valued
        self.figures = figures
        self.places = list(places)
        self.on = figures.on(places)
        self.parts = [figures.part(o, on) or Part() for o, on in enumerate(self.on)]
        self.value = valued(self.parts)
        self.left = _MOST_TRIED

    def done(self) -> Places:
        while self._one_better():
            pass
        return tuple(self.places)

    def _one_better(self) -> bool:
        for change in self._changes():
            self.left -= 1
            if self.left < 0:
                return False
            if self._is_better(change):
                return True
        return False

    def _changes(self) -> Iterator[_Change]:
        """Yield one that moves, then one that moves and another that takes its place."""
        everyone = range(len(self.places))
        for drain in everyone:
            for outlet in self.figures.allowed[drain]:
                if outlet != self.places[drain]:
                    yield {drain: outlet}
        for drain in everyone:
            was = self.places[drain]
            followers = [
                d
                for d in everyone
                if was is not None and self.places[d] != was and was in self.figures.allowed[d]
            ]
            for follower in followers:
                out: tuple[None, ...] = (None,) if self.places[follower] is None else ()
                for to in (*self.figures.allowed[drain], *out):
                    if to != was:
                        yield {drain: to, follower: was}

    def _is_better(self, change: _Change) -> bool:
        """Make a change if it is worth more."""
        touched = {o for d, to in change.items() for o in (self.places[d], to) if o is not None}
        new = {}
        for outlet in touched:
            on = [d for d in self.on[outlet] if d not in change]
            on += [d for d, to in change.items() if to == outlet]
            part = self.figures.part(outlet, on)
            if part is None:
                return False
            new[outlet] = on, part
        parts = [new[o][1] if o in new else part for o, part in enumerate(self.parts)]
        value = self.valued(parts)
        if value <= self.value:
            return False
        for outlet, (on, _) in new.items():
            self.on[outlet] = on
        for drain, to in change.items():
            self.places[drain] = to
        self.parts, self.value = parts, value
        return True

"""Of assignments that are worth the same the one that comes first in the order of the file."""

from __future__ import annotations

from itertools import count
from typing import TYPE_CHECKING, Final

from sigsim.decide.power.figures import Part, Places, Worth

if TYPE_CHECKING:
    from sigsim.decide.power.figures import Figures

# So many places are tried, so that every run comes to the same.
_MOST_TRIED: Final = 30_000


def first_in_order(figures: Figures, places: Places, enough: Worth) -> Places:
    """Return the first assignment in the order of the file that is worth enough.

    The first drain is on the first outlet that it can have, then the second, and so on. Where too
    many have to be tried, equal outlets are exchanged and drains change places as long as that
    brings an earlier one forward.

    Parameters
    ----------
    figures : the question
    places : an assignment that is worth enough
    enough : what it has to be worth
    """
    search = _Search(figures, enough)
    try:
        if search.found(0):
            return tuple(search.places)
    except _TooManyError:
        pass
    return _exchanged(figures, places, enough)


class _TooManyError(Exception):
    """It takes too long."""


class _Search:
    """Puts one drain after the other, and goes back where what is left cannot be worth enough."""

    def __init__(self, figures: Figures, enough: Worth) -> None:
        self.figures, self.enough = figures, enough
        self.size = len(figures.load)
        self.places: list[int | None] = [None] * self.size
        self.on: list[list[int]] = [[] for _ in figures.gives]
        self.parts = [Part() for _ in figures.gives]
        same: dict[object, int] = {}
        self.kind = [same.setdefault(kind, len(same)) for kind in figures.kinds()]
        self.tried = count()

    def found(self, drain: int) -> bool:
        """Whether this drain and those behind it could be put."""
        if drain == self.size:
            return self._could_do(self.size)
        empty = set()
        for outlet in self.figures.allowed[drain]:
            if not self.on[outlet]:
                if self.kind[outlet] in empty:
                    continue
                empty.add(self.kind[outlet])
            if next(self.tried) >= _MOST_TRIED:
                raise _TooManyError
            if self._put(drain, outlet):
                if self._could_do(drain + 1) and self.found(drain + 1):
                    return True
                self._take(drain, outlet)
        if drain in self.figures.held:
            return False
        return self._could_do(drain + 1) and self.found(drain + 1)

    def _put(self, drain: int, outlet: int) -> bool:
        part = self.figures.part(outlet, [*self.on[outlet], drain])
        if part is None:
            return False
        self.on[outlet].append(drain)
        self.parts[outlet], self.places[drain] = part, outlet
        return True

    def _take(self, drain: int, outlet: int) -> None:
        self.on[outlet].pop()
        part = self.figures.part(outlet, self.on[outlet])
        assert part is not None, "fewer are no more than it can feed"
        self.parts[outlet], self.places[drain] = part, None

    def _could_do(self, put: int) -> bool:
        """Whether it could still be worth enough with so many looked at."""
        enough, unknown = self.enough, self.figures.unknown
        _, fed, sharing, left, known, unknown_sharing = zip(*self.parts, strict=True)
        more = self.size - put
        # What is fed and does not share is alone: outlets that share now will not be that.
        alone = sum(on < 2 for on in fed)
        return bool(
            min(left) >= enough.left
            and -sum(sharing) >= enough.sharing
            and -sum(unknown_sharing) >= enough.unknown_sharing
            and sum(fed) + more >= enough.fed
            and sum(known) + sum(not one for one in unknown[put:]) >= enough.known
            and alone >= enough.fed + enough.sharing
        )


def _exchanged(figures: Figures, places: Places, enough: Worth) -> Places:
    """Bring one drain after the other to an earlier outlet by an exchange, where there is one."""
    now = places
    for drain in range(len(places)):
        for outlet in figures.allowed[drain]:
            was = now[drain]
            if was is not None and outlet >= was:
                break
            better = _brought(figures, now, drain, outlet, enough)
            if better is not None:
                now = better
                break
    return now


def _brought(
    figures: Figures, places: Places, drain: int, outlet: int, enough: Worth
) -> Places | None:
    """Return an assignment with a drain on an outlet, by a move or an exchange; None without."""
    was = places[drain]
    there = {d for d, place in enumerate(places) if place == outlet}
    with_it = {d for d, place in enumerate(places) if place == was} if was is not None else {drain}
    ways: list[dict[int, int | None]] = [{drain: outlet}]
    ways += [{drain: outlet, other: was} for other in there]
    ways.append({d: was if d in there else outlet for d in there | with_it})
    for way in ways:
        if min(way) < drain:  # what stands before it in the file stays
            continue
        new = tuple(way.get(d, place) for d, place in enumerate(places))
        value = _allowed(figures, new) and figures.worth(new)
        if value and all(have >= least for have, least in zip(value, enough, strict=True)):
            return new
    return None


def _allowed(figures: Figures, places: Places) -> bool:
    return all(o is None or o in figures.allowed[d] for d, o in enumerate(places))

"""The different loads that a split can be, without the states that make none of a difference.

What is behind the first isolator of a split is not seen from the way that it leaves, so that its
states are alike there: a split of n pedals is n + 1 different loads and 2^n states.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.states.distinct import each_state
from sigsim.states.path import Met

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.items.base import Item
    from sigsim.items.split import Branch

    Held = Mapping[str, bool]


@dataclass(frozen=True)
class Way:
    """A split as one load.

    Attributes
    ----------
    run : the passive items from its beginning to its first isolator
    end : that isolator, None for its destination
    on : the names of what is on among them, and of the loops that are in
    free : what is behind, whose states are alike
    """

    run: tuple[Met, ...] = ()
    end: Met | None = None
    on: tuple[str, ...] = ()
    free: tuple[Item, ...] = ()

    def load(self, split: Split) -> Branch:
        """Return the load; the same one is one item."""
        return split.branch(self.run, self.end)

    def states(self, fixed: Held) -> Iterator[tuple[str, ...]]:
        """Yield the names of what is on in each state in which it is this load."""
        return ((*self.on, *on) for on in each_state(self.free, fixed))

    def first(self, fixed: Held) -> tuple[str, ...]:
        """Return the names of what is on in the first of these states: what has to be."""
        return (*self.on, *_held_on(self.free, fixed))


def ways(split: Split, fixed: Held) -> Iterator[Way]:
    """Yield the different loads that a split can be.

    Parameters
    ----------
    split : wired
    fixed : things held on or off
    """
    return _ways(split.inside, fixed, Way())


def _ways(items: tuple[Item, ...], fixed: Held, so_far: Way) -> Iterator[Way]:
    for index, item in enumerate(items):
        rest = items[index + 1 :]
        if isinstance(item, Split):
            for inner in ways(item, fixed):
                met = Met(inner.load(item), True)
                yield from _ways(rest, fixed, _with(so_far, met, inner.on, inner.free))
            return
        choices = _choices(item, fixed)
        if isinstance(item, Loop):
            for is_in in choices:
                if is_in:
                    inside = replace(so_far, on=(*so_far.on, item.loop))
                    yield from _ways((*item.inside, *rest), fixed, inside)
                else:
                    yield from _ways(rest, fixed, _with(so_far, Met(item, False)))
            return
        for is_on in choices[1:]:
            yield from _behind(item, is_on, rest, fixed, so_far)
        if item.isolates(choices[0]):
            yield from _behind(item, choices[0], rest, fixed, so_far)
            return
        so_far = _with(so_far, Met(item, choices[0]), _names(item, choices[0]))
    yield so_far


def _behind(
    item: Item, is_on: bool, rest: tuple[Item, ...], fixed: Held, so_far: Way
) -> Iterator[Way]:
    names = _names(item, is_on)
    if item.isolates(is_on):
        on, free = (*so_far.on, *names), (*so_far.free, *rest)
        yield replace(so_far, end=Met(item, is_on), on=on, free=free)
    else:
        yield from _ways(rest, fixed, _with(so_far, Met(item, is_on), names))


def _with(way: Way, met: Met, on: tuple[str, ...] = (), free: tuple[Item, ...] = ()) -> Way:
    return Way((*way.run, met), None, (*way.on, *on), (*way.free, *free))


def _choices(item: Item, fixed: Held) -> tuple[bool, ...]:
    """Return whether an item can be off and on, off first."""
    if item.switch is None:
        return (True,)
    held = fixed.get(item.switch)
    return (False, True) if held is None else (held,)


def _names(item: Item, is_on: bool) -> tuple[str, ...]:
    return (item.switch,) if is_on and item.switch is not None else ()


def _held_on(items: Iterable[Item], fixed: Held) -> Iterator[str]:
    """Yield the names of what is held on among some items, nothing else being on."""
    for item in items:
        inside = item.inside if isinstance(item, Loop | Split) else ()
        if item.switch is None or fixed.get(item.switch):
            yield from _names(item, True)
            yield from _held_on(inside, fixed)
        elif isinstance(item, Loop):
            yield from _held_on(item.outside, fixed)


def count_ways(items: Iterable[Item], fixed: Held) -> tuple[int, int]:
    """Return how many different loads some items of a split can be, from their beginning.

    Returns
    -------
    those in which no isolator has come yet behind the last item, and those that end at one
    """
    through, ended = 1, 0
    for item in items:
        passing, ending = 0, 0
        if isinstance(item, Split):
            passing = sum(count_ways(item.inside, fixed))
        else:
            for is_on in _choices(item, fixed):
                if isinstance(item, Loop) and is_on:
                    more = count_ways(item.inside, fixed)
                    passing, ending = passing + more[0], ending + more[1]
                elif item.isolates(is_on):
                    ending += 1
                else:
                    passing += 1
        ended += through * ending
        through *= passing
    return through, ended


def multiplying(items: Iterable[Item], fixed: Held, *, in_split: bool = False) -> Iterator[str]:
    """Yield what can still be held to have fewer runs: passive things, and all that is in splits.

    What is inside a loop comes once the loop is held in: out, it makes no states.

    Parameters
    ----------
    items : of a chain
    fixed : things held on or off
    in_split : whether they are in a split
    """
    for item in items:
        if item.switch is not None and item.switch not in fixed:
            if in_split or not item.isolates(True):
                yield item.switch
        elif isinstance(item, Split):
            yield from multiplying(item.inside, fixed, in_split=True)
        elif isinstance(item, Loop):
            inside = item.inside if fixed.get(item.loop) else item.outside
            yield from multiplying(inside, fixed, in_split=in_split)


def alike(board: Board, on: On, fixed: Held) -> Iterator[frozenset[str]]:
    """Yield all states that sound like one of them, in which only what is not seen differs.

    Parameters
    ----------
    board : the board, listened at one of its ends
    on : the names of what is on in one of these states
    fixed : things held on or off
    """
    free = tuple(_unseen(board.chain, {name: name in on for name in board.switches()}))
    seen = frozenset(on) - frozenset(switches_of(free))
    return (seen.union(names) for names in each_state(free, fixed))


def _unseen(items: Iterable[Item], state: Held) -> Iterator[Item]:
    """Yield what is behind the first isolators of all splits on the way in a state."""
    for item in items:
        if isinstance(item, Split):
            for way in ways(item, state):
                yield from way.free
        elif isinstance(item, Loop):
            is_in = state.get(item.loop, False)
            yield from _unseen(item.inside if is_in else item.outside, state)


def switches_of(items: Iterable[Item]) -> Iterator[str]:
    """Yield the names of all switches among some items, in loops and splits too."""
    for item in items:
        yield from _names(item, True)
        if isinstance(item, Loop | Split):
            yield from switches_of(item.inside)

"""What the signal meets in a state, and the segments into which isolators cut it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, NamedTuple

from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.items.base import Item
    from sigsim.items.split import Branch
    from sigsim.metrics import Reference


class Met(NamedTuple):
    """An item in the signal's way, and whether it is on."""

    item: Item
    on: bool

    @property
    def isolates(self) -> bool:
        """Whether what follows no longer sees what came before."""
        return self.item.isolates(self.on)


def path(items: Iterable[Item], on: On) -> Iterator[Met]:
    """Yield what the signal meets in a state, in order.

    A loop that is in gives way to its contents; one that is out is an item of its own. Of a split
    the branch is met that it is in this state.
    """
    for item in items:
        if isinstance(item, Loop):
            if item.loop in on:
                yield from path(item.inside, on)
            else:
                yield Met(item, False)
                yield from path(item.outside, on)
        elif isinstance(item, Split):
            yield Met(branch(item, on), True)
        else:
            yield Met(item, item.switch is None or item.switch in on)


def branch(split: Split, on: On) -> Branch:
    """Return what a split is to the way that it leaves, in a state."""
    run: list[Met] = []
    for met in path(split.inside, on):
        if met.isolates:
            return split.branch(tuple(run), met)
        run.append(met)
    return split.branch(tuple(run), None)


def reference_path(board: Board, on: On, reference: Reference) -> Iterator[Met]:
    """Yield what the signal meets in the reference of a state.

    That is the same stages on without wiring, with or without the instrument's own lead, or this
    lead alone.
    """
    if reference != "direct":
        yield from (met for met in path(board.chain, on) if in_reference(*met, reference))
    elif board.lead is not None:
        yield Met(board.lead, True)


def in_reference(item: Item, on: bool, reference: Reference) -> bool:
    """Return whether the reference of a state has an item of it; `direct` has the lead alone."""
    if isinstance(item, Cable):
        return item.is_lead and reference != "bare"
    return reference != "direct" and item.in_ideal(on)


class Segment(NamedTuple):
    """A passive run between two isolators, the instrument or the destination.

    Attributes
    ----------
    begin : the isolator it starts behind, None for the instrument
    run : the passive items in it
    end : the isolator whose input ends it, None for the destination
    """

    begin: Met | None
    run: tuple[Met, ...]
    end: Met | None


def segments(met: Iterable[Met]) -> Iterator[Segment]:
    """Yield the segments of a path from instrument to destination."""
    begin: Met | None = None
    run: list[Met] = []
    for one in met:
        if one.isolates:
            yield Segment(begin, tuple(run), one)
            begin, run = one, []
        else:
            run.append(one)
    yield Segment(begin, tuple(run), None)

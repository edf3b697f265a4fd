"""The worst of all states with each switch on, and with it off, from two walks."""

from __future__ import annotations

import math
import time
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.states.rows import NEPER_DB, Rows, scores
from sigsim.states.search import Search
from sigsim.states.sweep import NO_SLACK
from sigsim.states.ways import switches_of

if TYPE_CHECKING:
    from sigsim.items.base import Item
    from sigsim.states.graph import Bundle, Choice
    from sigsim.states.measure import Measure
    from sigsim.states.search import Walks

# Rows kept at a node; where more may matter, each switch is held and searched.
_MOST_ROWS: Final = 256


def worst_by_switch(
    search: Search, measure: Measure, names: Sequence[str], seconds: float
) -> tuple[dict[str, tuple[float, float]], bool]:
    """Return the largest measure [dB] of all states with each switch off and with it on.

    Parameters
    ----------
    search : of the board
    measure : one of those that it was made for
    names : of the switches
    seconds : how long to search

    Returns
    -------
    by name; not a number where there is no such state. And whether all of them are proven
    """
    offset = measure.offset(search.board)
    if search.graph.silent or math.isnan(offset):
        return dict.fromkeys(names, (math.nan, math.nan)), True
    deadline = time.monotonic() + seconds
    with np.errstate(all="ignore"):
        worst = _Worst(search.walks(measure), deadline)
        found = {name: worst.of(name) for name in names}
    at_least = {name: _decibels(ends, offset) for name, ends in found.items()}
    if worst.slack <= NO_SLACK:
        return at_least, True
    return _one_by_one(search, measure, at_least, deadline)


class _Worst:
    """Every option with the best that comes before it and the best that follows."""

    def __init__(self, walks: Walks, deadline: float) -> None:
        straight = walks.straight
        before = straight.rows(_MOST_ROWS, deadline=deadline)
        behind = walks.first
        if _slack(behind) > NO_SLACK:
            behind = walks.turned.rows(_MOST_ROWS, deadline=deadline)
        self.slack = max(_slack(before), _slack(behind))
        self.bundles = straight.graph.bundles
        last = straight.graph.nodes - 1
        # The nodes that can follow each node, as bits.
        self.reached = [1 << node for node in range(last + 1)]
        for bundle in reversed(self.bundles):
            self.reached[bundle.tail] |= self.reached[bundle.head]
        self.scores: list[list[float]] = []
        for bundle in self.bundles:
            rows, columns = before[bundle.tail], behind[last - bundle.head]
            reached = np.full(len(bundle.choices), -np.inf)
            if rows is not None and columns is not None:
                behind_all = rows.behind(bundle, np.arange(reached.size))
                found = scores(behind_all, columns, straight.criteria)[..., 0].max(axis=1)
                reached = found.reshape(reached.size, -1).max(axis=1)
            self.scores.append(reached.tolist())

    def of(self, name: str) -> tuple[float, float]:
        """Return the largest score with a switch off and with it on."""
        own = [b for b in self.bundles if any(_may(choice, name)[1] for choice in b.choices)]
        first = min((bundle.tail for bundle in own), default=0)
        ends = [-math.inf, -math.inf]
        for bundle, reached in zip(self.bundles, self.scores, strict=True):
            # Every way meets the switch, or passes by it, in one bundle.
            if bundle not in own and not self._passes_by(bundle, own, first):
                continue
            for choice, score in zip(bundle.choices, reached, strict=True):
                for state, may in enumerate(_may(choice, name)):
                    if may:
                        ends[state] = max(ends[state], score)
        return ends[0], ends[1]

    def _passes_by(self, bundle: Bundle, own: Sequence[Bundle], first: int) -> bool:
        """Return whether a bundle leads past a switch that is met from a node on."""
        if not bundle.tail <= first < bundle.head:
            return False
        return not any(self.reached[bundle.head] >> other.tail & 1 for other in own)


def _decibels(ends: tuple[float, float], offset: float) -> tuple[float, float]:
    off, on = (math.nan if end == -math.inf else end * NEPER_DB + offset for end in ends)
    return off, on


def _may(choice: Choice, name: str) -> tuple[bool, bool]:
    """Return whether a switch may be off, and whether it may be on, in an option."""
    if name in choice.on:
        return False, True
    return True, name in switches_of(choice.free)


def _slack(rows: Sequence[Rows | None]) -> float:
    return max((float(part.slack.max()) for part in rows if part is not None), default=0.0)


def _one_by_one(
    search: Search,
    measure: Measure,
    at_least: Mapping[str, tuple[float, float]],
    deadline: float,
) -> tuple[dict[str, tuple[float, float]], bool]:
    """Hold each switch off, and on, and search; without time for that take what is found."""
    found, proven = dict(at_least), True
    for name in at_least:
        # To make a search takes time as well, however little is left for it.
        if time.monotonic() > deadline:
            return found, False
        values = []
        # What is on in a loop is heard only where that is in.
        loops = _loops_around(search.board.laid, name) or ()
        for held in ({name: False}, {name: True} | dict.fromkeys(loops, True)):
            if any(search.fixed.get(loop) is False for loop in held if held[loop]):
                values.append(math.nan)
                continue
            one_way = Search(search.board, [measure], search.fixed | held)
            (one,) = one_way.ranked(measure, seconds=max(0.0, deadline - time.monotonic()))
            proven = proven and one.exact
            values.append(one.value)
        found[name] = values[0], values[1]
    return found, proven


def _loops_around(items: Iterable[Item], name: str) -> tuple[str, ...] | None:
    """Return the loops that a switch is inside of, None if it is not among the items."""
    for item in items:
        if item.switch == name:
            return ()
        if isinstance(item, Loop | Split):
            inner = _loops_around(item.inside, name)
            if inner is not None:
                return (item.loop, *inner) if isinstance(item, Loop) else inner
    return None

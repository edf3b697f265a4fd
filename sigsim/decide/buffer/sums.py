"""What buffers in some gaps amount to, as a sum over the pieces that they cut the chain into."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations, pairwise, zip_longest
from typing import TYPE_CHECKING

from sigsim.board.wiring import points, wired
from sigsim.decide.buffer.views import mean
from sigsim.items.cable import Cable
from sigsim.items.ends import OutputOf
from sigsim.items.tap import Tap
from sigsim.states.ranked import Ranking
from sigsim.states.segments import Listener

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.buffer.gaps import Gap
    from sigsim.decide.buffer.views import View
    from sigsim.items.base import Item
    from sigsim.items.stage import ActiveStage
    from sigsim.states.measure import Measure


class Sums:
    """The largest loss or level from the instrument and each gap to each later gap and the end."""

    def __init__(
        self,
        board: Board,
        part: ActiveStage,
        allowed: Sequence[Gap],
        view: View,
        measure: Measure,
    ) -> None:
        self.board, self.part, self.view, self.measure = board, part, view, measure
        self.end = len(board.listed) + 1
        self.to = {start: self._from(start, allowed) for start in (-1, *(g.index for g in allowed))}

    def _from(self, start: int, allowed: Sequence[Gap]) -> dict[int, float]:
        """Return the loss [dB] from one gap (-1: the instrument) to later gaps and the end."""
        board, boxed = self.board, start >= 0
        items = board.listed[max(start, 0) :]
        if boxed:
            behind = wired(items, board.wiring, bare=True)
            board = replace(
                board, instrument=OutputOf(stage=self.part), listed=behind, keeps_lead=False
            )
        places = list(self._places(items, boxed))
        listeners = {}
        for gap in (gap for gap in allowed if gap.index >= start):
            place, bare = places[gap.index - max(start, 0)]
            before = board.wiring if bare else None
            listeners[place] = Listener(gap.index, before, self.part)
        search = Ranking(board, self.measure, fixed=self.view.fixed, listeners=listeners)
        at_end = search.run()[0].value
        return {**search.heard, self.end: at_end}

    def _places(self, items: Sequence[Item], boxed: bool) -> Iterator[tuple[int, bool]]:
        """Yield for each gap among listed items where in the wired chain it lies.

        Yields how many things of the chain come before it, and whether the wiring comes before a
        box in it.
        """
        place = 0
        for item, bare in zip_longest(items, points(items, bare=boxed)):
            needs = bare and self.board.wiring is not None
            yield place, needs
            place += 1 + (needs and not isinstance(item, Cable | Tap))

    def total(self, chosen: Sequence[Gap]) -> float:
        """Return the loss or level [dB] with buffers in some gaps."""
        path = [-1, *(gap.index for gap in chosen), self.end]
        return sum(self.to[a][b] for a, b in pairwise(path))


def combined(
    tables: Sequence[Sums], allowed: Sequence[Gap], count: int
) -> Iterator[tuple[tuple[Gap, ...], float]]:
    """Yield so many different gaps with the loss [dB] of a buffer in each of them."""
    for chosen in combinations(allowed, count):
        yield chosen, mean([(table.view.weight, table.total(chosen)) for table in tables])

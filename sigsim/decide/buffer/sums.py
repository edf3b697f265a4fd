"""What buffers in some gaps amount to, as a sum over the pieces that they cut the chain into."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations, pairwise
from typing import TYPE_CHECKING

from sigsim.board.edit import inserted, siblings
from sigsim.decide.buffer.views import mean
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.states.stretches import Cut, Stretches

if TYPE_CHECKING:
    from sigsim.board.edit import Place
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
        self.view = view
        cuts = [_cut(board, gap.place, part) for gap in allowed]
        self.number = {gap.place: number for number, gap in enumerate(allowed, 1)}
        other = replace(part, stage=f"{part.stage} ")

        def between(one: int, two: int) -> tuple[Item, ...] | None:
            """Return what stands between boxes in two places with neither box nor cable between."""
            first, second = allowed[one - 1].place, allowed[two - 1].place
            if first[:-1] != second[:-1]:
                return None
            listed = siblings(board, first)[first[-1] : second[-1]]
            if not all(isinstance(item, Tap | Split) for item in listed):
                return None
            chain = inserted(inserted(board, second, other), first, part).chain
            return chain[chain.index(part) + 1 : chain.index(other)]

        self.to = Stretches(board, part, cuts, measure, view.fixed, between)

    def total(self, chosen: Sequence[Gap]) -> float:
        """Return the loss or level [dB] with buffers in some gaps."""
        return sum(self.to.largest(a, b) for a, b in self._pieces(chosen))

    def least(self, chosen: Sequence[Gap]) -> float:
        """Return what this is at least [dB]; quicker to find."""
        return sum(self.to.least(a, b) for a, b in self._pieces(chosen))

    def _pieces(self, chosen: Sequence[Gap]) -> Iterator[tuple[int, int]]:
        path = [0, *(self.number[gap.place] for gap in chosen), len(self.number) + 1]
        return pairwise(path)


def _cut(board: Board, gap: Place, part: ActiveStage) -> Cut:
    """Return where a box in a gap cuts the wired chain."""
    chain, boxed = board.chain, inserted(board, gap, part).chain
    at = next(i for i, item in enumerate(boxed) if item is part)
    before = next(i for i in range(at + 1) if i == at or boxed[i] != chain[i])
    after = boxed[at + 1 :]
    same = 0
    while same < min(len(after), len(chain) - before) and after[-1 - same] == chain[-1 - same]:
        same += 1
    wiring_behind = after[: len(after) - same]
    return Cut(before, boxed[before:at], len(chain) - same, wiring_behind)


def combined(
    tables: Sequence[Sums], allowed: Sequence[Gap], count: int
) -> Iterator[tuple[tuple[Gap, ...], float]]:
    """Yield so many different gaps with the loss [dB] of a buffer in each of them."""
    for chosen in combinations(allowed, count):
        yield chosen, mean([(table.view.weight, table.total(chosen)) for table in tables])


def least_loss(tables: Sequence[Sums], allowed: Sequence[Gap], count: int) -> float | None:
    """Return the loss [dB] with so many buffers where they serve best, None without room."""
    best = None
    bounds = [
        (mean([(table.view.weight, table.least(chosen)) for table in tables]), number, chosen)
        for number, chosen in enumerate(combinations(allowed, count))
    ]
    # Where nothing gets through, nothing is told.
    told = (entry for entry in bounds if not math.isnan(entry[0]))
    for bound, _, chosen in sorted(told, key=lambda entry: entry[:2]):
        if best is not None and bound >= best:
            break
        loss = mean([(table.view.weight, table.total(chosen)) for table in tables])
        best = loss if best is None or loss < best else best
    return best

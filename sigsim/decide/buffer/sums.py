"""What buffers in some gaps amount to, as a sum over the pieces that they cut the chain into."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Final, NamedTuple

from sigsim.board.edit import inserted
from sigsim.board.model import Board
from sigsim.decide.buffer.views import mean
from sigsim.items.ends import OutputOf
from sigsim.states.ranked import Ranking
from sigsim.states.segments import Listener

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.decide.buffer.gaps import Gap
    from sigsim.decide.buffer.views import View
    from sigsim.items.base import Item
    from sigsim.items.cable import Cable
    from sigsim.items.stage import ActiveStage
    from sigsim.states.measure import Measure


# Where a piece of the chain begins at the instrument, and where it goes to the end.
_START: Final[Place] = (-1,)
_END: Final[Place] = (-2,)


class _Cut(NamedTuple):
    """The wired chain with the box in one gap.

    Attributes
    ----------
    place : how many things of the chain come before the box, wiring that it needs apart
    before : the wiring before the box, where it needs one
    behind : what comes behind the box
    """

    place: int
    before: Cable | None
    behind: tuple[Item, ...]


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
        self.cuts = {gap.place: self._cut(gap.place) for gap in allowed}
        self.to = {start: self._from(start) for start in (_START, *self.cuts)}

    def _cut(self, gap: Place) -> _Cut:
        chain = inserted(self.board, gap, self.part).chain
        at = next(i for i, item in enumerate(chain) if item is self.part)
        wiring = self.board.wiring
        if at and wiring is not None and chain[at - 1] is wiring:
            return _Cut(at - 1, wiring, chain[at + 1 :])
        return _Cut(at, None, chain[at + 1 :])

    def _from(self, start: Place) -> dict[Place, float]:
        """Return the loss [dB] from one gap or the instrument to later gaps and the end."""
        board, shift = self.board, 0
        if start != _START:
            cut = self.cuts[start]
            shift = len(cut.behind) - len(board.chain)
            board = Board(
                title=board.title,
                file=board.file,
                instrument=OutputOf(stage=self.part),
                destination=board.end,
                listed=cut.behind,
                keeps_lead=False,
            )
        later = {gap: cut for gap, cut in self.cuts.items() if gap >= start}
        listeners = {
            cut.place + shift: Listener(key, cut.before, self.part)
            for key, cut in enumerate(later.values())
        }
        search = Ranking(board, self.measure, fixed=self.view.fixed, listeners=listeners)
        at_end = search.run()[0].value
        heard = {gap: search.heard[key] for key, gap in enumerate(later) if key in search.heard}
        return {**heard, _END: at_end}

    def total(self, chosen: Sequence[Gap]) -> float:
        """Return the loss or level [dB] with buffers in some gaps."""
        path = [_START, *(gap.place for gap in chosen), _END]
        return sum(self.to[a][b] for a, b in pairwise(path))


def combined(
    tables: Sequence[Sums], allowed: Sequence[Gap], count: int
) -> Iterator[tuple[tuple[Gap, ...], float]]:
    """Yield so many different gaps with the loss [dB] of a buffer in each of them."""
    for chosen in combinations(allowed, count):
        yield chosen, mean([(table.view.weight, table.total(chosen)) for table in tables])

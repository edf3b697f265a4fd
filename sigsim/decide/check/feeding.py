"""What is odd in what a file says of currents and supplies, and no error."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

from sigsim.decide.check.caution import Caution
from sigsim.decide.power.question import own_stages
from sigsim.decide.power.report import not_kept

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.feeding import Fed

# More than pedals draw [A], and the voltages [V] between which they are fed; common practice, no
# source.
_MUCH: Final = 3.0
_USUAL: Final = (3.0, 48.0)


def feeding_cautions(board: Board) -> Iterator[Caution]:
    """Yield what a player would ask about currents and supplies."""
    stages = tuple(own_stages(board))
    for stage in stages:
        current, off = stage.current, stage.current_off
        if current is not None and current > _MUCH:
            yield Caution("much-current", stage.label, {"current": current})
        odd = [volts for volts in stage.voltage if not _USUAL[0] <= volts <= _USUAL[1]]
        if odd:
            yield Caution("odd-voltage", stage.label, {"voltage": odd[0]})
        if current is not None and off is not None and off > current:
            yield Caution("more-when-off", stage.label, {"current": current, "off": off})
    fed = [stage for stage in stages if not stage.battery_inside]
    if board.supplies and not fed:
        yield Caution("nothing-to-feed", next(iter(board.supplies)))
    untold = tuple(stage.label for stage in fed if stage.current is None)
    if board.supplies and untold:
        yield Caution("no-current", untold[0], {"names": untold})
    if _share_a_supply([*fed, *board.boxes.values()]) and (kept_out := not_kept(board)):
        yield Caution("supplies-not-kept", kept_out[0], {"names": kept_out})


def _share_a_supply(fed: Sequence[Fed]) -> bool:
    """Whether several name a supply, or outputs of it: only these can be in each other's way."""
    return sum(bool(one.supply) for one in fed) > 1

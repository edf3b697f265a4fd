"""The different loads that a split can be, all at once.

What is behind the first isolator of a split is not seen from the way that it leaves, so that its
states are alike there: a split of n pedals is n + 1 different loads and 2^n states. Passive things
double them. They are found from the end of the split backwards, as rows of admittances.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.states.graph import Choice

if TYPE_CHECKING:
    from sigsim.items.base import Item
    from sigsim.physics.arrays import ComplexArray
    from sigsim.states.circuit import Circuit


class Loads(NamedTuple):
    """Loads as rows.

    Attributes
    ----------
    choices : what each stands for
    Y : admittances [S], shape (loads, frequency)
    """

    choices: list[Choice]
    Y: ComplexArray


def loads(split: Split, fixed: Mapping[str, bool], circuit: Circuit) -> Loads:
    """Return the different loads that a split can be.

    Parameters
    ----------
    split : wired
    fixed : things held on or off
    circuit : of the board
    """
    Y = np.asarray(split.destination.load(circuit.jw).Y, dtype=complex)
    end = Loads([Choice()], np.broadcast_to(Y, (1, circuit.frequency.size)))
    with np.errstate(all="ignore"):
        return _before(split.inside, (), end, fixed, circuit)


def _before(
    items: Sequence[Item],
    rest: tuple[Item, ...],
    behind: Loads,
    fixed: Mapping[str, bool],
    circuit: Circuit,
) -> Loads:
    """Return the loads before some items, from those behind them, which are those of the rest."""
    for index in range(len(items) - 1, -1, -1):
        item = items[index]
        after = (*items[index + 1 :], *rest)
        held = True if item.switch is None else fixed.get(item.switch)
        if isinstance(item, Split):
            behind = _beside(loads(item, fixed, circuit), behind)
            continue
        found = []
        for on in (False, True) if held is None else (held,):
            if isinstance(item, Loop) and on:
                inside = _before(item.inside, after, behind, fixed, circuit)
                found.append(_with(inside, (item.loop,)))
                continue
            names = (item.switch,) if on and item.switch is not None else ()
            if item.isolates(on):
                Y = np.asarray(circuit.step(item, on).input, dtype=complex)
                Y = np.broadcast_to(Y, (1, circuit.frequency.size))
                found.append(Loads([Choice(names, after)], Y))
            else:
                passed = Loads(behind.choices, circuit.step(item, on).admittance(behind.Y))
                found.append(_with(passed, names))
        behind = Loads(
            [choice for part in found for choice in part.choices],
            np.concatenate([np.broadcast_to(p.Y, (len(p.choices), p.Y.shape[-1])) for p in found]),
        )
    return behind


def _with(found: Loads, names: tuple[str, ...]) -> Loads:
    """Return loads with something more on."""
    if not names:
        return found
    return found._replace(choices=[c._replace(on=(*names, *c.on)) for c in found.choices])


def _beside(one: Loads, other: Loads) -> Loads:
    """Return every load of one kind with every one of another beside it."""
    choices = [
        Choice((*a.on, *b.on), (*a.free, *b.free)) for a in one.choices for b in other.choices
    ]
    return Loads(choices, (one.Y[:, None] + other.Y).reshape(len(choices), -1))

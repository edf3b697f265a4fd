"""Counting by sums gives what listing every state by the exact model gives, within its bound."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import pytest
from helpers.all_states import every_loss, every_state, many_stages, two_ways
from helpers.boards import Table, boards, ends, switches, to_toml
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings

from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.metrics import Basis, Reference
from sigsim.states.every import EveryState
from sigsim.states.losses import Losses
from sigsim.states.measure import treble
from sigsim.states.search import Search
from sigsim.states.summed import summed

LIMITS = (-1.0, 1.0, 3.0, math.inf)
SHARES = (0.05, 0.5, 0.95, 1.0)
# What is asked of the bound itself [dB]: half of what is printed, at most.
SMALL_DB = 0.02
# The exact model and sums of stretches differ by rounding, more where much is attenuated [dB].
ROUNDING_DB = 1e-8


def quantile(values: np.ndarray, share: float) -> float:
    """The smallest value that so many do not exceed, by definition, of values in order."""
    return float(values[max(1, math.ceil(share * values.size)) - 1])


def assert_as_listed(
    found: Losses, losses: Mapping[frozenset[str], float], total: int, names: Sequence[str]
) -> None:
    """Hold a spread against the loss of every state that has one."""
    values, within = np.sort(list(losses.values())), found.error + ROUNDING_DB
    assert not found.drawn
    assert found.error < SMALL_DB
    assert found.states == total
    assert found.silent == total - values.size
    if not values.size:
        assert found.below == (0,) * len(LIMITS)
        assert all(map(math.isnan, found.quantiles))
        assert not found.medians
        return
    for limit, below in zip(LIMITS, found.below, strict=True):
        least, most = np.searchsorted(values, [limit - within, limit + within])
        assert least <= below <= most
    for share, ours in zip(SHARES, found.quantiles, strict=True):
        assert abs(ours - quantile(values, share)) <= within
    for name in names:
        sides = [np.sort([v for on, v in losses.items() if (name in on) == w]) for w in (0, 1)]
        assert (name in found.medians) == all(side.size for side in sides)
        for ours, side in zip(found.medians.get(name, ()), sides, strict=False):
            assert abs(ours - quantile(side, 0.5)) <= within


@settings(max_examples=tries(75, 150))
@seed(41)
@given(boards())
@pytest.mark.parametrize("reference", ["ideal", "direct", "bare"])
def test_random_boards_at_all_their_ends(reference: Reference, table: Table) -> None:
    assume(0 < len(switches(table)) <= 6)
    whole = parse_board(to_toml(table))
    for at in ends(table):
        board = whole.heard_at(at)
        found = summed(board, treble(Basis(reference)), {}, LIMITS, SHARES)
        losses = every_loss(board, reference)
        # Only states that are silent as a whole are left to chance.
        assert found.drawn == Search(board, [treble(Basis(reference))]).some_silent
        if not found.drawn:
            assert_as_listed(found, losses, len(every_state(board)), board.switches())


def listed(board: Board, fixed: Mapping[str, bool]) -> dict[frozenset[str], float]:
    every = EveryState(board, [treble(Basis())], fixed)
    return {
        every.names(on): value
        for block in every.blocks()
        for on, value in zip(block.on.tolist(), block.measures[0].tolist(), strict=True)
        if not math.isnan(value)
    }


PASSIVE = {
    "pad": 'kind = "pad"\nalways_on = false\nseries_resistance = "{}k"\nshunt_resistance = "90k"',
    "volume": 'kind = "volume pedal"\nalways_on = false\ntrack = "250k"\nposition = {}',
}


def mixed(count: int) -> str:
    """Return stages, loops and passive things in turns."""
    kinds, found = ("stage", "pad", "loop", "volume"), many_stages(2)
    for i in range(count):
        kind = kinds[i % 4]
        if kind == "loop":
            found += f'[[chain]]\nloop = "l{i}"\n[[chain.inside]]\nstage = "i{i}"\n'
            found += 'part = "pedal-true-bypass"\n'
        elif kind == "stage":
            found += f'[[chain]]\nstage = "t{i}"\npart = "vintage-hardwire"\n'
        else:
            found += f'[[chain]]\nstage = "t{i}"\n{PASSIVE[kind].format(5 + i / 7)}\n'
    return found


@pytest.mark.parametrize(
    ("text", "at"),
    [(many_stages(14), ""), (mixed(8), ""), (two_ways(5, 5), ""), (two_ways(5, 5), "second")],
)
@pytest.mark.parametrize("fixed", [{}, {"s0": True}, {"s1": False}])
def test_thousands_of_states(text: str, at: str, fixed: dict[str, bool]) -> None:
    """All switches' medians too, and so the sign of what each does where it is not in doubt."""
    board = parse_board(text).heard_at(at)
    found = summed(board, treble(Basis()), fixed, LIMITS, SHARES)
    losses = listed(board, fixed)
    names = [name for name in board.switches() if name not in fixed]
    assert_as_listed(found, losses, len(losses), names)


def test_twenty_stages_against_sorting() -> None:
    board = parse_board(many_stages(20))
    every = EveryState(board, [treble(Basis())], {})
    values = np.sort(np.concatenate([block.measures[0] for block in every.blocks()]))
    found = summed(board, treble(Basis()), {}, LIMITS, SHARES)
    assert found.states == values.size == 2**20
    for share, ours in zip(SHARES, found.quantiles, strict=True):
        assert abs(ours - quantile(values, share)) <= found.error + ROUNDING_DB


def test_sixty_four_stages() -> None:
    """Too many to list; that halves of the states, one switch held, add up is known."""
    board = parse_board(many_stages(64))
    whole = summed(board, treble(Basis()), {}, LIMITS, SHARES)
    assert not whole.drawn
    assert whole.states == 2**64
    assert whole.silent == 0
    assert whole.error < SMALL_DB
    for name in ("s0", "s5", "s63"):
        parts = [summed(board, treble(Basis()), {name: on}, LIMITS, SHARES) for on in (False, True)]
        for limit, below in zip(LIMITS, whole.below, strict=True):
            # Limits moved by both errors at most; so near to a limit there are few states.
            apart = abs(sum(part.below[LIMITS.index(limit)] for part in parts) - below)
            assert apart < 0.01 * 2**64
        for ours, part in zip(whole.medians[name], parts, strict=True):
            assert abs(ours - part.quantiles[1]) <= whole.error + part.error


def test_a_loop_with_so_many_stages_that_out_is_one_state_of_billions() -> None:
    """Out, it leaves one state, of which the loss is that of the model."""
    inside = many_stages(45).split("[[chain]]\nstage", 1)
    stages = inside[1].replace("[[chain]]", "[[chain.inside]]")
    board = parse_board(f'{inside[0]}[[chain]]\nloop = "l"\n[[chain.inside]]\nstage{stages}')
    found = summed(board, treble(Basis()), {}, LIMITS, SHARES)
    out = summed(board, treble(Basis()), {"l": False}, LIMITS, SHARES)
    assert found.states == 2**45 + 1
    assert out.states == 1
    assert found.medians["l"][0] == pytest.approx(out.quantiles[1], abs=1e-12)
    assert found.medians["l"][1] == pytest.approx(found.quantiles[1], abs=2 * found.error)

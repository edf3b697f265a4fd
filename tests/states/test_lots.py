"""Drawn states are fair, are those of the exact model, and their interval holds what it says."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from helpers.all_states import every_state, many_stages, measures, rows
from helpers.boards import Table, boards, ends, switches, to_toml
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings

from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.metrics import Basis
from sigsim.states.every import EveryState
from sigsim.states.lots import _binomial, drawn_losses, drawn_states
from sigsim.states.measure import treble
from sigsim.states.search import Search
from sigsim.states.shape import GRID
from sigsim.states.summed import summed

LOOPS = (
    many_stages(3)
    + """
[[chain]]
loop = "l"
[[chain.inside]]
stage = "x"
part = "pedal-true-bypass"
[[chain.inside]]
loop = "m"
[[chain.inside.inside]]
stage = "y"
part = "vintage-hardwire"
[[chain]]
split = "second"
destination = { input_resistance = "1M" }
[[chain.inside]]
stage = "z"
part = "pedal-true-bypass"
[[chain.inside]]
loop = "n"
[[chain.inside.inside]]
stage = "w"
part = "pedal-buffered"
"""
)


@pytest.mark.parametrize("at", ["", "second"])
def test_every_different_state_is_as_likely(at: str) -> None:
    """Pearson's chi-square: mean k, variance 2k for k degrees of freedom (handbooks)."""
    board, count = parse_board(LOOPS).heard_at(at), 40_000
    found = Counter(drawn_states(board, [treble(Basis())], GRID[:0], count=count, seed=3).on)
    states = every_state(board)
    assert set(found) == states
    expected = count / len(states)
    chi = sum((found[on] - expected) ** 2 / expected for on in states)
    freedom = len(states) - 1
    # Five standard deviations: less than one in a million by chance.
    assert abs(chi - freedom) < 5 * np.sqrt(2 * freedom)


@pytest.mark.parametrize("at", ["", "second"])
def test_drawn_states_are_those_of_the_model(at: str) -> None:
    assert_exact(parse_board(LOOPS).heard_at(at))


@settings(max_examples=tries(30, 60))
@seed(51)
@given(boards())
def test_drawn_states_of_random_boards(table: Table) -> None:
    assume(0 < len(switches(table)) <= 5)
    board = parse_board(to_toml(table))
    for at in ends(table):
        assert_exact(board.heard_at(at))


def assert_exact(board: Board) -> None:
    """Hold drawn states against the list of all."""
    exact = {on: values for on, values, *_ in rows(EveryState(board, measures("ideal")))}
    sample = drawn_states(board, measures("ideal"), GRID[:3], count=60, seed=5)
    for on, values in zip(sample.on, sample.measures.T.tolist(), strict=True):
        # Products of matrices and sums of segments: rounding, larger where much cancels.
        assert values == pytest.approx(exact[on], rel=1e-6, abs=1e-6, nan_ok=True)
    again = drawn_states(board, measures("ideal"), GRID[:3], count=60, seed=5)
    assert again.on == sample.on


def test_a_hundred_draws_hold_the_true_quantiles() -> None:
    """At 99.9 % for each of 21 numbers some miss by chance, but not one draw in ten."""
    board, measure = parse_board(many_stages(9)), treble(Basis())
    true = summed(board, measure, {}, (), (0.5, 0.95))
    search, missed, many = Search(board, [measure]), 0, 0
    for number in range(100):
        found = drawn_losses(search, measure, (), (0.5, 0.95), number, 4096)
        assert found.drawn
        assert found.states == 4096
        pairs = list(zip(found.quantiles, true.quantiles, strict=True))
        for name, both in found.medians.items():
            pairs += zip(both, true.medians[name], strict=True)
        missed += sum(abs(a - b) > found.error + true.error for a, b in pairs)
        many += len(pairs)
    assert many == 100 * (2 + 2 * 9)
    # All of them have the largest error: far fewer miss than one in a thousand.
    assert missed <= 2


def test_binomial_chances_by_hand() -> None:
    assert _binomial(2, 0.25) == pytest.approx([9 / 16, 6 / 16, 1 / 16])
    assert _binomial(3, 1.0) == pytest.approx([0, 0, 0, 1])


def test_too_many_ways_are_drawn_and_said_to_be() -> None:
    board, measure = parse_board(many_stages(10)), treble(Basis())
    true = summed(board, measure, {}, (1.0,), (0.5, 0.95))
    found = summed(board, measure, {}, (1.0,), (0.5, 0.95), most=(4, 4))
    assert found.drawn
    assert found.states >= 4096
    assert 0 < found.error < 0.5
    for ours, exact in zip(found.quantiles, true.quantiles, strict=True):
        assert abs(ours - exact) <= found.error + true.error


QUIET = many_stages(2) + "".join(
    f'[[chain]]\nstage = "q{i}"\nkind = "pad"\nalways_on = false\n'
    'series_resistance = "200k"\nshunt_resistance = "100"\n'
    for i in range(7)
)


def test_states_silent_only_as_a_whole_are_drawn() -> None:
    """Each pad takes about 66 dB, so that five of seven are silent and none alone is."""
    board, measure = parse_board(QUIET), treble(Basis())
    values = np.array([v[-1] for _, v, *_ in rows(EveryState(board, measures("ideal")))])
    heard = np.sort(values[~np.isnan(values)])
    found = summed(board, measure, {}, (), (0.5, 0.95))
    assert found.drawn
    share = 1 - heard.size / values.size
    assert 0.1 < share < 0.4
    # Four standard deviations of a share that is counted.
    near = 4 * np.sqrt(share * (1 - share) / found.states)
    assert found.silent / found.states == pytest.approx(share, abs=near)
    for ours, at in zip(found.quantiles, (0.5, 0.95), strict=True):
        assert abs(ours - heard[int(np.ceil(at * heard.size)) - 1]) <= found.error + 1e-9

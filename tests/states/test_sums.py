"""Counting sums gives what listing every state gives; samples are fair and repeat."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest
from helpers.all_states import every_loss, every_state, many_stages, measures, rows
from helpers.boards import Table, boards, ends, switches, to_toml
from hypothesis import assume, given, seed, settings

from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.decide.states.question import StatesQuestion
from sigsim.decide.states.report import states_report
from sigsim.metrics import Basis, verdict
from sigsim.states.every import EveryState
from sigsim.states.measure import Measure, treble
from sigsim.states.sampled import draw_states
from sigsim.states.search import ranked
from sigsim.states.sums import Sums

# Quantiles are located to 1e-4 dB by bisection.
CLOSE_DB = 2e-4


@settings(max_examples=80)
@seed(31)
@given(boards())
def test_summary_and_ranks_equal_listing_every_state(table: Table) -> None:
    assume(0 < len(switches(table)) <= 6)
    board = parse_board(to_toml(table))
    for at in ends(table):
        assert_report_is_that_of_a_list(board.heard_at(at))


def assert_report_is_that_of_a_list(board: Board) -> None:
    """Hold summary and ranks against every state solved by itself."""
    report = states_report(StatesQuestion(board), top=4)
    losses = every_loss(board, "ideal")
    assert report.total == len(every_state(board))
    assert report.summary.silent == report.total - len(losses)
    if not losses:
        return
    values = np.sort(list(losses.values()))
    summary = report.summary
    assert summary.worst == pytest.approx(values[-1], abs=1e-8)
    assert summary.best == pytest.approx(values[0], abs=1e-8)
    # The value that at least a share of the states does not exceed.
    for share, ours in ((0.5, summary.median), (0.95, summary.most)):
        assert ours == pytest.approx(values[math.ceil(share * values.size) - 1], abs=CLOSE_DB)
    assert sum(summary.words.values()) == values.size
    if not np.any(np.abs(np.abs(values) - 1) < 0.05 + 1e-9):
        assert summary.words["negligible"] == np.count_nonzero(np.abs(values) < 1)
    assert summary.words == dict.fromkeys(summary.words, 0) | Counter(map(verdict, values))
    ranked = [state.treble_loss for state in report.top if math.isfinite(state.treble_loss)]
    assert ranked == pytest.approx(values[::-1][: len(ranked)].tolist(), abs=1e-8)
    assert len({state.state.on for state in report.top}) == len(report.top)
    best = [state.treble_loss for state in report.best if math.isfinite(state.treble_loss)]
    assert best == pytest.approx(values[: len(best)].tolist(), abs=1e-8)


@settings(max_examples=60)
@seed(32)
@given(boards())
def test_effects_equal_listing_every_state(table: Table) -> None:
    assume(0 < len(switches(table)) <= 5)
    listened = parse_board(to_toml(table))
    for at in ends(table):
        assert_effects_are_those_of_a_list(listened.heard_at(at))


def assert_effects_are_those_of_a_list(board: Board) -> None:
    """Hold the effect of each switch against every state solved by itself."""
    losses = every_loss(board, "ideal")
    for effect in states_report(StatesQuestion(board)).effects:
        for on, median, worst in (
            (True, effect.median_on, effect.worst_on),
            (False, effect.median_off, effect.worst_off),
        ):
            some = np.sort([loss for state, loss in losses.items() if (effect.name in state) == on])
            assert worst == pytest.approx(some[-1], abs=1e-8)
            assert median == pytest.approx(some[math.ceil(some.size / 2) - 1], abs=CLOSE_DB)


def test_counts_of_two_small_tables_by_hand() -> None:
    """1, 2 and 10, 20, one of them silent: the sums are 11, 21, 12, 22."""
    bits = np.array([0, 1], dtype=np.uint64)
    right = np.array([20.0, 10.0, np.nan])
    on = np.array([2, 0, 4], dtype=np.uint64)
    sums = Sums.over([(np.array([1.0, 2.0]), bits, right, on)])
    assert sums.size == 4
    assert [sums.below(limit) for limit in (11, 11.5, 12.5, 100)] == [0, 1, 2, 4]
    assert sums.where(1, True).size == 2
    assert sums.where(2, True).smallest() == 21
    assert sums.where(2, False).largest() == 12
    assert sums.quantile(0.5) == pytest.approx(12, abs=CLOSE_DB)


@pytest.mark.parametrize("by", ["level", 4000.0, "corner"])
def test_other_rankings(by: str | float) -> None:
    board = parse_board(many_stages(7))
    report = states_report(StatesQuestion(board, by=by, below=2925.0), top=5)
    listed = list(rows(EveryState(board, measures("ideal"))))
    if by == "corner":
        corners = sorted(corner for _, _, corner, *_ in listed)
        assert [s.corner for s in report.top] == pytest.approx(corners[:5], rel=5e-4)
        assert report.summary.below == sum(corner < 2925.0 for corner in corners)
        return
    column = 0 if by == "level" else 3
    values = sorted((v[column] for _, v, *_ in listed), reverse=by != "level")
    shown = [s.level if by == "level" else s.losses[4000.0] for s in report.top]
    assert shown == pytest.approx(values[:5], abs=1e-8)


@pytest.mark.parametrize("at", ["", "second", "third"])
def test_a_sample_is_the_same_states_solved_the_same_way(at: str) -> None:
    assert_sample_is_exact(parse_board(many_stages(7) if not at else SPLITS).heard_at(at))


# A split in a loop, and one in that; what is behind the loop loads both.
SPLITS = (
    many_stages(3)
    + """
[[chain]]
loop = "l"
[[chain.inside]]
split = "second"
destination = { input_resistance = "1M" }
[[chain.inside.inside]]
stage = "x"
part = "pedal-true-bypass"
[[chain.inside.inside]]
split = "third"
destination = {}
[[chain.inside.inside.inside]]
stage = "y"
part = "vintage-hardwire"
[[chain.inside.inside]]
stage = "z"
part = "pedal-buffered"
"""
)


def assert_sample_is_exact(board: Board) -> None:
    """Hold drawn states against the list of all."""
    exact = {on: values for on, values, *_ in rows(EveryState(board, measures("ideal")))}
    sample = draw_states(board, measures("ideal"), np.array([1000.0]), count=300, seed=5)
    for on, values in zip(sample.on, sample.measures.T, strict=True):
        assert values == pytest.approx(exact[on], abs=1e-8, nan_ok=True)
    again = draw_states(board, measures("ideal"), np.array([1000.0]), count=300, seed=5)
    assert again.on == sample.on
    assert np.array_equal(again.measures, sample.measures, equal_nan=True)


def test_a_sample_counts_every_different_state_alike() -> None:
    """A loop that is out is one state, not as many as its contents have."""
    text = (
        many_stages(1)
        + '[[chain]]\nloop = "l"\n'
        + "".join(
            f'[[chain.inside]]\nstage = "i{i}"\npart = "pedal-true-bypass"\n' for i in range(3)
        )
    )
    board = parse_board(text)
    sample = draw_states(board, [treble(Basis("ideal"))], np.array([1e3]), count=4000, seed=3)
    counts = [sample.on.count(on) for on in every_state(board)]
    assert len(counts) == 2 * (1 + 8)
    # 4000 draws over 18 states: 222 each, with a standard deviation of 14.5; five of them.
    assert max(abs(count - 4000 / 18) for count in counts) < 5 * 14.5


def test_over_24_switches_the_ends_are_exact_and_the_middle_is_drawn() -> None:
    board = parse_board(many_stages(30))
    report = states_report(StatesQuestion(board, seed=7))
    assert report.sampled == 2048
    assert report.proven
    assert report.summary.worst == ranked(board, treble(Basis("ideal")))[0].value
    assert report.top[0].treble_loss == pytest.approx(report.summary.worst, abs=1e-8)
    assert report.summary.best <= report.summary.median <= report.summary.worst
    assert states_report(StatesQuestion(board, seed=7)).summary == report.summary


def test_extremes_bound_every_curve() -> None:
    board = parse_board(many_stages(6))
    every = EveryState(board, [Measure(np.array([1000.0]), None)])
    low, high = every.extremes()
    curves = np.concatenate([left.plus(right).curves for left, right in every.pairs()])
    np.testing.assert_allclose(low, curves.min(axis=0), atol=1e-9)  # rounding
    np.testing.assert_allclose(high, curves.max(axis=0), atol=1e-9)

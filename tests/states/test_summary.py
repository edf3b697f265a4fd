"""The report of all states is what listing every state gives."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest
from helpers.all_states import every_loss, every_state, many_stages, measures, rows
from helpers.boards import Table, boards, ends, switches, to_toml
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings

from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.decide.states.question import StatesQuestion
from sigsim.decide.states.report import states_report
from sigsim.metrics import Basis, verdict
from sigsim.states.every import EveryState
from sigsim.states.extremes import extremes
from sigsim.states.forms import GRID
from sigsim.states.measure import Measure, treble
from sigsim.states.search import ranked

# Logarithms of products in another order.
CLOSE_DB = 1e-8


@settings(max_examples=tries(40, 80))
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


@settings(max_examples=tries(30, 60))
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


def test_over_24_switches_nothing_is_drawn() -> None:
    """Half of the states are counted on their own: the halves of one switch make the whole."""
    board = parse_board(many_stages(30))
    report = states_report(StatesQuestion(board))
    assert report.sampled is None
    assert report.proven
    assert 0 < report.summary.error < 0.01
    assert report.summary.worst == ranked(board, treble(Basis("ideal")))[0].value
    assert report.top[0].treble_loss == pytest.approx(report.summary.worst, abs=1e-8)
    assert report.summary.best <= report.summary.median <= report.summary.worst
    # The totals of 2^30 are whole numbers still.
    assert sum(report.summary.words.values()) == report.total == 1 << 30


def test_extremes_bound_every_curve() -> None:
    board = parse_board(many_stages(6) + PADS)
    curves, _ = EveryState(board, [Measure(np.array([1000.0]), None)]).curves()
    for few_rows in (1, 1 << 11):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("sigsim.states.extremes._FEW_ROWS", few_rows)
            low, high = extremes(board, GRID)
        np.testing.assert_allclose(low, curves.min(axis=0), atol=1e-9)  # rounding
        np.testing.assert_allclose(high, curves.max(axis=0), atol=1e-9)


PADS = "".join(
    f"""
[[chain]]
stage = "p{i}"
kind = "pad"
series_resistance = "{i}2k"
shunt_resistance = "200k"
always_on = false
"""
    for i in range(3)
)

"""Folded rows: none hides what differs by more than it says, and every row is counted once."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from helpers.boards import Table, boards, switches, to_toml
from helpers.program import EXAMPLES
from helpers.refusals import ENDS, STAGE, quick
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings
from hypothesis import strategies as st

from sigsim.board.cable_parts import library_cables
from sigsim.board.reader import parse_board, read_board
from sigsim.decide.blame.report import blame_report, folded_blames
from sigsim.decide.cables.candidates import candidates
from sigsim.decide.cables.report import CableQuestion, cables_report
from sigsim.decide.folding import COMPARED_HZ, FOLDED_DB, Fold, as_level, folded, unfolded
from sigsim.decide.loss.report import assess, loss_report
from sigsim.decide.states.question import StatesQuestion
from sigsim.decide.states.report import states_report
from sigsim.metrics import USUAL_BASIS
from sigsim.show.folds import and_more
from sigsim.states.measure import treble
from sigsim.states.response import Response, Solver
from sigsim.states.search import ranked

BASS = EXAMPLES / "ferry-bass.toml"
# Sums and differences of decibels: rounding.
ROUNDING_DB = 1e-6
FIGURES = st.one_of(
    st.floats(-0.5, 0.5), st.sampled_from([0.0, 0.1, -0.1, math.nan, math.inf, -math.inf])
)


def apart(one: float, other: float) -> float:
    """Return how far figures are apart [dB]; none equals none, and infinity itself."""
    if one == other or (math.isnan(one) and math.isnan(other)):
        return 0.0
    return math.inf if math.isnan(one - other) else abs(one - other)


@settings(max_examples=200)
@seed(81)
@given(st.lists(st.tuples(FIGURES, FIGURES, st.booleans(), st.booleans()), max_size=40))
def test_every_row_is_in_one_fold_and_near_its_first(rows: list[tuple[Any, ...]]) -> None:
    numbered = list(enumerate(rows))
    folds = folded(
        numbered,
        lambda row: row[1][:2],
        kind=lambda row: row[1][2],
        shown=lambda row: row[1][3],
    )
    everyone = [row for fold in folds for row in fold.rows]
    assert sorted(number for number, _ in everyone) == list(range(len(rows)))
    firsts = [fold.first[0] for fold in folds]
    assert firsts == sorted(firsts) == [fold.rank - 1 for fold in folds]
    for fold in folds:
        for number, row in fold.more:
            assert number > fold.first[0]
            assert not row[3]
            assert row[2] == fold.first[1][2]
            worst = max(apart(a, b) for a, b in zip(row[:2], fold.first[1][:2], strict=True))
            assert worst <= FOLDED_DB + ROUNDING_DB


@settings(max_examples=100)
@seed(82)
@given(st.lists(st.floats(-0.5, 0.5), max_size=30))
def test_rows_that_are_shown_differ_by_more(values: list[float]) -> None:
    firsts = [fold.first for fold in folded(values, lambda value: (value,))]
    for i, one in enumerate(firsts):
        assert all(abs(one - other) > FOLDED_DB for other in firsts[:i])


def test_a_part_in_a_hundred_of_a_frequency_counts_as_a_tenth_of_a_decibel() -> None:
    # 10·ln(1.01) is 0.0995: the first term of a series, exact to half a per cent.
    assert as_level(1010.0) - as_level(1000.0) == pytest.approx(0.1, rel=0.01)
    assert math.isnan(as_level(None))


def test_one_wording() -> None:
    assert and_more(Fold(1, "a")) == ""
    assert and_more(Fold(1, "a", ("b",))) == " and 1 more within 0.1 dB"
    assert and_more(Fold(1, "a", ("b", "c"), True)) == " and at least 2 more within 0.1 dB"
    assert [fold.rank for fold in unfolded("ab")] == [1, 2]


@settings(max_examples=tries(10, 15))
@seed(83)
@given(boards(), st.integers(1, 6))
def test_ranked_states_of_random_boards(table: Table, top: int) -> None:
    """Every state solved by itself: those of one row differ by 0.1 dB at most at any frequency."""
    assume(len(switches(table)) <= 5)
    board = parse_board(to_toml(table))
    report = states_report(StatesQuestion(board), top, fold=True)
    every = ranked(board, treble(USUAL_BASIS), 1 << 5)
    place = {state.on: number for number, state in enumerate(every, 1)}
    solver = Solver(board)
    assert len(report.top) == len(report.top_folds) <= top
    if len(report.top) < top:
        # What gives no sound has no rank; where nothing does, every stage off stands for all.
        heard = report.total - report.summary.silent
        assert sum(len(fold.rows) for fold in report.top_folds) == max(heard, 1)
    for fold, state in zip(report.top_folds, report.top, strict=True):
        assert frozenset(state.state.on) == fold.first
        first = Response(solver, fold.first, COMPARED_HZ, "ideal")
        shown = assess(solver, board.state(fold.first))
        assert np.isfinite(shown.treble_loss) or not fold.at_least
        assert place[fold.first] <= report.total
        for on in fold.more:
            other = Response(solver, on, COMPARED_HZ, "ideal")
            with np.errstate(invalid="ignore"):
                gains = np.abs(first.gain_db - other.gain_db)
            assert np.nanmax(gains, initial=0.0) <= FOLDED_DB + ROUNDING_DB
            figures = assess(solver, board.state(on))
            for key in ("level", "level_change", "treble_loss"):
                assert apart(getattr(shown, key), getattr(figures, key)) <= FOLDED_DB + ROUNDING_DB


@settings(max_examples=25)
@seed(84)
@given(boards(), st.data())
def test_merged_states_are_the_same(table: Table, data: st.DataObject) -> None:
    board = parse_board(to_toml(table))
    names = switches(table)
    assume(names)
    chosen = data.draw(st.lists(st.frozensets(st.sampled_from(sorted(names))), max_size=5))
    report = loss_report(board, [board.state(on) for on in chosen])
    assert sum(len(fold.rows) for fold in report.merged) == len(chosen)
    heard = [board.heard(fold.first.state.on) for fold in report.merged]
    assert len(set(heard)) == len(heard)
    for fold in report.merged:
        for other in fold.more:
            for key in ("level", "level_change", "treble_loss", "treble_loss_with_lead"):
                pair = getattr(fold.first, key), getattr(other, key)
                assert apart(*pair) <= ROUNDING_DB
    worst = board.heard(report.worst.state.on)
    if worst in {board.heard(on) for on in chosen}:
        assert report.worst_among is not None
    if report.worst_among is not None:
        pair = report.merged[report.worst_among].first.treble_loss, report.worst.treble_loss
        assert apart(*pair) <= ROUNDING_DB


@settings(max_examples=20)
@seed(85)
@given(boards())
def test_folded_things_cost_nearly_the_same(table: Table) -> None:
    board = parse_board(to_toml(table))
    report = blame_report(board, board.state(switches(table)))
    folds = folded_blames(report.counted)
    assert sum(len(fold.rows) for fold in folds) == len(report.counted)
    for fold in folds:
        for other in fold.more:
            assert (other.group, other.cable) == (fold.first.group, fold.first.cable)
            for key in ("saved", "costs", "level_change"):
                pair = getattr(fold.first, key), getattr(other, key)
                assert apart(*pair) <= FOLDED_DB + ROUNDING_DB


@settings(max_examples=tries(5, 10))
@seed(86)
@given(boards())
def test_folded_cables_lose_nearly_the_same_in_all_that_is_shown(table: Table) -> None:
    board = parse_board(to_toml(table))
    assume(len(switches(table)) <= 4 and any(True for _ in board.pieces()))
    report = cables_report(CableQuestion(board), candidates(board, library_cables()))
    for role in report.roles:
        folds = role.folds()
        assert sum(len(fold.rows) for fold in folds) == len(role.choices)
        firsts = [fold.first for fold in folds]
        assert role.now in firsts
        assert role.better is None or role.better in firsts
        for fold in folds:
            for other in fold.more:
                assert apart(fold.first.counted, other.counted) <= FOLDED_DB + ROUNDING_DB
                for one, two in zip(fold.first.scenes, other.scenes, strict=True):
                    pair = fold.first.counted_in(one), other.counted_in(two)
                    assert apart(*pair) <= FOLDED_DB + ROUNDING_DB


def test_states_that_are_the_same_are_one_row_unless_each_is_asked_for() -> None:
    out = quick("loss", BASS)
    assert re.search(r"^ worst: all off .*\n = quiet waltz$", out, re.M)  # the name goes on below
    assert "one row, their names joined by =" in out
    every = quick("loss", BASS, "--every")
    assert " = " not in every
    assert every.count("quiet waltz") == 1
    assert "worst: all off" in every
    assert len(json.loads(quick("loss", BASS, "--json"))["states"]) == 5


def test_what_is_inside_a_loop_that_is_out_makes_no_state_of_its_own(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    inside = STAGE.replace("[[chain]]", "[[chain.inside]]")
    board.write_text(f'{ENDS}[[chain]]\nloop = "side"\n{inside}')
    rows = quick("loss", board, "--on", "fuzz", "--all-off").splitlines()
    assert sum("all off = fuzz" in row for row in rows) == 1


def test_ten_rows_say_ten_different_things() -> None:
    rows = states_report(StatesQuestion(read_board(BASS)), 10, fold=True)
    assert len(rows.top) == 10
    printed = {(round(s.level, 1), round(s.treble_loss, 1), round(s.losses[4000.0], 1),
                s.state.on) for s in rows.top}  # fmt: skip
    assert len(printed) == 10
    out = quick("states", BASS)
    assert "more within 0.1 dB" in " ".join(out.split())
    assert "more within" not in quick("states", BASS, "--every")
    assert len(json.loads(quick("states", BASS, "--json"))["top"]) == 10


def test_equal_things_are_counted_and_each_is_said() -> None:
    out = quick("blame", BASS)
    assert "7 pieces of patch, 0.2 dB each" in out
    assert "7 boxes that are off, 0.2 dB each" in out
    every = quick("blame", BASS, "--every")
    assert every.count("patch:") == 7


@pytest.mark.parametrize("command", ["states", "cables", "loss", "blame", "noise"])
def test_every_lists_each(command: str) -> None:
    assert "(--every lists" in " ".join(quick(command, BASS).split())
    assert "within 0.1 dB" not in " ".join(quick(command, BASS, "--every").split())

"""The worst with each switch on and off is what a list of all states says."""

from __future__ import annotations

import math

import pytest
from helpers.all_states import every_loss, many_stages
from helpers.boards import Table, boards, ends, switches, to_toml
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings

from sigsim.board.reader import parse_board
from sigsim.metrics import USUAL_BASIS
from sigsim.states.by_switch import worst_by_switch
from sigsim.states.measure import treble
from sigsim.states.search import Search

# Logarithms of products in another order.
ROUNDING_DB = 1e-9


def held_and_listed(table: Table, most_rows: int) -> None:
    listened = parse_board(to_toml(table))
    measure = treble(USUAL_BASIS)
    for at in ends(table):
        board = listened.heard_at(at)
        losses = every_loss(board, "ideal")
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("sigsim.states.by_switch._MOST_ROWS", most_rows)
            patch.setattr("sigsim.states.search.FIRST_ROWS", most_rows)
            search = Search(board, [measure])
            found, proven = worst_by_switch(search, measure, board.switches(), 60.0)
        assert proven
        for name in board.switches():
            for on, value in enumerate(found[name]):
                listed = [loss for state, loss in losses.items() if (name in state) is bool(on)]
                wanted = max(listed, default=math.nan)
                assert value == pytest.approx(wanted, abs=ROUNDING_DB, nan_ok=True)


@settings(max_examples=tries(32, 80))
@seed(141)
@given(boards())
def test_two_walks_tell_the_worst_of_each_switch(table: Table) -> None:
    assume(0 < len(switches(table)) <= 7)
    held_and_listed(table, 256)


@settings(max_examples=25)
@seed(142)
@given(boards())
def test_with_few_rows_each_switch_is_searched(table: Table) -> None:
    assume(0 < len(switches(table)) <= 5)
    held_and_listed(table, 1)


def test_without_time_no_switch_is_searched() -> None:
    """What two walks found is told: of real states, so no more than the worst, and not proven."""
    pads = "".join(
        f"""
[[chain]]
stage = "s{i}"
kind = "pad"
always_on = false
series_resistance = "{5 + 7 * i}k"
shunt_resistance = "{400 - 31 * i}k"
"""
        for i in range(8)
    )
    board, measure = parse_board(many_stages(0) + pads), treble(USUAL_BASIS)
    losses = every_loss(board, "ideal")
    search = Search(board, [measure])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sigsim.states.by_switch._MOST_ROWS", 1)
        patch.setattr("sigsim.states.search.FIRST_ROWS", 1)
        patch.setattr("sigsim.states.by_switch.Search", None)
        found, proven = worst_by_switch(search, measure, board.switches(), 0.0)
    assert not proven
    for name in board.switches():
        for on, value in enumerate(found[name]):
            listed = [loss for state, loss in losses.items() if (name in state) is bool(on)]
            assert any(value == pytest.approx(loss, abs=ROUNDING_DB) for loss in listed)


def test_what_is_on_in_a_loop_that_is_out_does_not_count() -> None:
    """Out, the loop loads the line more than the pedal in it: that is no state with it on."""
    text = """
[instrument]
part = "bass-split-coil"
[destination]
part = "instrument-input"
[[chain]]
loop = "l"
wiring_capacitance = "3 nF"
[[chain.inside]]
stage = "p"
kind = "volume pedal"
track = "1M"
always_on = false
"""
    board = parse_board(text)
    measure = treble(USUAL_BASIS)
    losses = every_loss(board, "ideal")
    for most_rows in (1, 256):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("sigsim.states.by_switch._MOST_ROWS", most_rows)
            patch.setattr("sigsim.states.search.FIRST_ROWS", most_rows)
            search = Search(board, [measure])
            found, _ = worst_by_switch(search, measure, ["p"], 60.0)
        wanted = max(loss for state, loss in losses.items() if "p" in state)
        assert found["p"][1] == pytest.approx(wanted, abs=ROUNDING_DB)
        assert found["p"][0] > wanted + 1

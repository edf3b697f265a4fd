"""Every enumerated state is the one-state solution, in every number."""

from __future__ import annotations

import itertools
import math
from typing import get_args

import numpy as np
import pytest
from helpers.all_states import every_state, many_stages, measures, rows, two_ways
from helpers.boards import Table, boards, ends, switches, to_toml
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings

from sigsim import metrics
from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.metrics import Reference
from sigsim.states import directions, every
from sigsim.states.distinct import distinct_states
from sigsim.states.every import EveryState
from sigsim.states.response import Response, Solver, grid

MOST_SWITCHES = 6
# The promise is 0.001 dB and 0.5 % in the corner. Sums of segments are exact to rounding.
ROUNDING_DB = 1e-8
PEAK_DB = 0.001
CORNER = 0.005


def same(ours: float, theirs: float | None, tolerance: float) -> bool:
    """Whether two numbers agree; not a number and None are the same nothing."""
    if theirs is None or math.isnan(theirs):
        return math.isnan(ours)
    return ours == theirs or abs(ours - theirs) <= tolerance


def assert_every_state_is_right(board: Board, reference: Reference) -> None:
    solver = Solver(board)
    seen = set()
    for on, values, corner, frequency, height in rows(EveryState(board, measures(reference))):
        assert on not in seen, "a state is listed twice"
        seen.add(on)
        r = Response(solver, on, grid(points=2), reference)
        losses = metrics.loss(r, np.array(metrics.LOSS_HZ))
        for ours, theirs in zip(
            values, [metrics.level(r), *losses, metrics.treble_loss(r)], strict=True
        ):
            assert same(ours, float(theirs), ROUNDING_DB), (on, ours, theirs)
        exact = metrics.corner(r)
        assert same(corner, exact, CORNER * (exact or 0)), (on, corner, exact)
        peak = metrics.resonance(r)
        if peak is None or math.isnan(height):
            # A peak of just 0.1 dB counts on one side of rounding and not on the other.
            top = height if peak is None else peak.height
            assert math.isnan(height) == (peak is None) or abs(top - 0.1) < PEAK_DB
        else:
            assert same(height, peak.height, PEAK_DB), (on, height, peak)
            assert same(frequency, peak.frequency, CORNER * peak.frequency)
    assert seen == every_state(board)
    assert len(seen) == distinct_states(board)


@settings(max_examples=tries(40, 120))
@seed(21)
@given(boards())
def test_random_boards_of_all_kinds(table: Table) -> None:
    assume(0 < len(switches(table)) <= MOST_SWITCHES)
    board = parse_board(to_toml(table))
    for at, reference in itertools.product(ends(table), get_args(Reference)):
        assert_every_state_is_right(board.heard_at(at), reference)


def test_a_coil_almost_without_loss() -> None:
    """Of the reciprocal at a peak of over 100 dB rounding leaves nothing."""
    board = parse_board("""
title = "a perfect coil"
[instrument]
inductance = "0.2 H"
tone_capacitor = "1 nF"
[destination]
[[chain]]
stage = "pedal"
kind = "volume pedal"
track = "10k"
always_on = false
""")
    assert_every_state_is_right(board, "ideal")
    found = {on: (f, h) for on, _, _, f, h in rows(EveryState(board, measures("ideal")))}
    frequency, height = found[frozenset()]
    assert height > 100
    assert frequency == pytest.approx(1 / (2 * math.pi * math.sqrt(0.2 * 1e-9)), rel=0.01)


@pytest.mark.parametrize("columns", [1, 3, 16, 1024])
@pytest.mark.parametrize("worth", [1, 4, 1 << 20])
def test_how_states_are_put_together_does_not_matter(
    columns: int, worth: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In tables of one column or all, as products of two numbers or as sums of four."""
    monkeypatch.setattr(every, "_COLUMNS", (columns, columns))
    monkeypatch.setattr(directions, "_WORTH", worth)
    assert_every_state_is_right(parse_board(many_stages(7)), "ideal")


PASSIVE = """
[[chain]]
stage = "p{i}"
kind = "pad"
series_resistance = "{i}k"
shunt_resistance = "200k"
always_on = false
wiring_capacitance = "30p"
"""


def test_passive_switches_and_a_loop() -> None:
    loop = '[[chain]]\nloop = "l"\n[[chain.inside]]\nstage = "i"\npart = "pedal-true-bypass"\n'
    text = many_stages(1) + "".join(PASSIVE.format(i=i) for i in range(1, 6)) + loop
    assert_every_state_is_right(parse_board(text), "ideal")


@pytest.mark.parametrize("at", ["", "second", "third"])
def test_splits_in_the_chain_and_in_a_loop(at: str) -> None:
    """What is behind the first isolator of a split is not heard there, and listed all the same."""
    text = (
        two_ways(3, 3)
        + """
[[chain]]
loop = "l"
[[chain.inside]]
stage = "q"
part = "pad-passive"
always_on = false
[[chain.inside]]
split = "third"
destination = {}
[[chain.inside.inside]]
stage = "x"
part = "pedal-true-bypass"
[[chain.inside.inside]]
stage = "y"
part = "pad-passive"
always_on = false
[[chain]]
stage = "p"
part = "pad-passive"
always_on = false
"""
    )
    assert_every_state_is_right(parse_board(text).heard_at(at), "ideal")


def test_things_held_on_or_off() -> None:
    board = parse_board(many_stages(6))
    states = EveryState(board, measures("ideal"), {"s1": True, "s4": False})
    seen = {on for on, *_ in rows(states)}
    assert seen == {on for on in every_state(board) if "s1" in on and "s4" not in on}


def test_more_switches_than_bits_with_most_of_them_held() -> None:
    board = parse_board(many_stages(70))
    held = {f"s{i}": i == 69 for i in range(4, 70)}
    states = EveryState(board, measures("ideal"), held)
    found = {on: (values, corner) for on, values, corner, *_ in rows(states)}
    assert len(found) == 1 << 4
    assert all("s69" in on for on in found)
    solver = Solver(board)
    for on, (values, corner) in found.items():
        r = Response(solver, on, grid(points=2), "ideal")
        assert values[-1] == pytest.approx(metrics.treble_loss(r), abs=1e-9)
        assert corner == pytest.approx(metrics.corner(r), rel=2e-3)


def test_order_and_numbers_repeat_whatever_the_workers() -> None:
    board = parse_board(many_stages(9))
    one, two = (list(EveryState(board, measures("ideal")).blocks(workers)) for workers in (1, 3))
    for a, b in zip(one, two, strict=True):
        assert np.array_equal(a.on, b.on)
        assert np.array_equal(a.measures, b.measures)
        assert np.array_equal(a.corner, b.corner, equal_nan=True)

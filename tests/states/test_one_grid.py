"""Corner and resonance are found, or not, by every command alike; a state is silent everywhere.

The oracle is the one-state solution on the exact model (`assess`), which the tests of `physics/`
hold against a nodal analysis; the definitions are those of the manual's page on numbers.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from helpers.all_states import every_state, measures, rows
from helpers.extreme import extreme_board, lossless_board

from sigsim import metrics
from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.decide.loss.report import assess
from sigsim.metrics import SILENT_DB, Basis
from sigsim.states.drawn import DrawSolver
from sigsim.states.every import EveryState
from sigsim.states.measure import Measure, treble
from sigsim.states.response import Response, Solver, grid
from sigsim.states.search import ranked
from sigsim.states.varied import varied

# What the manual promises of a list against a single state.
SHARE = 0.002
# Sums of segments in decibels against products: rounding, of levels up to some hundred decibels.
ROUNDING_DB = 1e-6


NOTCH = """
instrument = {inductance = 3, resistance = 0.001, volume_track = 250e3, volume = 0.01}
destination = {input_capacitance = 1e-9}
cables.c = {capacitance = 1e-8, inductance = 1e-4}
[[chain]]
cable = "c"
length = 0.2
[[chain]]
stage = "s0"
kind = "volume pedal"
track = 10e3
position = 1
always_on = false
[[chain]]
stage = "s1"
kind = "pad"
series_resistance = 1e12
shunt_resistance = 1e-6
always_on = false
[[chain]]
stage = "s2"
kind = "transformer"
ratio = 0.1
primary_inductance = 0.2
primary_resistance = 1.0
secondary_resistance = 1e-6
always_on = false
[[chain]]
loop = "l"
[[chain.inside]]
stage = "in"
input_resistance = 1.0
output_resistance = 0.001
bypass = "true"
gain = -60
output_capacitor = 1e-10
low_pass = 1000.0
contact_resistance = 0.001
[[chain]]
tap = "t"
cable = "c"
length = 1000.0
open = true
[scenes]
first = ["s0"]
every = ["s0", "s1", "s2"]
"""


def agrees(ours: float, theirs: float | None, tolerance: float) -> bool:
    """Whether two numbers are both none or near each other."""
    if theirs is None or math.isnan(theirs):
        return math.isnan(ours)
    return ours == theirs or abs(ours - theirs) <= tolerance


def assert_list_agrees(board: Board) -> None:
    solver = Solver(board)
    for on, values, corner, frequency, height in rows(EveryState(board, measures("ideal"))):
        state = assess(solver, board.state(on))
        peak = state.resonance
        assert agrees(corner, state.corner, SHARE * (state.corner or 0)), (on, corner, state.corner)
        assert agrees(frequency, peak and peak.frequency, SHARE * frequency), (on, frequency, peak)
        assert agrees(height, peak and peak.height, max(SHARE * abs(height), 0.002)), (on, peak)
        for ours, theirs in zip(
            values, (state.level, *state.losses.values(), state.treble_loss), strict=True
        ):
            assert agrees(ours, theirs, ROUNDING_DB * max(1.0, abs(theirs))), (on, ours, theirs)


@pytest.mark.parametrize("seed", range(40))
def test_a_list_finds_what_a_single_state_finds_almost_without_loss(seed: int) -> None:
    assert_list_agrees(parse_board(lossless_board(seed)))


def test_a_notch_inside_the_bracket_of_the_corner() -> None:
    """The response falls, dips and comes back between the two points around its corner."""
    assert_list_agrees(parse_board(NOTCH))


@pytest.mark.parametrize("seed", range(40))
def test_a_list_finds_what_a_single_state_finds_on_extreme_boards(seed: int) -> None:
    assert_list_agrees(parse_board(extreme_board(seed)))


@pytest.mark.parametrize("seed", range(12))
def test_draws_find_what_a_single_state_finds(seed: int) -> None:
    """Draws in which every quantity is as written are the board itself."""
    board = parse_board(lossless_board(seed))
    quantities = varied(board, {"capacitance": 0.1, "resistance": 0.1, "inductance": 0.1})
    drawn = DrawSolver(board, quantities)
    for on in sorted(every_state(board), key=sorted)[:4]:
        (found,) = drawn.solve(np.zeros((2, len(quantities))), [on])
        response = Response(Solver(board), on, grid(points=2), "ideal")
        corner, peak = metrics.corner(response), metrics.resonance(response)
        for row in (0, 1):
            ours = {name: float(values[row]) for name, values in found.metrics.items()}
            assert agrees(ours["corner"], corner, SHARE * (corner or 0))
            assert agrees(ours["resonance"], peak and peak.frequency, SHARE * ours["resonance"])


def test_named_states_are_refined_in_a_list_too() -> None:
    board = parse_board("""
title = "three boxes"
instrument = {resistance = "8k", inductance = "4 H", capacitance = "100p"}
destination = {input_resistance = "1M"}
cables.c = {capacitance = "100 pF/m"}
wiring = {cable = "c", length = 3}
scenes = {two = ["a", "b"]}
[[chain]]
stage = "a"
part = "pedal-true-bypass"
[[chain]]
stage = "b"
kind = "pad"
series_resistance = "10k"
shunt_resistance = "220k"
always_on = false
""")
    found = {on: (c, f, h) for on, _, c, f, h in rows(EveryState(board, measures("ideal")))}
    for on in (frozenset(), frozenset("ab")):
        response = Response(Solver(board), on, grid(points=2), "ideal")
        corner, frequency, height = found[on]
        # Both are refined to 0.1 Hz, on the same grid and by the same steps.
        assert agrees(corner, metrics.corner(response), 1e-6)
        peak = metrics.resonance(response)
        assert agrees(frequency, peak and peak.frequency, 1e-6)
        assert agrees(height, peak and peak.height, 1e-9)


def pads(count: int, decibels: float, *, buffered: bool) -> str:
    """Return a board of switchable pads of so many decibels, each of a stage or a passive one."""
    shunt = 1e3 / (10 ** (decibels / 20) - 1)
    one = (
        f"input_resistance = 1e9\noutput_resistance = 1\ngain = {-decibels!r}\nlow_pass = LOW"
        if buffered
        else f'kind = "pad"\nalways_on = false\nseries_resistance = 1e3\nshunt_resistance = {shunt}'
    )
    stages = "".join(
        f'[[chain]]\nstage = "p{n}"\n{one}\n'.replace("LOW", f"{4000 * (n + 1)}")
        for n in range(count)
    )
    return (
        'title = "pads"\ninstrument = {resistance = "8k", inductance = "2 H"}\n'
        'destination = {input_resistance = "1M"}\ncables.c = {capacitance = "100 pF/m"}\n'
        f'wiring = {{cable = "c", length = 1}}\n{stages}'
    )


@pytest.mark.parametrize("buffered", [True, False])
@pytest.mark.parametrize("count", [3, 10])
def test_no_silent_state_is_ranked(buffered: bool, count: int) -> None:
    """Six stages of 60 dB leave nothing, although each lets something through."""
    board = parse_board(pads(6, 60.0, buffered=buffered))
    solver = Solver(board)
    levels = {
        on: metrics.level(Response(solver, on, grid(points=2), "ideal"))
        for on in every_state(board)
    }
    assert any(level == -math.inf for level in levels.values())
    for measure in (treble(Basis()), Measure(np.array([4000.0])), Measure(np.array([100.0]), None)):
        values = {}
        for on, level in levels.items():
            if level > SILENT_DB:
                r = Response(solver, on, grid(points=2), "ideal")
                f = np.append(measure.frequency, 100.0)
                lost = measure.of(
                    metrics.decibels(r(f))[None, :-1], metrics.decibels(r.reference(f))[None, :-1]
                )
                values[on] = float(lost[0])
        for largest in (True, False):
            found = ranked(board, measure, count, largest=largest)
            assert all(state.exact for state in found)
            assert all(levels[state.on] > SILENT_DB for state in found)
            wanted = sorted(values.values(), reverse=largest)[:count]
            np.testing.assert_allclose([state.value for state in found], wanted, atol=1e-7)


@pytest.mark.parametrize("buffered", [True, False])
def test_silent_states_are_counted_apart(buffered: bool) -> None:
    from sigsim.decide.states.question import StatesQuestion
    from sigsim.decide.states.report import states_report

    board = parse_board(pads(6, 60.0, buffered=buffered))
    report = states_report(StatesQuestion(board))
    solver = Solver(board)
    states = [assess(solver, board.state(on)) for on in every_state(board)]
    sounding = sorted(state.treble_loss for state in states if not state.silent)
    assert 0 < len(sounding) < len(states)
    assert report.summary.silent == len(states) - len(sounding)
    assert sum(report.summary.words.values()) == len(sounding)
    assert report.summary.worst == pytest.approx(sounding[-1], abs=1e-7)
    # Half of the states do not lose more; located to a ten-thousandth of a decibel.
    middle = sounding[math.ceil(len(sounding) / 2) - 1]
    assert report.summary.median == pytest.approx(middle, abs=2e-4)
    assert report.top[0].treble_loss == pytest.approx(sounding[-1], abs=1e-7)

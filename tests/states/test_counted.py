"""What is counted over all states is what listing and sorting them gives."""

from __future__ import annotations

import math
from typing import get_args

import numpy as np
import pytest
from helpers.all_states import every_state, many_stages, two_ways
from helpers.boards import Table, boards, ends, switches, to_toml
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings

from sigsim import metrics
from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.metrics import Basis, Reference
from sigsim.states import binned, counted, keys
from sigsim.states.counted import counted as count
from sigsim.states.distinct import distinct_states
from sigsim.states.losses import Losses
from sigsim.states.measure import Measure, treble
from sigsim.states.response import Response, Solver, grid
from sigsim.states.tally import Tally

# The same circuit solved another way: rounding.
ROUNDING_DB = 1e-8
LIMITS = (-1.0, -0.031, 0.97, 2.93, 6.0, math.inf)
SHARES = (0.0, 0.3, 0.5, 0.95, 1.0)


def listed(board: Board, basis: Basis) -> dict[frozenset[str], float]:
    """Return the treble loss of each state from the exact model; not a number for silent ones."""
    solver = Solver(board)
    return {
        on: metrics.treble_loss(Response(solver, on, grid(points=2), basis.reference), basis.band)
        for on in every_state(board)
    }


def ranked(values: np.ndarray, share: float) -> float:
    """Return the value that a share of sorted values does not exceed."""
    return float(values[max(1, math.ceil(share * values.size)) - 1])


def assert_is_that_of_a_list(board: Board, basis: Basis, tolerance: float = ROUNDING_DB) -> Losses:
    """Hold what is counted against every state solved by itself."""
    done: list[int] = []
    found = count(board, treble(basis), None, LIMITS, SHARES, done.append)
    losses = listed(board, basis)
    values = np.sort([loss for loss in losses.values() if math.isfinite(loss)])
    assert found.states == sum(done) == len(losses) == distinct_states(board)
    assert found.silent == len(losses) - values.size
    assert found.error == 0
    assert not found.drawn
    if not values.size:
        assert found.below == (0,) * len(LIMITS)
        assert np.isnan(found.quantiles).all()
        return found
    for limit, below in zip(LIMITS, found.below, strict=True):
        near = values[np.abs(values - limit) < tolerance].size if math.isfinite(limit) else 0
        assert abs(below - np.count_nonzero(values < limit)) <= near
    exact = [ranked(values, share) for share in SHARES]
    assert found.quantiles == pytest.approx(exact, abs=tolerance)
    for name in board.switches():
        sides = [
            np.sort([v for on, v in losses.items() if (name in on) == is_on and math.isfinite(v)])
            for is_on in (False, True)
        ]
        assert (name in found.medians) == all(side.size for side in sides)
        if name in found.medians:
            exact = [ranked(side, 0.5) for side in sides]
            assert found.medians[name] == pytest.approx(exact, abs=tolerance)
    return found


BASES = [*(Basis(reference) for reference in get_args(Reference)), Basis("bare", (50.0, 16e3))]


@pytest.mark.parametrize("few", [0, 1 << 11])
@settings(max_examples=tries(16, 40))
@seed(51)
@given(boards())
def test_all_is_that_of_a_list(few: int, table: Table) -> None:
    """With all states looked at one by one, and with bins for any number of them."""
    assume(0 < len(switches(table)) <= 6)
    board = parse_board(to_toml(table))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(binned, "_FEW", few)
        for at in ends(table):
            for basis in BASES:
                assert_is_that_of_a_list(board.heard_at(at), basis)


PAD = 'stage = "p{0}"\nkind = "pad"\nalways_on = false\nseries_resistance = "{1}"\n'


def pads(count: int, ohms: str = "") -> str:
    """Return pads that differ, or are all the same, behind three powered stages."""
    items = "".join(
        "[[chain]]\n" + PAD.format(i, ohms or f"{3 + 1.37 * i * i:.4g}k") for i in range(count)
    )
    return many_stages(3) + items


@pytest.mark.parametrize("text", [pads(9), pads(9, "22k"), many_stages(12), two_ways(6, 6)])
def test_thousands_of_states(text: str) -> None:
    assert_is_that_of_a_list(parse_board(text), Basis())


@pytest.mark.parametrize("text", [pads(9), pads(9, "22k"), many_stages(12)])
def test_crowded_bins_are_divided_until_all_in_them_are_the_same(
    text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(counted, "_MOST_SEEN", 1)
    monkeypatch.setattr(counted, "_MOST_KEPT", 1)
    monkeypatch.setattr(binned, "_FEW", 1)
    assert_is_that_of_a_list(parse_board(text), Basis())


def test_ties_that_are_not_put_together(monkeypatch: pytest.MonkeyPatch) -> None:
    """Equal pads with nothing between them make ten different losses of 2^9 states."""
    text = pads(9, "22k").replace('[wiring]\ncable = "lead"\nlength = "30 cm"\n', "")
    together = assert_is_that_of_a_list(parse_board(text), Basis())
    monkeypatch.setattr(keys, "_MANY", 0.0)
    apart = assert_is_that_of_a_list(parse_board(text), Basis())
    assert apart.below == together.below
    assert apart.quantiles == pytest.approx(together.quantiles, abs=ROUNDING_DB)


def test_in_a_loop_and_unevenly_split() -> None:
    inside = pads(9).replace("[[chain]]\nstage", "[[chain.inside]]\nstage")
    head, mark, rest = inside.partition("[[chain.inside]]")
    assert_is_that_of_a_list(parse_board(head + '[[chain]]\nloop = "l"\n' + mark + rest), Basis())
    for main, split in ((1, 9), (9, 1)):
        assert_is_that_of_a_list(parse_board(two_ways(main, split)), Basis("bare"))


def test_what_nobody_hears_has_weight() -> None:
    """Behind the first buffer of a split nothing is heard: 2^40 states each are alike."""
    small, large = (
        count(parse_board(two_ways(4, inside)), treble(Basis()), None, LIMITS, SHARES)
        for inside in (4, 44)
    )
    assert (small.states, large.states) == (2**8, 2**48)
    assert large.below == tuple(below << 40 for below in small.below)
    # What is behind makes the split's branch no different.
    assert large.quantiles == pytest.approx(small.quantiles, abs=ROUNDING_DB)
    for name, medians in small.medians.items():
        assert large.medians[name] == pytest.approx(medians, abs=ROUNDING_DB)
    assert large.medians["i43"] == pytest.approx([large.quantiles[2]] * 2, abs=ROUNDING_DB)


KNOB = """[[chain]]
stage = "{}"
kind = "volume pedal"
always_on = false
track = "250k"
position = {}
"""
ATTENUATOR = """[[chain]]
stage = "a{}"
kind = "pad"
always_on = false
series_resistance = "100M"
shunt_resistance = "{}"
"""


@pytest.mark.parametrize("at", [0, 1])
def test_a_knob_at_zero_is_silent(at: int) -> None:
    text = many_stages(4) + KNOB.format("v", at * 10) + KNOB.format("w", 0)
    found = assert_is_that_of_a_list(parse_board(text), Basis())
    assert found.silent > 0
    assert "w" not in found.medians


def test_attenuators_that_are_silent_only_together() -> None:
    """Each takes 120 dB at most: three are silent, two are not."""
    text = many_stages(2) + "".join(ATTENUATOR.format(i, f"{100 + i}m") for i in range(6))
    found = assert_is_that_of_a_list(parse_board(text), Basis())
    assert 0 < found.silent < found.states


def test_a_circuit_without_loss_at_its_resonance(monkeypatch: pytest.MonkeyPatch) -> None:
    """A coil of no resistance with 400 pF, half of them behind pads of next to nothing.

    It peaks close to a centre of the band, where what rows and columns give cancels: by 100 dB, so
    that rounding is as much larger.
    """
    monkeypatch.setattr(binned, "_FEW", 0)
    centre = float(Basis().frequency[3])
    farads = 1 / ((2 * math.pi * centre) ** 2 * 4.0)
    lead = '[[chain]]\ncable = "lead"\nlength = "0.5 m"\n'
    ends_ = f"""
[instrument]
resistance = "0"
inductance = "4 H"
[destination]
input_resistance = "1G"
[cables.lead]
capacitance = "{farads * (1 + 1e-7)} F/m"
"""
    text = "".join((ends_, lead, *("[[chain]]\n" + PAD.format(i, "1m") for i in range(4)), lead))
    board = parse_board(text)
    found = assert_is_that_of_a_list(board, Basis("bare"), tolerance=1e-6)
    assert found.quantiles[0] < -5


def test_other_measures_and_what_is_held() -> None:
    board = parse_board(pads(6))
    solver = Solver(board)
    fixed = {"s0": True, "p2": False}
    states = [on for on in every_state(board) if "s0" in on and "p2" not in on]
    rs = [Response(solver, on, grid(points=2), "bare") for on in states]
    for measure, values in (
        (Measure(np.array([metrics.LEVEL_HZ]), None), [metrics.level(r) for r in rs]),
        (Measure(np.array([4e3]), "bare"), [metrics.loss(r, np.array([4e3]))[0] for r in rs]),
    ):
        found = count(board, measure, fixed, [-3.0, 3.0], SHARES)
        exact = np.sort(values)
        assert found.states == exact.size
        assert found.below == tuple(int(np.count_nonzero(exact < limit)) for limit in (-3.0, 3.0))
        assert found.quantiles == pytest.approx([ranked(exact, s) for s in SHARES], abs=ROUNDING_DB)
        assert set(found.medians) == set(board.switches()) - set(fixed)


def test_weights_that_no_floating_number_holds_are_added_exactly() -> None:
    rows = np.array([[(1 << 40) + 1, 1 << 40], [3, 0]])
    columns = np.array([[(1 << 20) + 1, 0], [1, 1]])
    tally = Tally(rows, columns, 2)
    bins = np.array([[0, 1], [0, 0]], np.uint16)
    tally.add_block(0, bins, 0, 0)
    tally.add_block(1, np.ascontiguousarray(bins.T), 0, 0)
    big = (1 << 40) + 1
    assert tally.result()[0].tolist() == [big * ((1 << 20) + 1) + 3 * ((1 << 20) + 2), big]
    assert tally.result()[1].tolist() == [(1 << 40) * ((1 << 20) + 1) + 3, (1 << 40) + big]

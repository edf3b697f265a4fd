"""Tolerances: draws against known distributions, one board per draw, and bounds in closed form."""

from __future__ import annotations

import math
import tracemalloc
from typing import Any

import numpy as np
import pytest
from helpers.boards import Table, boards_in_a_state, to_toml
from helpers.draws import one
from helpers.thinned import tries
from hypothesis import given, seed, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.integrate import quad

from sigsim import metrics
from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.board.state import State
from sigsim.decide.spread.influence import centred_ranks, corner_places, rank_correlations
from sigsim.decide.spread.report import SpreadQuestion, SpreadReport, StateSpread, spread_report
from sigsim.errors import SigsimError
from sigsim.items.cable import Cable
from sigsim.states.drawn import METRICS, DrawSolver
from sigsim.states.response import Response, Solver, grid
from sigsim.states.shape import SHARP_DB
from sigsim.states.varied import KINDS, at_places, places, varied

ALL_OFF: frozenset[str] = frozenset()
EVERYTHING = dict.fromkeys(KINDS, 0.1)


def rc(R: str, C: str) -> Board:
    """Return a board that is one resistor and one capacitor."""
    return parse_board(f"""
        instrument = {{type = "active", output_resistance = "{R}"}}
        destination = {{input_capacitance = "{C}"}}
        cables.wire = {{}}
        chain = [{{cable = "wire", length = 0}}]
        """)


def spread(board: Board, **asked: Any) -> StateSpread:
    """Return the spread of the state in which everything is off."""
    report = spread_report(SpreadQuestion(board=board, **asked), [State("off")])
    return report.states[0]


def drawn_corners(board: Board, count: int, *, normal: bool = False) -> np.ndarray:
    quantities = varied(board)
    u = places(np.random.default_rng(7), count, len(quantities), normal=normal)
    return DrawSolver(board, quantities).solve(u, [ALL_OFF])[0].metrics["corner"]


def rc_of(corner: np.ndarray | float) -> np.ndarray | float:
    """Return R·C [s] from the corner of an RC low-pass.

    |H|² = 1/(1 + (f/f0)²) is half of its value at 100 Hz where f² = f0² + 2·100².
    """
    return 1 / (2 * math.pi * np.sqrt(np.square(corner) - 2 * 100.0**2))


def test_one_resistor_spreads_as_its_own_distribution() -> None:
    # 10 kΩ ± 20 % evenly, 1 nF: R = RC/C is even between 8 and 12 kΩ.
    R = np.asarray(rc_of(drawn_corners(rc("10 kΩ ± 20 %", "1 nF"), 4000))) / 1e-9
    assert R.min() == pytest.approx(8e3, rel=1e-3)
    assert R.max() == pytest.approx(12e3, rel=1e-3)
    assert stats.kstest(R, stats.uniform(8e3, 4e3).cdf).pvalue > 0.05


def test_normal_draws_are_normal_within_the_tolerance() -> None:
    # Two deviations to the tolerance, nothing beyond it.
    made = rc("10 kΩ ± 20 %", "1 nF")
    R = np.asarray(rc_of(drawn_corners(made, 4000, normal=True))) / 1e-9
    within = stats.truncnorm(-2, 2, loc=10e3, scale=1e3)
    assert stats.kstest(R, within.cdf).pvalue > 0.05


def test_an_rc_corner_spreads_as_the_product_of_two_even_distributions() -> None:
    # P(RC <= z) = ∫ P(C <= z/r) dr/(r1 - r0), for R and C evenly distributed and independent.
    (r0, r1), (c0, c1) = (8e3, 12e3), (0.9e-9, 1.1e-9)

    def below(z: float) -> float:
        value, _ = quad(
            lambda r: min(max((z / r - c0) / (c1 - c0), 0.0), 1.0), r0, r1,
            points=[min(max(z / c, r0), r1) for c in (c0, c1)],
        )  # fmt: skip
        return float(value / (r1 - r0))

    board = rc("10 kΩ ± 20 %", "1 nF ± 10 %")
    RC = np.asarray(rc_of(drawn_corners(board, 4000)))
    assert stats.kstest(RC, np.vectorize(below)).pvalue > 0.05
    # The percentiles of the report, against the same distribution: 2 000 draws put a percentile
    # within three standard errors, 3·sqrt(p(1-p)/2000).
    corner = spread(board).metrics["corner"]
    for found, share in ((corner.low, 0.95), (corner.middle, 0.5), (corner.high, 0.05)):
        error = 3 * math.sqrt(share * (1 - share) / 2000)
        assert below(float(rc_of(found))) == pytest.approx(share, abs=error)


def test_chance_over_the_limit_in_closed_form() -> None:
    # The reference is the lead, a wire: the loss is that of R and the 1 nF behind it. It grows with
    # R, so that the chance is the share of R above the one with just that loss.
    board = parse_board("""
        instrument = {type = "active", output_resistance = "10 kΩ ± 50 %"}
        destination = {}
        cables.lead = {}
        cables.long = {capacitance = "100 pF/m"}
        chain = [{cable = "lead", length = 0}, {cable = "long", length = 10}]
        """)
    f = np.append(metrics.third_octaves(2000, 8000), 100.0)

    def loss(R: float) -> float:
        lost = 10 * np.log10(1 + (2 * math.pi * f * R * 1e-9) ** 2)
        return float(np.mean(lost[:-1]) - lost[-1])

    found = spread(board, limit=loss(12e3), draws=4000)
    assert found.over_limit == pytest.approx(0.3, abs=3 * math.sqrt(0.3 * 0.7 / 4000))
    assert found.metrics["treble_loss"].written == pytest.approx(loss(10e3), abs=1e-9)
    (only,) = found.influences
    assert only.correlations["treble_loss"] == pytest.approx(1)
    assert (only.low, only.high) == pytest.approx((loss(5e3), loss(15e3)))


def test_corners_of_the_box_in_closed_form() -> None:
    board = rc("10 kΩ ± 20 %", "1 nF ± 10 %")
    for corners in (1, 2, 8):  # one tried both ways and one pushed along; both; more than there are
        bounds = spread(board, corners=corners, draws=200).bounds
        assert bounds is not None
        assert float(rc_of(bounds["corner"].highest)) == pytest.approx(8e3 * 0.9e-9, rel=1e-4)
        assert float(rc_of(bounds["corner"].lowest)) == pytest.approx(12e3 * 1.1e-9, rel=1e-4)


def test_every_corner_of_what_matters_most_is_tried() -> None:
    correlation = np.array([0.1, -0.9, 0.5, -0.2])
    found = np.concatenate(list(corner_places(correlation, 2, rows=3)))
    assert {tuple(row) for row in found[:, [1, 2]]} == {(-1, -1), (-1, 1), (1, -1), (1, 1)}
    assert {tuple(row) for row in found[:, [0, 3]]} == {(1, -1), (-1, 1)}
    assert len(found) == 8


BIG: str = """
    instrument = {part = "bass-split-coil"}
    destination = {part = "instrument-input"}
    cables.lead = {part = "cable-standard"}
    cables.patch = {part = "cable-patch"}
    wiring = {cable = "patch", length = "25 cm ± 10 %"}
"""


def big(stages: int) -> Board:
    """Return a bass through some pedals, nearly every figure with a tolerance."""
    lead = '[[chain]]\ncable = "lead"\nlength = "6 m ± 2 %"\n'
    part = '[[chain]]\nstage = "s{}"\npart = "pedal-true-bypass"\n'
    return parse_board(BIG + lead + "".join(part.format(n) for n in range(stages)) + lead)


def test_bounds_hold_every_draw() -> None:
    found = spread(big(4), corners=4, draws=500)
    assert found.bounds is not None
    for name in METRICS:
        quantiles, bound = found.metrics[name], found.bounds[name]
        assert bound.lowest <= quantiles.low <= quantiles.middle <= quantiles.high <= bound.highest


def test_what_is_one_thing_varies_as_one() -> None:
    board = big(3)
    quantities = varied(board)
    places_of = [(q.place, q.key) for q in quantities]
    assert len(set(places_of)) == len(places_of)
    u = places(np.random.default_rng(1), 5, len(quantities), normal=False)
    cables = [item for item in at_places(board, quantities, u).items() if isinstance(item, Cable)]
    first, *wires, last = cables
    assert first.spec is last.spec  # one reel
    assert np.any(first.length != last.length)  # two pieces, each cut on its own
    assert all(wire is wires[0] for wire in wires)  # the wiring is one length
    assert isinstance(first.spec.capacitance, np.ndarray)
    assert first.spec.capacitance.shape == (5, 1)
    stages = [q for q in quantities if q.key == "wiring_capacitance"]
    assert [q.place for q in stages] == ["s0", "s1", "s2"]  # three boxes, each on its own


def test_like_pieces_of_one_cable_are_computed_once() -> None:
    piece = '[[chain]]\ncable = "{}"\nlength = "{}"\n'
    chain = [("lead", "6 m"), ("patch", "30 cm"), ("patch", "30 cm"), ("patch", "40 cm"),
             ("lead", "6 m")]  # fmt: skip
    board = parse_board(BIG + "".join(piece.format(*one_piece) for one_piece in chain))
    quantities = varied(board)
    u = places(np.random.default_rng(1), 5, len(quantities), normal=False)
    lead, first, second, longer, last = at_places(board, quantities, u).chain
    assert first is second
    assert longer is not first
    assert last is not lead  # the instrument's own lead stays in the reference, the other does not


@settings(max_examples=tries(16, 40))
@seed(61)
@given(boards_in_a_state())
def test_all_draws_at_once_equal_one_board_per_draw(
    case: tuple[Table, frozenset[str], str],
) -> None:
    _, on, text = case
    board = parse_board(text)
    quantities = varied(board, EVERYTHING)
    u = places(np.random.default_rng(3), 3, len(quantities), normal=False)
    drawn = DrawSolver(board, quantities).solve(u, [on])[0].metrics
    together = at_places(board, quantities, u)
    for draw in range(3):
        alone = Response(Solver(one(together, draw)), on, grid(), "ideal")
        level = metrics.level(alone)
        heard = level if math.isfinite(level) else math.nan  # what is silent has no level
        assert drawn["level"][draw] == pytest.approx(heard, abs=1e-9, nan_ok=True)
        loss = metrics.treble_loss(alone)
        assert drawn["treble_loss"][draw] == pytest.approx(loss, abs=1e-9, nan_ok=True)
        corner = metrics.corner(alone)
        assert drawn["corner"][draw] == pytest.approx(
            math.nan if corner is None else corner, rel=5e-4, nan_ok=True
        )
        peak = metrics.resonance(alone)
        height = math.nan if peak is None else peak.height
        # A peak right at the least height that counts may be seen by one and not by the other.
        # Of a very sharp one the grid gives the place, but not the height.
        if not height < metrics.LEAST_RESONANCE_DB + 0.001 and not height > SHARP_DB:
            assert drawn["resonance_height"][draw] == pytest.approx(height, abs=0.01, nan_ok=True)


@pytest.mark.parametrize("chunk", [1, 7, 64])
def test_draws_do_not_depend_on_how_many_are_drawn_at_a_time(chunk: int) -> None:
    whole = places(np.random.default_rng(5), 128, 3, normal=True)
    generator = np.random.default_rng(5)
    parts = [places(generator, chunk, 3, normal=True) for _ in range(128 // chunk)]
    np.testing.assert_array_equal(np.concatenate(parts), whole[: 128 // chunk * chunk])


def test_the_same_seed_repeats_bit_for_bit() -> None:
    question = SpreadQuestion(board=big(5), draws=300, seed=9, corners=3)

    def flat(report: SpreadReport) -> list[Any]:
        state = report.states[0]
        ranked = [(i.quantity.key, i.correlations, i.low, i.high) for i in state.influences]
        return [state.metrics, state.over_limit, ranked, state.bounds]

    one_time, again = (flat(spread_report(question, [State("off")])) for _ in range(2))
    assert repr(one_time) == repr(again)
    other = SpreadQuestion(board=question.board, draws=300, seed=10, corners=3)
    assert repr(flat(spread_report(other, [State("off")]))) != repr(one_time)


def test_rank_correlation_is_spearmans() -> None:
    generator = np.random.default_rng(2)
    u = generator.uniform(-1, 1, (200, 4))
    value = np.exp(3 * u[:, 0]) - u[:, 1] + 0.2 * generator.normal(size=200)
    value[::7] = value[0]  # ties
    found = rank_correlations(u, {"treble_loss": value})["treble_loss"]
    wanted = [stats.spearmanr(u[:, column], value).statistic for column in range(4)]
    assert found == pytest.approx(wanted)


@settings(max_examples=60)
@seed(14)
@given(st.integers(1, 60), st.integers(1, 4), st.integers(0, 1 << 32))
def test_ranks_are_those_of_the_statistics_library(rows: int, columns: int, number: int) -> None:
    # scipy.stats.rankdata with its usual method, ties sharing the mean of their ranks.
    generator = np.random.default_rng(number)
    values = generator.integers(-4, 5, (rows, columns)) * generator.uniform(0.1, 1, columns)
    values[generator.random((rows, columns)) < 0.1] = np.inf
    wanted = stats.rankdata(values, axis=0) - (rows + 1) / 2
    assert np.array_equal(centred_ranks(values), wanted)


@settings(max_examples=15)
@seed(15)
@given(boards_in_a_state())
def test_what_needs_no_curve_is_what_the_curves_give(
    case: tuple[Table, frozenset[str], str],
) -> None:
    board, on = parse_board(to_toml(case[0])), case[1]
    solver = DrawSolver(board, varied(board, EVERYTHING))
    u = np.random.default_rng(3).uniform(-1, 1, (5, len(solver.quantities)))
    drawn = solver.solve(u, [on])[0].metrics
    for name in METRICS:
        found = solver.values([u[:3], u[3:]], on, name)
        # The same steps on another grid: what is left is rounding, of levels down to -300 dB.
        assert found == pytest.approx(drawn[name], rel=1e-9, abs=1e-9, nan_ok=True)


def test_draws_without_a_resonance_are_left_out_and_counted() -> None:
    # The pot damps the resonance away in part of the draws.
    board = parse_board("""
        instrument = {resistance = 8e3, inductance = 3, volume_track = "45 kΩ ± 90 %"}
        destination = {input_capacitance = "1 nF"}
        cables.wire = {}
        chain = [{cable = "wire", length = 0}]
        """)
    found = spread(board, draws=400)
    resonance = found.metrics["resonance"]
    assert 0 < resonance.none < 1
    assert math.isfinite(resonance.middle)
    assert found.metrics["corner"].none == 0


def test_nothing_varies_is_refused_with_a_way_out() -> None:
    with pytest.raises(SigsimError, match=r"--tolerance resistance=10"):
        spread(rc("10 kΩ", "1 nF"))
    assert spread(rc("10 kΩ", "1 nF"), defaults={"resistance": 0.1}).metrics["corner"].low > 0


def test_own_tolerances_come_before_the_defaults_and_per_metre_counts_as_its_kind() -> None:
    board = parse_board("""
        instrument = {type = "active", output_resistance = "10 kΩ ± 1 %"}
        destination = {input_resistance = 1e6}
        cables.lead = {capacitance = "100 pF/m", resistance = 0}
        chain = [{cable = "lead", length = "5 m"}]
        """)
    found = varied(board, {"resistance": 0.2, "capacitance": 0.1})
    assert [(q.place, q.key, q.tolerance) for q in found] == [
        ("instrument", "output_resistance", 0.01),
        ("cable lead", "capacitance", 0.1),
        ("amp", "input_resistance", 0.2),
    ]


def test_knobs_keep_to_their_travel_and_resistances_above_zero() -> None:
    board = parse_board("""
        instrument = {resistance = 8e3, inductance = 3, volume_track = "250 kΩ ± 100 %"}
        destination = {input_resistance = "1 MΩ ± 100 %"}
        cables.wire = {}
        chain = [{cable = "wire", length = 0}]
        """)
    quantities = varied(board, {"knob": 1.0})
    assert [q.key for q in quantities] == ["volume_track", "volume", "input_resistance"]
    low, high = at_places(board, quantities, np.array([[-1.0] * 3, [1.0] * 3])).instrument, 10.0
    assert not isinstance(low.volume, float)
    assert low.volume.ravel() == pytest.approx([0.0, high])
    assert low.volume_track.ravel()[0] > 0
    found = spread(board, draws=100, corners=8, defaults={"knob": 1.0})
    assert math.isfinite(found.metrics["treble_loss"].middle)


def test_memory_does_not_grow_with_the_draws() -> None:
    board = big(2)

    def peak(draws: int) -> int:
        tracemalloc.start()
        spread(board, draws=draws)
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return most

    spread(board, draws=64)  # imports count for nobody
    # Only five numbers a draw are kept, and the places of the draws for the correlations: 250 kB
    # here for each thousand. One curve of 200 points a draw would be 1.6 MB for each thousand.
    assert peak(8000) - peak(2000) < 6 * 1_000_000

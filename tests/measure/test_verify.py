"""`verify`: predictions against the nodal oracle, boards with one wrong figure, and all refusals.

What a board would be measured as comes from `helpers.nodal`, a nodal analysis that shares nothing
with the program.
"""

from __future__ import annotations

import copy
import itertools
from dataclasses import replace

import numpy as np
import pytest
from helpers.boards import Table, boards_in_a_state, ends, to_toml
from helpers.nodal import solve
from helpers.thinned import tries
from helpers.verify_boards import POINTS, SIGMA, Wrong, drawn, measured, spoiled
from hypothesis import given, seed, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.errors import SigsimError
from sigsim.measure.bands import recorded
from sigsim.measure.candidates import candidates
from sigsim.measure.comparison import Compared, verify
from sigsim.measure.known import Across
from sigsim.measure.predicted import WITHOUT, Layout, Prediction, Without, as_measured
from sigsim.measure.response import Ratio
from sigsim.measure.verdict import Suspect, Verified
from sigsim.units import Quantity

Complex = NDArray[np.complex128]
FEW = np.geomspace(50.0, 15e3, 9)
OFF: frozenset[str] = frozenset()


def plan_of(table: Table) -> Board:
    """Return the board of a file in which no figure has a tolerance."""
    return parse_board(to_toml(table).replace(" ± 10 %", ""))


def ratio(T: Complex, *, sigma: float | None = SIGMA, frequency: object = POINTS) -> Ratio:
    f = np.asarray(frequency, dtype=float)
    return Ratio("through.wav", f, T, None if sigma is None else np.full(f.size, sigma))


def compare(plan: Board, *recordings: tuple[frozenset[str], Complex], **how: object) -> Verified:
    compared = [Compared(plan.state(on), ratio(T)) for on, T in recordings]
    return verify(plan, compared, **how)  # type: ignore[arg-type]


def named(suspects: tuple[Suspect, ...], wrong: Wrong) -> bool:
    """Whether what is wrong is among the suspects, a cable by its kind or by a piece of it."""
    name = wrong.name
    return any(
        suspect.key in wrong.keys and any(n == name or f" of {name}" in n for n in suspect.names)
        for suspect in suspects
    )


# --- What is predicted ---


@settings(max_examples=50)
@seed(151)
@given(
    boards_in_a_state(),
    st.sampled_from(WITHOUT),
    st.sampled_from([None, 100e3]),
    st.booleans(),
    st.integers(0, 5),
)
def test_the_ratio_is_that_of_the_whole_network(
    case: tuple[Table, frozenset[str], str],
    means: Without,
    driven_by: float | None,
    by_interface: bool,
    end: int,
) -> None:
    table, on, text = case
    at = ends(table)[end % len(ends(table))]
    input_ = Across(Quantity(1e6), Quantity(150e-12)) if by_interface else None
    plan = as_measured(parse_board(text).heard_at(at), driven_by, input_)
    found = Prediction(plan, means).loss(on, FEW)

    table = _as_measured(table, driven_by, by_interface, at)
    through, reference = solve(table, on, FEW, at=at), _without(table, on, means, at)
    # What is next to silent is left of sums that cancel, in either way of solving.
    if np.abs(through).min() < 1e-7 or np.abs(reference).min() < 1e-7:
        return
    wanted = -20 * np.log10(np.abs(through / reference))
    # Both solve the same equations; a ten-thousandth of a decibel is rounding in sharp resonances.
    np.testing.assert_allclose(np.broadcast_to(found, FEW.shape), wanted, atol=1e-4)


def _as_measured(table: Table, driven_by: float | None, by_interface: bool, at: str) -> Table:
    made = copy.deepcopy(table)
    if driven_by is not None:
        made["instrument"] = {"type": "active", "output_resistance": driven_by}
    if by_interface:
        read = {"input_resistance": 1e6, "input_capacitance": 150e-12}
        if at:
            _split(made["chain"], at)["destination"] = read
        else:
            made["destination"] = read
    return made


def _split(items: list[Table], name: str) -> Table:
    inner = [inside for item in items for inside in item.get("inside", [])]
    return next((i for i in items if i.get("split") == name), None) or _split(inner, name)


def _without(table: Table, on: frozenset[str], means: str, at: str) -> Complex:
    if means != "bare":
        return solve(table, on, FEW, means, at)  # type: ignore[arg-type]
    # The source straight into the input: no stage is in the way, whatever is on.
    end = _split(table["chain"], at)["destination"] if at else table["destination"]
    return solve({**table, "chain": [], "destination": end, "wiring": None}, OFF, FEW)


@settings(max_examples=15)
@seed(152)
@given(boards_in_a_state(), st.integers(0, 5))
def test_what_is_shared_between_boards_changes_nothing(
    case: tuple[Table, frozenset[str], str], end: int
) -> None:
    table, on, text = case
    board = parse_board(text).heard_at(ends(table)[end % len(ends(table))])
    plan, layout = Prediction(board, "direct"), Layout((on,), (FEW,))
    layout.loss(plan)
    for candidate in itertools.islice(candidates(board, [on]), 12):
        values = candidate.values[[0, -1]]
        changed = candidate.boards(board, values)
        beside = layout.loss(Prediction(changed, "direct", beside=plan), 2)
        # Exactly the same sums in the same order.
        np.testing.assert_array_equal(beside, layout.loss(Prediction(changed, "direct"), 2))


def test_third_octaves_and_treble_are_those_of_the_network() -> None:
    table = drawn(4)
    built = copy.deepcopy(table)
    built["chain"][-1]["length"] += 4.0
    found = compare(plan_of(table), (OFF, measured(built, OFF, 1))).states[0]
    assert len(found.bands) == 21  # IEC 61260-1: third octaves from 100 Hz to 10 kHz

    def loss(board: Table, f: NDArray[np.float64]) -> NDArray[np.float64]:
        network = solve(board, OFF, f, "direct") / solve(board, OFF, f)
        values: NDArray[np.float64] = 20 * np.log10(np.abs(network))
        return values

    for band in found.bands:
        inside = np.abs(np.log10(POINTS / band.frequency)) < 0.05  # a third octave, base ten
        f = POINTS[inside]
        assert band.predicted.value == pytest.approx(loss(table, f).mean(), abs=1e-3)
        # Three standard errors of thirty points and the drift of 0.003 dB.
        assert band.measured.value == pytest.approx(loss(built, f).mean(), abs=0.006)
        assert band.measured.low < loss(built, f).mean() < band.measured.high
    centres = 1000 * 10 ** (np.arange(3, 10) / 10)
    level = loss(table, np.array([100.0]))
    wanted = (loss(table, centres) - level).mean()
    assert found.predicted.value == pytest.approx(wanted, abs=1e-6)
    # At 100 Hz and from 80 to 200 Hz a pickup loses the same within a few hundredths.
    wanted = (loss(built, centres) - loss(built, np.array([100.0]))).mean()
    assert found.measured.value == pytest.approx(wanted, abs=0.03)


def test_the_predicted_interval_is_that_of_the_tolerance() -> None:
    table = drawn(7)
    plan = plan_of(table)
    *rest, run = plan.listed
    plan = replace(plan, listed=(*rest, replace(run, tolerances={"length": 0.3})))
    length = table["chain"][-1]["length"]
    found = compare(plan, (OFF, measured(table, OFF, 1))).states[0].bands[-3]
    assert found.predicted.low < found.predicted.value < found.predicted.high

    def loss(times: float) -> float:
        built = copy.deepcopy(table)
        built["chain"][-1]["length"] = length * times
        f = POINTS[np.abs(np.log10(POINTS / found.frequency)) < 0.05]
        H = solve(built, OFF, f, "direct") / solve(built, OFF, f)
        return float(20 * np.log10(np.abs(H)).mean())

    # Drawn evenly, 95 % lie in 0.95 of the width; 300 draws meet its ends within some 2 % of it.
    low, high = sorted((loss(1 - 0.3 * 0.95), loss(1 + 0.3 * 0.95)))
    assert found.predicted.low == pytest.approx(low, abs=0.05 * (high - low))
    assert found.predicted.high == pytest.approx(high, abs=0.05 * (high - low))


# --- What is wrong ---


@pytest.mark.parametrize("kind", ["cable", "box", "pedal"])
def test_what_is_wrong_is_among_what_cannot_be_told_apart(kind: str) -> None:
    """A cable 40 % longer, a box with 300 pF more, a pedal on; 17 boards each."""
    hits = differing = 0
    for number in range(17):
        plan, wrong = drawn(number), spoiled(drawn(number), kind, 100 + number)
        verified = compare(plan_of(plan), (OFF, measured(wrong.board, wrong.on, number)))
        differing += bool(verified.suspects)
        hits += named(verified.suspects, wrong)
        assert all(0.0 <= suspect.explains <= 1.0 for suspect in verified.suspects)
    assert differing == 17
    assert hits >= 0.9 * 17


def test_the_size_of_what_is_wrong_is_found() -> None:
    table = drawn(4)
    built = copy.deepcopy(table)
    built["chain"][-1]["length"] += 2.0
    first = compare(plan_of(table), (OFF, measured(built, OFF, 1))).suspects[0]
    assert first.key == "length"
    assert first.names[0].endswith("of run")
    # A noise of 0.003 dB a point against some 1 dB of effect.
    assert first.change == pytest.approx(2.0, rel=0.02)
    assert first.unit == "m"
    assert first.explains > 0.98


def test_cables_come_before_boxes_and_boxes_before_inputs() -> None:
    table = drawn(7)  # seven boxes, all true bypass: every picofarad behind the lead is the same
    built = copy.deepcopy(table)
    built["chain"][-1]["length"] *= 1.4
    keys = [s.key for s in compare(plan_of(table), (OFF, measured(built, OFF, 2))).suspects]
    assert keys.index("length") < keys.index("wiring_capacitance")
    assert "on" not in keys


def test_a_cable_left_out_is_found() -> None:
    table = drawn(7)
    built = copy.deepcopy(table)
    built["chain"][-1]["length"] = 0.0
    verified = compare(plan_of(table), (OFF, measured(built, OFF, 2)))
    (lengths,) = (s for s in verified.suspects if s.key == "length")
    # The plugs stay in the plan's own reckoning, at the same place.
    assert lengths.change == pytest.approx(-table["chain"][-1]["length"], rel=0.02)


def test_a_pedal_off_that_should_be_on() -> None:
    table = drawn(7)
    box = next(i["stage"] for i in table["chain"] if "stage" in i)
    verified = compare(plan_of(table), (frozenset({box}), measured(table, OFF, 2)))
    assert (verified.suspects[0].key, verified.suspects[0].names) == ("on", (box,))
    assert verified.suspects[0].change == -1.0


def test_a_pedal_on_in_one_of_two_recordings() -> None:
    table = drawn(7)
    first, *_, last = (i["stage"] for i in table["chain"] if "stage" in i)
    T = measured(table, OFF, 2), measured(table, frozenset({first, last}), 3)
    verified = compare(plan_of(table), (OFF, T[0]), (frozenset({last}), T[1]))
    assert (verified.suspects[0].key, verified.suspects[0].names) == ("on", (first,))


def test_what_was_recorded_next_leaves_fewer() -> None:
    """The truth stays among them, and of many boards most suspects are gone."""
    before = after = 0
    for number in range(8):
        table, wrong = drawn(number), spoiled(drawn(number), "box", 100 + number)
        plan, T = plan_of(table), measured(wrong.board, wrong.on, number)
        one = compare(plan, (OFF, T))
        if one.record_next is None:
            continue
        on = frozenset(one.record_next)
        two = compare(plan, (OFF, T), (on, measured(wrong.board, on, 50 + number)))
        assert named(two.suspects, wrong)
        before += sum(len(suspect.names) for suspect in one.suspects)
        after += sum(len(suspect.names) for suspect in two.suspects)
    assert after < 0.6 * before


def test_nothing_to_record_where_all_is_told_apart() -> None:
    table = drawn(7)
    box = next(i["stage"] for i in table["chain"] if "stage" in i)
    verified = compare(plan_of(table), (OFF, measured(table, frozenset({box}), 2)))
    assert len(verified.suspects) == 1
    assert verified.record_next is None


# --- Agreeing, and not ---


def test_a_board_as_planned_agrees_to_the_top() -> None:
    table = drawn(3)
    verified = compare(plan_of(table), (OFF, measured(table, OFF, 1)))
    assert verified.within_limit
    assert verified.suspects == ()
    assert verified.record_next is None
    assert verified.largest_difference is not None
    assert verified.largest_difference < 0.01
    assert verified.agrees_to == pytest.approx(10e3 * 10**0.05)  # the edge of the last octave
    assert verified.agrees_within == verified.largest_difference
    assert any("no figure of this board carries a tolerance" in note for note in verified.notes)


def test_beyond_the_limit_by_more_than_the_uncertainty() -> None:
    table = drawn(7)
    built = copy.deepcopy(table)
    built["chain"][-1]["length"] += 8.0
    T = measured(built, OFF, 1)
    largest = compare(plan_of(table), (OFF, T)).largest_difference
    assert largest is not None
    beyond = compare(plan_of(table), (OFF, T), limit=largest - 0.05)
    assert not beyond.within_limit
    assert beyond.agrees_to is not None
    assert beyond.agrees_to < 10e3
    assert beyond.agrees_within is not None
    assert beyond.agrees_within < largest
    # 0.01 dB of gain is never certain, so that this little beyond is still within.
    assert compare(plan_of(table), (OFF, T), limit=largest - 0.005).within_limit
    assert compare(plan_of(table), (OFF, T), limit=largest + 0.05).within_limit


def test_a_change_within_the_tolerance_is_no_suspect() -> None:
    table = drawn(7)
    plan = plan_of(table)
    *rest, run = plan.listed
    plan = replace(plan, listed=(*rest, replace(run, tolerances={"length": 0.3})))
    built = copy.deepcopy(table)
    built["chain"][-1]["length"] *= 1.2
    verified = compare(plan, (OFF, measured(built, OFF, 1)))
    assert verified.suspects == ()
    assert verified.largest_difference is not None
    assert verified.largest_difference > 0.3
    built["chain"][-1]["length"] *= 1.5
    assert compare(plan, (OFF, measured(built, OFF, 1))).suspects


# --- How it is measured ---


def test_driven_by_a_resistor_and_read_by_an_interface() -> None:
    table = drawn(5)
    read = {"input_resistance": 1e6, "input_capacitance": 150e-12}
    source = {"type": "active", "output_resistance": 100e3}
    built = {**copy.deepcopy(table), "instrument": source, "destination": read}
    through = solve(built, OFF, POINTS)
    straight = solve({**built, "chain": []}, OFF, POINTS)
    interface = Across(Quantity(1e6), Quantity(150e-12))
    how = {"driven_by": 100e3, "interface": interface}
    verified = compare(plan_of(table), (OFF, through / straight), **how)
    assert verified.without_means == "bare"
    assert verified.within_limit
    assert verified.suspects == ()
    # Read by the amplifier instead, which is not what was there.
    other = compare(plan_of(table), (OFF, through / straight), driven_by=100e3)
    assert other.largest_difference is not None
    assert other.largest_difference > 0.1
    # Another resistor than was said.
    wrong = compare(plan_of(table), (OFF, through / straight), driven_by=47e3, interface=interface)
    (driver,) = (s for s in wrong.suspects if s.key == "output_resistance")
    assert "resistor" in driver.names
    assert driver.change == pytest.approx(53e3, rel=0.05)


@pytest.mark.parametrize("means", WITHOUT)
def test_what_the_recording_without_went_through(means: Without) -> None:
    table = drawn(6)
    box = frozenset({next(i["stage"] for i in table["chain"] if "stage" in i)})
    if means == "bare":
        straight = solve({**table, "chain": []}, OFF, POINTS)
    else:
        straight = solve(table, box, POINTS, means)
    T = solve(table, box, POINTS) / straight
    verified = compare(plan_of(table), (box, T), without_means=means)
    assert verified.without_means == means
    assert verified.suspects == ()


def test_a_table_without_uncertainty_is_taken_as_good_to_a_twentieth() -> None:
    table = drawn(3)
    f = np.geomspace(20, 20e3, 61)  # six points a decade: some third octaves have one
    T = solve(table, OFF, f) / solve(table, OFF, f, "direct")
    plan = plan_of(table)
    verified = verify(plan, [Compared(plan.state(()), ratio(T, sigma=None, frequency=f))])
    assert verified.suspects == ()
    band = verified.states[0].bands[10].measured
    assert band.high - band.low >= 0.1
    assert any("± 0.05 dB is assumed" in note for note in verified.notes)


def test_what_was_left_out_of_a_recording_is_no_band() -> None:
    table = drawn(3)
    T = measured(table, OFF, 1)
    kept = (POINTS < 880) | (POINTS > 1300)
    plan = plan_of(table)
    found = verify(plan, [Compared(plan.state(()), ratio(T[kept], frequency=POINTS[kept]))])
    centres = [band.frequency for band in found.states[0].bands]
    assert len(centres) == 19
    assert not any(900 < centre < 1280 for centre in centres)


def test_a_bent_input_makes_a_measurement_less_sure() -> None:
    T = np.full(POINTS.size, 0.5 + 0j)
    straight = recorded(ratio(T))
    bent = recorded(replace(ratio(T), third=1e-3))
    half = [np.ptp([b.low, b.high]) / 2 for b in (r.between(r.bands[5]) for r in (straight, bent))]
    assert half[0] == pytest.approx(0.01, abs=1e-3)
    # x³ = (3·sin x - sin 3x)/4: the louder tone is off by three times its third harmonic, the one
    # half as loud by a quarter of that. Twice as much, for a resonance 3 dB above what is loud.
    assert half[1] == pytest.approx(2 * 3e-3 * 0.75 * 20 / np.log(10), rel=0.1)


# --- Refusals ---


def test_silence_is_refused_with_its_reason() -> None:
    table = drawn(3)
    T = measured(table, OFF, 1)
    table["instrument"]["volume"] = 0.0
    with pytest.raises(SigsimError, match="nothing comes out of the plan"):
        compare(plan_of(table), (OFF, T))
    table = drawn(3)
    end = {"split": "far", "inside": [], "destination": {"name": "desk", "input_resistance": 1e6}}
    table["chain"].append({"loop": "gap", "inside": [end, {"cable": "run", "length": 1.0}]})
    board = plan_of(table).heard_at("far")
    with pytest.raises(SigsimError, match='the loop "gap" is out'):
        compare(board, (OFF, T))
    assert compare(board, (frozenset({"gap"}), T)).states


def test_what_cannot_be_compared_is_refused() -> None:
    plan = plan_of(drawn(3))
    with pytest.raises(SigsimError, match="there is no recording"):
        verify(plan, [])
    with pytest.raises(SigsimError, match='did you mean "direct"'):
        compare(plan, (OFF, np.ones(POINTS.size, complex)), without_means="dirct")
    f = np.array([20.0, 30.0])
    low = Compared(plan.state(()), ratio(np.ones(2, complex), frequency=f))
    with pytest.raises(SigsimError, match="nothing between 100 Hz and 10 kHz"):
        verify(plan, [low])
    with pytest.raises(SigsimError, match="found silence"):
        compare(plan, (OFF, np.zeros(POINTS.size, complex)))


# --- Boards of every kind ---


@settings(max_examples=tries(10, 15))
@seed(153)
@given(boards_in_a_state(), st.integers(0, 5), st.integers(0, 2**31))
def test_any_board_as_planned_agrees_and_any_other_is_answered(
    case: tuple[Table, frozenset[str], str], end: int, number: int
) -> None:
    """Every kind of item, loops, splits and taps, listened at any end, always answers."""
    table, on, text = case
    at = ends(table)[end % len(ends(table))]
    board = parse_board(text).heard_at(at)
    f = np.geomspace(90.0, 11e3, 120)
    through, without = solve(table, on, f, at=at), solve(table, on, f, "direct", at)
    if np.abs(through).min() < 1e-6 or np.abs(without).min() < 1e-6:
        return
    T = through / without
    same = verify(board, [Compared(board.state(on), ratio(T, frequency=f))])
    assert same.within_limit
    assert same.suspects == ()
    tilted = T * np.exp(-np.random.default_rng(number).uniform(0.1, 0.5) * f / 10e3)
    other = verify(board, [Compared(board.state(on), ratio(tilted, frequency=f))])
    for suspect in other.suspects:
        assert np.isfinite(suspect.change)
        assert suspect.names

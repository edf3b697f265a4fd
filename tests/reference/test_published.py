"""The program against published numbers; those of loads and stages are computed here."""

from __future__ import annotations

import math

import pytest
from helpers.published import (
    METHODS,
    WIRE,
    Inputs,
    board,
    cases,
    coil,
    computes,
    corner,
    gain_db,
    root,
)

from sigsim import metrics
from sigsim.board.reader import parse_board
from sigsim.states.response import Response, response

SOURCE = 'type = "active", output_resistance = '


@computes("treble_loss_of_rc", "loss at 20 kHz, one microsecond")
def loss_of_a_time_constant(given: Inputs) -> float:
    """Return the loss [dB] of 1 kΩ into a cable with this time constant."""
    cable = f'capacitance = "{given["time_constant_s"] / 1e3 / 10 * 1e12!r} pF/m"'
    made = board(SOURCE + "1e3", 'cable = "cable", length = "10 m"', "", cable)
    return -gain_db(made, given["frequency_hz"])


@computes("treble_loss_of_rc", "time constant of the 3 dB limit")
@computes("treble_loss_of_rc", "time constant of the 1 dB limit")
@computes("treble_loss_of_rc", "time constant of the 0.25 dB limit")
def time_constant_of_a_loss(given: Inputs) -> float:
    def too_much(tau: float) -> float:
        return loss_of_a_time_constant(given | {"time_constant_s": tau}) - given["loss_db"]

    return root(too_much, 1e-8, 5e-5)


def _pad_into_a_capacitance(given: Inputs) -> Response:
    pad = 'stage = "pad", kind = "pad", series_resistance = {!r}, shunt_resistance = {!r}'
    chain = pad.format(given["series_ohm"], given["shunt_ohm"])
    return board('type = "active"', chain, f"input_capacitance = {given['shunt_f']!r}")


@computes("loaded_rc", "corner with 2 kΩ", "corner with 5 kΩ")
def corner_of_a_pad(given: Inputs) -> float:
    return corner(_pad_into_a_capacitance(given), 20.0, 1e8)


@computes("loaded_rc", "loss at 20 kHz with 2 kΩ")
def loss_of_a_pad(given: Inputs) -> float:
    made = _pad_into_a_capacitance(given)
    return gain_db(made, given["frequency_hz"]) - gain_db(made, 20.0)


@computes("triode_input", "corner with 42.9 kΩ")
@computes("valve_stage_design", "corner with 159 kΩ")
def corner_of_an_input(given: Inputs) -> float:
    load = f"input_capacitance = {given['shunt_f']!r}"
    made = board(f"{SOURCE}{given['source_ohm']!r}", WIRE, load)
    return corner(made, 20.0, 1e8)


@computes("valve_stage_design", "series capacitor for 368 Ω", "series capacitor for 132 kΩ")
def series_capacitor(given: Inputs) -> float:
    """Find the input capacitor with which a stage falls by half a power at the corner."""
    stage = (
        f'stage = "s", always_on = true, input_resistance = {given["resistance_ohm"]!r}, '
        "output_resistance = 0, input_capacitor = "
    )

    def too_much(C: float) -> float:
        made = board('type = "active"', f"{stage}{C!r}")
        return gain_db(made, given["corner_hz"]) + metrics.HALF_POWER_DB

    return root(too_much, 1e-9, 1e-2)


@computes("bridging", "loss at ten to one")
def bridging_loss(given: Inputs) -> float:
    load = f"input_resistance = {given['load_ohm']!r}"
    return -metrics.level(board(f"{SOURCE}{given['source_ohm']!r}", WIRE, load))


@computes("slope_above_resonance", "slope per octave far above resonance")
def slope_above_resonance(_: Inputs) -> float:
    # 3 H and 600 pF resonate at 3.75 kHz. Two octaves above it is still 12.3 dB; here it is six.
    made = board(coil(3.0, 600e-12, 8e3), WIRE, "input_resistance = 1e6")
    return gain_db(made, 240e3) - gain_db(made, 480e3)


@pytest.mark.parametrize(
    ("file", "name"), [pytest.param(*key, id=": ".join(key)) for key in sorted(METHODS)]
)
def test_published_number(file: str, name: str) -> None:
    wanted = cases(file)[name]
    found = METHODS[file, name](wanted["inputs"])
    assert found == pytest.approx(wanted["expected"], rel=0, abs=wanted["tolerance"])


@pytest.mark.parametrize(
    "file",
    [
        "air_line",
        "bridging",
        "cable_and_resonance",
        "coaxial_cable_table",
        "coaxial_cables_per_foot",
        "coaxial_formula",
        "coil_switching",
        "inductor_self_resonance",
        "loaded_rc",
        "treble_loss_of_rc",
        "two_coil_pickup_impedance",
    ],
)
def test_every_case_of_these_files_is_computed(file: str) -> None:
    assert set(cases(file)) == {name for known, name in METHODS if known == file}


def _with_boxes(instrument: str, boxes: int) -> Response:
    """Return a bass with true-bypass boxes, all off, a foot of patch lead between them."""
    box = '[[chain]]\nstage = "box {}"\npart = "pedal-true-bypass"\n'
    text = f"""
        instrument = {{part = "{instrument}"}}
        destination = {{part = "instrument-input"}}
        wiring = {{cable = "patch", length = "30 cm"}}
        cables = {{lead = {{part = "cable-standard"}}, patch = {{part = "cable-patch"}}}}
        [[chain]]
        cable = "lead"
        length = "3 m"
        {"".join(box.format(number) for number in range(boxes))}
        [[chain]]
        cable = "lead"
        length = "6 m"
        """
    return response(parse_board(text))


@pytest.mark.parametrize("instrument", ["bass-single-coil", "bass-split-coil", "bass-two-coil"])
def test_one_true_bypass_box_is_negligible_and_five_are_not(instrument: str) -> None:
    # Common practice; D. Lamkins, "How many true-bypass pedals is too many?": trouble starts at
    # "around four or five". 1 dB is where the tool's own words stop calling a loss negligible.
    none, *loss = [metrics.treble_loss(_with_boxes(instrument, n)) for n in range(6)]
    added = [some - none for some in loss]
    assert metrics.verdict(added[0]) == "negligible"
    assert metrics.verdict(added[4]) != "negligible"
    assert added == sorted(added)
    assert math.isclose(added[4] / 5, added[3] / 4, rel_tol=0.1)  # each box costs about the same


def test_active_bass_does_not_mind_the_same_boxes() -> None:
    # Common practice, no source: a low output resistance is the cure. A tenth of "negligible".
    assert metrics.treble_loss(_with_boxes("bass-active", 5)) < 0.1

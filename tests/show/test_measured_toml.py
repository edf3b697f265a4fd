"""The lines to copy into a board file: read back by the board reader to what was measured.

How a number and its tolerance are written is that of the board file itself; the width of an
interval is taken from the result, so that nothing here rests on the program's own rounding.
"""

from __future__ import annotations

import re
import tomllib
from datetime import date
from typing import Any

import pytest
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from sigsim.board.reader import parse_board
from sigsim.board.tables import read_table
from sigsim.items.cable import CableSpec
from sigsim.items.fields import specs
from sigsim.items.instrument import PassiveInstrument
from sigsim.items.stage import ActiveStage
from sigsim.measure.result import Figure, Measured
from sigsim.quantities import KINDS
from sigsim.show.measured_toml import toml, written
from sigsim.units import parse

TODAY = date.today().isoformat()
ITEMS = {
    "cable": CableSpec,
    "pickup": PassiveInstrument,
    "input": ActiveStage,
    "bypass": ActiveStage,
    "output": ActiveStage,
}
# Figures of each recipe with a range that reaches beyond all real parts.
RANGES = {
    "cable": {"capacitance": (1e-13, 9e-9), "loss_tangent": (1e-6, 0.9)},
    "pickup": {
        "resistance": (1e-2, 1e6), "inductance": (1e-6, 900.0), "capacitance": (1e-15, 1e-7),
        "loss_resistance": (1.0, 1e9), "loss_exponent": (1e-3, 1.0), "volume_track": (1.0, 1e9),
    },
    "input": {
        "input_resistance": (1.0, 1e11), "input_capacitance": (1e-16, 1e-7),
        "input_capacitor": (1e-12, 1e-3), "input_series_resistance": (1e-3, 1e7),
    },
    "bypass": {
        "wiring_capacitance": (1e-16, 1e-7), "contact_resistance": (1e-5, 1e4),
        "bypass_input_resistance": (1.0, 1e11), "bypass_input_capacitance": (1e-16, 1e-7),
    },
    "output": {"output_resistance": (1e-4, 1e7), "output_capacitor": (1e-12, 1e-3)},
}  # fmt: skip


def found(recipe: str, **figures: Figure) -> Measured:
    return Measured(recipe, {}, figures)


def figure(value: float, low: float, high: float, unit: str) -> Figure:
    return Figure(value, low, high, unit)


CAPACITANCE = figure(98.34e-12, 96.4e-12, 100.2e-12, "F/m")


def test_a_cable_as_the_contract_shows_it() -> None:
    measured = found(
        "cable",
        total_capacitance=figure(589e-12, 585e-12, 592e-12, "F"),
        capacitance=figure(98.3e-12, 96.4e-12, 100.2e-12, "F/m"),
        loss_tangent=Figure(None, None, 0.0042, ""),
    )
    assert toml(measured, None) == (
        "[cables.mine]\n"
        'capacitance = "98.3 pF/m ± 2 %"\n'
        "# loss_tangent: at most 0.0042\n"
        f'measured = "{TODAY}"\n'
    )


def test_without_a_length_there_is_nothing_to_copy() -> None:
    """A loss in an insulation without capacitance would be refused by the reader."""
    measured = found(
        "cable",
        total_capacitance=figure(589e-12, 585e-12, 592e-12, "F"),
        loss_tangent=figure(0.012, 0.011, 0.013, ""),
    )
    assert all(line.startswith(("#", "[")) for line in toml(measured, None).splitlines())


@pytest.mark.parametrize("name", ["lead", "my lead", 'the "wet" one', "1.5 mm²", "a.b", "x]y", "#"])
def test_any_name_of_a_cable(name: str) -> None:
    assert list(tomllib.loads(toml(found("cable", capacitance=CAPACITANCE), name))["cables"]) == [
        name
    ]


def test_each_recipe_has_its_table() -> None:
    R = figure(5.2e5, 5e5, 5.4e5, "Ω")
    cases: list[tuple[Measured, str | None, str]] = [
        (found("pickup", resistance=R), None, "[instrument]"),
        (found("pickup", resistance=R), "instrument", "[instrument]"),
        (found("pickup", resistance=R), "neck", '[[instrument.pickups]]\nname = "neck"'),
        (found("input", input_resistance=R), "fuzz", '[[chain]]\nstage = "fuzz"'),
        (found("input", input_resistance=R), "destination", "[destination]"),
        (found("output", output_resistance=R), None, "[[chain]]\nstage = "),
        (found("output", output_resistance=R), "instrument", '[instrument]\ntype = "active"'),
        (found("bypass", contact_resistance=R), "fuzz", '[[chain]]\nstage = "fuzz"'),
    ]
    for measured, name, header in cases:
        text = toml(measured, name)
        assert text.startswith(header), text
        tomllib.loads(text)


def test_what_counts_only_with_a_bypass_that_is_not_chosen_is_a_comment() -> None:
    R = figure(5.2e5, 5e5, 5.4e5, "Ω")
    text = toml(found("bypass", bypass_input_resistance=R), "fuzz")
    assert '# bypass_input_resistance = "520 kΩ ± 3.9 %"   # counts only with bypass' in text
    chosen = found("bypass", bypass_input_resistance=R, bypass=Figure("buffered", None, None, ""))
    text = toml(chosen, "fuzz")
    assert '\nbypass_input_resistance = "520 kΩ ± 3.9 %"\nbypass = "buffered"\n' in text


def test_a_pickup_says_that_its_wiring_is_in_it() -> None:
    measured = found(
        "pickup",
        inductance=figure(3.0, 2.97, 3.03, "H"),
        capacitance=figure(310e-12, 300e-12, 320e-12, "F"),
    )
    assert "no wiring_capacitance beside it" in toml(measured, None)
    board = toml(measured, None) + (
        "[destination]\n[cables.a]\n[[chain]]\ncable = 'a'\nlength = 1\n"
    )
    assert parse_board(board).instrument.tolerances["inductance"] == 0.01


@pytest.mark.parametrize(
    ("figure", "text"),
    [
        (figure(98.34e-12, 96.4e-12, 100.2e-12, "F"), "98.3 pF ± 2.1 %"),
        (figure(589.4e-12, 583e-12, 595e-12, "F"), "589 pF ± 1.2 %"),
        (figure(1e6, 0.7e6, 1.3e6, "Ω"), "1 MΩ ± 30 %"),
        (figure(7123.4, 7123.0, 7123.9, "Ω"), "7.1234 kΩ ± 0.1 %"),
        (figure(100.0, 10.0, 200.0, "Ω"), "100 Ω ± 100 %"),
        (Figure(470e3, None, None, "Ω"), "470 kΩ"),
        (Figure(470e3, 460e3, None, "Ω"), "470 kΩ ± 2.2 %"),
        (Figure(3e-17, 2e-17, 4e-17, "F"), "3e-17 F ± 34 %"),
    ],
)
def test_how_a_number_is_written(figure: Figure, text: str) -> None:
    key = "input_resistance" if figure.unit == "Ω" else "input_capacitance"
    assert written({key: figure}, ActiveStage)[key].text == text


def test_what_may_be_many_times_as_much_is_a_comment() -> None:
    """No tolerance is over 100 %."""
    text = toml(found("input", input_resistance=figure(100.0, 10.0, 900.0, "Ω")), "fuzz")
    assert "# input_resistance: less than 900 Ω" in text
    assert "\ninput_resistance" not in text


@pytest.mark.parametrize("value", [-1e-13, float("nan"), float("inf"), 1e30])
def test_what_no_part_has_is_a_comment(value: float) -> None:
    text = toml(found("bypass", wiring_capacitance=figure(value, -1e-12, 1e-12, "F")), "fuzz")
    assert "\nwiring_capacitance" not in text
    assert "# wiring_capacitance: between -1 pF and 1 pF" in text


def kind_of(item: type, key: str) -> str:
    return specs(item)[key].kind


@settings(max_examples=300)
@seed(98)
@given(st.sampled_from(sorted(RANGES)), st.data())
def test_every_line_reads_back(recipe: str, data: st.DataObject) -> None:
    item = ITEMS[recipe]
    figures: dict[str, Figure] = {}
    for key, (low, high) in RANGES[recipe].items():
        value = low * (high / low) ** data.draw(st.floats(0, 1))
        wide = 10 ** data.draw(st.floats(-6, -0.3))
        unit = KINDS[kind_of(item, key)].symbol
        figures[key] = Figure(value, value * (1 - wide), value / (1 - wide), unit)
    text = toml(found(recipe, **figures), None)
    # A comment's line is one to copy as well, once what it needs is there.
    lines = re.findall(r'^(?:# )?(\w+) = "([^"]*)"', text, re.M)
    read: dict[str, Any] = {key: value for key, value in lines if key in figures}
    assert read.keys() == figures.keys()
    checked = read_table(item, read, "x", partial=True)
    assert not checked.problems
    for key, told in figures.items():
        assert told.low is not None
        assert told.high is not None
        value = checked.values[key]
        assert told.low <= value <= told.high
        spread = value * parse(read[key], kind_of(item, key)).tolerance
        rounding = 1e-9 * value
        whole = spread >= value * (1 - 1e-9)  # no tolerance is over 100 %
        assert whole or (
            value - spread <= told.low + rounding and value + spread >= told.high - rounding
        )

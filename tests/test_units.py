"""Numbers that know how they were written, and that are plain numbers all the same.

Units: the International System; 1 ft = 0.3048 m and 1 in = 0.0254 m exactly (international yard and
pound agreement, 1959). Letter codes: IEC 60062; the published cases are in `reference/`.
"""

from __future__ import annotations

import copy
import dataclasses
import json
import pickle
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from sigsim.board.reader import parse_board
from sigsim.errors import QuantityError
from sigsim.items.cable import Cable
from sigsim.units import Written, parse

FIFTEEN = parse("15 ft", "length").value


@pytest.mark.parametrize(
    ("found", "quantity", "value", "text"),
    [
        ("15 ft", "length", 15 * 0.3048, "15 ft"),
        ("15ft", "length", 15 * 0.3048, "15 ft"),
        ("  15   feet ", "length", 15 * 0.3048, "15 feet"),
        ("6m", "length", 6.0, "6 m"),
        ("8 in", "length", 8 * 0.0254, "8 in"),
        ('8 "', "length", 8 * 0.0254, '8"'),
        ("6'", "length", 6 * 0.3048, "6'"),
        ("20 cm ± 10 %", "length", 0.2, "20 cm"),
        ("1.5e2mm", "length", 0.15, "1.5e2 mm"),
        ("4k7", "resistance", 4.7e3, "4k7"),
        ("R47", "resistance", 0.47, "R47"),
        ("10R +- 5%", "resistance", 10.0, "10R"),
        ("4k7Ω", "resistance", 4.7e3, "4k7 Ω"),
        ("250k", "resistance", 250e3, "250k"),
        ("250 k", "resistance", 250e3, "250k"),
        ("250 k\u2126", "resistance", 250e3, "250 kΩ"),
        ("47  n F", "capacitance", 47e-9, "47 nF"),
        ("7f5", "capacitance", 7.5e-15, "7f5"),
        ("\u22123dB", "gain", -3.0, "-3 dB"),
        ("33pF/ft", "capacitance per length", 33e-12 / 0.3048, "33 pF/ft"),
    ],
)
def test_a_number_keeps_its_words(found: str, quantity: str, value: float, text: str) -> None:
    read = parse(found, quantity).value
    assert isinstance(read, Written)
    assert read.text == text
    # Powers of ten and feet are products of rounded numbers: a few units in the last place.
    assert read == pytest.approx(value, rel=1e-15)
    assert parse(text, quantity).value == read


@pytest.mark.parametrize("found", [6, 6.0, "6", " 6. ", "+6", "6e0", "6 ± 1 %"])
def test_a_bare_number_has_no_words(found: object) -> None:
    read = parse(found, "length").value
    assert (type(read), read) == (float, 6.0)


@pytest.mark.parametrize(
    "through",
    [
        repr,
        str,
        json.dumps,
        hash,
        float,
        "{:.3g}".format,
        "{}".format,
        lambda x: x * 2 + 1,
        lambda x: -x,
        round,
        np.asarray,
        lambda x: np.ones(2) * x,
        lambda x: max(x, 1.0),
    ],
)
def test_it_is_a_float_everywhere(through: Callable[[float], Any]) -> None:
    assert np.all(through(FIFTEEN) == through(float(FIFTEEN)))


def test_what_is_reckoned_is_a_plain_float() -> None:
    for made in (FIFTEEN * 1, 1 * FIFTEEN, FIFTEEN + 0, +FIFTEEN, abs(FIFTEEN), float(FIFTEEN)):
        assert type(made) is float


@pytest.mark.parametrize(
    "copied", [copy.copy, copy.deepcopy, lambda x: pickle.loads(pickle.dumps(x))]
)
def test_a_copy_keeps_the_words(copied: Callable[[float], float]) -> None:
    made = copied(FIFTEEN)
    assert isinstance(made, Written)
    assert (made, made.text) == (FIFTEEN, "15 ft")


def test_a_cable_keeps_the_words_of_its_length() -> None:
    board = parse_board(
        '[instrument]\nresistance = "8k"\n[destination]\n[cables.lead]\ncapacitance = "33 pF/ft"\n'
        '[[chain]]\ncable = "lead"\nlength = "15ft ± 2 %"\n'
    )
    (cable,) = board.chain
    assert isinstance(cable, Cable)
    for kept in (cable, dataclasses.replace(cable, is_lead=False), copy.deepcopy(cable)):
        assert isinstance(kept.length, Written)
        assert kept.length.text == "15 ft"
    assert cable == dataclasses.replace(cable, length=float(FIFTEEN))


@pytest.mark.parametrize(
    ("found", "kind", "said"),
    [
        ("9 V AC", "supply voltage", "only direct voltage"),
        ("9VAC", "supply voltage", "only direct voltage"),
        ("9 V~", "supply voltage", "only direct voltage"),
        ("9 V DC", "supply voltage", 'did you mean "9 V"'),
        (0, "current", "leave the key out where it is not known"),
    ],
)
def test_what_feeds_a_pedal_is_told_in_plain_words(found: object, kind: str, said: str) -> None:
    with pytest.raises(QuantityError, match=said):
        parse(found, kind, above_zero=True)

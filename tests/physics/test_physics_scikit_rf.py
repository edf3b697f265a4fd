"""Passive boards against scikit-rf: its distributed lines and its cascading of networks."""

from __future__ import annotations

from typing import Any

import numpy as np
import skrf
from helpers.boards import (
    COIL,
    LENGTH,
    PAD,
    REMAINS,
    STOPPER,
    VOLUME_PEDAL,
    Table,
    ends,
    flat,
    si,
    some,
    stopped,
    to_toml,
)
from hypothesis import given, seed, settings
from hypothesis import strategies as st
from skrf.media import DistributedCircuit

from sigsim.board.reader import parse_board
from sigsim.physics.line import line
from sigsim.physics.source import angular
from sigsim.states.response import response

FREQUENCY = np.geomspace(20.0, 40e3, 9)
GRID = skrf.Frequency.from_f(FREQUENCY, unit="hz")
# Near the impedances of a board: with the usual 50 Ω its waves would lose most of their digits.
PORT = 1e4

# Largest differences measured over 1 000 boards: 4e-9 dB and 5e-8°. scikit-rf calculates with
# waves, which costs it digits; the limits are a thousandth of the 0.001 dB and 0.01° promised.
DECIBELS = 1e-6
DEGREES = 1e-5

LINE = some(
    {
        "capacitance": si(30e-12, 500e-12),
        "resistance": si(1e-3, 1.0),
        "inductance": si(50e-9, 3e-6),
    },
    {"loss_tangent": si(1e-4, 0.1), "plug_capacitance": si(1e-12, 50e-12)},
)
INSTRUMENT = some(
    {"resistance": si(500.0, 20e3), "inductance": COIL["inductance"]},
    {"capacitance": COIL["capacitance"]},
)
LOAD = some(
    {"input_resistance": si(10e3, 10e6)}, {"input_capacitance": si(5e-12, 2e-9), **STOPPER}
).map(stopped)
STAGE = st.fixed_dictionaries(
    {
        "stage": st.just(""),
        "input_resistance": si(20e3, 10e6),
        "output_resistance": st.just(1e3),
        "bypass": st.sampled_from(["true", "hardwire"]),
    },
    optional={"input_capacitance": si(5e-12, 1e-9), **STOPPER, **REMAINS},
).map(stopped)
LAID = st.fixed_dictionaries({"cable": st.sampled_from(["lead", "patch"]), "length": LENGTH})
TAP = st.tuples(LAID, st.one_of(st.just({"open": True}), LOAD)).map(lambda p: p[0] | p[1])
PLAIN = st.one_of(
    LAID,
    STAGE,
    TAP.map(lambda keys: {"tap": "branch"} | keys),
    *(kind.map(lambda keys: {"stage": ""} | keys) for kind in (PAD, VOLUME_PEDAL)),
)
SPLIT = st.fixed_dictionaries(
    {"split": st.just(""), "inside": st.lists(PLAIN, max_size=3), "destination": LOAD}
)
ITEMS = st.one_of(PLAIN, PLAIN, SPLIT)


@st.composite
def passive_boards(draw: st.DrawFn) -> Table:
    """Draw a board without power: one coil, two kinds of cable, everything that is not a buffer."""
    chain = draw(st.lists(ITEMS, min_size=2, max_size=8))
    for number, item in enumerate(flat(chain)):
        for key in ("stage", "tap", "split"):
            if key in item:
                item[key] = f"{key} {number}"
        if item.get("length") == 0:
            item["length"] = 1.0  # scikit-rf's line of no length loses digits of its own
    return {
        "title": "passive",
        "instrument": draw(INSTRUMENT),
        "destination": draw(LOAD),
        "cables": {"lead": draw(LINE), "patch": draw(LINE)},
        "chain": chain,
    }


class Bench:
    """Builds scikit-rf networks out of the plain dictionary of a passive board."""

    def __init__(self, cables: Table) -> None:
        self.cables = cables
        self.media = {name: _media(table) for name, table in cables.items()}
        self.parts = _media({})

    def board(self, board: Table, at: str) -> Any:
        """Return the way to one end, source impedance to load, as one network."""
        coil = board["instrument"]
        whole = self.parts.resistor(coil["resistance"]) ** self.parts.inductor(coil["inductance"])
        whole = whole ** self.parts.shunt_capacitor(coil.get("capacitance", 0.0))
        for number, item in enumerate(board["chain"]):
            if at and item.get("split") == at:
                others = self.way(board["chain"][number + 1 :], board["destination"])
                return whole ** self.parts.shunt(others) ** self.to(item)
            whole = whole ** self.item(item)
        return whole ** self.load(board["destination"])

    def to(self, split: Table) -> Any:
        """Return the way through a split to its end."""
        whole = self.load(split["destination"])
        for item in reversed(split["inside"]):
            whole = self.item(item) ** whole
        return whole

    def way(self, items: list[Table], destination: Table) -> Any:
        """Return a whole way as a one-port, seen from its beginning."""
        return self.to({"inside": items, "destination": destination}) ** self.parts.open()

    def item(self, item: Table) -> Any:
        """Return one item of the chain, everything that has a switch off."""
        if "split" in item:
            return self.parts.shunt(self.way(item["inside"], item["destination"]))
        if "tap" in item:
            return self.parts.shunt(self.cable(item) ** self.load(item) ** self.parts.open())
        if "cable" in item:
            return self.cable(item)
        kind = item.get("kind")
        if kind is None or item.get("always_on") is False:
            bypass = self.parts.resistor(item.get("contact_resistance", 0.0))
            bypass = bypass ** self.parts.shunt_capacitor(item.get("wiring_capacitance", 0.0))
            hangs = self.parts.shunt(self.load(item) ** self.parts.open())
            return hangs**bypass if item.get("bypass") == "hardwire" else bypass
        if kind == "pad":
            upper, lower = item.get("series_resistance", 0.0), item.get("shunt_resistance")
        else:
            a = _below_wiper(item)
            upper, lower = (1 - a) * item["track"], a * item["track"]
        pad = self.parts.resistor(upper)
        return pad if lower is None else pad ** self.parts.shunt(self.one_port(lower))

    def one_port(self, R: float) -> Any:
        """Return a resistor to ground as a one-port."""
        return self.parts.resistor(R) ** self.parts.short()

    def load(self, item: Table) -> Any:
        """Return an input from its terminals to what it reads: behind its stopper."""
        read = self.parts.resistor(item.get("input_series_resistance", 0.0))
        read = read ** self.parts.shunt_capacitor(item.get("input_capacitance", 0.0))
        if "input_resistance" in item:
            read = self.parts.shunt(self.one_port(item["input_resistance"])) ** read
        return read

    def cable(self, item: Table) -> Any:
        """Return a length of cable between its plugs."""
        plug = self.parts.shunt_capacitor(self.cables[item["cable"]].get("plug_capacitance", 0.0))
        return plug ** self.media[item["cable"]].line(item["length"], "m") ** plug


def _media(table: Table) -> Any:
    C = table.get("capacitance", 100e-12)
    return DistributedCircuit(
        GRID,
        z0_port=PORT,
        C=C,
        L=table.get("inductance", 1e-7),
        R=table.get("resistance", 0.1),
        G=2 * np.pi * FREQUENCY * C * table.get("loss_tangent", 0.0),
    )


def _below_wiper(item: Table) -> float:
    position, taper = item.get("position", 10.0), item.get("taper", "audio")
    if taper == "linear":
        return float(position / 10)
    ends = {"audio": 9.0, "audio 15 %": 85 / 15, "audio 30 %": 70 / 30}
    return float((ends[taper] ** (position / 5) - 1) / (ends[taper] ** 2 - 1))


@settings(max_examples=60)
@seed(3)
@given(passive_boards(), st.integers(0, 99))
def test_passive_board_agrees_with_scikit_rf(board: Table, spelling: int) -> None:
    made = parse_board(to_toml(board, spelling))
    pedals = [item for item in flat(board["chain"]) if item.get("always_on", True)]
    for at in ends(board):
        ours = response(made.heard_at(at), (), FREQUENCY).H
        down = [item for item in pedals if item.get("position") == 0]
        if down:  # a chain matrix has no number for that
            if not at and any(item in board["chain"] for item in down):
                assert not ours.any()
            continue
        theirs = 1 / Bench(board["cables"]).board(board, at).a[:, 0, 0]
        ratio = ours / theirs
        np.testing.assert_allclose(20 * np.log10(np.abs(ratio)), 0, atol=DECIBELS)
        np.testing.assert_allclose(np.degrees(np.angle(ratio)), 0, atol=DEGREES)


@settings(max_examples=100)
@seed(4)
@given(LINE, si(0.05, 5e3))
def test_line_matrix_agrees_with_scikit_rf(cable: Table, length: float) -> None:
    R, L, C = cable["resistance"], cable["inductance"], cable["capacitance"]
    ours = line(angular(FREQUENCY), R, L, C, cable.get("loss_tangent", 0.0), length)
    media = _media(cable)
    x, Z = media.gamma * length, media.z0_characteristic
    textbook = (np.cosh(x), Z * np.sinh(x), np.sinh(x) / Z, np.cosh(x))
    for scaled, theirs in zip(ours.scaled, textbook, strict=True):
        # Rounding grows with |γl|, here up to 52: measured 3e-14 of the value itself.
        np.testing.assert_allclose(scaled / ours.decay, theirs, rtol=1e-12)

"""Every key of a board file has an effect somewhere; where it can have none, it is refused.

What is refused is checked against the physics: the same value set on the item in Python, past the
reader, changes no response. No number here needs a source.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from helpers.boards import Table, to_toml
from helpers.refusals import quick

from sigsim.board import edit
from sigsim.board.laying import Laying
from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.board.relaid import relaid
from sigsim.decide.order.rules import question
from sigsim.decide.power.report import power_report
from sigsim.errors import BoardError
from sigsim.items.base import STAGE_KINDS
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.destination import Destination
from sigsim.items.fields import MEASURED, specs
from sigsim.items.instrument import ActiveInstrument, PassiveInstrument, Pickup
from sigsim.items.layout import BoxTable, LayoutTable
from sigsim.items.loop import Loop
from sigsim.items.needs import needs
from sigsim.items.split import Split
from sigsim.items.supply import Output, Supply
from sigsim.items.tap import Tap
from sigsim.show.power_json import power_values
from sigsim.states.response import response

FREQUENCY = np.geomspace(50.0, 20e3, 9)

VOLUME: Table = {
    "volume_track": 250e3,
    "volume_taper": "linear",
    "volume": 6.0,
    "volume_wiring": "output at track",
    "treble_bleed_capacitor": 1e-9,
    "treble_bleed_resistor": 150e3,
    "treble_bleed": "series",
}
TONE: Table = {
    "tone_track": 250e3,
    "tone_taper": "linear",
    "tone_capacitor": 47e-9,
    "tone": 4.0,
    "tone_position": "after volume",
}
LAST: Table = {
    "bass_cut_capacitor": 2.2e-9,
    "bass_cut_track": 500e3,
    "bass_cut_taper": "linear",
    "bass_cut": 4.0,
    "wiring_capacitance": 150e-12,
}
COIL: Table = {
    "resistance": 6e3,
    "inductance": 3.0,
    "capacitance": 110e-12,
    "loss_resistance": 300e3,
    "loss_exponent": 0.5,
}
NECK: Table = {"name": "neck", **COIL, **VOLUME, **TONE, "polarity": "reversed"}
NECK_AT_ZERO: Table = {**NECK, "volume": 0.0, "volume_wiring": "output at wiper"}
NECK_WITHOUT_POT: Table = {"name": "neck", **COIL, "polarity": "reversed"}
BRIDGE: Table = {"name": "bridge", **COIL, "inductance": 2.0}
STANDING: Table = {"before": ["last"], "after": ["last"], "fixed": True}
SWITCH: Table = {
    "always_on": False,
    "contact_resistance": 900.0,
    "wiring_capacitance": 300e-12,
    "role": "drive",
    **STANDING,
}
ACTIVE: Table = {
    "stage": "box",
    "input_resistance": 300e3,
    "output_resistance": 5e3,
    "input_capacitance": 50e-12,
    "input_series_resistance": 68e3,
    "input_capacitor": 10e-9,
    "output_capacitor": 1e-6,
    "gain": 3.0,
    "low_pass": 6e3,
    "high_pass": 80.0,
    "needs_pickup": True,
    "input_noise_voltage": 9e-9,
    "input_noise_current": 3e-12,
    "always_on": False,
}
MECHANICAL: Table = {**ACTIVE, "bypass": "hardwire", **SWITCH}
BUFFERED: Table = {
    **ACTIVE,
    "bypass": "buffered",
    "bypass_input_resistance": 200e3,
    "bypass_input_capacitance": 80e-12,
    "bypass_output_resistance": 900.0,
    "bypass_gain": -0.2,
    "bypass_input_capacitor": 22e-9,
    "bypass_output_capacitor": 1e-6,
}
PEDAL: Table = {
    "stage": "box",
    "kind": "volume pedal",
    "track": 250e3,
    "taper": "linear",
    "position": 6.0,
    **SWITCH,
}
PAD: Table = {
    "stage": "box",
    "kind": "pad",
    "series_resistance": 10e3,
    "shunt_resistance": 10e3,
    **SWITCH,
}
TRANSFORMER: Table = {
    "stage": "box",
    "kind": "transformer",
    "ratio": 4.0,
    "primary_resistance": 2e3,
    "primary_inductance": 20.0,
    "secondary_resistance": 100.0,
    "winding_capacitance": 500e-12,
    "leakage_inductance": 0.3,
    **SWITCH,
}
LOOP: Table = {
    "loop": "box",
    "contact_resistance": 900.0,
    "wiring_capacitance": 300e-12,
    **STANDING,
    "inside": [{"stage": "inner", "input_resistance": 1e6, "output_resistance": 100.0}],
}
# Where a stage stands, with one jack that is told and one that follows from a word.
STANDS: Table = {"width": 0.08, "depth": 0.12, "place": [0.3, 0.2]}
INPUT_TOLD: Table = {**STANDS, "jacks": "left to right", "input_at": [0.0, 0.04]}
OUTPUT_TOLD: Table = {**STANDS, "output_at": [0.0, 0.05]}
# What feeds a stage: outputs that give whatever voltage it is changed to.
FED: Table = {
    "current": 0.1, "current_off": 0.02, "voltage": [9.0], "polarity": "centre positive",
    "supply": "left",
}  # fmt: skip
FEEDS_ITSELF: Table = {"battery_inside": True, "usual_current": [0.01, 0.2]}
USUAL: Table = {"battery_inside": False, "usual_current": [0.01, 0.2]}
OUTPUT: Table = {"current": 0.5, "voltage": [4.5, 9.0], "polarity": "centre negative"}
SUPPLIES: Table = {
    "left": {
        "isolated": True,
        "battery": "10 Ah",
        "battery_voltage": 3.7,
        "efficiency": 0.8,
        "outputs": [OUTPUT, OUTPUT],
    },
    "right": {"isolated": True, "outputs": [OUTPUT]},
}
SWITCHER: Table = {"width": 0.3, "depth": 0.06, "jacks": "back", "loops": ["box", "second"]}
TAP: Table = {
    "tap": "box",
    "cable": "patch",
    "length": 3.0,
    "open": False,
    "input_resistance": 100e3,
    "input_capacitance": 100e-12,
    "input_series_resistance": 68e3,
}
SPLIT: Table = {
    "split": "box",
    "inside": [{"stage": "inner", "input_resistance": 1e6, "output_resistance": 100.0}],
    "destination": {"input_resistance": 1e6},
}


def board(instrument: Table | None = None, item: Table | None = None) -> Table:
    """Return a board around an instrument and an item, all its own keys heard."""
    middle: list[Table] = [item if item is not None else MECHANICAL]
    return copy.deepcopy(
        {
            "title": "keys",
            "instrument": instrument or {**COIL, **VOLUME, **TONE, **LAST},
            "destination": {
                "name": "desk",
                "input_resistance": 300e3,
                "input_capacitance": 200e-12,
                "input_series_resistance": 34e3,
            },
            "cables": {
                "lead": {
                    "capacitance": 100e-12,
                    "resistance": 0.1,
                    "inductance": 3e-7,
                    "loss_tangent": 0.05,
                    "plug_capacitance": 9e-12,
                },
                "patch": {"capacitance": 90e-12},
            },
            "wiring": {"cable": "patch", "length": 0.4},
            "chain": [
                {"cable": "lead", "length": 4.0},
                *middle,
                {"stage": "last", "input_resistance": 1e6, "output_resistance": 1e3},
                {"cable": "lead", "length": 7.0},
            ],
            "scenes": {},
        }
    )


def laid_board(item: Table) -> Table:
    """Return a board whose wiring is as long as where its boxes stand makes it."""
    made = board(item=item)
    del made["wiring"]["length"]
    made["chain"][2] |= {"width": 0.07, "depth": 0.12}
    made["layout"] = {
        "size": [0.6, 0.4],
        "rows": [["last"]],
        "gap": 0.02,
        "slack": 0.03,
        "plug_length": 0.04,
        "entry": "right",
        "exit": "left",
    }
    return made


def switcher_board() -> Table:
    """Return a board with a box that has the jacks of a loop, its size and its place given."""
    made = laid_board(LOOP)
    second = copy.deepcopy(LOOP) | {"loop": "second"}
    made["chain"].insert(2, second)
    second["inside"][0] |= {"stage": "inmost", **STANDS, "place": [0.45, 0.2]}
    made["chain"][1]["inside"][0] |= STANDS
    made["boxes"] = {"switcher": copy.deepcopy(SWITCHER)}
    made["layout"]["rows"] = [["last"], ["switcher"]]
    return made


def fed_board(item: Table) -> Table:
    """Return a board with a supply on mains and one on a battery."""
    made = board(item=item)
    made["supplies"] = copy.deepcopy(SUPPLIES)
    made["scenes"] = {"nothing": []}
    return made


def fed_box_board() -> Table:
    """Return a board with a box that has the jacks of loops and draws a current."""
    made = switcher_board()
    made["supplies"] = copy.deepcopy(SUPPLIES)
    made["boxes"]["switcher"] |= {k: v for k, v in FED.items() if k != "current_off"}
    return made


def row_board() -> Table:
    """Return a board with two boxes in a row."""
    made = laid_board({**PAD, "width": 0.08, "depth": 0.12})
    made["layout"]["rows"] = [["box", "last"]]
    return made


def sold_board() -> Table:
    """Return a board whose wiring comes in ready-made lengths."""
    made = laid_board({**PAD, **STANDS})
    made["wiring"]["cable"] = "lead"
    made["cables"]["lead"]["sold"] = [1.4, 2.8]
    return made


def box_boards() -> list[Table]:
    """Return boards with such a box, in a row and at a place, with jacks by a word and told."""
    told = switcher_board()
    told["boxes"]["switcher"] = {
        **STANDS, "place": [0.2, 0.02], "input_at": [0.0, 0.04], "output_at": [0.0, 0.05],
        "loops": ["box", "second"],
    }  # fmt: skip
    told["layout"]["rows"] = [["last"]]
    return [switcher_board(), told]


Find = Callable[[Table], Table]


def _instrument(table: Table) -> Table:
    made: Table = table["instrument"]
    return made


def _pickup(table: Table) -> Table:
    made: Table = table["instrument"]["pickups"][0]
    return made


def _item(table: Table) -> Table:
    made: Table = table["chain"][1]
    return made


def _cable(table: Table) -> Table:
    made: Table = table["cables"]["lead"]
    return made


TWO: Table = {"pickups": [NECK, BRIDGE], "pickups_wiring": "parallel", **VOLUME, **TONE, **LAST}


def standing(item: Table) -> list[Table]:
    """Return boards on which a stage stands somewhere."""
    return [laid_board({**item, **told}) for told in (INPUT_TOLD, OUTPUT_TOLD)]


def fed() -> list[Table]:
    """Return boards with what feeds a stage."""
    told = fed_board({**MECHANICAL, **FED})
    return [told, *(fed_board({**MECHANICAL, **given}) for given in (FEEDS_ITSELF, USUAL))]


def free() -> Table:
    """Return a board on which the supply of a stage is looked for."""
    found = {key: value for key, value in FED.items() if key != "supply"}
    return fed_board({**MECHANICAL, **found})


def _supply(table: Table) -> Table:
    made: Table = table["supplies"]["left"]
    return made


def _output(table: Table) -> Table:
    made: Table = table["supplies"]["left"]["outputs"][0]
    return made


# For each class, the boards on which its keys are heard, and where its table stands in them.
HEARD: dict[type, tuple[Find, list[Table]]] = {
    PassiveInstrument: (_instrument, [board(), board(TWO)]),
    # A pickup is named where its knob is at 0 and shorts the other.
    Pickup: (
        _pickup,
        [board(TWO), board({**TWO, "pickups": [NECK_AT_ZERO, BRIDGE]})],
    ),
    ActiveInstrument: (
        _instrument,
        [board({"type": "active", "output_resistance": 9e3, "output_capacitor": 1e-7})],
    ),
    Destination: (lambda table: table["destination"], [board()]),
    Split: (_item, [board(item=SPLIT)]),
    CableSpec: (_cable, [board(), sold_board()]),
    Cable: (lambda table: table["wiring"], [board()]),
    STAGE_KINDS["active"]: (
        _item,
        [board(item=MECHANICAL), board(item=BUFFERED), *standing(MECHANICAL), *fed()],
    ),
    STAGE_KINDS["volume pedal"]: (_item, [board(item=PEDAL), *standing(PEDAL)]),
    STAGE_KINDS["pad"]: (_item, [board(item=PAD), *standing(PAD)]),
    STAGE_KINDS["transformer"]: (_item, [board(item=TRANSFORMER), *standing(TRANSFORMER)]),
    Loop: (_item, [board(item=LOOP)]),
    Tap: (_item, [board(item=TAP)]),
    LayoutTable: (lambda table: table["layout"], [row_board()]),
    BoxTable: (lambda table: table["boxes"]["switcher"], [*box_boards(), fed_box_board()]),
    Supply: (_supply, [free()]),
    Output: (_output, [free()]),
}

# Classes and what makes some of their keys idle: values to write, keys to take out.
Context = tuple[Table, tuple[str, ...]]
IDLE: dict[type, list[tuple[Table, Context]]] = {
    PassiveInstrument: [
        (board(), ({"inductance": 0.0}, ())),
        (board(), ({}, ("loss_resistance",))),
        (board(), ({"inductance": 0.0, "resistance": 0.0}, ("volume_track",))),
        (
            board(),
            ({"inductance": 0.0, "resistance": 0.0}, ("volume_track", "bass_cut_capacitor")),
        ),
        (
            board(),
            ({"inductance": 0.0, "resistance": 0.0, "tone_position": "before volume"}, ()),
        ),
        (board(), ({"treble_bleed_capacitor": 0.0}, ())),
        (board(), ({}, ("treble_bleed_capacitor",))),
        (board(), ({}, ("treble_bleed_resistor",))),
        (board(), ({"treble_bleed_resistor": 0.0}, ())),
        (board(), ({}, ("bass_cut_capacitor",))),
        (board(), ({}, ("bass_cut_track",))),
        (board(), ({"tone_capacitor": 0.0}, ())),
        (board(), ({}, ("tone_capacitor",))),
        (board(), ({}, ("tone_track",))),
        (board(), ({"tone_track": 0.0}, ())),
        (board(), ({}, ("volume_track",))),
        (board(), ({"pickups": [NECK, BRIDGE]}, ())),
        (board(TWO), ({"pickups": [NECK]}, ())),
        (board(), ({"pickups_wiring": "series"}, ())),
    ],
    Pickup: [
        (board(TWO), ({}, ("volume_track",))),
        (board(TWO), ({}, ("treble_bleed_capacitor",))),
        (board(TWO), ({}, ("treble_bleed_resistor",))),
        (board(TWO), ({}, ("tone_capacitor",))),
        (board(TWO), ({}, ("tone_track",))),
        (board(TWO), ({}, ("loss_resistance",))),
        (board(TWO), ({"inductance": 0.0, "resistance": 0.0}, ())),
        (board({"pickups": [BRIDGE, NECK_WITHOUT_POT], "pickups_wiring": "series"}), (VOLUME, ())),
    ],
    CableSpec: [(board(), ({"capacitance": 0.0}, ())), (board(), ({}, ("capacitance",)))],
    STAGE_KINDS["active"]: [
        (board(item=table), ({"always_on": True}, ())) for table in (MECHANICAL, BUFFERED)
    ]
    + [
        (laid_board({**MECHANICAL, **INPUT_TOLD}), ({"output_at": [0.0, 0.05]}, ())),
        (fed()[0], ({"always_on": True}, ())),
        (fed()[0], ({}, ("current",))),
        (fed()[0], ({"battery_inside": True}, ())),
        (board(item=MECHANICAL), ({"bypass": "buffered"}, ())),
        (board(item=BUFFERED), ({"bypass": "true"}, ())),
        (board(item=BUFFERED), ({"bypass": "hardwire"}, ())),
        (board(item=BUFFERED), ({}, ("bypass",))),
        (board(item=MECHANICAL), ({}, ("input_capacitance",))),
        (board(item=BUFFERED), ({"input_capacitance": 0.0}, ())),
    ],
    Supply: [(fed()[0], ({}, ("battery",)))],
    BoxTable: [(box_boards()[1], ({"jacks": "back"}, ()))],
    Destination: [
        (board(), ({}, ("input_capacitance",))),
        (board(), ({"input_capacitance": 0.0}, ())),
    ],
    **{
        STAGE_KINDS[table["kind"]]: [
            (board(item=table), ({"always_on": True}, ())),
            (board(item=table), ({}, ("always_on",))),
            (laid_board({**table, **INPUT_TOLD}), ({"output_at": [0.0, 0.05]}, ())),
        ]
        for table in (PEDAL, PAD, TRANSFORMER)
    },
    Tap: [
        (board(item=TAP), ({"open": True}, ())),
        (board(item=TAP), ({}, ("input_capacitance",))),
        (board(item=TAP), ({"input_capacitance": 0.0}, ())),
    ],
}


def other(item: type, key: str, value: Any) -> Any:
    """Return another value that a key accepts."""
    spec = specs(item)[key]
    if spec.kind == "names":
        return [] if key in STANDING else value[::-1]
    if spec.kind == "rows":
        return [row[::-1] for row in value]
    if spec.kind == "edge":
        return [0.1, 0.0]
    if spec.several:
        return [one * 0.5 for one in value]
    if spec.kind == "choice":
        return next(word for word in spec.choices if word != value)
    if spec.kind == "flag":
        return not value
    if spec.kind == "text":
        return {"patch": "lead", "left": "right"}.get(value, "renamed")
    if spec.kind == "battery":
        return "20 Ah"
    if spec.kind == "taper":
        return "audio 30 %"
    if spec.kind == "date":
        return "2025-05-05"
    return float(value) * 0.5


def outputs(text: str, folder: Path) -> Iterator[Any]:
    """Yield what the program makes of a board, what is quickest first."""
    made = parse_board(text)
    yield str(made.laying and made.laying.layout)
    for on in ((), made.switches()):
        yield response(made, on, FREQUENCY).H
    yield from _orders(made)
    yield str(power_values(power_report(made, guess=True)))
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / "board.toml"
    file.write_text(text, encoding="utf-8")
    yield quick("check", file, "--json")
    yield quick("noise", file, "--json", "--on", ",".join(made.switches()))
    yield quick("sheet", file)


def _orders(made: Board) -> Iterator[Any]:
    """Yield what an order of the board has to obey, and what its boxes are in the custom."""
    asked = question(made)
    yield np.array([(c.rule, c.stage, c.other) for c in asked.constraints])
    yield np.array([str(box.ranks) for box in asked.boxes])


@pytest.mark.parametrize(
    ("item", "key"),
    [(item, key) for item in HEARD for key in specs(item)],
    ids=lambda value: value if isinstance(value, str) else value.__name__,
)
def test_every_key_has_an_effect_somewhere(item: type, key: str, tmp_path: Path) -> None:
    find, tables = HEARD[item]
    # When figures were measured can be said in any table, and is in none of these.
    fitting = [table for table in tables if key in find(table) or key == MEASURED]
    assert any(has_effect(table, find, item, key, tmp_path) for table in fitting)


def has_effect(table: Table, find: Find, item: type, key: str, folder: Path) -> bool:
    """Whether anything comes out otherwise where a key has another value."""
    changed = copy.deepcopy(table)
    find(changed)[key] = "true" if key == "bypass" else other(item, key, find(table).get(key))
    if key == "always_on":  # a bypass that there is no more has to go
        for waiting in {k for need in needs(item) if need.of == (key,) for k in need.keys}:
            find(changed).pop(waiting, None)
    if key == "open":
        for plugged in ("input_resistance", "input_capacitance", "input_series_resistance"):
            find(changed).pop(plugged)
    if key == "pickups_wiring":
        changed["instrument"]["pickups"] = [NECK_WITHOUT_POT, BRIDGE]
    before = outputs(to_toml(table), folder / "before")
    after = outputs(to_toml(changed), folder / "after")
    return any(not np.array_equal(a, b) for a, b in zip(before, after, strict=True))


@pytest.mark.parametrize("key", specs(Destination))
@pytest.mark.parametrize("at", ["", "box"])
def test_every_key_of_a_splits_end_has_an_effect(key: str, at: str) -> None:
    """Its name where it is heard; what it loads with everywhere."""
    table = board(item=SPLIT)
    end: Table = table["chain"][1]["destination"]
    end.update({"name": "desk", "input_resistance": 300e3, "input_capacitance": 200e-12})
    end["input_series_resistance"] = 34e3
    before = parse_board(to_toml(table)).heard_at(at)
    end[key] = other(Destination, key, end.get(key))
    after = parse_board(to_toml(table)).heard_at(at)
    if key == MEASURED:
        assert (before.end.measured, after.end.measured) == ("", end[key] if at else "")
        return
    if key == "name":
        assert (before.end.name, after.end.name) == ("desk", "renamed" if at else "desk")
        return
    one, two = (response(made, (), FREQUENCY).H for made in (before, after))
    assert not np.any(one == two)


def idle_cases() -> Iterator[tuple[type, Table, Context]]:
    for item, cases in IDLE.items():
        for table, context in cases:
            yield item, table, context


def in_context(item: type, table: Table, context: Context) -> Table:
    made = copy.deepcopy(table)
    own = HEARD[item][0](made)
    own.update(copy.deepcopy(context[0]))
    for key in context[1]:
        own.pop(key, None)
    return made


def complaints(table: Table) -> dict[str, str]:
    """Return what is said of keys without effect, by key."""
    try:
        parse_board(to_toml(table))
    except BoardError as error:
        return {
            key: str(problem)
            for problem in error.problems
            if "no effect" in problem.what
            for key in problem.where.rpartition(", ")[2].split(" and ")
        }
    return {}


@pytest.mark.parametrize(("item", "table", "context"), list(idle_cases()))
def test_a_key_without_effect_is_refused_and_has_none(
    item: type, table: Table, context: Context
) -> None:
    """Each refused key is one that changes nothing; without all of them the board is good."""
    assert not complaints(table)
    made = in_context(item, table, context)
    refused = complaints(made)
    assert refused
    cured = copy.deepcopy(made)
    for key in refused:
        HEARD[item][0](cured).pop(key)
    if context[0].get("inductance") == 0 and item is Pickup:
        with pytest.raises(BoardError, match="a pickup has an inductance"):
            parse_board(to_toml(cured))
        return
    read = parse_board(to_toml(cured))
    for key in refused:
        value = HEARD[item][0](made)[key]
        if specs(item)[key].kind == "taper":
            value = 0.3
        forced = _forced(read, item, {key: value})
        for on in ((), read.switches()):
            one, two = (response(b, on, FREQUENCY).H for b in (read, forced))
            np.testing.assert_array_equal(one, two)


def _forced(made: Board, item: type, values: dict[str, Any]) -> Board:
    """Return a board with values that no file may write, set past the reader."""
    if item is PassiveInstrument:
        return replace(made, instrument=replace(made.instrument, **values))
    if item is Pickup:
        first, *others = made.instrument.pickups  # type: ignore[union-attr]
        pickups = (replace(first, **values), *others)
        return replace(made, instrument=replace(made.instrument, pickups=pickups))  # type: ignore[call-arg]
    if item is Destination:
        return replace(made, destination=replace(made.destination, **values))
    if item is CableSpec:
        return edit.with_cable(made, "lead", replace(made.cables["lead"], **values))
    if item is Tap:  # nothing may be plugged into an open end: only the reader knows
        return made
    if item is Supply:
        left = replace(made.supplies["left"], **values)
        return replace(made, supplies={**made.supplies, "left": left})
    if item is BoxTable:
        layout = laid(made).layout
        boxes = {**layout.boxes, "switcher": replace(layout.boxes["switcher"], **values)}
        return relaid(made, replace(layout, boxes=boxes))
    return edit.with_values(made, (1,), values, {})


def laid(made: Board) -> Laying:
    """Return where the boxes of a board stand."""
    assert made.laying is not None
    return made.laying


def test_every_need_is_tried() -> None:
    """No key that needs something is left out above, whatever it needs."""
    for item in HEARD:
        tried = [
            in_context(item, table, context) for owner, table, context in idle_cases()
            if owner is item
        ]  # fmt: skip
        refused = {key for table in tried for key in complaints(table)}
        wanted = {key for need in needs(item) for key in need.keys}
        assert wanted <= refused, item

"""The JSON Schema: what it accepts and refuses, and that it says all that the items declare."""

from __future__ import annotations

import json
import re
import tomllib
from itertools import islice, product
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from helpers.boards import boards_in_a_state
from helpers.thinned import FULL, tries
from hypothesis import given, settings
from jsonschema import Draft202012Validator

from sigsim.board import parts, reader
from sigsim.board.parts import library
from sigsim.board.quantity_schema import pattern
from sigsim.board.reader import parse_board
from sigsim.board.schema import board_schema
from sigsim.cli.commands.schema import command
from sigsim.cli.main import COMMANDS
from sigsim.errors import SigsimError
from sigsim.items.base import STAGE_KINDS
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.destination import Destination
from sigsim.items.fields import specs
from sigsim.items.instrument import INSTRUMENT_TYPES, Pickup
from sigsim.items.layout import BoxTable, LayoutTable
from sigsim.items.loop import BOARD_SPECS, Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.quantities import KINDS
from sigsim.units import parse

ROOT = Path(__file__).parents[2]
FILES = sorted(
    path
    for folder in ("examples", "tests/acceptance", "sigsim/board")
    for path in (ROOT / folder).glob("*.toml")
)
SCHEMA = board_schema()
DEFS: dict[str, Any] = SCHEMA["$defs"]
VALIDATOR = Draft202012Validator(SCHEMA)

WHOLE = """
title = "whole"

[instrument]
part = "bass-split-coil"
tone = 7

[destination]
part = "instrument-input"

[cables.lead]
part = "cable-standard"
[cables.patch]
capacitance = "33 pF/ft ± 10 %"

sold = ["4 in", "2 ft"]

[wiring]
cable = "patch"
length = "8 in"

[layout]
size = ["60 cm", "32 cm"]
rows = [["swell", "switcher"], ["fuzz"]]
gap = "1 cm"
slack = "3 cm"
plug_length = "2.5 cm"
entry = "right"
exit = ["0 cm", "30 cm"]

[boxes.switcher]
width = "12 in"
depth = "6 cm"
jacks = "back"
loops = ["colour"]

[[chain]]
cable = "lead"
length = "15 ft"

[[chain]]
stage = "fuzz"
part = "fuzz-low-impedance"
output_resistance = "4k7"
width = "7 cm"
depth = "12 cm"
output_at = ["0 cm", "8 cm"]

[[chain]]
cable = "patch"
[[chain]]
stage = "swell"
part = "volume-pedal-passive"
width = "11 cm"
depth = "28 cm"
taper = "audio 15 %"

[[chain]]
tap = "tuner"
cable = "patch"
length = "1 m"
open = true

[[chain]]
loop = "colour"
[[chain.inside]]
stage = "echo"
input_resistance = "1 MΩ"
output_resistance = 330
bypass = "buffered"

[[chain]]
split = "second amp"
[chain.destination]
part = "valve-amplifier-input"
name = "loud one"
[[chain.inside]]
stage = "reverb"
part = "pedal-true-bypass"

[[chain]]
split = "nothing yet"
destination = {}

[scenes]
clean = []
solo = ["fuzz", "colour"]
"""

# What is replaced in the board above, and by what.
BROKEN = {
    "unknown section": ("title =", "titel ="),
    "unknown key": ("tone = 7", "treble = 7"),
    "unknown part": ('"bass-split-coil"', '"bass-split-coils"'),
    "part of another table": ('"instrument-input"', '"cable-low"'),
    "part of another type": ('part = "bass-split-coil"', 'type = "active"'),
    "knob beyond its travel": ("tone = 7", "tone = 12"),
    "negative number": ("tone = 7", "tone = -1"),
    "negative text": ('"15 ft"', '"-15 ft"'),
    "length as a capacitance": ('"33 pF/ft ± 10 %"', '"33 ft"'),
    "resistance as a length": ('"1 m"', '"1 kΩ"'),
    "tolerance beyond 100 %": ("± 10 %", "± 110 %"),
    "decimal comma": ('"8 in"', '"8,5 in"'),
    "zero where there must be more": ('"1 MΩ"', '"0 Ω"'),
    "flag in quotes": ("open = true", 'open = "true"'),
    "unknown choice": ('"buffered"', '"bufferd"'),
    "unknown kind": ('part = "volume-pedal-passive"', 'kind = "volume"\ntrack = "1 MΩ"'),
    "taper without a share": ('"audio 15 %"', '"audio 15"'),
    "missing key": ("output_resistance = 330\n", ""),
    "missing length": ('length = "1 m"\n', ""),
    "two things at once": ('tap = "tuner"', 'tap = "tuner"\nstage = "tuner"'),
    "nothing inside a loop": (
        WHOLE[WHOLE.index("[[chain.inside]]") : WHOLE.index('[[chain]]\nsplit = "second')],
        "",
    ),
    "split without a destination": ("destination = {}\n", ""),
    "split that can be on": ("destination = {}", "destination = {}\nalways_on = true"),
    "unknown key of an end": ("destination = {}", "destination = { resistance = 1 }"),
    "part of another table at an end": ('"valve-amplifier-input"', '"cable-low"'),
    "an end that is no table": ("destination = {}", 'destination = "amp"'),
    "a destination in a loop": ('loop = "colour"', 'loop = "colour"\ndestination = {}'),
    "open end with something in it": ("open = true", 'open = true\ninput_resistance = "1 MΩ"'),
    "scene that is no list": ("clean = []", 'clean = "fuzz"'),
    "empty name": ('stage = "fuzz"', 'stage = " "'),
    "no destination": ('[destination]\npart = "instrument-input"\n', ""),
    "a tolerance of a size": ('"60 cm", "32 cm"', '"60 cm ± 1 %", "32 cm"'),
    "one number for a size": ('["60 cm", "32 cm"]', '"60 cm"'),
    "three numbers for a size": ('"32 cm"]', '"32 cm", "2 cm"]'),
    "size of 0": ('["60 cm"', '["0 cm"'),
    "no size": ('size = ["60 cm", "32 cm"]\n', ""),
    "negative gap": ('gap = "1 cm"', 'gap = "-1 cm"'),
    "no row": ('[["swell", "switcher"], ["fuzz"]]', "[]"),
    "empty row": ('[["swell", "switcher"], ["fuzz"]]', '[["swell"], []]'),
    "one row for all": ('[["swell", "switcher"], ["fuzz"]]', '["swell", "fuzz"]'),
    "no edge": ('entry = "right"', 'entry = "front"'),
    "no jacks": ('jacks = "back"', 'jacks = "front"'),
    "nothing is sold": ('["4 in", "2 ft"]', "[]"),
    "nothing long is sold": ('["4 in", "2 ft"]', '["0 in", "2 ft"]'),
    "cable without a length and layout": (
        WHOLE[WHOLE.index("[layout]") : WHOLE.index('[[chain]]\ncable = "lead"')],
        "",
    ),
    "jacks beside both places": (
        'output_at = ["0 cm", "8 cm"]',
        'output_at = ["0 cm", "8 cm"]\ninput_at = ["7 cm", "8 cm"]\njacks = "back"',
    ),
    "coil beside pickups": (
        "tone = 7",
        "inductance = 3\n[[instrument.pickups]]\ninductance = 3",
    ),
}

# One table of the schema per item class.
TABLES = {
    CableSpec: DEFS["cable"],
    LayoutTable: DEFS["layout"],
    BoxTable: DEFS["box"],
    Cable: DEFS["laid-cable"],
    Pickup: DEFS["pickup"],
    Loop: DEFS["loop"],
    Split: DEFS["split"],
    Tap: DEFS["tap"],
    Destination: SCHEMA["$defs"]["destination"],
    **{cls: DEFS[f"{kind.replace(' ', '-')}-stage"] for kind, cls in STAGE_KINDS.items()},
    **dict(
        zip(
            INSTRUMENT_TYPES.values(),
            SCHEMA["then"]["properties"]["instrument"]["oneOf"],
            strict=True,
        )
    ),
}
MORE_KEYS = {"part", "kind", "type", "pickups", "inside", "destination", "cable", "length"} | {
    *BOARD_SPECS
}


def test_the_schema_itself_is_valid() -> None:
    Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_good_files_validate(path: Path) -> None:
    VALIDATOR.validate(tomllib.loads(path.read_text(encoding="utf-8")))


def test_there_are_good_files() -> None:
    assert len(FILES) >= 6


def test_whole_board_is_good() -> None:
    """The board that the broken ones are made from is accepted by the schema and the reader."""
    VALIDATOR.validate(tomllib.loads(WHOLE))
    assert not parse_board(WHOLE).warnings


@pytest.mark.parametrize("change", BROKEN.values(), ids=BROKEN)
def test_broken_boards_do_not_validate(change: tuple[str, str]) -> None:
    """What the schema refuses, the reader refuses as well."""
    before, after = change
    assert before in WHOLE
    text = WHOLE.replace(before, after, 1)
    assert not VALIDATOR.is_valid(tomllib.loads(text))
    with pytest.raises(SigsimError):
        parse_board(text)


@given(boards_in_a_state())
@settings(max_examples=tries(20, 60))
def test_random_boards_validate(drawn: tuple[Any, Any, str]) -> None:
    """Every kind of item with any of its keys, the quantities in any spelling."""
    VALIDATOR.validate(tomllib.loads(drawn[2]))


def test_sections_are_those_of_the_reader() -> None:
    assert set(SCHEMA["properties"]) == set(reader.SECTIONS)
    assert SCHEMA["additionalProperties"] is False


@pytest.mark.parametrize("item", TABLES, ids=lambda item: item.__name__)
def test_keys_are_those_the_item_declares(item: type) -> None:
    """Each key is there with its help and its words, and no other key is accepted."""
    table = TABLES[item]
    assert set(table["properties"]) - MORE_KEYS == set(specs(item)) - MORE_KEYS
    assert table["additionalProperties"] is False
    for key, spec in specs(item).items():
        assert table["properties"][key]["description"].startswith(spec.help)
        if spec.kind == "choice":
            assert table["properties"][key]["enum"] == list(spec.choices)
    assert all(entry.get("description") for entry in table["properties"].values())


def test_every_part_can_stand_somewhere() -> None:
    """The parts named by the tables are the library, each only where its kind belongs."""
    named: dict[str, set[str]] = {}
    for item, table in TABLES.items():
        for name in table["properties"].get("part", {}).get("enum", []):
            named.setdefault(name, set()).add(item.__name__)
    assert set(named) == set(library())
    homes = {"Destination", "Tap"}
    assert all(named[n] == homes for n, p in library().items() if p.kind == "destination")


@pytest.mark.parametrize("name", [n for n, p in library().items() if p.kind == "stage"])
def test_a_stage_needs_no_more_than_its_part(name: str) -> None:
    table = {"stage": "box", "part": name}
    fitting = [kind for kind in STAGE_KINDS if _definition(kind).is_valid(table)]
    assert fitting == [parts.part(name).values.get("kind", "active")]


def _definition(kind: str) -> Draft202012Validator:
    pointer = f"#/$defs/{kind.replace(' ', '-')}-stage"
    return Draft202012Validator({"$ref": pointer, "$defs": DEFS})


GOOD = [
    ("resistance", "4k7"), ("resistance", "R47"), ("resistance", "10R"), ("resistance", "250 kΩ"),
    ("resistance", "250 k\u2126 ± 20 %"), ("resistance", " 1M0 +- 5 % "), ("resistance", "1e3 Ohm"),
    ("capacitance", "47n"), ("capacitance", "4.7 \u03bcF"), ("capacitance", "22 nF+/-10%"),
    ("capacitance per length", "33 pF/ft"), ("resistance per length", "0.1 \u2126/m"),
    ("inductance", "6.1 H"), ("length", "6"), ("length", "15 ft"), ("length", '8"'),
    ("gain", "\u22123 dB"), ("frequency", "9k"), ("knob", "7.5"), ("noise voltage", "18 nV/√Hz"),
]  # fmt: skip
BAD = [
    ("resistance", "250 kF"), ("resistance", "6 m"), ("resistance", "6 m ± 1 %"),
    ("resistance", "6 ft"), ("resistance", "-1"),
    ("resistance", "4,7 k"), ("resistance", "nan"), ("resistance", "10 kΩ ± 200 %"),
    ("capacitance", "47 nH"), ("inductance", "6 m"), ("capacitance", ""),
    ("capacitance per length", "110 pF/s"),
    ("length", "6 kg"), ("length", "6k"), ("gain", "3 Hz"), ("frequency", "two"), ("knob", "5 k"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "text"), GOOD)
def test_quantities_a_person_writes(kind: str, text: str) -> None:
    assert re.search(pattern(KINDS[kind], True), text)
    assert parse(text, kind, above_zero=True).value != 0


@pytest.mark.parametrize(("kind", "text"), BAD)
def test_what_is_no_such_quantity(kind: str, text: str) -> None:
    assert not re.search(pattern(KINDS[kind], False), text)


@pytest.mark.parametrize("kind", KINDS)
def test_only_its_own_units(kind: str) -> None:
    """Every unit of a kind is accepted, in every case that the reader accepts; no other kind's."""
    found = re.compile(pattern(KINDS[kind], False))
    for unit in KINDS[kind].units:
        small = f"{KINDS[kind].floor * 1e6 or 1:g} {unit}"
        assert found.search(small)
        assert parse(small, kind).value > 0
    for other in KINDS.values():
        if other.name != KINDS[kind].name:
            assert not [unit for unit in other.units if found.search(f"2.5 {unit}")]


SPELLINGS = [
    "6",
    "4.7",
    ".5",
    "5.",
    "0.0",
    "4k7",
    "R47",
    "47R",
    "1M0",
    "4\u00b57",
    "1,5",
    "nan",
    "",
]
PREFIXES = ["", "k", "m", "\u00b5", "\u03bc", "p", "x"]
ENDS = ["", " ± 10 %", "+-5%", " ± 101 %", " ± %"]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("above_zero", [False, True])
def test_pattern_agrees_with_the_reader(kind: str, above_zero: bool) -> None:
    """Some thousand spellings, sensible and not: both say yes or both say no."""
    found = re.compile(pattern(KINDS[kind], above_zero))
    units = ["", *KINDS[kind].units, "Ω", "F", "ft", "F/m", "s"]
    # One in eleven in every run, which divides none of the lists, so that all of each are met.
    spellings = product(SPELLINGS, ["", " "], PREFIXES, units, ENDS)
    first, step = (0, 1) if FULL else (list(KINDS).index(kind) % 11, 11)
    for number, space, prefix, unit, end in islice(spellings, first, None, step):
        text = f"{number}{space}{prefix}{unit}{end}"
        try:
            parse(text, kind, above_zero=above_zero)
        except SigsimError as error:
            read = "cannot be meant" in str(error)  # a pattern cannot weigh a value
        else:
            read = True
        assert read == bool(found.search(text)), text


def test_zero_where_there_must_be_more() -> None:
    for text in ("0", "0.0 kΩ", "0k0", "0 Ω ± 10 %"):
        assert re.search(pattern(KINDS["resistance"], False), text)
        assert not re.search(pattern(KINDS["resistance"], True), text)


def test_command_prints_it() -> None:
    result = CliRunner().invoke(command)
    assert result.exit_code == 0
    assert json.loads(result.output) == SCHEMA
    assert (command.help or "").splitlines()[0] == COMMANDS["schema"]

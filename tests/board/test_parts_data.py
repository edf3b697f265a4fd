"""The parts library as plain TOML: complete, sourced and physically plausible."""

import math
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from helpers.reference import file, files

ROOT = Path(__file__).parents[2]
LIBRARY = ROOT / "sigsim" / "board" / "library"
KINDS = {
    "instruments": {"instrument", "pickup"},
    "cables": {"cable"},
    "stages": {"stage"},
    "destinations": {"destination"},
}
KNOBS = {"volume", "tone", "position"}
# A source is a confession or begins with something that can be looked up; add new ones here.
SOURCES = (
    "common practice, no source",
    "from memory",
    "derived: L' = ",
    "derived from ",
    "H. Lemme, ",
    "R. Stanley, ",
    "M. Hayes, ",
    "P. Harden NA5N, ",
    "Sound on Sound, November 2009",
    "digisolutions.de/",
    "itecnotes.com Q&A; M. Grob",
    "htg2.net topic 93294",
    "muzique.com, ",
    "trade articles at catamountmusic.com and guitarfriend.de",
    "a common JFET-input op-amp, data sheet SLOS080",
)
PREFIXES = {"p": 1e-12, "n": 1e-9, "µ": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3, "M": 1e6}
QUANTITY = re.compile(r"([\d.]+) ([pnµmkM]?)(Ω|H|F)")


def parts() -> dict[str, dict[str, Any]]:
    """Return every part of the library by name, with the file it stands in."""
    found: dict[str, dict[str, Any]] = {}
    for path in sorted(LIBRARY.glob("*.toml")):
        for name, part in tomllib.loads(path.read_text(encoding="utf-8")).items():
            assert name not in found, f"{name} stands in two files"
            found[name] = {**part, "file": path.stem}
    return found


PARTS = parts()
COILS = [
    name
    for name, part in PARTS.items()
    if part["file"] == "instruments" and part["values"].get("type") != "active"
]


def number(text: str) -> float:
    """Return the nominal value of a quantity in its base unit (per metre as written)."""
    match = QUANTITY.match(text)
    assert match, text
    return float(match[1]) * PREFIXES[match[2]]


def coils(values: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the coils of a passive instrument or of a pickup."""
    several: list[dict[str, Any]] = values.get("pickups", [])
    return several or [values]


def bounds(kind: str) -> tuple[float, float]:
    """Return the published lower and upper end of a range of pickups."""
    text = file("pickup_ranges").read_text(encoding="utf-8")
    found = {case["name"]: case["expected"] for case in tomllib.loads(text)["cases"]}
    return found[f"{kind}, lower end"], found[f"{kind}, upper end"]


def library_cases() -> list[Any]:
    """Return the published cases that name a part and a key of the library."""
    return [
        pytest.param(case, id=f"{path.stem}: {case['name']}")
        for path in files()
        for case in tomllib.loads(path.read_text(encoding="utf-8"))["cases"]
        if "part" in case["inputs"]
    ]


def test_size_of_library() -> None:
    """The library has the four files and at least thirty parts."""
    assert {part["file"] for part in PARTS.values()} == set(KINDS)
    assert len(PARTS) >= 30


@pytest.mark.parametrize("name", PARTS)
def test_form_of_part(name: str) -> None:
    """A part has a kebab-case name, a kind that suits its file, a summary, values and sources."""
    part = PARTS[name]
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name)
    sale = {"use", "sold"} if part["kind"] == "cable" else set()
    assert set(part) == {"kind", "summary", "values", "sources", "file", *sale}
    assert part["kind"] in KINDS[part["file"]]
    assert part["summary"].strip()


@pytest.mark.parametrize("name", [name for name, p in PARTS.items() if p["kind"] == "cable"])
def test_a_cable_says_what_it_is_bought_for_and_how(name: str) -> None:
    part = PARTS[name]
    assert set(part["use"]) <= {"lead", "patch", "coiled lead", "fixed line"}
    assert set(part["sold"]) <= {"ready-made", "by the metre"}
    assert part["use"]
    assert part["sold"]


@pytest.mark.parametrize("name", PARTS)
def test_every_value_has_a_source(name: str) -> None:
    """Values and sources have the same keys, and a source is a known citation or a confession."""
    part = PARTS[name]
    assert part["values"]
    assert list(part["values"]) == list(part["sources"])
    for key, source in part["sources"].items():
        assert source.startswith(SOURCES), key


@pytest.mark.parametrize("name", PARTS)
def test_no_knob_is_set(name: str) -> None:
    """A part leaves the position of every knob to the board."""
    values = PARTS[name]["values"]
    for table in [values, *values.get("pickups", [])]:
        assert not KNOBS & set(table)


@pytest.mark.parametrize("name", COILS)
def test_resonance_is_plausible(name: str) -> None:
    """A coil resonates at 4 to 12 kHz alone and inside the published range with 600 pF."""
    found = coils(PARTS[name]["values"])
    inductance = 1 / sum(1 / number(coil["inductance"]) for coil in found)
    capacitance = sum(number(coil["capacitance"]) for coil in found)
    alone = 1 / (2 * math.pi * math.sqrt(inductance * capacitance))
    loaded = 1 / (2 * math.pi * math.sqrt(inductance * (capacitance + 600e-12)))
    low, high = bounds("loaded resonance")
    assert 4e3 < alone < 12e3
    assert low < loaded < high
    for coil in found:
        low, high = bounds("winding capacitance")
        assert low <= number(coil["capacitance"]) <= high
        low, high = bounds("inductance")
        assert low <= number(coil["inductance"]) <= high


@pytest.mark.parametrize("case", library_cases())
def test_part_has_the_published_value(case: dict[str, Any]) -> None:
    """A part whose figure was published has that figure."""
    value = number(PARTS[case["inputs"]["part"]]["values"][case["inputs"]["key"]])
    assert value == pytest.approx(case["expected"], abs=case["tolerance"], rel=0)

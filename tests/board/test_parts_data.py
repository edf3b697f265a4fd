"""The parts library as plain TOML: complete, sourced and physically plausible."""

import math
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from helpers.measured import fitted
from helpers.reference import file

ROOT = Path(__file__).parents[2]
LIBRARY = ROOT / "sigsim" / "board" / "library"
KINDS = {
    "instruments": {"instrument", "pickup"},
    "cables": {"cable"},
    "stages": {"stage"},
    "destinations": {"destination"},
}
KNOBS = {"volume", "tone", "bass_cut", "position"}
# A source is a confession or begins with something that can be looked up; add new ones here.
SOURCES = (
    "common practice, no source",
    "from memory",
    "derived: L' = ",
    "derived from ",
    "H. Lemme, ",
    "R. Stanley, ",
    "P. Harden NA5N, ",
    "Sound on Sound, November 2009",
    "measured: strayr/pickupAnalyseR-data (public, CC0 1.0)",
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
    assert set(part) == {"kind", "summary", "aliases", "values", "sources", "file", *sale}
    assert part["kind"] in KINDS[part["file"]]
    assert part["summary"].strip()
    assert part["aliases"]
    assert len(set(part["aliases"])) == len(part["aliases"])
    assert all(alias == " ".join(alias.split()) for alias in part["aliases"])


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


# Winding capacitance [F] of measured coils: strayr/pickupAnalyseR-data (public, CC0 1.0).
MEASURED_WINDING = (20e-12, 70e-12)
# Exponent of the loss, and loss at 1 kHz [Ω], of coils measured in the same: reference/measured/.
METAL = 0.5
LIGHT, HEAVY, HALVES, COVER = (4, 8, 9, 11), (3, 5, 7, 10, 13), (1, 2), (12,)


def fits(coils: tuple[int, ...], inductance: float = 0.0) -> tuple[float, float]:
    """Return the least and the largest loss of measured coils [Ω], as of so many henries if given.

    What metal takes goes with the square of the turns, and so does the inductance.
    """
    found = [fitted(coil, METAL) for coil in coils]
    losses = [f.loss * (inductance / f.L if inductance else 1.0) for f in found]
    return min(losses), max(losses)


SINGLE = fits(LIGHT)
SPLIT = fits(LIGHT + HALVES, 6.0)
MEASURED_LOSS = {
    "guitar-single-coil": SINGLE,
    "guitar-two-coil": fits(HEAVY, 4.7),
    "bass-single-coil": SINGLE,
    "bass-split-coil": SPLIT,
    "bass-two-coil": fits(HEAVY, 2.0),
    "bass-covered": fits(COVER),
    "bass-two-pickup": SINGLE,
    "guitar-two-pickup": fits(HEAVY, 4.7),
    "guitar-treble-bleed": SINGLE,
    "guitar-low-cut": SINGLE,
    "pickup-single-coil": SINGLE,
    "pickup-two-coil": fits(HEAVY, 4.7),
    "pickup-bass-split-half": (SPLIT[0] / 2, SPLIT[1] / 2),
    "pickup-bass-single-coil": SINGLE,
    "pickup-bass-two-coil": fits(HEAVY, 2.0),
    "pickup-bass-covered": fits(COVER),
}


@pytest.mark.parametrize("name", COILS)
def test_coil_is_like_those_that_were_measured(name: str) -> None:
    """Winding and loss are like measured ones, the inductance lies in the published range."""
    for coil in coils(PARTS[name]["values"]):
        low, high = MEASURED_WINDING
        assert low <= number(coil["capacitance"]) <= high
        low, high = MEASURED_LOSS[name]
        # Written to two digits.
        assert 0.98 * low <= number(coil["loss_resistance"]) <= 1.02 * high
        assert float(coil["loss_exponent"].split()[0]) == METAL
        low, high = bounds("inductance")
        assert low <= number(coil["inductance"]) <= high


def test_two_halves_make_a_whole() -> None:
    """Two equal coils in series: R, L and loss add up, of the capacitance half is left."""
    half, whole = (PARTS[n]["values"] for n in ("pickup-bass-split-half", "bass-split-coil"))
    assert whole["loss_exponent"] == half["loss_exponent"]
    for key in ("resistance", "inductance", "loss_resistance"):
        assert number(whole[key]) == pytest.approx(2 * number(half[key]))
    assert number(whole["capacitance"]) == pytest.approx(number(half["capacitance"]) / 2)


@pytest.mark.parametrize("name", [name for name in COILS if name.startswith("bass")])
def test_tone_capacitor_of_basses(name: str) -> None:
    """Trade articles at catamountmusic.com and guitarfriend.de: basses use 47 nF."""
    assert number(PARTS[name]["values"]["tone_capacitor"]) == pytest.approx(47e-9)


INSTRUMENTS = {name: part["values"] for name, part in PARTS.items() if part["kind"] == "instrument"}


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_controls_are_like_those_in_instruments(name: str) -> None:
    """Common practice, no source: between the smallest and the largest that are met."""
    usual = {
        "volume_track": (100e3, 1e6),
        "tone_track": (100e3, 1e6),
        "tone_capacitor": (10e-9, 100e-9),
        "treble_bleed_capacitor": (100e-12, 2.2e-9),
        "treble_bleed_resistor": (80e3, 330e3),
        "bass_cut_capacitor": (1e-9, 10e-9),
        "bass_cut_track": (250e3, 1e6),
        "wiring_capacitance": (30e-12, 500e-12),
    }
    for table in [INSTRUMENTS[name], *INSTRUMENTS[name].get("pickups", [])]:
        for key, (low, high) in usual.items():
            if key in table:
                assert low <= number(table[key]) <= high, key


def test_one_of_two_volumes_turned_down_leaves_the_other() -> None:
    """Common practice, no source: two volumes of a bass work alone, those of a guitar do not."""
    bass, guitar = INSTRUMENTS["bass-two-pickup"], INSTRUMENTS["guitar-two-pickup"]
    assert [p.get("volume_wiring") for p in bass["pickups"]] == ["output at track"] * 2
    assert [p.get("volume_wiring") for p in guitar["pickups"]] == [None] * 2
    assert all({"volume_track", "tone_track"} <= set(p) for p in guitar["pickups"])


def test_each_of_the_controls_is_in_some_part() -> None:
    """What real instruments have is in the library, so that nobody has to look up its values."""
    given = {
        key
        for values in INSTRUMENTS.values()
        for table in [values, *values.get("pickups", [])]
        for key in table
    }
    assert {
        "volume_wiring", "treble_bleed_capacitor", "treble_bleed_resistor", "treble_bleed",
        "wiring_capacitance", "bass_cut_capacitor", "bass_cut_track",
    } <= given  # fmt: skip


BUFFERED = [name for name, part in PARTS.items() if part["values"].get("bypass") == "buffered"]


@pytest.mark.parametrize("name", BUFFERED)
def test_a_buffered_bypass_has_coupling_capacitors_and_is_no_booster(name: str) -> None:
    """Common practice, no source: a follower loses some tenths; its capacitors pass a low B."""
    values = PARTS[name]["values"]
    assert -0.5 <= float(values["bypass_gain"].partition(" ")[0]) < 0
    low_b = 30.868  # Hz, by equal temperament from A 440 Hz (ISO 16)
    for key in ("input_capacitor", "bypass_input_capacitor"):
        corner = 1 / (2 * math.pi * number(values[key]) * number(values["input_resistance"]))
        assert corner < low_b / 3
    for key in ("output_capacitor", "bypass_output_capacitor"):
        corner = 1 / (2 * math.pi * number(values[key]) * 10e3)  # a line input of 10 kΩ behind it
        assert corner < low_b


def test_stray_capacitance_and_leakage_of_a_transformer() -> None:
    """Common practice, no source: 0.3 to 1 nF, and a leakage of under a hundredth."""
    values = PARTS["di-transformer"]["values"]
    assert 0.3e-9 <= number(values["winding_capacitance"]) <= 1e-9
    leakage, primary = (number(values[k]) for k in ("leakage_inductance", "primary_inductance"))
    assert 0 < leakage < primary / 100


def test_grid_stopper_of_a_valve_amplifier() -> None:
    """Common practice, no source: 68 kΩ for each of two jacks, both in parallel."""
    stopper = number(PARTS["valve-amplifier-input"]["values"]["input_series_resistance"])
    assert stopper == pytest.approx(68e3 / 2)


# Width and depth of boxes [cm]; common practice, no source: the narrowest pedals are some 4 cm, the
# longest treadles some 30 cm. A DI box and an amplifier stand beside the board.
_SIZES = {"width": (3.5, 20.0), "depth": (8.0, 30.0)}
_BESIDE_THE_BOARD = {"di-transformer", "amplifier-preamp-valve", "amplifier-preamp-transistor"}


@pytest.mark.parametrize("name", [name for name, p in PARTS.items() if p["kind"] == "stage"])
def test_what_stands_on_a_board_has_the_size_of_such_a_box(name: str) -> None:
    """A treadle is longer than wide; what is small is so both ways."""
    values, sources = PARTS[name]["values"], PARTS[name]["sources"]
    given = set(_SIZES) & set(values)
    assert given == (set() if name in _BESIDE_THE_BOARD else set(_SIZES))
    size = {key: float(values[key].removesuffix(" cm")) for key in given}
    assert all(_SIZES[key][0] <= size[key] <= _SIZES[key][1] for key in given)
    assert all(sources[key].startswith("common practice, no source") for key in given)
    if name.startswith(("wah", "volume-pedal")):
        assert size["depth"] >= 2 * size["width"]

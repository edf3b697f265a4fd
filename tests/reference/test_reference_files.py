"""Every file of published numbers is complete, and no case of it can vanish unseen."""

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest
from helpers.reference import FOLDERS, REFERENCE, files

FILES = files()
CITATION = ("id", "title", "citation", "location", "address", "date_read", "kind", "errata")
KINDS = {
    "published",
    "measured",
    "simulator",
    "derived",
    "worked by hand",
    "common practice",
    "from memory",
}
# A case that brings a board of its own says how its number was worked out.
BOARD_KEYS = {"board", "asks", "derivation"}
# What nobody published cannot prove anything: such kinds exist for the record, not for a case.
NO_TEST_VALUE = {"common practice", "from memory"}

FROZEN: dict[str, tuple[str, ...]] = {
    "a_weighting": (
        "31.5 Hz",
        "63 Hz",
        "125 Hz",
        "250 Hz",
        "500 Hz",
        "1000 Hz",
        "2000 Hz",
        "4000 Hz",
        "8000 Hz",
        "16000 Hz",
        "normalisation at 1 kHz",
    ),
    "amplifier_noise": (
        "with 1 kΩ",
        "with 10 kΩ",
        "with 100 kΩ",
    ),
    "bass_pickups": (
        "two halves of a split coil in series",
        "early single coil, resistance",
        "tone capacitor",
    ),
    "coaxial_cables_per_foot": (
        "RG-59, capacitance per foot",
        "RG-59, capacitance per foot, computed",
        "RG-58A/C, capacitance per foot",
        "RG-174, capacitance per foot",
        "RG-58, per foot to per metre",
    ),
    "coaxial_formula": (
        "diameter ratio 10 in vacuum, capacitance per foot",
        "diameter ratio 3.41, solid polyethylene, capacitance per foot",
    ),
    "coil_switching": (
        "inductance, parallel over series",
        "resonance, parallel over series",
        "resonance, one coil over series",
    ),
    "coil_without_metal": (
        "with 330 pF",
        "with 700 pF",
        "with 1030 pF",
    ),
    "exponential_sweep": (
        "second harmonic, lead",
        "third harmonic, lead",
    ),
    "inductor_self_resonance": (
        "winding capacitance",
        "series quality factor",
    ),
    "input_and_output_resistances": (
        "instrument input",
        "amplifier input",
        "overdrive input",
        "chip amplifier input",
        "line input, lower end",
        "passive volume pedal",
        "pedal output",
    ),
    "instrument_cable_capacitance": (
        "usual cable, per foot to per metre",
        "library's standard cable",
    ),
    "insulation": (
        "solid polyethylene, velocity factor",
        "cellular polyethylene, velocity factor",
    ),
    "johnson_noise_voltage": ("100 kΩ over 1 MHz",),
    "letter_codes": (
        "R47",
        "4R7",
        "470R",
        "4K7",
        "47K",
        "47K3",
        "4M7",
        "10p",
        "4n7",
        "1u0",
    ),
    "measured_coils": tuple(f"coil {number}" for number in range(3, 14)),
    "pickup_ranges": (
        "inductance, lower end",
        "inductance, upper end",
        "loaded resonance, lower end",
        "loaded resonance, upper end",
        "resonance height, upper end",
    ),
    "synchronised_sweep": (
        "k",
        "L",
        "duration",
        "first-order coefficient",
        "second-order coefficient",
        "third-order coefficient",
    ),
    "triode_input": (
        "corner with 42.9 kΩ",
        "library's valve input",
    ),
    "true_bypass_pedals": (
        "lowest cable, per metre",
        "highest cable, per metre",
        "most a box and its patch lead adds",
    ),
    "typical_guitar_coils": (
        "wire resistance",
        "single coil, inductance",
        "two-coil pickup, inductance",
    ),
    "valve_stage_design": (
        "corner with 159 kΩ",
        "series capacitor for 368 Ω",
        "series capacitor for 132 kΩ",
    ),
    "worked_cables": (
        "capacitance of ten metres",
        "corner of ten metres",
        "capacitance in pF a foot",
        "plugs at both ends",
        "resistance there and back",
        "inductance in series",
        "loss tangent",
        "matched line, level",
        "matched line, phase",
        "quarter wave, open end",
        "quarter wave into another resistance",
        "eighth wave, open end",
        "resistive line, a long way down",
        "resistive line, phase",
        "two plugs and an inductance: third-order Butterworth, corner",
        "two plugs and an inductance: third-order Butterworth, an octave up",
    ),
    "worked_coils": (
        "series resonance with a cable, at the resonance",
        "series resonance with a cable, frequency of the peak",
        "series resonance with a cable, height of the peak",
        "far above the resonance",
        "winding, cable, plugs and input add up",
        "loss resistance across the inductance",
        "loss resistance beside the wire",
        "loss with the root of frequency, magnitude",
        "loss with the root of frequency, phase",
        "loss with the root of frequency is its resistance at 1 kHz",
        "loss of exponent 1 is an inductance",
        "second-order Butterworth, at its corner",
        "second-order Butterworth, an octave up",
        "second-order Butterworth, the corner found",
        "second-order Bessel, at its delay frequency",
        "second-order Chebyshev of 1 dB, height of its peak",
        "second-order Chebyshev of 1 dB, frequency of its peak",
        "second-order Chebyshev of 1 dB, at its band edge",
        "two unlike coils in series",
        "two like coils in parallel",
        "two halves, each with a winding, are their whole",
    ),
    "worked_controls": (
        "volume at 5, linear",
        "volume at 2, linear",
        "volume at 8, linear",
        "source behind a volume at 5, with a cable",
        "source behind a volume at 2, with a cable",
        "volume at 5, with the coil before it",
        "volume at 10 is still a load",
        "audio taper at 5",
        "audio taper at 2.5",
        "audio taper at 7.5",
        "audio taper of 20 % at 2.5",
        "source behind an audio taper at 5",
        "tone at 0",
        "tone at 2, far above its corner",
        "tone at 10, far above its corner",
        "tone before volume",
        "tone after volume",
        "tone at 0 on a coil",
        "tone at 4 on a coil",
        "volume at 10 on a coil with a cable",
        "volume at 5 on a coil without a cable",
        "volume at 5 on a coil with a cable",
        "tone after volume on a coil",
        "two pickups in parallel, one turned down",
        "volume pedal at 5",
        "volume pedal at 5, with a cable",
        "volume pedal with an audio taper at 5",
        "treble bleed, capacitor alone",
        "treble bleed, resistor in parallel",
        "treble bleed, resistor in series",
        "treble bleed of a pickup",
        "output at the track, level",
        "output at the track, source behind it",
        "output at the track, with a treble bleed",
        "output at the track, one of two turned down",
        "output at the track, turned down, with a treble bleed",
        "tone of a pickup, before its volume",
        "tone of a pickup, after its volume",
        "tone of one pickup of two in series",
        "reversed polarity in series",
        "reversed polarity in parallel",
        "bass cut, capacitor alone",
        "bass cut at 5, linear",
        "bass cut at 0",
        "bass cut at 5, audio",
        "bass cut at 10",
        "screened wiring to the jack",
        "screened wiring behind the bass cut",
    ),
    "worked_hand_checks": (
        "ΣC of a passive run",
        "LC resonance of a passive run",
        "resistance of a passive run",
        "RC corner of a passive run",
        "RC corner behind a stage",
        "LC resonance of two coils in series",
        "LC resonance of two coils in parallel",
        "ΣC with the wiring to the jack",
        "LC resonance with the wiring to the jack",
        "resistance before a bass cut",
        "ΣC with a transformer",
        "ΣC with a coupling capacitor closed",
        "ΣC with a stopper",
    ),
    "worked_losses": (
        "loss against the lead alone",
        "what a stage that is on does on purpose is no loss",
        "against the lead alone it is",
        "treble loss of a first-order low-pass",
        "treble loss of half the voltage alike",
    ),
    "worked_noise": (
        "a source and a load of the same resistance",
        "a pad",
        "a volume at 5",
        "voltage and current noise of a stage, with its gain",
        "a cable takes noise with the signal",
        "resistors at both ends of a stage",
        "a resistor over the band that is heard",
        "a stopper is a resistor too",
        "a stopper in a stage",
    ),
    "worked_splits": (
        "two amps on a resistive instrument",
        "the same at the second amp",
        "a second way of more than an amp loads with all of it",
        "at the end of that way",
        "what the second way costs the first",
        "what the first way costs the second",
        "cables of both ways add up",
        "cables of both ways add up at the other end",
        "ΣC has both ways",
        "a stage that is on ends what a second way loads with",
        "off it loads with all that is behind it",
        "a split in a loop that is in",
        "a split in a loop that is out",
        "current noise of the stage that ends a second way",
        "current noise of a split in a split",
    ),
    "worked_stages": (
        "true bypass: contact before wiring",
        "true bypass: contact into a load",
        "true bypass on a coil",
        "hardwire bypass: its input stays",
        "hardwire bypass: its input capacitance stays",
        "hardwire bypass behind its own capacitor",
        "hardwire bypass on a coil",
        "buffered bypass, off: no gain",
        "the same stage on: 20 dB",
        "buffered bypass with values of its own",
        "a stage that is on shields its source",
        "input capacitance of a stage",
        "input capacitor and input capacitance divide",
        "series input capacitor with a source",
        "series output capacitor",
        "output capacitor of an active instrument",
        "low-pass of a stage, an octave up",
        "high-pass of a stage, an octave down",
        "pad: series, then shunt",
        "pad before a cable",
        "transformer: the load times the square of the ratio",
        "transformer: the source over the square of the ratio",
        "transformer: corner of the primary inductance",
        "transformer: resistance of both windings",
        "transformer: the primary inductance lies behind the primary winding",
        "transformer on a coil",
        "tap: an open cable is a capacitor",
        "tap on a coil",
        "tap with a load at its end",
        "tap: an eighth wave is a stub",
        "loop in: its contents alone",
        "loop out: its contact alone",
        "loop out: contact before wiring",
        "input of the destination",
        "a load ten times the source",
        "stopper of a stage: behind its input resistance",
        "stopper of a stage: what its source sees",
        "hardwire bypass with a stopper",
        "buffered bypass: no stopper",
        "buffered bypass: its own gain",
        "buffered bypass: its own input capacitor",
        "buffered bypass: its own output capacitor",
        "buffered bypass: not the capacitors of the stage that is on",
        "five buffered boxes of two 10 Hz corners each, at 31 Hz",
        "transformer: capacitance across its input",
        "transformer: leakage before its load",
        "transformer: leakage before the primary inductance",
        "stopper of the destination",
        "tap: a stopper at its end",
    ),
}


def load(path: Path) -> dict[str, Any]:
    """Return the file as a dictionary."""
    return tomllib.loads(path.read_text(encoding="utf-8"))


def cases() -> list[Any]:
    """Return every case with its file, labelled for pytest."""
    return [
        pytest.param(data, case, id=f"{path.stem}: {case['name']}")
        for path in FILES
        for data in [load(path)]
        for case in data["cases"]
    ]


def test_no_file_of_cases_stands_where_nobody_looks() -> None:
    """All that has cases is found, and a name is used once, so that the list below is complete."""
    anywhere = [path for path in REFERENCE.rglob("*.toml") if "cases" in load(path)]
    assert sorted(anywhere) == sorted(FILES)
    assert len({path.stem for path in FILES}) == len(FILES)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_folder_is_that_of_the_kind(path: Path) -> None:
    """Who measured and who printed are told apart by where a file stands; so are its cases."""
    data = load(path)
    kinds = {data["kind"], *(case.get("kind", data["kind"]) for case in data["cases"])}
    # Arithmetic from the numbers of a file stands beside them.
    assert kinds <= FOLDERS[path.parent.name] | {"derived"}


def test_frozen_list_of_cases() -> None:
    """The cases on disk are exactly the cases named in this file."""
    found = {(path.stem, case["name"]) for path in FILES for case in load(path)["cases"]}
    assert found == {(stem, name) for stem, names in FROZEN.items() for name in names}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_citation_is_complete(path: Path) -> None:
    """Each citation field is a non-empty text and the kind is an accepted one."""
    data = load(path)
    for field in CITATION:
        assert isinstance(data[field], str), field
        assert data[field].strip(), field
    assert data["kind"] in KINDS
    assert set(data) == {*CITATION, "cases"}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_names_and_ids_of_cases(path: Path) -> None:
    """Case names are unique in a file, and its ids are the ids of its cases."""
    data = load(path)
    names = [case["name"] for case in data["cases"]]
    assert names
    assert len(set(names)) == len(names)
    ids = {part.strip() for part in data["id"].split(",")}
    assert {case.get("id", data["id"]) for case in data["cases"]} == ids


@pytest.mark.parametrize(("data", "case"), cases())
def test_case_is_complete(data: dict[str, Any], case: dict[str, Any]) -> None:
    """A case has inputs, a finite number, a unit and an accepted kind."""
    assert isinstance(case["inputs"], dict)
    assert isinstance(case["expected"], float)
    assert math.isfinite(case["expected"])
    assert case["unit"].strip()
    kind = case.get("kind", data["kind"])
    assert kind in KINDS - NO_TEST_VALUE
    assert ("derivation" in case) == (kind == "worked by hand")
    assert "board" not in case or set(case) >= BOARD_KEYS
    assert case.get("bound") in {None, "least", "most"}


@pytest.mark.parametrize(("data", "case"), cases())
def test_tolerance_is_justified(data: dict[str, Any], case: dict[str, Any]) -> None:
    """A tolerance is above zero, at most a fifth of the effect, and has a reason."""
    assert 0 < case["tolerance"] <= case["effect"] / 5, data["title"]
    assert case["tolerance_reason"].strip()

"""Every file of published numbers is complete, and no case of it can vanish unseen."""

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest
from helpers.reference import FOLDERS, REFERENCE, files

FILES = files()
CITATION = ("id", "title", "citation", "location", "address", "date_read", "kind", "errata")
KINDS = {"published", "measured", "simulator", "derived", "common practice", "from memory"}
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
    "air_line": (
        "impedance",
        "impedance, computed",
        "capacitance per metre",
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
    "bass_strings": (
        "B0",
        "E1",
        "A1",
        "D2",
        "G2",
    ),
    "bridging": ("loss at ten to one",),
    "cable_and_resonance": (
        "straight cord, in words",
        "straight cord",
        "coiled cord, in words",
        "coiled cord",
    ),
    "coaxial_cable_table": (
        "RG-58, capacitance per metre",
        "RG-174, capacitance per metre",
        "RG-58, loop resistance per metre",
        "RG-174, loop resistance per metre",
        "RG-213, loop resistance per metre",
        "50 Ω line at velocity 0.66, capacitance per metre",
        "RG-213, capacitance per metre, printed",
        "RG-213, capacitance per metre, from geometry",
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
        "PTFE, velocity factor",
        "PVC, velocity factor",
    ),
    "johnson_noise_rule": (
        "1 kΩ over 10 kHz at room temperature",
        "1 kΩ over 10 kHz at 300 K",
        "1 kΩ over 10 kHz at 290 K",
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
    "level_differences": (
        "lower end",
        "upper end",
        "1 kHz tone at 20 dB SPL",
        "1 kHz tone at 80 dB SPL",
    ),
    "loaded_rc": (
        "corner with 2 kΩ",
        "loss at 20 kHz with 2 kΩ",
        "corner with 5 kΩ",
    ),
    "pickup_ranges": (
        "inductance, lower end",
        "inductance, upper end",
        "winding capacitance, lower end",
        "winding capacitance, upper end",
        "cable capacitance, lower end",
        "cable capacitance, upper end",
        "loaded resonance, lower end",
        "loaded resonance, upper end",
        "resonance height, lower end",
        "resonance height, upper end",
    ),
    "slope_above_resonance": ("slope per octave far above resonance",),
    "synchronised_sweep": (
        "k",
        "L",
        "duration",
        "first-order coefficient",
        "second-order coefficient",
        "third-order coefficient",
    ),
    "treble_loss_of_rc": (
        "loss at 20 kHz, one microsecond",
        "time constant of the 3 dB limit",
        "time constant of the 1 dB limit",
        "time constant of the 0.25 dB limit",
    ),
    "triode_input": (
        "input capacitance",
        "corner with 42.9 kΩ",
        "library's valve input",
    ),
    "true_bypass_pedals": (
        "lowest cable, per metre",
        "highest cable, per metre",
        "most a box and its patch lead adds",
    ),
    "two_coil_pickup_impedance": (
        "winding capacitance",
        "parallel quality factor",
    ),
    "typical_guitar_coils": (
        "wire resistance",
        "single coil, inductance",
        "two-coil pickup, inductance",
    ),
    "valve_stage_design": (
        "pentode input capacitance",
        "corner with 159 kΩ",
        "series capacitor for 368 Ω",
        "series capacitor for 132 kΩ",
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
    assert case.get("kind", data["kind"]) in KINDS - NO_TEST_VALUE


@pytest.mark.parametrize(("data", "case"), cases())
def test_tolerance_is_justified(data: dict[str, Any], case: dict[str, Any]) -> None:
    """A tolerance is above zero, at most a fifth of the effect, and has a reason."""
    assert 0 < case["tolerance"] <= case["effect"] / 5, data["title"]
    assert case["tolerance_reason"].strip()

"""--variant and --set on every command that reads a board, and the variants side by side."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from helpers.in_process import sigsim_here
from helpers.made import options
from helpers.program import sigsim
from helpers.refusals import assert_refused, quick, refused

from sigsim.cli.main import COMMANDS

BOARD = """
title = "two basses"
[instrument]
part = "bass-split-coil"
[destination]
part = "instrument-input"
[cables.lead]
part = "cable-standard"
[wiring]
cable = "lead"
length = "20 cm"
[[chain]]
cable = "lead"
length = "6 m"
[[chain]]
stage = "wah"
part = "wah-true-bypass"
[[chain]]
stage = "echo"
part = "pedal-true-bypass"
[[chain]]
stage = "drive"
part = "drive-high-impedance"
[[chain]]
cable = "lead"
length = "9 m"
[scenes]
both = ["wah", "echo"]
"""
VARIANTS = """
[variants.active]
instrument = { part = "bass-active" }
[variants.night]
echo = { part = "pedal-buffered", stage = "string machine" }
cables.lead = { capacitance = "70 pF/m" }
out = ["drive"]
"""
# The same edits by hand.
ACTIVE = BOARD.replace("bass-split-coil", "bass-active")
NIGHT = (
    BOARD.replace('"echo"\npart = "pedal-true-bypass"', '"string machine"\npart = "pedal-buffered"')
    .replace('part = "cable-standard"', 'part = "cable-standard"\ncapacitance = "70 pF/m"')
    .replace('[[chain]]\nstage = "drive"\npart = "drive-high-impedance"\n', "")
    .replace('"echo"', '"string machine"')
)  # fmt: skip
CHANGED = ("--variant", "night", "--set", "wah.gain=2 dB")
WITHOUT = {"parts", "new", "demo", "schema", "sweep", "record", "measure", "edit"}
FEW = {"spread": ("--draws", "100"), "cables": ("--only", "cable-low")}
SAID = "Variant night, 1 value set: "


def written(folder: Path, text: str, name: str) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def board(tmp_path: Path) -> Path:
    return written(tmp_path, BOARD + VARIANTS, "rig.toml")


@pytest.fixture
def by_hand(tmp_path: Path) -> Path:
    text = NIGHT.replace('part = "wah-true-bypass"', 'part = "wah-true-bypass"\ngain = "2 dB"')
    return written(tmp_path, text, "hand.toml")


def document(*arguments: object) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(quick(*arguments, "--json"))
    return found


def plain(found: dict[str, Any]) -> dict[str, Any]:
    """Return a document without what tells the board by its name and file."""
    told = ("board", "variants", "set", "available_variants", "file", "seconds")
    return {key: value for key, value in found.items() if key not in told}


def test_every_command_that_reads_a_board_takes_both() -> None:
    for option in ("--variant", "--set"):
        takes = {name for name in COMMANDS if any(option in one.opts for one in options(name))}
        assert takes == set(COMMANDS) - WITHOUT


@pytest.mark.parametrize(
    "name",
    [
        "loss",
        "states",
        "buffer",
        "cables",
        "blame",
        "noise",
        "spread",
        "sheet",
        "check",
        "response",
    ],
)
def test_the_answer_is_that_of_the_edited_file(board: Path, by_hand: Path, name: str) -> None:
    more = FEW.get(name, ())
    found = document(name, board, *CHANGED, *more)
    assert found["variants"] == ["night"]
    assert found["set"] == ["wah.gain=2 dB"]
    assert found["board"] == "variant night, 1 value set: two basses"
    wanted = document(name, by_hand, *more)
    assert (wanted["variants"], wanted["set"]) == ([], [])
    assert plain(found) == plain(wanted)


@pytest.mark.parametrize(
    "name", ["loss", "states", "buffer", "cables", "blame", "noise", "spread", "sheet"]
)
def test_what_is_printed_says_so(board: Path, name: str) -> None:
    assert " ".join(quick(name, board, *CHANGED, *FEW.get(name, ())).split()).startswith(SAID)


def test_so_do_check_netlist_page_and_plot(board: Path, tmp_path: Path) -> None:
    assert quick("check", board, *CHANGED).startswith("variant night, 1 value set: two basses")
    netlist = quick("netlist", board, *CHANGED)
    assert netlist.startswith("* sigsim: two basses\n* Changed: variant night, 1 value set\n")
    page = tmp_path / "page.html"
    assert quick("report", board, *CHANGED, "-o", page).startswith(SAID)
    assert "variant night, 1 value set: two basses" in page.read_text("utf-8")
    plot = tmp_path / "plot.svg"
    quick("loss", board, *CHANGED, "--plot", plot)
    assert "variant night, 1 value set" in plot.read_text("utf-8")


def test_a_page_lays_other_boards_over_it_with_the_same_changes(
    board: Path, by_hand: Path, tmp_path: Path
) -> None:
    page = tmp_path / "page.html"
    said = refused("report", board, *CHANGED, "-o", page, "--compare", by_hand)
    assert "hand.toml: there is no variant of this name" in said
    other = shutil.copy(board, tmp_path / "other.toml")
    assert quick("report", board, *CHANGED, "-o", page, "--compare", other).startswith(SAID)


@pytest.mark.skipif(shutil.which("ngspice") is None, reason="ngspice is not there")
def test_crosscheck_is_of_the_changed_board(board: Path) -> None:
    assert quick("crosscheck", board, *CHANGED, "--all-off").startswith(SAID)


def test_a_recording_went_through_the_file_as_it_is(board: Path, tmp_path: Path) -> None:
    assert sigsim("demo", "--listen", cwd=tmp_path).status == 0
    dry = tmp_path / "sigsim-demo-reference.wav"
    found = document(
        "listen", board, dry, "-o", tmp_path / "o.wav", *CHANGED, "--recorded-through", board
    )
    assert found["recorded_through"] == "every stage off, rig.toml"
    assert found["variants"] == ["night"]


def test_a_file_is_not_written_with_changes(board: Path, tmp_path: Path) -> None:
    target = tmp_path / "new.toml"
    for change in (CHANGED, CHANGED[:2], CHANGED[2:]):
        said = refused("buffer", board, *change, "--write", target)
        assert said.startswith("--write: a file is written as it is")
        assert not target.exists()
    quick("buffer", board, "--write", target)


def test_all_variants_are_compared_as_edited_files_are(board: Path, tmp_path: Path) -> None:
    files = [written(tmp_path, text, name) for text, name in
             ((BOARD, "a.toml"), (ACTIVE, "b.toml"), (NIGHT, "c.toml"))]  # fmt: skip
    found, wanted = document("compare", board, "--variants"), document("compare", *files)
    for key in ("states", "leads_differ", "scenes_shared"):
        assert found[key] == wanted[key]
    assert [one["label"] for one in found["boards"]] == ["as written", "active", "night"]
    assert [one["variants"] for one in found["boards"]] == [[], ["active"], ["night"]]
    assert found["variants"] is None
    assert found["set"] is None
    assert found["boards"][1]["differs"] == ["another instrument (bass-active)"]
    assert found["boards"][2]["differs"] == [
        "'string machine' for 'echo' (pedal-buffered)",
        "cable 'lead': capacitance 70 pF/m",
        "without 'drive'",
    ]
    assert found["leads_differ"]
    said = " ".join(quick("compare", board, "--variants").split())
    assert said.startswith("'active' loses")
    assert "the lead counted" in said.split(".  ")[0]
    assert "'night': 'string machine' for 'echo' (pedal-buffered), cable 'lead'" in said
    assert "Δ is the difference to 'as written'" in said


def test_values_are_set_in_all_that_are_compared(board: Path, tmp_path: Path) -> None:
    value = ("--set", "destination.input_resistance=220 kΩ")
    found = document("compare", board, "--variants", *value)
    assert found["boards"][1]["set"] == [value[1]]
    for one, state in zip(found["boards"], found["states"][-1]["boards"], strict=True):
        variant = [part for name in one["variants"] for part in ("--variant", name)]
        worst = document("loss", board, *variant, *value)["worst"]["treble_loss_db"]
        assert state["treble_loss_db"] == worst
    assert quick("compare", board, "--variants", *value).startswith("'active' loses")


def test_the_plot_of_all_variants_names_them(board: Path, tmp_path: Path) -> None:
    plot = tmp_path / "plot.svg"
    quick("compare", board, "--variants", "--plot", plot)
    drawn = plot.read_text("utf-8")
    for name in ("as written", "active", "night", "two basses"):
        assert name in drawn


def test_a_variant_may_be_called_as_the_file_itself_is(tmp_path: Path) -> None:
    path = written(tmp_path, BOARD + '[variants."as written"]\nwah.gain = 3\n', "rig.toml")
    labels = [one["label"] for one in document("compare", path, "--variants")["boards"]]
    assert labels == ["the file as written", "as written"]


def test_two_boards_are_compared_with_one_variant_of_each(board: Path, tmp_path: Path) -> None:
    text = (BOARD + VARIANTS).replace('"6 m"', '"3 m"')
    other = written(tmp_path, text, "other.toml")
    found = document("compare", board, other, "--variant", "night")
    assert found["variants"] == ["night"]
    said = quick("compare", board, other, "--variant", "night")
    assert said.startswith("Variant night: ")
    assert "A  variant night: two basses (" in said
    plain_file = written(tmp_path, BOARD, "plain.toml")
    said = refused("compare", board, plain_file, "--variant", "night")
    assert "plain.toml: there is no variant of this name" in said


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--variant", "night"), ("one board alone", "--variants")),
        ((), ("one board alone", "--variants")),
        (("--variants", "--variant", "night"), ("each variant is compared alone",)),
        (("other.toml", "--variants"), ("of one board",)),
    ],
)
def test_what_cannot_be_compared_is_one_message(
    board: Path, arguments: tuple[str, ...], words: tuple[str, ...]
) -> None:
    said = refused("compare", board, *arguments)
    for word in words:
        assert word in said


def test_without_variants_there_is_nothing_side_by_side(tmp_path: Path) -> None:
    said = refused("compare", written(tmp_path, BOARD, "plain.toml"), "--variants")
    assert "this file has no variants to compare" in said


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--variant", "nite"), ("there is no variant of this name", 'did you mean "night"?')),
        (("--variant", ""), ("this says nothing",)),
        (("--set", ""), ("this says nothing",)),
        (("--set", "wha.gain=3"), ('--set "wha.gain=3"', 'did you mean "wah"?')),
        (("--set", "wah.gain=3 F"), ('--set "wah.gain=3 F": this is a capacitance',)),
        (("--set", "wah.bypass_gain=3"), ('--set "wah.bypass_gain=3": this has no effect',)),
        (("--variant", "night", "--set", "drive.gain=3"), ('variant "night" leaves this out',)),
    ],
)
def test_bad_input_is_one_message(
    board: Path, arguments: tuple[str, ...], words: tuple[str, ...]
) -> None:
    run = sigsim_here("loss", board, *arguments)
    assert_refused(run, *words)
    assert run.err.count("\n") == 1


def test_what_a_change_makes_idle_is_a_warning(board: Path) -> None:
    run = sigsim_here(
        "loss", board, "--variant", "active", "--set", "instrument.output_resistance=1"
    )
    assert (run.status, run.err) == (0, "")
    board.write_text(
        BOARD.replace('"wah-true-bypass"', '"wah-true-bypass"\ncontact_resistance = 1'), "utf-8"
    )
    run = sigsim_here("loss", board, "--set", "wah.bypass=buffered", "--json")
    assert run.status == 0
    assert run.err.count("warning: ") == 1
    assert "contact_resistance: left out" in run.err


def test_check_lists_the_variants_and_what_is_doubtful_in_them(tmp_path: Path) -> None:
    chain = '[[chain]]\ncable = "lead"\nlength = 1\n'
    text = BOARD.replace('[[chain]]\nstage = "drive"', f'{chain}[[chain]]\nstage = "drive"')
    path = written(tmp_path, text + VARIANTS + "[variants.nothing]\n", "rig.toml")
    said = " ".join(quick("check", path).split())
    assert "Variant active: another instrument (bass-active)." in said
    assert "Variant nothing: nothing." in said
    assert "! the variant 'nothing' changes nothing." in said
    assert "! with the variant 'night' the cables 'lead', 'lead' lie end to end" in said
    found = document("check", path)
    assert [one["name"] for one in found["available_variants"]] == ["active", "night", "nothing"]
    assert found["available_variants"][2]["changes"] == []


def test_what_is_wrong_in_a_variant_is_told_by_every_command(tmp_path: Path) -> None:
    path = written(tmp_path, BOARD + "[variants.v]\nwha.gain = 1\n", "rig.toml")
    for name in ("loss", "check", "sheet", "netlist"):
        said = refused(name, path)
        assert '[variants.v], "wha": there is no stage' in said

"""Files of one's own parts: laid over ours, checked like a board file, listed and written."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from helpers.in_process import sigsim_here
from jsonschema import Draft202012Validator

from sigsim.board.cable_parts import library_cables
from sigsim.board.model import Board
from sigsim.board.own_parts import parts_of_file
from sigsim.board.reader import read_board
from sigsim.board.schema import board_schema
from sigsim.cli.output import together
from sigsim.cli.writing import check_target, write_measured
from sigsim.decide.page.figures import figures
from sigsim.errors import SigsimError
from sigsim.items.stage import ActiveStage
from sigsim.measure.result import Figure, Measured

TODAY = date.today().isoformat()
PARTS = """\
# Parts of my own.
[my-fuzz]
kind = "stage"
summary = "the old one"
aliases = ["grandfather"]
[my-fuzz.values]
input_resistance = "23 kΩ ± 2 %"
output_resistance = "5 kΩ"
[my-fuzz.sources]
input_resistance = "measured 2026-11-28"

[my-lead]
kind = "cable"
[my-lead.values]
capacitance = "41 pF/m"
"""
BOARD = """\
parts = "my-parts.toml"
[instrument]
inductance = "3 H"
resistance = "8 kΩ"
[destination]
input_resistance = "1 MΩ"
[cables.lead]
part = "my-lead"
[[chain]]
cable = "lead"
length = "5 m"
[[chain]]
stage = "fuzz"
part = "my-fuzz"
[[chain]]
cable = "lead"
length = "5 m"
"""
REVERB = '[[chain]]\nstage = "reverb"\npart = "pedal-buffered"\n'


def written(folder: Path, board: str = BOARD, **files: str) -> Path:
    """Write a board, and files beside it, and return its path."""
    for name, text in {"my_parts": PARTS, **files}.items():
        (folder / f"{name.replace('_', '-')}.toml").write_text(text, encoding="utf-8")
    (folder / "main.toml").write_text(board, encoding="utf-8")
    return folder / "main.toml"


def fuzz(board: Board) -> ActiveStage:
    return next(item for item in board.powered() if item.stage.endswith("fuzz"))


def test_a_part_of_ones_own_is_a_part(tmp_path: Path) -> None:
    board = read_board(written(tmp_path))
    assert (fuzz(board).input_resistance, fuzz(board).part) == (23e3, "my-fuzz")
    assert fuzz(board).tolerances == {"input_resistance": 0.02}
    assert board.cables["lead"].capacitance == 41e-12
    assert board.files == (str(tmp_path / "main.toml"), str(tmp_path / "my-parts.toml"))
    assert not board.warnings
    Draft202012Validator(board_schema()).validate(tomllib.loads(BOARD))


def test_several_files_and_each_board_inside_its_own(tmp_path: Path) -> None:
    """The same name is another part in a board inside, and each says where its figures are from."""
    more = PARTS.replace("23 kΩ ± 2 %", "46 kΩ").replace("2026-11-28", "2026-11-01")
    deck = 'parts = ["more.toml"]\n[[chain]]\nstage = "fuzz"\npart = "my-fuzz"\n'
    text = BOARD.replace('"my-parts.toml"', '["my-parts.toml", "other.toml"]')
    text += '[[chain]]\nloop = "send"\nboard = "deck.toml"\nprefix = "deck "\n'
    other = PARTS.replace("my-", "other-")
    board = read_board(written(tmp_path, text, more=more, deck=deck, other=other))
    first, second = board.powered()
    assert (first.input_resistance, second.input_resistance) == (23e3, 46e3)
    assert "other-lead" in library_cables(board.library)
    sources = {f.source for group in figures(board) for f in group.figures if f.origin == "part"}
    assert {"measured 2026-11-28", "measured 2026-11-01"} <= sources


def test_a_board_around_does_not_know_the_parts_of_one_inside(tmp_path: Path) -> None:
    deck = 'parts = "my-parts.toml"\n[[chain]]\nstage = "fuzz"\npart = "my-fuzz"\n'
    text = BOARD.replace('parts = "my-parts.toml"\n', "").replace('"my-lead"', '"cable-low"')
    held = text.replace('part = "my-fuzz"', 'part = "pedal-buffered"').replace('"fuzz"', '"x"')
    held += '[[chain]]\nloop = "send"\nboard = "deck.toml"\n'
    assert fuzz(read_board(written(tmp_path, held, deck=deck))).input_resistance == 23e3
    with pytest.raises(SigsimError, match="there is no part of this name"):
        read_board(written(tmp_path, held.replace("pedal-buffered", "my-fuzz"), deck=deck))


def test_a_name_of_ours_is_replaced_and_that_is_said(tmp_path: Path) -> None:
    text = BOARD + REVERB
    parts = PARTS.replace("my-fuzz", "pedal-buffered")
    text = text.replace("my-fuzz", "pedal-buffered")
    board = read_board(written(tmp_path, text, my_parts=parts))
    assert {stage.input_resistance for stage in board.powered()} == {23e3}
    (warning,) = board.warnings
    assert warning.endswith(
        'my-parts.toml: the part "pedal-buffered" takes the place of ours of that name'
    )


WRONG = {
    "unknown kind": ('kind = "cable"', 'kind = "cabel"', ['did you mean "cable"', "[my-lead]"]),
    "no kind": ('kind = "cable"\n', "", ["kind is missing"]),
    "unknown key": ("[my-lead.values]", "[my-lead.vlues]", ['did you mean "values"']),
    "unknown figure": ('capacitance = "41', 'capacitence = "41', ['mean "capacitance"', "line 14"]),
    "wrong quantity": (
        "41 pF/m",
        "41 pF",
        ["[my-lead.values], capacitance", "per length is wanted"],
    ),
    "unknown kind of stage": (
        'input_resistance = "23 kΩ ± 2 %"',
        'kind = "volum pedal"',
        ['mean "volume pedal"'],
    ),
    "what belongs to the board": (
        "[my-fuzz.values]\n",
        "[my-fuzz.values]\nstage = 'x'\n",
        ["stage"],
    ),
    "a source of nothing": (
        '[my-fuzz.sources]\ninput_resistance = "',
        '[my-fuzz.sources]\ninput_resistence = "',
        ["no figure", 'did you mean "input_resistance"'],
    ),
    "a summary that is none": ('summary = "the old one"', "summary = 3", ["a text in quotes"]),
    "aliases that are none": ('["grandfather"]', '"grandfather"', ["a list of texts"]),
    "no table": ("[my-fuzz]\n", "x = 3\n[my-fuzz]\n", ["[x]: a table is wanted"]),
    "no TOML": ("[my-fuzz]\n", "[my-fuzz\n", ["my-parts.toml, line 2", "not valid TOML"]),
    "two that look alike": (
        "[my-lead]\n",
        '["my-fuzz "]\nkind = "cable"\n[my-lead]\n',
        ["looks like"],
    ),
    "a letter unseen": ("the old one", "the\\u0007old one", ["U+0007"]),
}


@pytest.mark.parametrize("case", WRONG)
def test_what_is_wrong_is_said_with_its_file(tmp_path: Path, case: str) -> None:
    before, after, words = WRONG[case]
    assert before in PARTS
    main = written(tmp_path, my_parts=PARTS.replace(before, after))
    with pytest.raises(SigsimError) as error:
        read_board(main)
    said = str(error.value)
    assert [word for word in ["my-parts.toml", *words] if word not in said] == [], said
    assert "chain item" not in said  # nothing is said of what starts from it
    with pytest.raises(SigsimError, match=r"my-parts\.toml"):
        parts_of_file(tmp_path / "my-parts.toml")


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ('"mine.toml"', ["parts: there is no such file"]),
        ('"my-part.toml"', ['did you mean "my-parts.toml"']),
        ('"../my-parts.toml"', ["does not lie in the folder"]),
        ('"/etc/passwd"', ["begins in the folder"]),
        ('""', ["must not be empty"]),
        ("3", ["a path in quotes"]),
        ("[]", ["a path in quotes"]),
        ("[3]", ["a path in quotes"]),
        ('["my-parts.toml", "same.toml"]', ['"my-fuzz"', "my-parts.toml and", "same.toml"]),
        ('["my-parts.toml", "same.toml", "mine.toml"]', ["no such file", "same.toml"]),
        ('"main.toml"', ["main.toml, "]),
    ],
)
def test_paths_that_lead_to_no_parts(tmp_path: Path, given: str, words: list[str]) -> None:
    text = BOARD.replace('"my-parts.toml"', given, 1)
    with pytest.raises(SigsimError) as error:
        read_board(written(tmp_path, text, same=PARTS))
    said = str(error.value)
    assert [word for word in words if word not in said] == [], said
    assert "there is no part of this name" not in said  # it may be in what could not be read


def test_a_file_named_twice_is_read_once(tmp_path: Path) -> None:
    (tmp_path / "link.toml").symlink_to("my-parts.toml")
    twice = '["my-parts.toml", "./my-parts.toml", "link.toml"]'
    board = read_board(written(tmp_path, BOARD.replace('"my-parts.toml"', twice, 1)))
    assert fuzz(board).part == "my-fuzz"


def test_a_part_that_is_nearly_there_is_offered(tmp_path: Path) -> None:
    with pytest.raises(SigsimError, match='did you mean "my-fuzz"'):
        read_board(written(tmp_path, BOARD.replace('"my-fuzz"', '"my-fuz"')))


def test_the_command_lists_and_shows_them(tmp_path: Path) -> None:
    written(tmp_path)
    file = tmp_path / "my-parts.toml"
    listed = sigsim_here("parts", "--from", file)
    assert "my-fuzz" in listed.out
    assert "the old one" in listed.out
    assert "fuzz-low-impedance" not in listed.out
    assert "my-fuzz" not in sigsim_here("parts", "--from", file, "--kind", "cable").out
    assert "my-fuzz" in sigsim_here("parts", "--from", file, "--like", "grandfather").out
    assert "measured 2026-11-28" in sigsim_here("parts", "--from", file, "my-fuzz").out
    wrong = sigsim_here("parts", "--from", file, "my-fuz")
    assert (wrong.status, 'did you mean "my-fuzz"' in wrong.err) == (2, True)


def test_questions_of_a_board_know_them(tmp_path: Path) -> None:
    buffer = PARTS + '[my-buffer]\nkind = "stage"\n[my-buffer.values]\n'
    buffer += 'input_resistance = "2 MΩ"\noutput_resistance = "90 Ω"\n'
    main = written(tmp_path, my_parts=buffer)
    out = sigsim_here("buffer", main, "--part", "my-buffer", "--write", tmp_path / "new.toml")
    assert out.status == 0, out.err
    cables = sigsim_here("cables", main, "--only", "my-lead")
    assert cables.status == 0, cables.err
    lacking = buffer.replace('output_resistance = "90 Ω"\n', "")
    wrong = sigsim_here("buffer", written(tmp_path, my_parts=lacking), "--part", "my-buffer")
    assert (wrong.status, "output_resistance is missing" in wrong.err) == (2, True)


def wide(value: float, unit: str) -> Figure:
    return Figure(value, value * 0.98, value * 1.02, unit)


CABLE = Measured("cable", {}, {"capacitance": wide(98.3e-12, "F/m")})
OUTPUT = Measured("output", {}, {"output_resistance": wide(1.02e3, "Ω")})


def measured_into(file: Path, measured: Measured, name: str) -> list[str]:
    with together():
        check_target(file, name, measured.recipe)
        return write_measured(measured, file, name)


def test_measured_figures_go_into_a_part(tmp_path: Path) -> None:
    """Of the name, or a new one; the sources say when, and nothing else changes."""
    main = written(tmp_path)
    file = tmp_path / "my-parts.toml"
    measured_into(file, OUTPUT, "my-fuzz")
    measured_into(file, CABLE, "my-lead")
    parts, _ = parts_of_file(file)
    assert parts["my-fuzz"].sources["output_resistance"] == f"measured {TODAY}"
    assert parts["my-fuzz"].sources["input_resistance"] == "measured 2026-11-28"
    assert parts["my-lead"].values == {"capacitance": "98.3 pF/m ± 2 %"}
    assert file.read_text(encoding="utf-8").startswith("# Parts of my own.\n")
    assert fuzz(read_board(main)).output_resistance == 1020
    said = measured_into(file, CABLE, "long one")
    assert "which is new" in said[0]
    parts, _ = parts_of_file(file)
    assert parts["long one"] == replace(
        parts["my-lead"],
        name="long one",
        sources={"capacitance": f"measured {TODAY}"},
    )


def test_a_file_that_is_only_begun_gets_its_first_part(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text("# my parts\n", encoding="utf-8")
    measured_into(file, OUTPUT, "echo")
    parts, _ = parts_of_file(file)
    assert (parts["echo"].kind, list(parts["echo"].values)) == ("stage", ["output_resistance"])


def test_a_recipe_does_not_fit_every_part(tmp_path: Path) -> None:
    written(tmp_path)
    before = (tmp_path / "my-parts.toml").read_text(encoding="utf-8")
    with pytest.raises(SigsimError, match="do not belong to a part of this kind"):
        measured_into(tmp_path / "my-parts.toml", OUTPUT, "my-lead")
    assert (tmp_path / "my-parts.toml").read_text(encoding="utf-8") == before


def test_figures_of_a_board_inside_go_into_its_own_file(tmp_path: Path) -> None:
    deck = '[cables.patch]\n[[chain]]\nstage = "echo"\npart = "pedal-buffered"\n'
    text = BOARD + '[[chain]]\nloop = "send"\nboard = "deck.toml"\n'
    main = written(tmp_path, text, deck=deck)
    for measured, name in ((OUTPUT, "echo"), (CABLE, "send: patch")):
        with pytest.raises(SigsimError, match=r"this stands in deck\.toml"):
            measured_into(main, measured, name)

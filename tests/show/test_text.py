"""Every output is seen, and no two names are shown alike; a list for new commands to join."""

from __future__ import annotations

import csv
import io
import json
import re
import sys
import unicodedata
from pathlib import Path

import pytest
from helpers.in_process import sigsim_here
from helpers.refusals import ENDS, LEAD
from hypothesis import given, settings
from hypothesis import strategies as st

from sigsim.errors import nearest_name, quote, shown_path
from sigsim.show.render.csv import cell
from sigsim.show.render.json import json_document
from sigsim.show.render.text import plain
from sigsim.text import escaped, shown

ESCAPES = re.compile(r"(?:\\u[0-9a-f]{4})+")
LETTERS = st.text(
    st.one_of(st.characters(), st.sampled_from("\x1b\\u001b\u202e\u200d\ufe0f👩é\u0301"))
)


def meant(text: str) -> str:
    """Return the name that escapes lead back to: they are JSON's, UTF-16 in hexadecimal."""
    return ESCAPES.sub(
        lambda found: bytes.fromhex(found[0].replace("\\u", "")).decode(
            "utf-16-be", "surrogatepass"
        ),
        text,
    )


def assert_seen(text: str) -> None:
    hidden = [c for c in text if c != "\n" and unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp")]
    assert not hidden
    assert not set(text) & set("\u061c\u200e\u200f\u202a\u202e\u2066\u2069\U000e0041")


@given(LETTERS)
@settings(max_examples=1000)
def test_what_is_shown_leads_back_to_one_name(text: str) -> None:
    assert_seen(shown(text))
    assert len(shown(text).splitlines()) <= 1
    assert meant(shown(text)) == text
    assert escaped(shown(text)) == shown(text)
    assert unicodedata.is_normalized("NFC", shown(text))


@given(LETTERS)
@settings(max_examples=300)
def test_json_holds_the_text_and_all_of_it_is_seen(text: str) -> None:
    made = json_document({text: [text]})
    assert_seen(made)
    assert json.loads(made) == {text: [text]}


@given(LETTERS)
@settings(max_examples=300)
def test_a_cell_of_csv_is_one_cell_and_no_formula(text: str) -> None:
    (row,) = csv.reader(io.StringIO(f"x,{cell(text)}\n", newline=""))
    assert len(row) == 2
    assert_seen(row[1])
    assert meant(row[1].removeprefix("'") if text[:1] in set("=+-@'") else row[1]) == text
    assert not row[1].startswith(("=", "+", "-", "@"))


@pytest.mark.parametrize(
    ("text", "seen"),
    [
        ("a\x1bb", "a\\u001bb"),
        ("a\\u001bb", "a\\u005cu001bb"),
        ("C:\\users", "C:\\users"),
        ("\U000e0041", "\\udb40\\udc41"),
        ("\udcff", "\\udcff"),
        ("a\nb", "a\\u000ab"),
        ("a\u00a0b", "a\\u00a0b"),
        ("e\u0301", "e\\u0301"),
        ("é", "é"),
        ("a\u200db", "a\\u200db"),
        ("👩\u200d🎤", "👩\u200d🎤"),
        ("می\u200cخواهم", "می\u200cخواهم"),
        ("❤\ufe0f", "❤\ufe0f"),
        ("a\ufe0f", "a\\ufe0f"),
    ],
)
def test_one_form_everywhere(text: str, seen: str) -> None:
    assert shown(text) == shown_path(text) == plain(text) == seen
    assert quote(text) == f'"{seen}"'
    assert quote([text, {text: True}]) == f'["{seen}", {{{seen} = true}}]'


BOARD = f"""{ENDS}{LEAD}[[chain]]
stage = "=SUM(1)"
part = "pedal-true-bypass"
[[chain]]
stage = '-a, "b"'
part = "pedal-buffered"
[[chain]]
stage = "\\u005cu001b"
part = "vintage-hardwire"
[scenes]
"@x" = ["=SUM(1)"]
"""
# Two file names that are shown apart although one holds what the other is shown as.
FILES = ("\x1b\x9b\u202e.toml", "\\u001b\\u009b\\u202e.toml")
# What follows the board; a new command is one more line.
COMMANDS = [
    ["check"], ["check", "--json"], ["loss"], ["loss", "--json"], ["states"], ["states", "--json"],
    ["states", "--csv", "-"], ["buffer"], ["buffer", "--json"],
    ["order"], ["order", "--json", "--buffer"], ["order", "--level", "\x1b"],
    ["order", "--weight", "@x=\x1b"], ["order", "--part", "\x1b", "--buffer"],
    ["layout"], ["layout", "--seconds", "\x1b"], ["layout", "\u202e.toml"],
    ["cables"], ["cables", "--json"],
    ["blame"], ["blame", "--json"], ["spread", "--draws", "20"],
    ["spread", "--draws", "20", "--json"], ["noise"], ["noise", "--json"], ["sheet"],
    ["sheet", "--json"], ["netlist"], ["response", "--json"],
    ["loss", "--on", "\x1b"], ["loss", "--scene", "\u202e"], ["loss", "--plot", "\x9b.gif"],
    ["buffer", "--weight", "@x\x1b=1"], ["buffer", "--weight", "\x1b"],
    ["response", "--points", "\x1b"],
    ["states", "--by", "\u2066"], ["loss", "--\x1b"], ["loss", "more\x1b\u202e"],
    ["loss", "--band", "\x1b", "\x7f"], ["loss", "--reference", "\x1b"],
    ["loss", "--plot-size", "\x1b"],
    ["states", "--off", "\x1b"], ["cables", "--only", "\x1b"], ["response", "--csv", "\x1b/x.csv"],
    ["spread", "--only", "\x1b"], ["buffer", "--part", "\x1b"], ["sheet", "-o", "\x1b.x"],
    ["verify", "--through", "\x9b.csv"], ["verify", "--through", "\x1b", "--without", "\u202e"],
    ["verify", "--through", "x.csv", "--also", "\x1b=\u202e"], ["verify", "--input", "\x1b,"],
    ["verify", "--through", "x.csv", "--driven-by", "\x1b"],
    ["record", "--play", "\x9b.wav"],
    ["listen", "\x1b.wav", "-o", "\x9b.wav"], ["crosscheck", "--ngspice", "\x1b"],
]  # fmt: skip


@pytest.mark.parametrize("command", COMMANDS, ids=lambda c: ascii(" ".join(c)))
@pytest.mark.parametrize("file", FILES, ids=["hidden", "written"])
def test_every_stream_of_every_command_is_seen(
    command: list[str], file: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / file).write_text(BOARD, encoding="utf-8")
    run = sigsim_here(command[0], file, *command[1:])
    assert run.status in (0, 2)
    assert "Traceback" not in run.err
    assert_seen(run.out + run.err)
    if "--json" in command:
        board = json.loads(run.out).get("board")
        assert board in (None, file)


def test_two_files_are_told_apart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for file in FILES:
        (tmp_path / file).write_text(BOARD, encoding="utf-8")
    run = sigsim_here("compare", *FILES)
    assert run.status == 0, run.err
    assert all(shown(file) in run.out for file in FILES)
    assert_seen(run.out + run.err)
    assert_seen(sigsim_here("loss", *FILES).err)


def test_files_of_every_kind_are_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / FILES[0]).write_text(BOARD, encoding="utf-8")
    for command, target in (
        (["sheet", "-o"], "s.html"), (["sheet", "-o"], "s.md"), (["sheet", "-o"], "s.csv"),
        (["report", "-o"], "r.html"), (["states", "--csv"], "x.csv"), (["loss", "--plot"], "p.svg"),
        (["netlist", "-o"], "n.cir"), (["response", "--csv"], "r.csv"),
        (["buffer", "--write"], "b\x1b.toml"), (["order", "--pick", "1", "--write"], "o\x1b.toml"),
        (["order", "--plot"], "o.svg"),
    ):  # fmt: skip
        run = sigsim_here(command[0], FILES[0], *command[1:], target)
        assert run.status == 0, run.err
        assert_seen(run.out + run.err)
        text = (tmp_path / target).read_text(encoding="utf-8")
        assert not set(text) & {"\x1b", "\x9b", "\u202e"}, target
        if not target.endswith(".html"):  # the page holds a library, which is not ours
            assert_seen(text.replace("\t", " "))


def test_names_in_csv_are_whole_and_no_formulas(tmp_path: Path) -> None:
    long = "=" + "x" * 500
    path = tmp_path / "b.toml"
    path.write_text(BOARD.replace("=SUM(1)", long), encoding="utf-8")
    rows = list(csv.reader(io.StringIO(sigsim_here("states", path, "--csv", "-").out)))
    assert {len(row) for row in rows} == {len(rows[0])}
    assert "'" + " + ".join([long, '-a, "b"', "\\u005cu001b"]) in {row[0] for row in rows}
    target = tmp_path / "sheet.csv"
    assert sigsim_here("sheet", path, "-o", target).status == 0
    sheet = target.read_text(encoding="utf-8").splitlines()
    assert f"'{long}" in {c for row in csv.reader(sheet) for c in row}


def test_a_terminal_without_letters_reads_escapes(tmp_path: Path) -> None:
    import os
    import subprocess

    path = tmp_path / "b.toml"
    path.write_text(BOARD.replace("=SUM(1)", "é"), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "sigsim", "check", path],
        capture_output=True,
        env=os.environ | {"PYTHONIOENCODING": "ascii"},
        timeout=60,
    )
    assert done.returncode == 0
    assert "\\u00e9" in done.stdout.decode("ascii")


@pytest.mark.parametrize(
    ("key", "near"),
    [
        ("colour", None),
        ("power", None),
        ("gian", "gain"),
        ("input_resistence", "input_resistance"),
    ],
)
def test_a_guess_is_near_or_the_list_stands_alone(
    key: str, near: str | None, tmp_path: Path
) -> None:
    path = tmp_path / "b.toml"
    path.write_text(BOARD.replace("[scenes]", f"{key} = 1\n[scenes]"), encoding="utf-8")
    said = sigsim_here("check", path).err
    assert ("did you mean" in said) == (near is not None)
    assert near is None or f'did you mean "{near}"' in said
    assert "accepted: stage, " in said


def test_a_part_is_found_by_one_of_its_words() -> None:
    assert nearest_name("fuzz", ("wah-hardwire", "fuzz-low")) == "fuzz-low"
    assert nearest_name("Fuzz", ("coal fuzz",)) == "coal fuzz"
    assert nearest_name("u", ("fuzz",)) is None


@pytest.mark.parametrize("word", ["quartz", "--quartz", "xyzzy"])
def test_an_unknown_command_or_option_far_from_all_gets_the_list(word: str) -> None:
    said = sigsim_here("loss", word).err if word[0] == "-" else sigsim_here(word).err
    assert "Did you mean" not in said
    assert "Accepted: " in said

"""`report --with verify=RESULT.json`: what a comparison found, on the page; and hostile results."""

from __future__ import annotations

import copy
import json
import os
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from helpers.in_process import sigsim_here
from helpers.program import EXAMPLES
from helpers.results import verified

from sigsim.board.reader import read_board
from sigsim.cli.report_parts import Part, asked, compared
from sigsim.errors import SigsimError
from sigsim.measure.told import MOST_BYTES, read_verified
from sigsim.show import verify as show

BASS = EXAMPLES / "ferry-bass.toml"
BOARD = read_board(BASS)
STORM = BOARD.scene("storm").on
FOUND = verified(BOARD, wrong=True, on=((), STORM))


def result(folder: Path, values: Any = None, name: str = "result.json") -> Path:
    file = folder / name
    text = show.as_json(FOUND) if values is None else json.dumps(values)
    file.write_text(text, encoding="utf-8")
    return file


def page_of(folder: Path, *parts: str) -> dict[str, Any]:
    """Return the data of a page that was made with some parts."""
    given = [word for part in parts for word in ("--with", part)]
    out = folder / "page.html"
    run = sigsim_here("report", BASS, "-o", out, "--only-scenes", "--force", *given)
    assert run.status == 0, run.err
    text = out.read_text(encoding="utf-8")
    found = re.search(r'<script type="application/json"[^>]*>(.*?)</script>', text, re.S)
    assert found is not None
    values: dict[str, Any] = json.loads(found[1])
    return values


def test_what_was_written_reads_back(tmp_path: Path) -> None:
    """All but the files, which the page does not show, and how far the two agree, found anew."""
    back = read_verified(str(result(tmp_path)), BOARD)
    same = replace(
        FOUND,
        files=(),
        agrees_to=back.agrees_to,
        agrees_within=back.agrees_within,
    )
    assert back == same
    assert back.agrees_to is not None


def test_the_forms_that_the_contract_promises_are_enough(tmp_path: Path) -> None:
    """The keys of the document of `verify --json` that scripts may rely on, and no others."""
    whole = json.loads(show.as_json(FOUND))
    keys = ("states", "largest_difference_db", "limit_db", "within_limit", "suspects")
    values = {key: whole[key] for key in (*keys, "record_next")}
    for state in values["states"]:
        del state["state"]
    back = read_verified(str(result(tmp_path, values)), BOARD)
    assert [state.bands for state in back.states] == [state.bands for state in FOUND.states]
    assert back.suspects == FOUND.suspects
    assert back.notes == ()


def test_the_page_has_a_section(tmp_path: Path) -> None:
    """The sentence, the table beside the plan, what to check first, what to record next."""
    sections = {s["id"]: s for s in page_of(tmp_path, f"verify={result(tmp_path)}")["sections"]}
    blocks = sections["verify"]["blocks"]
    said = json.dumps(blocks, ensure_ascii=False)
    assert "3.0 dB more loss at 10 kHz than planned" in said
    assert "Check first: the length of 'the 6 m of lead'" in said
    assert "Record next" in said
    assert "the right channel has the sweep" in said
    tables = [block for block in blocks if block["kind"] == "table"]
    assert [len(table["rows"]) for table in tables] == [len(s.bands) for s in FOUND.states]


@pytest.mark.parametrize("name", ["a,b.json", "a=b.json", "a,noise.json", "verify=x.json", "ä b"])
def test_a_file_may_be_called_anything(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    result(tmp_path, name=name)
    assert asked([f"verify={name}"]) == (Part("verify", name),)
    assert asked([f"spread,verify={name},noise"]) == (
        Part("spread"),
        Part("verify", name),
        Part("noise"),
    )
    assert asked([f"noise, verify={name}", "noise"]) == (Part("noise"), Part("verify", name))
    assert compared(asked([f"verify={name}"]), BOARD) is not None


@pytest.mark.parametrize(
    ("given", "why"),
    [
        (["verify"], r"shows a file.*verify=RESULT\.json"),
        (["verify="], "says nothing"),
        (["noise,verify"], "shows a file"),
        (["verifi=x.json"], "no part of the page of this name"),
        (["verify=a.json", "verify=b.json"], "room for one"),
        ([","], "says nothing"),
    ],
)
def test_what_is_no_part_of_the_page(given: list[str], why: str) -> None:
    with pytest.raises(SigsimError, match=why):
        asked(given)


def refused(folder: Path, file: object) -> str:
    """Return the one sentence with which a result is refused; no page is written."""
    out = folder / "page.html"
    run = sigsim_here("report", BASS, "-o", out, "--with", f"verify={file}")
    assert run.status == 2, run.out
    assert not out.exists()
    assert len(run.err.strip().splitlines()) == 1
    return run.err


Change = Callable[[dict[str, Any]], object]
BANDS = "states, item 1, bands, item 1"
CHANGES: list[tuple[Change, str]] = [
    (lambda v: v.pop("states"), "states is missing"),
    (lambda v: v.update(states={}), "states: a list is wanted"),
    (lambda v: v.update(states=[]), "no third octave"),
    (lambda v: v.update(states=[1]), "states, item 1: an object is wanted"),
    (lambda v: v.update(states=v["states"] * 40), "at most 64"),
    (lambda v: v["states"][0].pop("on"), "states, item 1: on is missing"),
    (lambda v: v["states"][0].update(on=["no such pedal"]), "no stage or loop of this name"),
    (lambda v: v["states"][0].update(on=[["x"]]), "on, item 1: a text is wanted"),
    (lambda v: v["states"][0].update(on="x"), "on: a list is wanted"),
    (lambda v: v["states"][0].pop("treble_loss_db"), "treble_loss_db is missing"),
    (lambda v: v["states"][0]["bands"][0].pop("measured_db"), f"{BANDS}: measured_db is missing"),
    (lambda v: v["states"][0]["bands"][0].update(measured_db="3"), "measured_db: a number"),
    (lambda v: v["states"][0]["bands"][0].update(measured_db=True), "measured_db: a number"),
    (lambda v: v["states"][0]["bands"][0].update(measured_db=None), "measured_db: a number"),
    (lambda v: v["states"][0]["bands"][0].update(measured_db=1e300), "cannot be meant"),
    (lambda v: v["states"][0]["bands"][0].update(measured_db=10**300), "cannot be meant"),
    (lambda v: v["states"][0]["bands"][0].update(measured_low_db=99), "over the upper one"),
    (lambda v: v["states"][0]["bands"][0].update(frequency_hz=0), "cannot be meant"),
    (lambda v: v["states"][0].update(bands=v["states"][0]["bands"] * 9), "at most 100"),
    (lambda v: v.update(within_limit="yes"), "within_limit: true or false"),
    (lambda v: v.update(limit_db=None), "limit_db: a number"),
    (lambda v: v.update(without_means="amp"), "without_means: this word"),
    (lambda v: v.update(at="nowhere"), "no end of this name|that one end is all"),
    (lambda v: v["suspects"][0].update(names=[]), "names is empty"),
    (lambda v: v["suspects"][0].update(key="<script>"), "a key of a board file"),
    (lambda v: v["suspects"][0].update(unit="</script>"), "unit: this word"),
    (lambda v: v["suspects"][0].update(explains=7), "cannot be meant"),
    (lambda v: v.update(record_next=["no such pedal"]), "no stage or loop of this name"),
    (lambda v: v.update(notes=["x" * 5000]), "notes, item 1: a text is wanted"),
]


@pytest.mark.parametrize(("change", "why"), CHANGES)
def test_a_result_that_is_wrong_in_one_place(tmp_path: Path, change: Change, why: str) -> None:
    values = copy.deepcopy(json.loads(show.as_json(FOUND)))
    change(values)
    assert re.search(why, refused(tmp_path, result(tmp_path, values)))


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        (b"", "this is no JSON"),
        (b"{", "this is no JSON"),
        (b"[]", "an object is wanted"),
        (b'"x"', "an object is wanted"),
        (b"\xff\xfe{}", "this is no JSON"),
        (b"[" * 100_000, "this is no JSON"),
        (b'{"limit_db": NaN}', "every number has to be finite"),
        (b'{"limit_db": -Infinity}', "every number has to be finite"),
        (b'{"limit_db": ' + b"9" * 10_000 + b"}", "this is no JSON"),
        (b" " * (MOST_BYTES + 1), "larger than 4 MB"),
    ],
    ids=range(10),
)
def test_a_file_that_is_no_result(tmp_path: Path, raw: bytes, why: str) -> None:
    file = tmp_path / "result.json"
    file.write_bytes(raw)
    assert why in refused(tmp_path, file)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    assert "there is no such file" in refused(tmp_path, tmp_path / "none.json")
    assert "directory" in refused(tmp_path, tmp_path) or "folder" in refused(tmp_path, tmp_path)
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    assert "no ordinary file" in refused(tmp_path, pipe)


def test_the_result_is_not_overwritten_by_the_page(tmp_path: Path) -> None:
    file = result(tmp_path, name="result.html")
    before = file.read_bytes()
    run = sigsim_here("report", BASS, "-o", file, "--force", "--with", f"verify={file}")
    assert run.status == 2
    assert file.read_bytes() == before


def test_names_from_a_result_are_shown_as_text(tmp_path: Path) -> None:
    """What is markup, or not seen, is neither in the page."""
    values = json.loads(show.as_json(FOUND))
    values["suspects"][0]["names"] = ["</script><b>\u202e", "x\n\x1b[2J"]
    values["notes"] = ["</script><img src=x onerror=alert(1)>"]
    page_of(tmp_path, f"verify={result(tmp_path, values)}")
    text = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert "</script><b>" not in text
    assert "<img src=x" not in text
    assert "\u202e" not in text
    assert "\x1b" not in text


def test_the_comparison_of_another_board_is_said_to_be_so(tmp_path: Path) -> None:
    values = json.loads(show.as_json(FOUND)) | {"board": "Another board"}
    page = page_of(tmp_path, f"verify={result(tmp_path, values)}")
    assert "The comparison is of the board" in json.dumps(page["sections"])

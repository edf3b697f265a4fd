"""`report` of a file with variants: what the page holds, and how the options go together."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from helpers.in_process import sigsim_here
from helpers.results import verified
from helpers.variant_boards import NAMES, SMALL, VARIED

from sigsim.board.changes import Changes
from sigsim.board.part_stage import powered_part
from sigsim.board.reader import parse_board, read_board, read_versions
from sigsim.cli import progress
from sigsim.cli.report_versions import gathered
from sigsim.decide.page.report import ReportQuestion
from sigsim.metrics import Basis
from sigsim.show import verify as show
from sigsim.show.page import page
from sigsim.show.page.versions import _switches


@pytest.fixture
def board(tmp_path: Path) -> Path:
    path = tmp_path / "varied.toml"
    path.write_text(VARIED, encoding="utf-8")
    return path


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "small.toml"
    path.write_text(SMALL, encoding="utf-8")
    return path


def made(board: Path, *arguments: object) -> tuple[dict[str, Any], str, Any]:
    """Return the data of a page, the page, and the run that wrote it."""
    path = board.with_name("page.html")
    run = sigsim_here("report", board, "-o", path, "--force", *arguments)
    assert run.status == 0, run.err
    text = path.read_text(encoding="utf-8")
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', text)
    assert found is not None
    data: dict[str, Any] = json.loads(found[1])
    return data, text, run


def whole(data: dict[str, Any], number: int) -> dict[str, Any]:
    """Return a version as the page's script puts it together."""
    both = {**data["versions"][0], **data["versions"][number]}
    version = {key: value for key, value in both.items() if value is not None}
    for key in ("pool", "sections"):
        version[key] = [data[key][i] for i in version[key]]
    return version


def test_each_variant_is_all_that_a_page_of_it_alone_is(board: Path) -> None:
    several, _, run = made(board)
    assert [version["label"] for version in several["versions"]] == ["as written", *NAMES]
    assert run.out.rstrip().endswith("choose there: as written, or 4 variants.")
    for number, name in [*enumerate(NAMES, 1)][1::2]:
        alone, _, _ = made(board, "--variant", name)
        assert len(alone["versions"]) == 1
        version = whole(several, number)
        assert version | whole(alone, 0) == version
        assert name in version["title"]
    texts = [[json.dumps(value) for value in several[key]] for key in ("pool", "sections")]
    assert [len(set(listed)) for listed in texts] == list(map(len, texts))
    first, *others = several["versions"]
    assert {"metrics", "drawn"} <= first.keys()
    assert not any({"metrics", "drawn"} & other.keys() for other in others)


def test_with_other_options_it_is_too(small: Path) -> None:
    options = ("--only-scenes", "--with", "spread,noise", "--reference", "direct",
               "--set", "fuzz.wiring_capacitance=200 pF")  # fmt: skip
    several, _, _ = made(small, *options)
    alone, _, _ = made(small, *options, "--variant", "active")
    version = whole(several, 1)
    assert version | whole(alone, 0) == version
    assert "2 values set" not in version["title"]
    assert "1 value set" in version["title"]


def test_other_boards_are_laid_over_each(small: Path) -> None:
    other = small.with_name("other.toml")
    other.write_text(SMALL.replace("fuzz-low-impedance", "pedal-true-bypass"), encoding="utf-8")
    several, _, _ = made(small, "--only-scenes", "--compare", other)
    alone, _, _ = made(small, "--only-scenes", "--variant", "active", "--compare", small)
    assert len(whole(several, 1)["others"]) == len(whole(alone, 0)["others"]) == 1
    said = [json.dumps(whole(several, n)["sections"]) for n in range(3)]
    assert all("Compared with" in text for text in said)


def test_as_written_is_the_page_of_the_file_without_its_variants(small: Path) -> None:
    several, _, _ = made(small)
    small.write_text(SMALL.split("[variants.active]")[0], encoding="utf-8")
    alone, _, run = made(small)
    version = whole(several, 0)
    assert version | whole(alone, 0) == version
    assert run.out.rstrip().endswith("Open it in a browser.")
    assert len(alone["versions"]) == 1


def test_a_place_keeps_its_switch_under_another_name() -> None:
    """What has a name of the file goes by it; what is new by what stood there before."""
    exchange = '[variants.v]\ntuner = { stage = "fuzz" }\nfuzz = { stage = "tuner" }\n'
    moved = '[variants.w]\nfuzz = { stage = "new" }\ntuner = { stage = "fuzz" }\n'
    text = VARIED + exchange + moved
    written = parse_board(text)
    made = {v: parse_board(text, changes=Changes((v,))) for v in ("v", "w", *NAMES)}
    found = {v: _switches(one, written) for v, one in made.items()}
    for name in NAMES[:3]:
        assert found[name] == list(written.switches())
    assert found["dry"] == ["tuner", "fuzz", "preamp"]
    assert found["v"][:2] == ["fuzz", "tuner"]
    assert found["w"][:2] == ["fuzz", "new"]


def test_what_a_variant_cannot_take_leaves_variants_out(small: Path) -> None:
    data, _, run = made(small, "--set", "far.wiring_capacitance=60 pF")
    assert len(data["versions"]) == 1
    assert "the page is without all variants: " in run.err
    data, _, run = made(small, "--at", "side")
    assert [version["label"] for version in data["versions"]] == ["as written", "active"]
    assert "the page is without the variant alone: " in run.err


def test_a_comparison_is_shown_with_what_was_measured(small: Path) -> None:
    result = small.with_name("result.json")
    measured = read_board(small, Changes(("active",)))
    told = json.loads(show.as_json(verified(measured, wrong=True)))
    result.write_text(
        json.dumps(told | {"variants": ["active"], "record_next": None}), encoding="utf-8"
    )
    data, _, _ = made(small, "--only-scenes", "--with", f"verify={result}")
    for number, chosen in enumerate((False, True, False)):
        (section,) = [s for s in whole(data, number)["sections"] if s["id"] == "verify"]
        said = json.dumps(section)
        assert ("What was measured is variant active: choose it" in said) != chosen
        assert ('"table"' in said) == chosen


def test_a_page_too_large_says_what_else_to_do(
    small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(page, "MOST_BYTES", 100_000)
    run = sigsim_here("report", small, "-o", small.with_name("page.html"))
    assert run.status == 2
    assert "--variant NAME" in run.err
    assert "--only-scenes" in run.err
    assert not small.with_name("page.html").exists()


def test_progress_is_said_of_what_takes_long(
    small: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(progress, "_FIRST", 0.0)
    first, *variants = read_versions(small)
    buffer = powered_part("buffer-opamp", "buffer")
    question = ReportQuestion(first, (), Basis(), buffer, {}, only_scenes=True)
    found = [data.question.board.changes.variants for data in gathered(question, variants)]
    assert found == [(), ("active",), ("alone",)]
    assert "33 of 100 % of the page" in capsys.readouterr().err

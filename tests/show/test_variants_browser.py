"""The page that switches between variants, in a real browser."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final
from unicodedata import normalize

import pytest
from helpers.axe import NEEDS_AXE, faults
from helpers.boards import Table, boards, flat
from helpers.browser import NEEDS_BROWSER, Browser, browser
from helpers.in_process import sigsim_here
from helpers.report_page import (
    choose_scene,
    chosen,
    click,
    click_in_turn,
    pressed,
    printed,
    shown,
    sideways,
)
from helpers.variant_boards import NAMES, VARIED
from helpers.variants import text as board_text
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from sigsim.board.changes import Changes
from sigsim.board.model import Board
from sigsim.board.reader import read_board, read_versions
from sigsim.decide.loss.report import assess
from sigsim.errors import SigsimError
from sigsim.states.response import Solver

pytestmark = NEEDS_BROWSER


@pytest.fixture(scope="module")
def window() -> Iterator[Browser]:
    with browser() as opened:
        opened.window(1366, 768)
        yield opened


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("varied") / "varied.toml"
    path.write_text(VARIED, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def varied(source: Path) -> Path:
    return made(source)


def made(source: Path, *options: str) -> Path:
    page = source.with_name(f"page{len(options)}.html")
    run = sigsim_here("report", source, "-o", page, "--force", *options)
    assert (run.status, run.err) == (0, "")
    return page


def choose(window: Browser, number: int) -> None:
    window.run(f"document.querySelectorAll('#variants button')[{number}].click()")


def agrees(window: Browser, board: Board) -> None:
    """Compare what is on now, and each switch turned the other way, one after the other."""
    solver, names = Solver(board), board.switches()
    assert shown(window) == printed(
        assess(solver, board.state(frozenset(names[i] for i in pressed(window))))
    )
    order = [*range(len(names)), *range(len(names))]
    for cells, on in click_in_turn(window, order):
        state = board.state(frozenset(names[i] for i in on))
        assert cells == printed(assess(solver, state))


def test_each_variant_has_its_own_numbers_everywhere(
    window: Browser, varied: Path, source: Path
) -> None:
    window.open(varied)
    sections = window.texts("#sections h2")
    assert window.texts("#variants button") == ["as written", *NAMES]
    for number, board in [*enumerate(read_versions(source)), (0, read_board(source))]:
        choose(window, number)
        agrees(window, board)
        assert chosen(window, "#variants") == [["as written", *NAMES][number]]
        assert window.run("return document.title") == board.name
        assert window.texts("#title") == [board.name]
        assert window.texts("#sections h2") == sections
        assert len(window.texts("#numbers div")) == 9
    assert window.messages() == []


def test_the_answers_are_those_the_program_prints(window: Browser, varied: Path) -> None:
    """The worst of all, and the first sentence of the table, word by word."""
    window.open(varied)
    source = varied.with_name("varied.toml")
    for number, name in enumerate(NAMES, 1):
        choose(window, number)
        said = json.loads(sigsim_here("loss", source, "--variant", name, "--json").out)
        choose_scene(window, "worst of all")
        assert shown(window)[5] == f"{said['worst']['treble_loss_db']:.1f}"
        sentence = sigsim_here("loss", source, "--variant", name).out.split(".\n")[0]
        first, *_ = window.texts("#loss > p")
        assert " ".join(sentence.split()) in first
        assert window.texts("#changes")[0].startswith(f"Variant {name}: ")


BOXES: Final = (
    "return [...document.querySelectorAll('#line .box[aria-pressed=true] .name')]"
    ".map((e) => e.textContent).join()"
)


def test_what_is_on_stays_on(window: Browser, varied: Path) -> None:
    """Under its own name, in its place under a new one, and again when it comes back."""
    window.open(varied)
    choose_scene(window, "loud")
    click(window, 3)
    assert window.run(BOXES) == "fuzz,echo,preamp"
    expected = {0: "fuzz,echo,preamp", 1: "fuzz,echo,preamp", 2: "drive,echo,preamp",
                4: "fuzz,preamp"}  # fmt: skip
    for number in (1, 2, 4, 0, 4, 2, 0):
        choose(window, number)
        assert window.run(BOXES) == expected[number]


def test_what_was_opened_stays_open(window: Browser, varied: Path) -> None:
    window.open(varied)
    window.run("const d = document.getElementById('cables'); d.open = !d.open")
    open_ = "return [...document.querySelectorAll('details.section[open]')].map((e) => e.id)"
    before = window.run(open_)
    choose(window, 1)
    assert window.run(open_) == before


def test_keys_alone_choose(window: Browser, varied: Path) -> None:
    window.open(varied)
    for _ in range(40):
        window.press("\ue004")
        if window.run("return document.activeElement.textContent") == NAMES[1]:
            break
    window.press(" ")
    assert chosen(window, "#variants") == [NAMES[1]]
    assert window.run("return document.activeElement.textContent") == NAMES[1]
    assert window.run("return getComputedStyle(document.activeElement).outlineStyle") == "solid"
    group = window.run("const g = document.getElementById('variants');"
                       "return [g.getAttribute('role'), g.getAttribute('aria-label')]")  # fmt: skip
    assert group == ["group", "Variants"]


@NEEDS_AXE
@pytest.mark.parametrize(("scheme", "size"), [("light", (390, 844)), ("dark", (1366, 768))])
def test_no_accessibility_fault(
    window: Browser, varied: Path, scheme: str, size: tuple[int, int]
) -> None:
    window.prefer(scheme)
    window.window(*size)
    window.open(varied)
    choose(window, 2)
    found = faults(window)
    window.prefer("light")
    window.window(1366, 768)
    assert found == []


@pytest.mark.parametrize(("width", "height"), [(320, 568), (740, 360)])
def test_nothing_sticks_out_sideways(
    window: Browser, varied: Path, width: int, height: int
) -> None:
    window.window(width, height)
    window.open(varied)
    choose(window, 2)
    wide = sideways(window)
    window.window(1366, 768)
    assert wide <= 0


def test_the_chosen_one_is_printed(window: Browser, varied: Path, source: Path) -> None:
    from pypdf import PdfReader

    window.open(varied)
    choose(window, 1)
    pdf = PdfReader(io.BytesIO(window.printed()))
    text = " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
    text = normalize("NFKC", text)
    assert read_board(source, Changes(("active",))).name in text
    assert "instrument (part bass-active)" in text
    assert "bass-split-coil" not in text


def test_scenes_only(window: Browser, source: Path) -> None:
    """The scene stays, by its name; nothing comes out of order."""
    window.open(made(source, "--only-scenes"))
    choose_scene(window, "loud")
    for number, board in enumerate(read_versions(source)):
        choose(window, number)
        assert chosen(window, "#scenes") == ["loud"]
        assert shown(window) == printed(assess(Solver(board), board.scene("loud")))
    assert window.messages() == []


@st.composite
def varied_boards(draw: st.DrawFn) -> tuple[Table, list[str]]:
    """Return a random board with two variants: something out or renamed, and another cable."""
    board = draw(boards())
    named = [item["stage"] for item in flat(board["chain"]) if "stage" in item]
    assume(len(named) > 1)
    gone, renamed = draw(st.permutations(named))[:2]
    cables = {name: {"capacitance": draw(st.floats(3e-11, 3e-10))} for name in board["cables"]}
    variants: dict[str, Any] = {"one": {"out": [gone]}, "two": {renamed: {"stage": "quite new"}}}
    variants["two"] |= {"cables": cables} if cables else {}
    return board | {"variants": variants}, ["one", "two"]


@settings(
    max_examples=1, deadline=None, phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)  # fmt: skip
@given(drawn=varied_boards())
def test_random_variants_of_random_boards(window: Browser, source: Path, drawn: Any) -> None:
    table, names = drawn
    path = source.with_name("random.toml")
    path.write_text(board_text(table), encoding="utf-8")
    try:
        each = [read_board(path), *(read_board(path, Changes((name,))) for name in names)]
    except SigsimError:  # a loop left empty, or the like
        assume(False)
    page = path.with_name("random.html")
    run = sigsim_here("report", path, "-o", page, "--force")
    assert run.status == 0, run.err
    # High enough for every loop that is out to show what is in it.
    window.window(1366, 4000)
    window.open(page)
    for number in (2, 1, 0):
        choose(window, number)
        agrees(window, each[number])
    window.window(1366, 768)
    assert window.messages() == []

"""The page in a real browser: its numbers, its keys, its silence towards the network, its print."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final
from unicodedata import normalize

import pytest
from helpers.axe import NEEDS_AXE, faults
from helpers.browser import NEEDS_BROWSER, Browser, browser
from helpers.in_process import sigsim_here
from helpers.program import EXAMPLES
from helpers.report_boards import EVERYTHING, HOSTILE, SPLITS, hostile_board
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

from sigsim.board.model import Board
from sigsim.board.reader import parse_board, read_board
from sigsim.decide.loss.report import assess
from sigsim.metrics import Basis
from sigsim.states.response import Solver

pytestmark = NEEDS_BROWSER

DESK: Final = (1366, 768)
PHONE: Final = (390, 844)
SECTIONS: Final = (
    "Loss, combination by combination", "Would a buffer help?", "Which cable?",
    "What costs the most?", "How sure is that?", "How much does it hiss?", "Compared with",
    "Hand check", "Cautions", "What is assumed", "Where every figure came from",
)  # fmt: skip


@pytest.fixture(scope="module")
def window() -> Iterator[Browser]:
    with browser() as opened:
        opened.window(*DESK)
        yield opened


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Return pages made by the program."""
    folder = tmp_path_factory.mktemp("pages")
    texts = {"everything": EVERYTHING, "hostile": hostile_board(), "splits": SPLITS}
    sources = {name: folder / f"{name}.toml" for name in texts}
    for name, text in texts.items():
        sources[name].write_text(text, encoding="utf-8")
    sources |= {name: EXAMPLES / f"{name}.toml" for name in ("ferry-bass", "ferry-guitar-big")}
    extra: dict[str, list[object]] = {
        "ferry-bass": ["--with", "spread,noise", "--compare", EXAMPLES / "ferry-bass-active.toml"],
        "hostile": ["--compare", sources["hostile"]],
    }
    made = {}
    for name, source in sources.items():
        made[name] = folder / f"{name}.html"
        run = sigsim_here("report", source, "-o", made[name], *extra.get(name, []))
        assert (run.status, run.err) == (0, "")
    return made


def board_of(name: str) -> Board:
    written = {"everything": EVERYTHING, "splits": SPLITS}
    if name in written:
        return parse_board(written[name])
    return read_board(EXAMPLES / f"{name}.toml")


@pytest.mark.parametrize("name", ["ferry-bass", "everything", "splits"])
def test_every_switch_gives_the_numbers_of_loss(
    window: Browser, pages: dict[str, Path], name: str
) -> None:
    """All of them on one after the other, then off again, read in the turn of the click."""
    board = board_of(name)
    solver, switches = Solver(board), board.switches()
    window.open(pages[name])
    order = [*range(len(switches)), *range(len(switches))]
    on: set[int] = set()
    for number, (cells, now) in zip(order, click_in_turn(window, order), strict=True):
        on ^= {number}
        assert set(now) == on
        names = frozenset(switches[i] for i in on)
        assert cells == printed(assess(solver, board.state(names))), names
    assert not window.messages()


def test_the_numbers_are_those_the_program_prints(window: Browser, pages: dict[str, Path]) -> None:
    """Through the program's own table, letter by letter."""
    window.open(pages["ferry-bass"])
    for scene in ("last dance", "storm"):
        table = sigsim_here("loss", EXAMPLES / "ferry-bass.toml", "--scene", scene).out
        line = next(row for row in table.splitlines() if re.match(rf" {scene} ", row))
        choose_scene(window, scene)
        assert " ".join(shown(window)) == " ".join(line.split()[len(scene.split()) :])


def test_curves_keep_all_their_points(window: Browser, pages: dict[str, Path]) -> None:
    """Every curve is drawn with its 301 points, and moves with a switch."""
    window.open(pages["ferry-bass"])
    path = "return document.querySelector('#curve path.{}').getAttribute('d')"
    before = window.run(path.format("now"))
    for curve in ("now", "lead", "pin"):
        assert len(re.findall("[ML]", window.run(path.format(curve)))) == 301
    click(window, 1)
    assert window.run(path.format("now")) != before


def test_other_boards_and_tolerances_are_beside_the_curve(
    window: Browser, pages: dict[str, Path]
) -> None:
    """Another board hangs as it is with all off, or at its worst where that is what is shown."""
    window.open(pages["ferry-bass"])
    ends = "return [...document.querySelectorAll('#curve text.end')].map((e) => e.textContent)"
    other = "return document.querySelector('#curve path.pin').getAttribute('d')"
    band = "return document.querySelector('#curve path.spread').getAttribute('d') ?? ''"
    assert any(name.startswith("Night ferry: a") for name in window.run(ends))
    # The curve of a board lies within its own tolerances: the band goes round it.
    points = "[ML]([-\\d.]+) ([-\\d.]+)"
    around = [float(y) for _, y in re.findall(points, window.run(band))]
    now = "return document.querySelector('#curve path.now').getAttribute('d')"
    low, high = around[:301], around[:300:-1]
    for (_, y), *edges in zip(re.findall(points, window.run(now)), low, high, strict=True):
        assert min(edges) - 1 <= float(y) <= max(edges) + 1
    before = window.run(other)
    choose_scene(window, "worst of all")
    assert window.run(other) != before
    # A state that is no scene has no band.
    click(window, 0)
    assert not window.run(band)


def test_scenes_that_are_alike_share_a_button(window: Browser, pages: dict[str, Path]) -> None:
    window.open(pages["ferry-bass"])
    assert chosen(window, "#scenes") == ["quiet waltz = all off"]
    for scene in ("storm", "worst of all", "last dance"):
        choose_scene(window, scene)
        assert chosen(window, "#scenes") == [scene]
    click(window, 0)
    assert chosen(window, "#scenes") == []


def test_keyboard_alone(window: Browser, pages: dict[str, Path]) -> None:
    """The line is one stop of the Tab key; arrows lead through all of it, and Space switches."""
    window.open(pages["ferry-bass"])
    key = "return document.activeElement.dataset.key ?? ''"
    stops = []
    for _ in range(40):
        window.press("\ue004")
        stops.append(window.run("return document.activeElement.textContent"))
        if window.run(key):
            break
    assert any(text.startswith("storm") for text in stops)
    for _ in range(40):
        if "last dance preamp" in window.run(key):
            break
        window.press("\ue014")
    window.press(" ")
    assert pressed(window) == [7]
    assert "Last dance preamp on" in window.texts("#sentence h1")[0]
    assert window.run("return getComputedStyle(document.activeElement).outlineStyle") == "solid"
    window.press("\ue011", "\ue004")
    assert window.run(key) == ""


def hidden_by_the_top(window: Browser) -> int:
    """Return how far what has the focus lies under what stays at the top [px]."""
    found: int = window.run(
        "const at = document.activeElement.getBoundingClientRect();"
        "const top = document.getElementById('top').getBoundingClientRect();"
        "return Math.max(0, Math.round(top.bottom - at.top), Math.round(at.bottom - innerHeight))"
    )
    return found


@pytest.mark.parametrize("size", [DESK, PHONE])
def test_what_has_the_focus_is_seen_with_the_curve(
    window: Browser, pages: dict[str, Path], size: tuple[int, int]
) -> None:
    """Every box is reached with the curve still on the screen, and nothing covers it."""
    window.window(*size)
    window.open(pages["ferry-guitar-big"])
    window.run("document.querySelector('#line [tabindex=\"0\"]').focus()")
    for _ in range(18):
        window.press("\ue014", "\ue014")
        assert hidden_by_the_top(window) == 0
        low, high = window.run(
            "const r = document.getElementById('curve').getBoundingClientRect();"
            "return [r.top, r.bottom - innerHeight]"
        )
        assert low >= 0
        assert high <= 0
    window.window(*DESK)


@pytest.mark.parametrize("name", ["ferry-bass", "everything", "hostile"])
def test_nothing_goes_out_and_nothing_goes_wrong(
    window: Browser, pages: dict[str, Path], name: str
) -> None:
    window.open(pages[name])
    click_in_turn(window, list(range(len(window.texts("#line .box[aria-pressed]")))))
    assert window.messages() == []
    assert all(url.startswith(("file:", "data:")) for url in window.requests())
    assert window.run("return performance.getEntriesByType('resource').length") == 0


def test_hostile_names_are_only_text(window: Browser, pages: dict[str, Path]) -> None:
    window.open(pages["hostile"])
    assert window.run("return window.hacked === undefined")
    assert window.texts("#title") == [HOSTILE[0]]
    assert window.run("return document.title") == HOSTILE[0]
    everything = " ".join(window.texts("#way, #scenes, #sections"))
    for name in HOSTILE[1:]:
        assert name.replace("'", "`").replace("\\\\", "\\") in everything.replace("'", "`")
    elements = window.run(
        "return ['img', 'body a[href^=javascript]', '#sections svg, #line b', '#curve a']"
        ".map((s) => document.querySelectorAll(s).length)"
    )
    assert elements == [0, 0, 0, 0]


@pytest.mark.parametrize("name", ["splits", "ferry-guitar-big"])
def test_what_is_printed_has_all_sections(
    window: Browser, pages: dict[str, Path], name: str
) -> None:
    """On A4, two to four pages, in the state that is shown; the page itself stays as it was."""
    from pypdf import PdfReader

    window.open(pages[name])
    open_ = "return [...document.querySelectorAll('details.section')].map((e) => e.open)"
    before, (box, *_) = window.run(open_), window.texts("#line .box[aria-pressed] .name")
    click(window, 0)
    pdf = PdfReader(io.BytesIO(window.printed()))
    assert 2 <= len(pdf.pages) <= 4
    width, height = (float(side) for side in pdf.pages[0].mediabox[2:])
    assert (width, height) == (pytest.approx(595, abs=2), pytest.approx(842, abs=2))  # A4
    # Printed ligatures are letters again.
    text = normalize("NFKC", " ".join(part.extract_text() for part in pdf.pages))
    text = " ".join(text.split())
    usual = {"How sure is that?", "How much does it hiss?", "Compared with"}
    assert window.texts("h2")[1:] == [title for title in SECTIONS if title not in usual]
    for title in window.texts("h2"):
        assert title in text
    # The sentence begins with it, unless it says first where it is heard.
    assert f"{box} on" in text or f"{box[:1].upper()}{box[1:]} on" in text
    for piece in ("of treble lost", "100 Hz", "The line", "cable-standard"):
        assert piece in text
    assert window.run(open_) == before
    assert window.run("return document.documentElement.className") == ""


@NEEDS_AXE
@pytest.mark.parametrize(
    ("name", "scheme", "size"),
    [
        ("ferry-bass", "light", DESK), ("ferry-bass", "dark", PHONE),
        ("everything", "dark", DESK), ("everything", "light", PHONE),
    ],
)  # fmt: skip
def test_no_accessibility_fault(
    window: Browser, pages: dict[str, Path], name: str, scheme: str, size: tuple[int, int]
) -> None:
    window.prefer(scheme)
    window.window(*size)
    window.open(pages[name])
    click(window, 2)
    window.run("document.querySelectorAll('details').forEach((e) => { e.open = true; })")
    found = faults(window)
    window.prefer("light")
    window.window(*DESK)
    assert found == []


# What scrolls sideways, what text is small, and what is too small to be hit.
_SMALL: Final = """
const seen = [...document.querySelectorAll("main *")].filter((e) => e.getClientRects().length);
const says = (e) => [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim());
const named = (found) => found.map((e) => e.outerHTML.slice(0, 99));
return [
  seen.filter((e) => e.clientWidth > 0 && e.scrollWidth > e.clientWidth + 1
    && ["auto", "scroll"].includes(getComputedStyle(e).overflowX)),
  seen.filter((e) => says(e) && parseFloat(getComputedStyle(e).fontSize) < 12),
  seen.filter((e) => e.matches("button, summary, input") && e.getBoundingClientRect().height < 24),
].map(named);
"""


@pytest.mark.parametrize("name", ["ferry-bass", "hostile"])
def test_nothing_sticks_out_sideways_and_nothing_is_small(
    window: Browser, pages: dict[str, Path], name: str
) -> None:
    """From 320 px up; no table scrolls, no text under 12 px, no target under 24 px."""
    for size in ((320, 568), (740, 360), PHONE, DESK):
        window.window(*size)
        window.open(pages[name])
        window.run("document.querySelectorAll('details').forEach((e) => { e.open = true; })")
        assert sideways(window) <= 0, size
        assert window.run(_SMALL) == [[], [], []], size
    window.window(*DESK)


def test_on_a_phone_only_the_first_section_is_open(window: Browser, pages: dict[str, Path]) -> None:
    open_ = "return [...document.querySelectorAll('details.section')].filter((e) => e.open).length"
    window.window(*PHONE)
    window.open(pages["ferry-bass"])
    assert window.run(open_) == 1
    window.window(*DESK)
    window.open(pages["ferry-bass"])
    assert window.run(open_) == len(SECTIONS) - 1
    assert tuple(window.texts("#sections h2")) == SECTIONS


def test_scenes_only(window: Browser, tmp_path: Path) -> None:
    page = tmp_path / "scenes.html"
    board = EXAMPLES / "ferry-bass.toml"
    assert sigsim_here("report", board, "-o", page, "--only-scenes").status == 0
    window.open(page)
    read, solver = read_board(board), Solver(read_board(board))
    for name in read.scenes:
        choose_scene(window, name)
        assert shown(window) == printed(assess(solver, read.scene(name)))
        assert len(chosen(window, "#scenes")) == 1
    assert window.run("return document.querySelectorAll('#line button[aria-pressed]').length") == 0
    assert window.messages() == []


def test_the_lead_alone_as_reference(window: Browser, tmp_path: Path) -> None:
    page = tmp_path / "direct.html"
    board = EXAMPLES / "ferry-bass-buffered.toml"
    run = sigsim_here(
        "report", board, "-o", page, "--reference", "direct", "--band", "1000", "4000"
    )
    assert run.status == 0
    window.open(page)
    click(window, 5)
    read = read_board(board)
    state = assess(
        Solver(read), read.state(read.switches()[5:6]), Basis("direct", (1000.0, 4000.0))
    )
    assert shown(window) == printed(state)


def test_the_wiring_sheet_prints_and_fits(window: Browser, tmp_path: Path) -> None:
    from pypdf import PdfReader

    page = tmp_path / "sheet.html"
    assert sigsim_here("sheet", EXAMPLES / "ferry-guitar-big.toml", "-o", page).status == 0
    window.window(390, 800)
    window.open(page)
    wide = sideways(window)
    window.window(*DESK)
    assert wide <= 0
    assert window.messages() == []
    pdf = PdfReader(io.BytesIO(window.printed()))
    text = normalize("NFKC", " ".join(part.extract_text() for part in pdf.pages))
    for title in window.texts("h1, h2, th"):
        assert title in " ".join(text.split())
    assert [url for url in window.requests() if not url.startswith("file:")] == []

"""The page that switches between variants, in a real browser."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any, Final
from unicodedata import normalize

import pytest
from helpers.boards import Table, boards, flat
from helpers.browser import NEEDS_BROWSER, Browser, browser
from helpers.in_process import sigsim_here
from helpers.variant_boards import NAMES, VARIED
from helpers.variants import text as board_text
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from sigsim.board.changes import Changes
from sigsim.board.model import Board
from sigsim.board.reader import read_board, read_versions
from sigsim.decide.loss.report import StateReport, assess
from sigsim.errors import SigsimError
from sigsim.show.render.text import decibel, peak, short_hertz, signed
from sigsim.states.response import Solver

pytestmark = NEEDS_BROWSER

CELLS: Final = ("level", "loss1000", "loss2000", "loss4000", "loss8000", "treble", "word",
                "corner", "resonance")  # fmt: skip
PRESSED: Final = (
    "return [...document.querySelectorAll(arguments[0] + ' button[aria-pressed=true]')]"
    ".map((b) => b.firstChild.textContent)"
)


@pytest.fixture(scope="module")
def window() -> Iterator[Browser]:
    with browser() as opened:
        opened.window(1200, 900)
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


def scene(window: Browser, number: int) -> None:
    window.run(f"document.querySelectorAll('#scenes button')[{number}].click()")


def shown(window: Browser) -> list[str]:
    texts = window.run("return arguments[0].map((i) => document.getElementById(i).textContent)",
                       list(CELLS))  # fmt: skip
    return [text.removesuffix(" dB") for text in texts]


def printed(state: StateReport) -> list[str]:
    """Return the numbers of a state as `sigsim loss` prints them, the verdict in its place."""
    losses = [decibel(loss) for loss in state.losses.values()]
    return [signed(state.level_change), *losses, decibel(state.treble_loss), state.verdict,
            short_hertz(state.corner), peak(state.resonance)]  # fmt: skip


def switched(window: Browser) -> list[int]:
    found: list[int] = window.run(
        "return [...document.querySelectorAll('[data-switch][aria-pressed=true]')]"
        ".map((b) => Number(b.dataset.switch))"
    )
    return found


def agrees(window: Browser, board: Board) -> None:
    """Compare each switch alone, and what is on now."""
    solver, names = Solver(board), board.switches()
    before = frozenset(names[i] for i in switched(window))
    assert shown(window) == printed(assess(solver, board.state(before)))
    assert len(window.texts("[data-switch]")) == len(names)
    for number, name in enumerate(names):
        click = f"document.querySelector('[data-switch=\"{number}\"]').click()"
        window.run(click)
        assert shown(window) == printed(assess(solver, board.state(before ^ {name})))
        window.run(click)


def test_each_variant_has_its_own_numbers_everywhere(
    window: Browser, varied: Path, source: Path
) -> None:
    window.open(varied)
    sections = window.texts("#sections h2")
    assert window.texts("#variants button") == ["as written", *NAMES]
    for number, board in [*enumerate(read_versions(source)), (0, read_board(source))]:
        choose(window, number)
        agrees(window, board)
        assert window.run(PRESSED, "#variants") == [["as written", *NAMES][number]]
        assert window.run("return document.title") == board.name
        assert window.texts("h1") == [board.name]
        assert window.texts("#sections h2") == window.texts("#contents a") == sections
        assert window.texts("#scenes button")[1:-1] == list(board.scenes)
        assert len(window.texts("#numbers div")) == len(CELLS)
        curves = window.run("return document.getElementById('chart').data.map((t) => t.name)")
        assert curves == [
            "reference",
            *["worst of all combinations"] * 2,
            *["this combination"] * 2,
        ]
    assert window.messages() == []


def test_the_answers_are_those_the_program_prints(window: Browser, varied: Path) -> None:
    """The worst of all, and the first sentence of the table, word by word."""
    window.open(varied)
    source = varied.with_name("varied.toml")
    for number, name in enumerate(NAMES, 1):
        choose(window, number)
        said = json.loads(sigsim_here("loss", source, "--variant", name, "--json").out)
        window.run("document.querySelector('#scenes button:last-child').click()")
        assert shown(window)[5] == f"{said['worst']['treble_loss_db']:.1f}"
        sentence = sigsim_here("loss", source, "--variant", name).out.split(".\n")[0]
        (first,) = window.texts("#sections section:first-child > p:first-of-type")
        assert " ".join(sentence.split()) in first
        assert window.texts("#state")[0].startswith(f"Variant {name}. ")


def test_what_is_on_stays_on(window: Browser, varied: Path) -> None:
    """Under its own name, in its place under a new one, and again when it comes back."""
    window.open(varied)
    scene(window, 2)
    window.run("document.querySelector('[data-switch=\"3\"]').click()")
    boxes = [" ".join(name.split(" ")[1:]) for name in window.run(PRESSED, "#chain")]
    assert boxes == ["fuzz", "echo", "preamp"]
    expected = {0: "2 fuzz,4 echo,6 preamp", 1: "2 fuzz,4 echo,6 preamp",
                2: "2 drive,4 echo,6 preamp", 4: "2 fuzz,3 preamp"}  # fmt: skip
    for number in (1, 2, 4, 0, 4, 2, 0):
        choose(window, number)
        assert ",".join(window.run(PRESSED, "#chain")) == expected[number]
    window.run("document.getElementById('ruler').value = 'bass';"
               "const at = document.getElementById('at'); at.value = 40;"
               "document.getElementById('show-worst').click()")  # fmt: skip
    choose(window, 1)
    kept = window.run(
        "const [ruler, at, worst] = ['ruler', 'at', 'show-worst'].map((id) => "
        "document.getElementById(id)); return [ruler.value, at.value, worst.checked]"
    )
    assert kept == ["bass", "40", False]


def test_only_what_is_shown_listens(window: Browser, varied: Path) -> None:
    """The scheme of colours, keys and print reach the version that was chosen, once."""
    window.open(varied)
    choose(window, 3)
    choose(window, 1)
    before = shown(window)
    window.prefer("dark")
    assert shown(window) == before
    window.prefer("light")
    window.run("window.dispatchEvent(new Event('beforeprint'))")
    assert shown(window) == before
    assert window.run("return document.getElementById('chart').layout.width") == 690
    window.run("window.dispatchEvent(new Event('afterprint'))")
    window.run("document.querySelector('[data-switch=\"0\"]').focus()")
    window.press("2")
    assert switched(window) == [1]
    assert window.texts("#state")[0].startswith("Variant active. With fuzz on")


def test_keys_alone_choose(window: Browser, varied: Path) -> None:
    window.open(varied)
    for _ in range(40):
        window.press("\ue004")
        if window.run("return document.activeElement.textContent") == NAMES[1]:
            break
    window.press(" ")
    assert window.run(PRESSED, "#variants") == [NAMES[1]]
    assert window.run("return document.activeElement.textContent") == NAMES[1]
    assert window.run("return getComputedStyle(document.activeElement).outlineStyle") == "solid"
    group = window.run("const g = document.getElementById('variants');"
                       "return [g.getAttribute('role'), g.getAttribute('aria-label')]")  # fmt: skip
    assert group == ["group", "Variants"]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_serious_accessibility_fault(window: Browser, varied: Path, scheme: str) -> None:
    window.prefer(scheme)
    window.open(varied)
    choose(window, 2)
    window.run((files("axe_core_python") / "axe.min.js").read_text(encoding="utf-8"))
    found = window.driver.execute_async_script(
        "const done = arguments[arguments.length - 1];"
        "axe.run().then((result) => done(result.violations));"
    )
    window.prefer("light")
    assert [(f["id"], f["nodes"][0]["html"]) for f in found] == []


@pytest.mark.parametrize(("width", "height"), [(390, 844), (740, 360)])
def test_nothing_sticks_out_sideways(
    window: Browser, varied: Path, width: int, height: int
) -> None:
    window.window(width, height)
    window.open(varied)
    choose(window, 2)
    wide = window.run("return document.documentElement.scrollWidth - window.innerWidth")
    window.window(1200, 900)
    assert wide <= 0


def test_the_chosen_one_is_printed(window: Browser, varied: Path, source: Path) -> None:
    from pypdf import PdfReader

    window.open(varied)
    choose(window, 1)
    pdf = PdfReader(io.BytesIO(window.printed()))
    text = " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
    text = normalize("NFKC", text)
    assert read_board(source, Changes(("active",))).name in text
    assert "instrument (bass-active)" in text
    assert "bass-split-coil" not in text


def test_scenes_only(window: Browser, source: Path) -> None:
    """The scene stays, by its name; nothing comes out of order."""
    window.open(made(source, "--only-scenes"))
    scene(window, 2)
    for number, board in enumerate(read_versions(source)):
        choose(window, number)
        assert window.run(PRESSED, "#scenes") == ["loud"]
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
    max_examples=2, deadline=None, phases=[Phase.generate],
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
    window.open(page)
    for number in (2, 1, 0):
        choose(window, number)
        agrees(window, each[number])
    assert window.messages() == []

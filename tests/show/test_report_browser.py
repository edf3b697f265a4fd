"""The page in a real browser: its numbers, its keys, its silence towards the network, its print."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from itertools import chain, combinations
from pathlib import Path
from typing import Any, Final
from unicodedata import normalize

import numpy as np
import pytest
from helpers.boards import boards_in_a_state
from helpers.browser import NEEDS_BROWSER, Browser, browser
from helpers.in_process import sigsim_here
from helpers.program import EXAMPLES, ROOT
from helpers.report_boards import EVERYTHING, HOSTILE, SPLITS, hostile_board
from hypothesis import HealthCheck, Phase, given, settings
from sigsim.show.page.boxes import machine

from sigsim.board.model import Board
from sigsim.board.reader import parse_board, read_board
from sigsim.decide.loss.report import StateReport, assess
from sigsim.decide.page.coefficients import coefficients, pickup_factor
from sigsim.metrics import Basis
from sigsim.show.loss import state_values
from sigsim.show.page.data import METRICS
from sigsim.show.page.pool import Pool
from sigsim.show.render.markup import embedded
from sigsim.show.render.text import decibel, peak, short_hertz, signed
from sigsim.states.circuit import Circuit
from sigsim.states.response import Solver

pytestmark = NEEDS_BROWSER

MODEL: Final = (ROOT / "sigsim" / "show" / "page" / "model.js").read_text(encoding="utf-8")
CELLS: Final = ("level", "loss1000", "loss2000", "loss4000", "loss8000", "treble", "word",
                "corner", "resonance")  # fmt: skip
SECTIONS: Final = (
    "The chain", "Loss, combination by combination", "Would a buffer help?", "Which cable?",
    "What costs the most?", "How sure is that?", "How much does it hiss?", "Compared with",
    "Hand check", "Cautions", "What is assumed", "Where every figure came from",
)  # fmt: skip


@pytest.fixture(scope="module")
def window() -> Iterator[Browser]:
    with browser() as opened:
        opened.window(1200, 900)
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


def printed(state: StateReport) -> list[str]:
    """Return the numbers of a state as `sigsim loss` prints them, the verdict in its place."""
    losses = [decibel(loss) for loss in state.losses.values()]
    return [signed(state.level_change), *losses, decibel(state.treble_loss), state.verdict,
            short_hertz(state.corner), peak(state.resonance)]  # fmt: skip


def shown(window: Browser) -> list[str]:
    """Return the same numbers as the page shows them."""
    texts = window.run("return arguments[0].map((i) => document.getElementById(i).textContent)",
                       list(CELLS))  # fmt: skip
    return [text.removesuffix(" dB") for text in texts]


def click(window: Browser, number: int) -> None:
    window.run(f"document.querySelector('[data-switch=\"{number}\"]').click()")


@pytest.mark.parametrize("name", ["ferry-bass", "everything", "ferry-guitar-big", "splits"])
def test_every_switch_gives_the_numbers_of_loss(
    window: Browser, pages: dict[str, Path], name: str
) -> None:
    """Each alone, and then all of them on one after the other, read in the turn of the click."""
    board = board_of(name)
    solver, switches = Solver(board), board.switches()
    window.open(pages[name])
    count = len(switches)
    order = [*chain(*([n, n] for n in range(count))), *range(count)]
    found = window.run(
        "const [order, cells] = arguments; return order.map((n) => {"
        "document.querySelector(`[data-switch='${n}']`).click();"
        "const on = [...document.querySelectorAll('[data-switch][aria-pressed=true]')];"
        "return [cells.map((i) => document.getElementById(i).textContent),"
        "on.map((b) => Number(b.dataset.switch))]; })",
        order, list(CELLS),
    )  # fmt: skip
    on: set[int] = set()
    for number, (cells, pressed) in zip(order, found, strict=True):
        on ^= {number}
        assert set(pressed) == on
        names = frozenset(switches[i] for i in on)
        state = assess(solver, board.state(names))
        assert [cell.removesuffix(" dB") for cell in cells] == printed(state), names
    assert not window.messages()


def test_the_numbers_are_those_the_program_prints(window: Browser, pages: dict[str, Path]) -> None:
    """Through the program's own table, letter by letter."""
    window.open(pages["ferry-bass"])
    for scene in ("last dance", "storm"):
        table = sigsim_here("loss", EXAMPLES / "ferry-bass.toml", "--scene", scene).out
        line = next(row for row in table.splitlines() if re.match(rf" {scene} ", row))
        window.run(
            "[...document.querySelectorAll('#scenes button')]"
            f".find((b) => b.textContent === '{scene}').click()"
        )
        assert " ".join(shown(window)) == " ".join(line.split()[len(scene.split()) :])


# The page's model may differ from the exact one by what a polynomial through eight points leaves.
CLOSE_DB: Final = 1e-6


def numbers(window: Browser, board: Board, states: list[frozenset[str]]) -> list[dict[str, Any]]:
    """Return what the page's model finds for states of a board."""
    found = coefficients(board, Basis())
    pool = Pool(found.frequency.size)
    data = {
        "size": found.frequency.size, "points": 200, "low": 20.0, "high": 40_000.0,
        "drawn": [20.0, 20_000.0, 301],
        "exact": {"level": 200, "loss": [201, 202, 203, 204], "treble": list(range(205, 212))},
        "words": [[None, "word"]], "reference": "ideal", "metrics": METRICS,
        "factor": pool.add(pickup_factor(Circuit(board, found.frequency))),
        **machine(board, found, pool),
    }  # fmt: skip
    switches = board.switches()
    sets = [[switches.index(name) for name in on] for on in states]
    script = MODEL + (
        "const model = sigsimModel(JSON.parse(arguments[0]));"
        "const plain = (v) => (Number.isFinite(v) ? v : null);"
        "return arguments[1].map((on) => { const s = model.state(new Set(on)); return {"
        "level: plain(s.level), treble: plain(s.treble), losses: s.losses.map(plain),"
        "corner: s.corner, resonance: s.resonance, referenceCorner: s.referenceCorner}; });"
    )
    made: list[dict[str, Any]] = window.run(script, embedded(data | {"pool": pool.texts}), sets)
    return made


def agree(found: dict[str, Any], state: StateReport) -> None:
    exact = state_values(state)
    pairs = [(found["level"], exact["level_change_db"]), (found["treble"], exact["treble_loss_db"])]
    pairs += zip(found["losses"], exact["loss_db"].values(), strict=True)
    for mine, true in pairs:
        assert (mine is None) == (true is None)
        assert mine is None or mine == pytest.approx(true, abs=CLOSE_DB)
    for mine, true in ((found["corner"], state.corner),
                       (found["referenceCorner"], state.reference_corner)):  # fmt: skip
        assert (mine is None) == (true is None)
        assert mine is None or mine == pytest.approx(true, rel=1e-6)
    if state.resonance is None:
        assert found["resonance"] is None
    else:
        # A peak without end, of a circuit with hardly any loss, is as sharp as it is high.
        height, close = state.resonance.height, 1e-5 * max(1.0, state.resonance.height / 20)
        assert found["resonance"]["height"] == pytest.approx(height, abs=close)
        # The top of a flat peak is found to a zoomed grid step, here as there.
        assert found["resonance"]["frequency"] == pytest.approx(state.resonance.frequency, rel=2e-4)


@pytest.mark.parametrize("name", ["ferry-bass", "everything", "ferry-bass-active"])
def test_every_state_is_that_of_the_exact_model(window: Browser, name: str) -> None:
    board = board_of(name)
    switches, solver = board.switches(), Solver(board)
    every = chain.from_iterable(combinations(switches, n) for n in range(len(switches) + 1))
    states = [frozenset(names) for names in every]
    assert len(states) == 2 ** len(switches)
    window.driver.get("about:blank")
    for found, on in zip(numbers(window, board, states), states, strict=True):
        agree(found, assess(solver, board.state(on)))


@pytest.mark.parametrize("at", ["", "second amp", "tuner"])
def test_every_end_of_splits_is_that_of_the_exact_model(window: Browser, at: str) -> None:
    board = parse_board(SPLITS).heard_at(at)
    switches, solver = board.switches(), Solver(board)
    every = chain.from_iterable(combinations(switches, n) for n in range(len(switches) + 1))
    states = [board.state(frozenset(names)) for names in every]
    window.driver.get("about:blank")
    for found, state in zip(numbers(window, board, [s.on for s in states]), states, strict=True):
        exact = assess(solver, state)
        if exact.silent:
            assert found["treble"] is None
        else:
            agree(found, exact)


@settings(
    max_examples=50, phases=[Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip
@given(drawn=boards_in_a_state())
def test_random_boards_are_those_of_the_exact_model(window: Browser, drawn: Any) -> None:
    _, on, text = drawn
    board = parse_board(text)
    state = board.state(set(on)).on
    (found,) = numbers(window, board, [state])
    exact = assess(Solver(board), board.state(state))
    if np.isfinite(exact.treble_loss) and np.isfinite(exact.level):
        agree(found, exact)
    else:
        assert found["treble"] is None


def test_curves_are_drawn_with_units_and_the_reference(
    window: Browser, pages: dict[str, Path]
) -> None:
    window.open(pages["ferry-bass"])
    drawn = (
        "const g = document.getElementById('chart'); return {names: g.data.map((t) => t.name),"
        "dashes: g.data.map((t) => t.line.dash), axis: g.layout.xaxis.type, titles: ['xaxis',"
        "'yaxis', 'yaxis2'].map((a) => g.layout[a].title.text), notes: g.layout.annotations.map("
        "(a) => a.text), loss: g.layout.yaxis2.range, tinted: g.layout.shapes.filter("
        "(s) => s.type === 'rect').map((s) => [s.x0, s.x1]), "
        "gain: g.data.findLast((t) => t.yaxis === 'y').y.slice()}"
    )
    before = window.run(drawn)
    assert before["titles"] == ["frequency (Hz)", "gain (dB)", "loss (dB)"]
    assert before["axis"] == "log"
    # A loss hangs down, and the treble is tinted, as in the plots.
    top, bottom = before["loss"][1], before["loss"][0]
    assert top < 0 < bottom
    assert before["tinted"] == [[2000, 8000]] * 2
    assert before["notes"] == []
    assert "reference" in before["names"]
    assert "worst of all combinations" in before["names"]
    assert sum("active bass" in name for name in before["names"]) == 4
    lines = dict(zip(before["names"], before["dashes"], strict=True))
    assert (
        len({lines[n] for n in ("reference", "worst of all combinations", "this combination")}) == 3
    )
    window.run(
        "const r = document.getElementById('ruler'); r.value = 'bass';"
        "r.dispatchEvent(new Event('change'));"
    )
    click(window, 1)
    after = window.run(drawn)
    assert after["notes"] == ["B0", "E1", "A1", "D2", "G2"]
    assert after["gain"] != before["gain"]
    assert "reference" in after["names"]
    path = "return document.querySelector('#chart .xy .scatterlayer .trace:last-child path')" \
           ".getAttribute('d')"  # fmt: skip
    first = window.run(path)
    click(window, 1)
    assert window.run(path) != first


def test_keyboard_alone(window: Browser, pages: dict[str, Path]) -> None:
    window.open(pages["ferry-bass"])
    focused = "const e = document.activeElement; return e.dataset.switch ?? e.textContent"
    reached = []
    for _ in range(40):
        window.press("\ue004")
        reached.append(window.run(focused))
        if reached[-1] == "7":
            break
    assert [n for n in reached if n.isdigit()] == [str(n) for n in range(8)]
    assert "storm" in reached
    window.press(" ")
    pressed = "return document.querySelector('[data-switch=\"{}\"]').getAttribute('aria-pressed')"
    assert window.run(pressed.format(7)) == "true"
    window.press("\ue007")
    assert window.run(pressed.format(7)) == "false"
    window.press("2")
    assert window.run(pressed.format(1)) == "true"
    assert window.run(focused) == "1"
    assert "bilge fuzz" in window.texts("#state")[0]
    outline = window.run("return getComputedStyle(document.activeElement).outlineStyle")
    assert outline == "solid"
    window.run("document.getElementById('at').focus()")
    before = window.texts("#reading")
    window.press("\ue014")
    assert window.texts("#reading") != before


@pytest.mark.parametrize("name", ["ferry-bass", "everything", "hostile"])
def test_nothing_goes_out_and_nothing_goes_wrong(
    window: Browser, pages: dict[str, Path], name: str
) -> None:
    window.open(pages[name])
    for number in range(len(window.texts("[data-switch]"))):
        click(window, number)
    assert window.messages() == []
    assert all(url.startswith(("file:", "data:")) for url in window.requests())
    assert window.run("return performance.getEntriesByType('resource').length") == 0


def test_hostile_names_are_only_text(window: Browser, pages: dict[str, Path]) -> None:
    window.open(pages["hostile"])
    assert window.run("return window.hacked === undefined")
    assert window.texts("h1") == [HOSTILE[0]]
    assert window.run("return document.title") == HOSTILE[0]
    everything = " ".join(window.texts("#chain, #scenes, #sections"))
    for name in HOSTILE[1:]:
        assert name.replace("'", "`").replace("\\\\", "\\") in everything.replace("'", "`")
    elements = window.run(
        "return ['img', 'body a[href^=javascript]', '#chain svg, #sections svg, #chain b']"
        ".map((s) => document.querySelectorAll(s).length)"
    )
    assert elements == [0, 0, 0]
    assert window.run("return document.querySelectorAll('#chart .legendtext a').length") == 0


def test_what_is_printed_has_all_sections(window: Browser, pages: dict[str, Path]) -> None:
    from pypdf import PdfReader

    window.open(pages["ferry-bass"])
    assert tuple(window.texts("h2")) == SECTIONS
    pdf = PdfReader(io.BytesIO(window.printed()))
    width, height = (float(side) for side in pdf.pages[0].mediabox[2:])
    assert (width, height) == (pytest.approx(595, abs=2), pytest.approx(842, abs=2))  # A4
    # Printed ligatures are letters again.
    text = normalize("NFKC", " ".join(page.extract_text() for page in pdf.pages))
    text = " ".join(text.split())
    for title in SECTIONS:
        assert title in text
    for piece in ("gain (dB)", "frequency (Hz)", "bilge fuzz", "cable-standard", "8.7"):
        assert piece in text
    assert window.run("return document.getElementById('chart').layout.width") != 690


@pytest.mark.parametrize(("name", "scheme"), [("ferry-bass", "light"), ("everything", "dark")])
def test_no_serious_accessibility_fault(
    window: Browser, pages: dict[str, Path], name: str, scheme: str
) -> None:
    from importlib.resources import files

    window.prefer(scheme)
    window.open(pages[name])
    click(window, 2)
    window.run((files("axe_core_python") / "axe.min.js").read_text(encoding="utf-8"))
    found = window.driver.execute_async_script(
        "const done = arguments[arguments.length - 1];"
        "axe.run().then((result) => done(result.violations));"
    )
    window.prefer("light")
    assert [(f["id"], f["nodes"][0]["html"]) for f in found] == []


@pytest.mark.parametrize(("width", "height"), [(740, 360), (360, 740), (1200, 900)])
@pytest.mark.parametrize("name", ["ferry-guitar-big", "hostile"])
def test_nothing_sticks_out_sideways(
    window: Browser, pages: dict[str, Path], name: str, width: int, height: int
) -> None:
    window.window(width, height)
    window.open(pages[name])
    wide = window.run("return document.documentElement.scrollWidth - window.innerWidth")
    window.window(1200, 900)
    assert wide <= 0


def test_scenes_only(window: Browser, tmp_path: Path) -> None:
    page = tmp_path / "scenes.html"
    board = EXAMPLES / "ferry-bass.toml"
    assert sigsim_here("report", board, "-o", page, "--only-scenes").status == 0
    window.open(page)
    read, solver = read_board(board), Solver(read_board(board))
    for name in read.scenes:
        window.run(
            "[...document.querySelectorAll('#scenes button')]"
            f".find((b) => b.textContent === '{name}').click()"
        )
        assert shown(window) == printed(assess(solver, read.scene(name)))
        assert name in window.texts("#state")[0]
    assert window.run("return document.querySelectorAll('.box:not([disabled])').length") == 0
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
    wide = window.run("return document.documentElement.scrollWidth - window.innerWidth")
    window.window(1200, 900)
    assert wide <= 0
    assert window.messages() == []
    pdf = PdfReader(io.BytesIO(window.printed()))
    text = normalize("NFKC", " ".join(part.extract_text() for part in pdf.pages))
    for title in window.texts("h1, h2, th"):
        assert title in " ".join(text.split())
    assert [url for url in window.requests() if not url.startswith("file:")] == []

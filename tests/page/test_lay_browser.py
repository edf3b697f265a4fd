"""The line and the strip: every cable to one scale, nothing over another thing, all by keys.

What is measured is what the browser drew. Lengths are those of the board file; the scales, the
sizes and the room above the line are those of the page's design.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest
from helpers.axe import NEEDS_AXE, faults
from helpers.browser import NEEDS_BROWSER, Browser, browser
from helpers.line_boards import BOARDS, ODD
from helpers.page_server import page_server
from helpers.thinned import FULL, some
from selenium.webdriver.common.keys import Keys

from sigsim.board.reader import parse_board
from sigsim.show.page.data import board_data

pytestmark = NEEDS_BROWSER

PAGE: Final = Path(__file__).with_name("line_page.js")
SIZES: Final = ((1366, 768), (1366, 640), (390, 844), (320, 568), (800, 600))
# Above the line's words, with the curve at its least: the desk has 48 + 36 px of buttons and 220 of
# curve, the phone sentence, scenes, 172 px of curve and one thing worth trying. Below: the bar.
ABOVE: Final = {True: (340, 49), False: (312, 0)}
COLOURS: Final = (
    ":root { color-scheme: light dark; --paper: #ffffff; --ink: #1b1c1e; --soft: #565b62;"
    " --warm: #b5400c; --cool: #1d668f; --grey: #8a9098; --mark: #6a3fa0; }"
    "@media (prefers-color-scheme: dark) { :root { --paper: #14161a; --ink: #ebe8e2;"
    " --soft: #a9aeb6; --warm: #ff9a5c; --cool: #78bfe3; --grey: #6f7680; --mark: #c3a2f0; } }"
    "body { margin: 0; background: var(--paper); color: var(--ink);"
    " font: 14px/1.4 system-ui, sans-serif; }"
    "main { padding: 0 16px; } h1 { margin: 0; height: 312px; }"
    "@media (max-width: 599px) { main { padding: 0 10px 49px; } h1 { height: 340px; } }"
)
HTML: Final = (
    "<!doctype html><html lang=en><meta charset=utf-8><title>line</title>"
    "<meta name=viewport content='width=device-width'><link rel=stylesheet href=/colours.css>"
    "<link rel=stylesheet href=/css/line.css><script type=module src=/line_page.js></script>"
    "<main><h1>The line</h1><div id=words></div><div id=strip></div><div id=line></div></main>"
)


class Line:
    """The page with the line, and what is asked of it."""

    def __init__(self, window: Browser, address: str) -> None:
        self.window, self.address = window, address

    def show(self, board: str, size: tuple[int, int] = SIZES[0], scheme: str = "light") -> None:
        """Show a board in a window of a size."""
        self.window.window(*size)
        self.window.prefer(scheme)
        self.window.driver.get(f"{self.address}/line.html?board={board}")
        self.until("return window.ready === true")
        self.run("return new Promise((done) => requestAnimationFrame(() => setTimeout(done)))")

    def run(self, script: str, *given: Any) -> Any:
        """Return what a script in the page returns."""
        return self.window.run(script, *given)

    def until(self, script: str) -> None:
        """Wait for something, so long as a busy machine may take."""
        end = time.monotonic() + 10
        while not self.run(script):
            assert time.monotonic() < end, script
            time.sleep(0.01)


@pytest.fixture(scope="module")
def line() -> Iterator[Line]:
    """The page, with every board that is shown here."""
    boards = {name: board_data(parse_board(text)) for name, text in BOARDS.items()}
    files = {
        "/line.html": HTML.encode(), "/colours.css": COLOURS.encode(),
        "/line_page.js": PAGE.read_bytes(), "/boards.json": json.dumps(boards).encode(),
    }  # fmt: skip
    with page_server(files) as address, browser() as window:
        yield Line(window, address)


CASES: Final = some([(board, size) for board in BOARDS for size in SIZES], 6)


@pytest.mark.parametrize(("board", "size"), CASES)
def test_ink_is_as_long_as_the_cable(line: Line, board: str, size: tuple[int, int]) -> None:
    line.show(board, size)
    # With loops in as well: what is in them is drawn then.
    for _ in range(2):
        inks = line.run("return inks()")
        assert inks
        # Half a pixel is finer than any eye; the browser measures arcs to a hundredth.
        assert [ink for ink in inks if abs(ink[1] - ink[2]) > 0.5] == []
        assert line.run("return faults()") == []
        line.run("store.view().shown.data.switches.forEach((_, n) => store.toggle(n))")


@pytest.mark.parametrize(
    ("board", "size"),
    [("wide", size) for size in (SIZES[0], SIZES[3])] + ([("busy", SIZES[0])] if FULL else []),
)
def test_no_hairline_runs_over_a_frame(line: Line, board: str, size: tuple[int, int]) -> None:
    """What leads to a loop, a split or a tap goes round the frames of the others."""
    line.show(board, size)
    line.run("store.view().shown.data.switches.forEach((_, n) => store.toggle(n))")
    assert line.run("return crossings()") == []
    assert line.run("return faults()") == []


@pytest.mark.parametrize("editable", ["", "&report"])
def test_keys_follow_the_signal(line: Line, editable: str) -> None:
    line.show(f"busy{editable}")
    line.run("store.view().shown.data.switches.forEach((_, n) => store.toggle(n))")
    order = line.run("return line.order()")
    chain = line.run("return items(store.view().shown.data.chain).map((item) => item.key)")
    assert [key for key in order if key in chain] == chain
    assert order[0] == "instrument"
    assert order[-1] == "end"
    # What a listener hears comes in the same order.
    read = line.run(
        "return [...line.element.children].filter((e) => e.matches('.box, .cable, .tap, .end'))"
        ".map((e) => e.dataset.key)"
    )
    assert [key for key in order if key in read] == read


@pytest.mark.parametrize(
    ("board", "size"),
    [*((board, size) for board in ("8", "20") for size in SIZES[:3]), ("busy", SIZES[0])],
)  # fmt: skip
def test_line_ends_on_the_first_screen(line: Line, board: str, size: tuple[int, int]) -> None:
    line.show(board, size)
    foot = ABOVE[size[0] < 600][1]
    bottom = line.run("return line.element.getBoundingClientRect().bottom")
    assert bottom <= size[1] - foot


def test_scale_stays_while_dragged_and_only_shrinks(line: Line) -> None:
    line.show("20", SIZES[1])
    before = line.run("return line.scale()")
    longer = (
        "store.view().steady.data.chain.map((item) => ("
        "item.lead ? {...item, length: 90, lengthText: '90 m'} : item))"
    )
    line.run(f"shown({longer}, true)")
    assert line.run("return line.scale()") == before
    assert "90 m" in line.run("return document.querySelector('.length').textContent")
    line.run(f"shown({longer}, false)")
    smaller = line.run("return line.scale()")
    assert smaller < before
    line.run("shown(store.view().steady.data.chain, false)")
    assert line.run("return line.scale()") == smaller


def test_one_tab_stop_and_a_walk_along_all(line: Line) -> None:
    line.show("busy")
    assert line.run("return document.querySelectorAll('.line [tabindex=\"0\"]').length") == 1
    line.window.press(Keys.TAB)
    walked = [line.run("return focused()")]
    keys = line.run("return line.order()")
    for _ in keys[1:]:
        line.window.press(Keys.ARROW_RIGHT)
        walked.append(line.run("return focused()"))
    assert walked == keys
    line.window.press(Keys.HOME)
    assert line.run("return focused()") == keys[0]
    line.window.press(Keys.END, Keys.TAB)
    assert line.run("return focused()") is None


def test_focus_is_kept(line: Line) -> None:
    line.show("busy")
    line.run("line.focus('box:swell')")
    line.run("document.activeElement.same = true")
    line.window.press(Keys.SPACE)
    assert line.run("return document.activeElement.getAttribute('aria-label')") == "swell on"
    line.window.window(390, 844)
    line.until("return line.scale() <= 140")
    # It has another row now, and another place in the chain next.
    line.run(
        "const c = [...store.view().steady.data.chain]; c.push(...c.splice(3, 1)); shown(c, false)"
    )
    assert line.run("return [focused(), document.activeElement.same]") == ["box:swell", True]
    line.window.press(Keys.ENTER)
    assert line.run("return told") == [["open", "box:swell"]]
    # A loop that goes out shuts over what had the focus: then the loop has it.
    line.run(
        "document.querySelector('[data-key=\"box:rough loop\"]').click(); line.focus('box:grain')"
    )
    assert line.run("return focused()") == "box:grain"
    line.run("store.toggle(store.view().shown.data.switches.indexOf('rough loop'))")
    assert line.run("return document.activeElement.ariaLabel") == "rough loop out · 4"
    # What is gone, as after an undo, gives it to what stood beside it.
    line.run("line.focus('box:anchor')")
    line.run(
        "shown(store.view().shown.data.chain.filter((item) => item.key !== 'box:anchor'), false)"
    )
    assert line.run("return focused()") == "cable:1:after:anchor"


def test_nothing_focused_is_hidden(line: Line) -> None:
    line.show("40", SIZES[3])
    line.run(
        "document.querySelector('h1').style.cssText ="
        " 'position: sticky; top: 0; height: 200px; background: Canvas; z-index: 2'"
    )
    line.run("line.focus('instrument')")
    for key in (*[Keys.ARROW_RIGHT] * 25, *[Keys.ARROW_LEFT] * 25):
        line.window.press(key)
        top, bottom = line.run(
            "const r = document.activeElement.getBoundingClientRect(); return [r.top, r.bottom]"
        )
        assert top >= 200
        assert bottom <= SIZES[3][1]


def test_buffer_in_hand(line: Line) -> None:
    line.show("busy")
    sorts = [
        {"then": 3.25, "worst": 4, "refused": "", "says": ""},
        {"then": 1.2, "worst": 5, "refused": "", "says": ""},
        {"then": 1.2, "worst": 2, "refused": "", "says": ""},
        {"then": 11.34, "worst": 12, "refused": "", "says": ""},
        {"then": 9.96, "worst": 12, "refused": "", "says": ""},
        {"then": 0.5, "worst": 2, "refused": "a fuzz wants the pickup", "says": ""},
        {"then": None, "worst": None, "refused": "", "says": "the loop is out"},
    ]
    found = line.run("return offered(arguments[0])", sorts)
    # To one decimal as everywhere in the program: what lies between two goes to the even digit.
    assert [text for text, _, _ in found] == ["3.2", "1.2", "1.2", "11", "10", "✕", "out"]
    assert [n for n, (_, looks, _) in enumerate(found) if "best" in looks] == [2]
    assert all(name.startswith(text) for text, _, name in found)
    assert "11.3 dB" in found[3][2]
    assert "a fuzz wants the pickup" in found[5][2]
    assert "the loop is out" in found[6][2]
    line.run("line.focus(line.order().find((key) => line.gapOf(key)))")
    assert line.run("return document.activeElement.classList.contains('gap')")


def test_strip_says_what_hangs_on_the_pickup(line: Line) -> None:
    line.show("8")
    width = line.run("return document.querySelector('#strip').clientWidth")
    assert line.run("return bars()") == [["hot", pytest.approx(width, abs=0.5), 10]]
    words = "return document.querySelector('.stripwords p').textContent"
    # 5 m + 7 patches of 25 cm + 9 m.
    assert line.run(words) == "15.75 m of wire. On the pickup: 15.75 m and 8 boxes."
    line.run("store.toggle(store.view().shown.data.switches.indexOf('bilge fuzz'))")
    hot, cool = line.run("return bars()")
    # Up to the second box: 5 m and one patch.
    assert hot == ["hot", pytest.approx(width * 5.25 / 15.75, abs=0.5), 10]
    assert cool[2] in (3, 6)
    assert line.run(words).startswith("15.75 m of wire. On the pickup: 5.25 m and 2 boxes.")


@NEEDS_AXE
@pytest.mark.parametrize(
    ("board", "size"), some([(b, s) for b in ("busy", "odd") for s in SIZES], 5)
)
@pytest.mark.parametrize("scheme", ["light", "dark"] if FULL else ["dark"])
def test_no_fault_of_accessibility(
    line: Line, board: str, size: tuple[int, int], scheme: str
) -> None:
    line.show(board, size, scheme)
    assert faults(line.window) == []


def test_text_of_a_board_is_text(line: Line) -> None:
    line.show("odd")
    assert line.run("return [...document.querySelectorAll('.line b')].length") == 0
    assert ODD[1] in line.run(
        "return [...document.querySelectorAll('.line .name')].map((e) => e.textContent)"
    )

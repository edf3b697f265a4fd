"""The editor's page: what is seen at first sight, and the curve.

Sizes and contrasts are those of WCAG 2.2 (1.4.3, 1.4.10, 1.4.11, 2.5.8); axe-core checks the rest.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from itertools import pairwise
from typing import Any, Final

import numpy
import pytest
from helpers.axe import NEEDS_AXE, faults
from helpers.browser import NEEDS_BROWSER, Browser
from helpers.editor_page import editor_page, pedal_board
from helpers.thinned import crossed, only_full

pytestmark = NEEDS_BROWSER
# What a browser leaves of two laptops and a phone; the last is the smallest phone in use.
FIRST: Final = ((1366, 768), (1366, 640), (390, 844))
SIZES: Final = (*FIRST, (320, 568))
BOARDS: Final = ("twenty", "eight", "hostile", "empty")
HOSTILE: Final = "<img src=x onerror=alert(1)> " + "long name " * 6


@pytest.fixture(scope="module")
def page() -> Iterator[tuple[Browser, str]]:
    """The editor with boards of every kind."""
    eight = pedal_board(8)
    texts = {
        "eight": eight,
        "twenty": pedal_board(20),
        "other": eight.replace('length = "9 m"', 'length = "3 m"'),
        "hostile": eight.replace("storm", HOSTILE).replace("tuner", HOSTILE),
        "empty": pedal_board(0).split("[scenes]")[0],
    }
    with editor_page(texts) as found:
        yield found


def opened(page: tuple[Browser, str], board: str, size: tuple[int, int], scheme: str) -> Browser:
    """Return the browser once the page has drawn a board."""
    window, address = page
    window.window(*size)
    window.prefer(scheme)
    window.messages()
    window.driver.get(f"{address}?board={board}")
    until(
        window, "document.querySelector('#curve .now[d]') && document.querySelector('#trying li')"
    )
    return window


def until(window: Browser, condition: str) -> None:
    """Wait until a condition holds in the page."""
    end = time.monotonic() + 10
    while not window.run(f"return Boolean({condition})"):
        assert time.monotonic() < end, (condition, window.messages())
        time.sleep(0.02)


@pytest.mark.parametrize(("size", "board"), [(s, b) for s in FIRST for b in ("eight", "twenty")])
def test_all_of_it_is_on_the_first_screen(
    page: tuple[Browser, str], size: tuple[int, int], board: str
) -> None:
    window = opened(page, board, size, "light")
    time.sleep(0.1)  # one frame for the curve to take what the line leaves
    bottom, height, curve = window.run(
        "const foot = innerWidth < 600 ? 49 : 0;"
        "const box = (id) => document.getElementById(id).getBoundingClientRect();"
        "return [box('line').bottom, innerHeight - foot, box('curve').height];"
    )
    assert bottom <= height
    assert curve == 172 if size[0] < 600 else 220 <= curve <= 340


def test_scale_is_chosen_anew_when_what_stands_above_came_late(page: tuple[Browser, str]) -> None:
    window = opened(page, "twenty", (390, 844), "light")
    scale = "document.querySelector('.scale .bar').offsetWidth"
    most = window.run(f"return {scale}")
    # So much that no scale is small enough: the least is taken, 80 px/m, of which 20 cm are drawn.
    window.run("document.getElementById('trying').style.paddingBottom = '300px'")
    until(window, f"{scale} === 16")
    window.run("document.getElementById('trying').style.paddingBottom = ''")
    until(window, f"{scale} === {most}")


# What WCAG 1.4.12 lets a reader ask for, and the words of boxes that then stand out of them.
_SPACED: Final = """
const sheet = new CSSStyleSheet();
sheet.replaceSync("* { line-height: 1.5 !important; letter-spacing: .12em !important; "
  + "word-spacing: .16em !important }");
document.adoptedStyleSheets = [sheet];
"""
_OUT: Final = """[...document.querySelectorAll(".line > :is(.box, .end) span")].filter((e) => {
  const words = e.getBoundingClientRect(), box = e.parentElement.getBoundingClientRect();
  return e.textContent && (words.left < box.left || words.right > box.right || words.top < box.top
    || words.bottom > box.bottom || e.scrollHeight > e.clientHeight + 3);
}).map((e) => e.textContent)"""


@pytest.mark.parametrize("size", SIZES[::2])
def test_room_between_letters_hides_none(page: tuple[Browser, str], size: tuple[int, int]) -> None:
    window = opened(page, "twenty", size, "light")
    window.run(_SPACED)
    until(window, f"!{_OUT}.length")


def test_what_is_read_off_stands_clear_of_the_button(page: tuple[Browser, str]) -> None:
    window = opened(page, "eight", (320, 568), "light")
    window.run("document.querySelector('#trying li button').focus()")
    window.run("document.querySelector('#curve input').focus()")
    right, left = window.run(
        "return [document.querySelector('#curve .said').getBoundingClientRect().right,"
        " document.querySelector('#curve button').getBoundingClientRect().left]"
    )
    assert 0 < right <= left


# Text is measured with what stands on it, targets with their padding; an ellipsis is not a target.
_SMALL: Final = """
const seen = (e) => e.getClientRects().length && !e.closest(".sr")
  && getComputedStyle(e).visibility !== "hidden";
const letters = [...document.querySelectorAll("body *")].filter((e) => seen(e)
  && [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim())
  && parseFloat(getComputedStyle(e).fontSize) < 12).map((e) => e.outerHTML.slice(0, 120));
const targets = [...document.querySelectorAll("button, input, select, a, summary")].filter((e) => {
  const { width, height } = e.getBoundingClientRect();
  return seen(e) && (width < 24 || height < 24);
}).map((e) => e.outerHTML.slice(0, 120));
const { scrollWidth, clientWidth } = document.documentElement;
return [letters, targets, scrollWidth - clientWidth];
"""


@NEEDS_AXE
@pytest.mark.parametrize(("size", "board", "scheme"), crossed(SIZES, BOARDS, ("light", "dark")))
def test_everybody_can_read_and_reach_it(
    page: tuple[Browser, str], size: tuple[int, int], board: str, scheme: str
) -> None:
    window = opened(page, board, size, scheme)
    letters, targets, sideways = window.run(_SMALL)
    assert (letters, targets, sideways) == ([], [], 0)
    assert faults(window) == []
    assert not [m for m in window.messages() if "Refused" in m or "Error" in m]


def test_nothing_with_the_focus_is_hidden(page: tuple[Browser, str]) -> None:
    """Neither what stays at the top nor the bar covers it: WCAG 2.4.11."""
    for size in (SIZES[1], SIZES[3]):
        window = opened(page, "twenty", size, "light")
        seen: list[str] = []
        for _ in range(60):
            window.press("\ue004")
            name, free = window.run(_COVERED)
            if name in seen or not name:
                break
            seen.append(name)
            assert free, (size, name)
        # Two of the curve, four of the bar that can be pressed, scenes, worth trying, the line.
        assert len(seen) > 12


# Whether the middle of what has the focus is seen; its name and text tell it from the others.
_COVERED: Final = """
const e = document.activeElement;
if (e === document.body) return ["", true];
const { left, top, width, height } = e.getBoundingClientRect();
const hit = document.elementFromPoint(left + width / 2, top + height / 2);
return [`${e.tagName} ${e.getAttribute("aria-label") ?? ""} ${e.textContent}`,
  Boolean(hit) && (e.contains(hit) || hit.contains(e))];
"""


def test_words_at_the_ends_never_touch(page: tuple[Browser, str]) -> None:
    for size in (SIZES[0], SIZES[2]):
        window = opened(page, "eight", size, "light")
        window.run(
            "document.querySelector('#trying li button')"
            ".dispatchEvent(new PointerEvent('pointerenter'))"
        )
        until(window, "document.querySelector('#curve text.ghost')")
        ends: list[Any] = window.run(
            "return [...document.querySelectorAll('#curve text.end')].map((e) => {"
            "const { left, right } = e.getBoundingClientRect();"
            "return [Number(e.getAttribute('y')), left, right, e.textContent]; })"
        )
        edge = window.run(
            "return document.querySelector('#curve .zero').getBoundingClientRect().right"
        )
        assert {text for *_, text in ends} == {"no cable", "its lead", "now", "if so"}
        assert all(b[0] - a[0] >= 15 - 1e-6 for a, b in pairwise(sorted(ends)))
        assert all(left >= edge and right <= size[0] for _, left, right, _ in ends)


def test_curves_have_every_point_and_the_tint_is_the_number(page: tuple[Browser, str]) -> None:
    window = opened(page, "eight", SIZES[0], "light")
    points = (
        "const text = document.querySelector('#curve path.{}').getAttribute('d');"
        "return [...text.matchAll(/[ML]([-\\d.]+) ([-\\d.]+)/g)].map((m) => [+m[1], +m[2]])"
    )
    now, lead = window.run(points.format("now")), window.run(points.format("lead"))
    assert len(now) == len(lead) == 301
    # Height of 1 dB: the grid stands 6 dB apart.
    decibel = window.run(
        "const y = (name) => [...document.querySelectorAll(`#curve path.${name}`)]"
        ".map((e) => Number(e.getAttribute('d').match(/ ([-\\d.]+)H/)[1]));"
        "return (y('zero')[0] - Math.max(...y('grid').filter((at) => at < y('zero')[0]))) / 6;"
    )
    left, right = now[0][0], now[-1][0]
    # Exact third-octave centres of 2 to 8 kHz: IEC 61260-1, base ten.
    centres = [10 ** (n / 10) for n in range(33, 40)]
    at = [left + (right - left) * math.log(f / 100) / math.log(200) for f in centres]
    xs, heights = ([x for x, _ in now], [b - a for (_, a), (_, b) in zip(lead, now, strict=True)])
    tint = numpy.interp(numpy.array(at), numpy.array(xs), numpy.array(heights)) / decibel
    said = float(window.texts("#scenes button b")[0])
    # The number is printed to 0.05 dB; a point stands to 0.05 px, here 0.005 dB.
    assert float(tint.mean()) == pytest.approx(said, abs=0.06)


def test_floor_only_grows(page: tuple[Browser, str]) -> None:
    window = opened(page, "eight", SIZES[0], "light")
    lowest = (
        "return Math.min(...[...document.querySelectorAll('#curve text[text-anchor=end]')]"
        ".map((e) => Number(e.textContent.replace('\u2212', '-'))).filter((n) => n <= 0))"
    )
    floors = []
    for index in (0, 2, 1, 0, -1, 2):
        window.run(
            "[...document.querySelectorAll('#scenes [aria-pressed]')].at(arguments[0]).click()",
            index,
        )
        floors.append(window.run(lowest))
    assert floors == sorted(floors, reverse=True)
    assert floors[0] < -12


def test_only_the_scene_chosen_is_pressed(page: tuple[Browser, str]) -> None:
    window = opened(page, "eight", SIZES[0], "light")
    pressed = "#scenes [aria-pressed=true]"
    assert window.texts(pressed)[0].startswith("still water = all off ")
    buttons = window.run("return [...document.querySelectorAll('#scenes button[aria-pressed]')]")
    assert len(buttons) == 4
    assert buttons[-1].text.startswith("worst of all ")
    for button in buttons:
        button.click()
        assert window.texts(pressed) == [button.text]
    # A box that is switched by hand makes it another state.
    window.run("document.querySelector('#line button[aria-pressed], #line [aria-pressed]').click()")
    assert window.texts(pressed) == []
    # Whatever switched it: a scene that is heard is the one that is pressed.
    buttons[0].click()
    for box in ("bilge fuzz", "engine room"):
        window.run(
            "[...document.querySelectorAll('#line [aria-pressed]')]"
            ".find((one) => one.textContent.includes(arguments[0])).click()",
            box,
        )
    assert [text.split()[0] for text in window.texts(pressed)] == ["storm"]


def test_what_is_worth_trying_keeps_the_focus(page: tuple[Browser, str]) -> None:
    window = opened(page, "eight", SIZES[0], "light")
    window.run("document.querySelectorAll('#trying li button:not(.more)')[1].focus()")
    before = window.texts("#sentence h1")
    window.press("\ue007")
    until(window, f"document.querySelector('#sentence h1').textContent !== {before[0]!r}")
    until(window, "document.querySelector('#trying ul').getAttribute('aria-busy') === 'false'")
    assert "bilge fuzz" in window.run("return document.activeElement.textContent")
    window.run("window.noWorth = true; document.querySelectorAll('#scenes button')[1].click()")
    window.run("document.querySelectorAll('#trying li button:not(.more)')[1].focus()")
    until(window, "document.querySelector('#trying li').hidden")
    assert window.run("return document.activeElement.textContent").startswith("No single change")


@pytest.mark.parametrize("size", [SIZES[0], *only_full(*SIZES[1:])])
def test_slider_says_the_curves_in_words(page: tuple[Browser, str], size: tuple[int, int]) -> None:
    window = opened(page, "eight", size, "light")
    window.run("document.querySelector('#curve input').focus()")
    window.press("\ue010")
    text = window.run("return document.activeElement.getAttribute('aria-valuetext')")
    assert text.startswith("20.0 kHz: now −")
    assert "its lead −" in text
    assert window.texts("#curve .said")[0].startswith("20.0 kHz: now −")

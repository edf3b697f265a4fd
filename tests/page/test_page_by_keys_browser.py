"""The editor's page: what a hand that is quick, or has little room, must not stumble on.

Sizes are those of the page's design; 24 px is the least target of WCAG 2.2, 2.5.8.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any, Final

import pytest
from helpers.browser import NEEDS_BROWSER, Browser
from helpers.editor_page import editor_page, pedal_board
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

pytestmark = NEEDS_BROWSER
DESK: Final = (1366, 768)
PHONES: Final = ((390, 844), (320, 568))


@pytest.fixture(scope="module")
def page() -> Iterator[tuple[Browser, str]]:
    """The editor with a board, and with the same board without one of its pedals."""
    eight = pedal_board(8)
    swell = '[[chain]]\nstage = "swell"\npart = "fuzz-low-impedance"\n'
    assert swell in eight
    with editor_page({"eight": eight, "seven": eight.replace(swell, ""), "other": eight}) as found:
        yield found


def opened(page: tuple[Browser, str], query: str, size: tuple[int, int] = DESK) -> Browser:
    """Return the browser once the page has drawn the board."""
    window, address = page
    window.window(*size)
    window.driver.get(f"{address}?board=eight&{query}")
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


def title(window: Browser) -> str:
    """Return the sentence."""
    return str(window.run("return document.querySelector('#sentence h1').textContent"))


def test_what_is_taken_out_is_off_as_saved_too(page: tuple[Browser, str]) -> None:
    window = opened(page, "other=seven")
    assert window.run("return document.getElementById('reading')") is None
    off = title(window)
    window.run("document.querySelector('[data-key=\"box:swell\"]').click()")
    on = title(window)
    assert on.startswith("Swell on: ")
    until(window, "document.querySelector('#trying ul').ariaBusy === 'false'")
    window.run("document.querySelector('#trying li button').click()")
    until(window, "!document.querySelector('[data-key=\"box:swell\"]')")
    assert title(window).startswith("All off: ")
    window.run("document.querySelector('#bar .as-saved').focus()")
    window.run("document.activeElement.dispatchEvent(new KeyboardEvent('keydown', { key: ' ' }))")
    assert title(window) == off
    window.run("document.activeElement.dispatchEvent(new KeyboardEvent('keyup', { key: ' ' }))")
    window.run("document.querySelector('#bar .undo').click()")
    until(window, "document.querySelector('[data-key=\"box:swell\"]')")
    assert title(window) == on


def test_a_second_enter_does_not_do_the_next_suggestion(page: tuple[Browser, str]) -> None:
    window = opened(page, "other=seven")
    window.run("document.querySelector('#trying li button').focus()")
    window.press(Keys.ENTER)
    focused = "document.activeElement === document.querySelector('#trying ul')"
    until(window, focused)
    until(window, "document.querySelector('#bar .undo').textContent === 'Undo: a step'")
    window.press(Keys.ENTER)
    assert window.run(f"return {focused}")
    window.press(Keys.TAB)
    assert window.run("return document.activeElement.closest('#trying li') !== null")


def test_a_number_is_marked_when_it_is_entered(page: tuple[Browser, str]) -> None:
    window = opened(page, "")
    window.run(
        "const made = Object.assign(document.createElement('input'), { type: 'number', value: 4 });"
        "made.id = 'probe'; document.getElementById('sentence').append(made)"
    )
    window.driver.find_element(By.ID, "probe").click()
    window.press("7")
    assert window.run("return document.getElementById('probe').value") == "7"


# What pushes what, and what leaves the window.
_BOXES: Final = """
const box = (query) => document.querySelector(query).getBoundingClientRect();
const buttons = [...document.querySelectorAll("#bar button")].filter((b) => b.offsetWidth);
const scenes = [...document.querySelectorAll("#scenes button")].filter((b) => b.offsetWidth);
return { sentence: box("#sentence").height, wide: document.documentElement.clientWidth,
  right: Math.max(...buttons.map((b) => b.getBoundingClientRect().right)),
  low: Math.max(...buttons.map((b) => b.offsetHeight)),
  undo: document.querySelector("#bar .undo").clientWidth,
  apart: box("#curve button").top
    - Math.max(...scenes.map((b) => b.getBoundingClientRect().bottom)),
};
"""


@pytest.mark.parametrize("size", PHONES)
def test_on_a_phone_words_push_nothing(page: tuple[Browser, str], size: tuple[int, int]) -> None:
    window = opened(page, "redo=lead+cable+standard+→+cable+low+capacitance", size)
    window.run("document.querySelector('#trying li button').click()")
    until(window, "document.querySelector('#bar .redo').textContent.includes('lead')")
    heights = set()
    for name in ("engine room", "octave below", "porthole filter", "swell"):
        found: dict[str, Any] = window.run(_BOXES)
        heights.add(found["sentence"])
        assert found["right"] <= found["wide"]
        # The bar is 49 px high.
        assert found["low"] <= 40
        # Ten letters of 12 px in a line, with a scroll bar that takes 15 px.
        assert found["undo"] >= 70
        assert found["apart"] >= 2
        window.run(f"document.querySelector('[data-key=\"box:{name}\"]').click()")
    assert len(heights) == 1


@pytest.mark.parametrize("size", PHONES)
def test_a_list_of_parts_leaves_the_gap_free(
    page: tuple[Browser, str], size: tuple[int, int]
) -> None:
    window = opened(page, "", size)
    window.run("document.querySelector('#line .gap.plus').click()")
    until(window, "document.querySelector('#drawer .picker')")
    drawer, gap, top = window.run(
        "const box = (query) => document.querySelector(query).getBoundingClientRect();"
        "return [box('#drawer .drawer'), box('#line .gap.plus'), box('#top').bottom]"
    )
    assert drawer["height"] <= max(150, 0.45 * size[1]) + 1
    assert top <= gap["top"]
    assert gap["bottom"] <= drawer["top"]

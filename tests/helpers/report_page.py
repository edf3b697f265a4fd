"""The page of `report` in a browser: what it shows, and what a person does there."""

from __future__ import annotations

from typing import Final

from helpers.browser import Browser
from helpers.signs import plain_signs
from sigsim.decide.loss.report import StateReport
from sigsim.show.render.text import decibel, peak, short_hertz, signed

CELLS: Final = ("level", "loss1000", "loss2000", "loss4000", "loss8000", "treble", "word",
                "corner", "resonance")  # fmt: skip
_NUMBERS: Final = """
const [cells] = arguments;
return cells.map((cell) => document.querySelector(`[data-number="${cell}"]`).textContent);
"""
# The boxes with a switch by its number, of the version that is shown.
_BOXES: Final = """
const data = JSON.parse(document.getElementById("data").textContent);
const variants = [...document.querySelectorAll("#variants button")];
const pressed = variants.findIndex((b) => b.ariaPressed === "true");
const version = { ...data.versions[0], ...data.versions[Math.max(pressed, 0)] };
const keys = [];
const walk = (items) => items.forEach((item) => {
  if (item.s !== undefined) keys[item.s] = item.key;
  walk(item.inside ?? []);
});
walk(version.chain);
const boxes = keys.map((key) => document.querySelector(`#line [data-key="${CSS.escape(key)}"]`));
"""


def printed(state: StateReport) -> list[str]:
    """Return the numbers of a state as `sigsim loss` prints them, the verdict in its place."""
    losses = [decibel(loss) for loss in state.losses.values()]
    return [signed(state.level_change), *losses, decibel(state.treble_loss), state.verdict,
            short_hertz(state.corner), peak(state.resonance)]  # fmt: skip


def shown(window: Browser) -> list[str]:
    """Return the same numbers as the page shows them, but with the program's own minus."""
    return [plain_signs(text.removesuffix(" dB")) for text in window.run(_NUMBERS, list(CELLS))]


def pressed(window: Browser) -> list[int]:
    """Return the numbers of the switches that are on."""
    script = "return boxes.flatMap((box, i) => (box.ariaPressed === 'true' ? [i] : []));"
    found: list[int] = window.run(_BOXES + script)
    return found


def click(window: Browser, number: int) -> None:
    """Click the box of a switch."""
    window.run(_BOXES + "boxes[arguments[0]].click();", number)


def click_in_turn(window: Browser, order: list[int]) -> list[tuple[list[str], list[int]]]:
    """Click boxes, and return behind each click the numbers and what is on."""
    script = (
        _BOXES
        + """
const [order, cells] = arguments;
return order.map((number) => {
  boxes[number].click();
  return [cells.map((cell) => document.querySelector(`[data-number="${cell}"]`).textContent),
    boxes.flatMap((box, i) => (box.ariaPressed === "true" ? [i] : []))];
});"""
    )
    found = window.run(script, order, list(CELLS))
    return [([plain_signs(text.removesuffix(" dB")) for text in cells], on) for cells, on in found]


def choose_scene(window: Browser, name: str) -> None:
    """Click the button of a scene; of "worst of all"."""
    window.run(
        "const [name] = arguments; [...document.querySelectorAll('#scenes button')]"
        ".find((b) => b.firstChild.textContent.trim().split(' = ').includes(name)).click()", name
    )  # fmt: skip


def chosen(window: Browser, group: str) -> list[str]:
    """Return the names of what is pressed in a group of buttons."""
    found: list[str] = window.run(
        "return [...document.querySelectorAll(`${arguments[0]} button[aria-pressed=true]`)]"
        ".map((b) => b.firstChild.textContent.trim())", group
    )  # fmt: skip
    return found


def sideways(window: Browser) -> int:
    """Return how many pixels the page is wider than the window."""
    wide: int = window.run("return document.documentElement.scrollWidth - window.innerWidth")
    return wide

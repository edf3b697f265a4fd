"""A hand at a page: mouse, fingers and keys as the browser gets them from outside."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import Any, Final

from helpers.browser import Browser

Point = tuple[float, float]

_MIDDLE: Final = """
const found = [...document.querySelectorAll(arguments[0])].find((e) =>
  arguments[1] === null || e.dataset.key === arguments[1]);
if (!found) return null;
const box = found.getBoundingClientRect();
return [box.left + box.width / 2, box.top + box.height / 2];
"""
_BUTTONS: Final = {"left": 1, "right": 2}
_ALT: Final = 1
_CONTROL: Final = 2
_SHIFT: Final = 8
_FRAMES: Final = """
window.frameTimes = [];
let last = performance.now();
const count = (now) => {
  window.frameTimes.push(now - last);
  last = now;
  window.counting = requestAnimationFrame(count);
};
window.counting = requestAnimationFrame(count);
"""


class Hand:
    """What a person does, at a place of the window in CSS pixels.

    Parameters
    ----------
    browser : the window
    """

    def __init__(self, browser: Browser) -> None:
        self.browser = browser

    def _send(self, method: str, **parameters: Any) -> None:
        self.browser.driver.execute_cdp_cmd(method, parameters)

    def at(self, selector: str, key: str | None = None) -> Point:
        """Return the middle of the first element that fits, and that has a key."""
        place = self.browser.run(_MIDDLE, selector, key)
        assert place is not None, f"{selector} {key} is not on the page"
        return place[0], place[1]

    def mouse(self, kind: str, place: Point, *, button: str = "left", held: bool = True) -> None:
        """Send one event of the mouse: "Pressed", "Moved" or "Released"."""
        self._send(
            "Input.dispatchMouseEvent",
            type=f"mouse{kind}",
            x=place[0],
            y=place[1],
            button=button if held or kind != "Moved" else "none",
            buttons=_BUTTONS[button] if held else 0,
            clickCount=int(kind != "Moved"),
        )

    def click(self, place: Point, *, button: str = "left") -> None:
        """Press and release."""
        self.mouse("Pressed", place, button=button)
        self.mouse("Released", place, button=button, held=False)

    def fingers(self, kind: str, *places: Point) -> None:
        """Send one event of the fingers that are down: "Start", "Move", "End" or "Cancel"."""
        points = [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(places)]
        self._send("Input.dispatchTouchEvent", type=f"touch{kind}", touchPoints=points)

    def tap(self, place: Point) -> None:
        """Touch and let go."""
        self.fingers("Start", place)
        self.fingers("End")

    def drag(
        self, start: Point, way: Sequence[Point], *, touch: bool = False, hold: float = 0.0
    ) -> None:
        """Take something, along a way of steps from where it is, without letting go."""
        places = [(start[0] + x, start[1] + y) for x, y in way]
        if touch:
            self.fingers("Start", start)
        else:
            self.mouse("Moved", start, held=False)
            self.mouse("Pressed", start)
        time.sleep(hold)
        for place in places:
            if touch:
                self.fingers("Move", place)
            else:
                self.mouse("Moved", place)

    def drop(self, place: Point | None = None) -> None:
        """Let go: a finger, or the mouse at a place."""
        if place is None:
            self.fingers("End")
        else:
            self.mouse("Released", place, held=False)

    def key(
        self, name: str, *, down: bool = True, up: bool = True, code: int = 0, **held: bool
    ) -> None:
        """Press a key, named as the page hears it, with `alt`, `control` or `shift` held."""
        flags = {"alt": _ALT, "control": _CONTROL, "shift": _SHIFT}
        state = {"key": name, "modifiers": sum(flags[word] for word, on in held.items() if on)}
        text = (
            {"text": "\r" if name == "Enter" else name} if len(name) == 1 or name == "Enter" else {}
        )
        typed = {} if held.get("control") or held.get("alt") else text
        if code:
            state["windowsVirtualKeyCode"] = code
        if down:
            self._send("Input.dispatchKeyEvent", type="keyDown", **state, **typed)
        if up:
            self._send("Input.dispatchKeyEvent", type="keyUp", **state)

    def count_frames(self) -> None:
        """Begin to note how long each frame takes."""
        self.browser.run(_FRAMES)

    def frames(self) -> list[float]:
        """Return how long each frame took since then [ms], and end the count."""
        times: list[float] = self.browser.run(
            "cancelAnimationFrame(window.counting); return window.frameTimes.slice(1)"
        )
        return times

    def slow(self, times: float) -> None:
        """Let the page have one part in so many of the processor."""
        self._send("Emulation.setCPUThrottlingRate", rate=times)

    def touchscreen(self, on: bool) -> None:
        """Have a touch screen or none."""
        self._send("Emulation.setTouchEmulationEnabled", enabled=on)

"""The line by hand: each gesture by mouse, by touch and by keyboard, and what the file says then.

What each has to do is the table "The line by hand" of the page's design: what a person sees and the
text that is saved are compared with what was done by hand.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import pytest
from helpers.browser import NEEDS_BROWSER, browser
from helpers.hands import Hand, Point
from helpers.opened import served
from helpers.thinned import only_full

pytestmark = NEEDS_BROWSER

DESK: Final = (1366, 768)
PHONE: Final = (390, 844)
SIZES: Final = {"desk": DESK, "phone": PHONE}
NAMES: Final = ("tuner", "fuzz", "drive", "octave", "filter", "swell", "echo", "preamp")
LEAD: Final = "cable:1:begin"
LAST: Final = "cable:1:after:preamp"
PATCH: Final = "cable:1:after:tuner"
# A hand is slower than an answer; a machine with much else to do is slower than a hand.
PATIENCE: Final = 20.0
HOLD: Final = 0.35


_HEAD: Final = """\
# A bass and its boxes.
title = "Under the hand"

[instrument]
part = "bass-split-coil"

[destination]
part = "solid-state-amplifier-input"

[cables.lead]
part = "cable-standard"

[cables.patch]
part = "cable-patch"

[wiring]
cable = "patch"
length = "15 cm"

[[chain]]
cable = "lead"
length = "6 m"  # from the bass
"""
_TAIL: Final = """
[[chain]]
cable = "lead"
length = "20 ft"
"""


def written(names: tuple[str, ...]) -> str:
    """Return a board file with these boxes."""
    boxes = "".join(
        f'\n[[chain]]\nstage = "{name}"  # {name}\npart = "pedal-true-bypass"\n' for name in names
    )
    return f"{_HEAD}{boxes}{_TAIL}"


TEXT: Final = written(NAMES)


_THING: Final = """
const thing = [...document.querySelectorAll("#line :is(.box, .cable)")].find(
  (element) => element.dataset.key === arguments[0]);
"""
_SWITCHED: Final = "return document.querySelectorAll('#line .box[aria-pressed=true]').length"
_PRICED: Final = """return [...document.querySelectorAll("#line .gap")].filter(
  (gap) => /[0-9]/.test(gap.textContent)).length"""
_BEST: Final = "return document.querySelector('#line .gap.best')?.dataset.key"


class Desk:
    """A page under the hand, and the file behind it.

    Parameters
    ----------
    hand : at the page
    file : of the board
    address : of the page, without its token
    """

    def __init__(self, hand: Hand, file: Path, address: str) -> None:
        self.hand = hand
        self.file = file
        self.address = address

    def sit(self, size: tuple[int, int]) -> None:
        """Open the page in a window of this size."""
        self.hand.browser.window(*size)
        self.hand.touchscreen(size == PHONE)
        self.hand.browser.driver.get(self.address)
        self.wait(lambda: bool(self.run("return document.querySelector('#line .box')")))

    def tidy(self) -> None:
        """Have the board as it was."""
        self.run("document.activeElement.blur(); window.scrollTo(0, 0)")
        for _ in range(6):
            self.hand.key("z", control=True, code=90)
        self.wait(lambda: self.bar[0] == "Nothing to undo")
        self.hand.key("s", control=True, code=83)
        self.wait(lambda: self.bar[-1] == "saved")
        assert self.file.read_text() == TEXT

    def run(self, script: str, *arguments: object) -> object:
        """Return what a script in the page returns."""
        return self.hand.browser.run(script, *arguments)

    def wait(self, until: Callable[[], bool]) -> None:
        """Wait for something."""
        end = time.monotonic() + PATIENCE
        while not until():
            assert time.monotonic() < end, f"it did not come about; the bar says {self.bar}"
            time.sleep(0.02)

    @property
    def bar(self) -> list[str]:
        """What the buttons of the bar say."""
        return self.hand.browser.texts("#bar button")

    @property
    def order(self) -> list[str]:
        """The boxes on the line."""
        return self.hand.browser.texts("#line .box .name")

    def saved(self, undo: str) -> str:
        """Save once the last step is this one; return what the file says."""
        self.wait(lambda: self.bar[0] == f"Undo: {undo}")
        self.hand.key("s", control=True, code=83)
        self.wait(lambda: self.bar[-1] == "saved")
        return self.file.read_text()

    def text(self) -> str:
        """The text that is edited, saved or not."""
        return str(
            self.hand.browser.driver.execute_async_script(
                "fetch('/text').then((a) => a.json()).then((a) => arguments[0](a.text))"
            )
        )

    def focus(self, key: str) -> None:
        """Give the focus to something on the line."""
        self.run(_THING + "thing.focus()", key)

    def focused(self) -> str:
        """The key of what has the focus."""
        return str(self.run("return document.activeElement.dataset.key"))

    def still(self, key: str) -> Point:
        """Return where a box is once the page has made room for what is selected."""
        places = [self.hand.at(".box", key)]

        def rests() -> bool:
            time.sleep(0.1)
            places.append(self.hand.at(".box", key))
            return places[-1] == places[-2]

        self.wait(rests)
        return places[-1]

    def length(self, key: str) -> str:
        """The length of a cable as it is said."""
        return str(self.run(_THING + "return thing.getAttribute('aria-valuetext')", key))


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    file = tmp_path_factory.mktemp("board") / "board.toml"
    file.write_text(TEXT)
    with served(file) as address, browser() as window:
        window.window(*DESK)
        window.driver.get(address)
        yield Desk(Hand(window), file, address.partition("?")[0])


@pytest.fixture(scope="module", params=list(SIZES))
def size(desk: Desk, request: pytest.FixtureRequest) -> str:
    name: str = request.param
    desk.sit(SIZES[name])
    return name


@pytest.fixture
def touch(desk: Desk, size: str) -> bool:
    """Whether fingers do it, on a page that is as it was."""
    desk.tidy()
    return size == "phone"


def far(start: Point, x: float, y: float = 0) -> Point:
    """Return a place so many pixels away."""
    return start[0] + x, start[1] + y


def test_switching_a_box_is_no_step(desk: Desk, touch: bool) -> None:
    hand, box = desk.hand, "box:fuzz"
    (hand.tap if touch else hand.click)(hand.at(".box", box))
    desk.wait(lambda: desk.run(_SWITCHED) == 1)
    if touch:  # a slow finger that goes nowhere is a tap, too
        hand.drag(desk.still("box:drive"), [], touch=True, hold=HOLD)
        hand.drop()
        desk.wait(lambda: desk.run(_SWITCHED) == 2)
        hand.tap(desk.still("box:drive"))
        desk.wait(lambda: desk.run(_SWITCHED) == 1)
    desk.focus(box)
    hand.key(" ", code=32)
    desk.wait(lambda: desk.run(_SWITCHED) == 0)
    assert desk.bar[0] == "Nothing to undo"
    assert desk.text() == TEXT


def test_a_cable_is_pulled_by_its_ring_as_one_step(desk: Desk, touch: bool) -> None:
    hand = desk.hand
    ring = hand.at(".ring", LEAD)
    hand.drag(ring, [(-4, 0), (-8, 30), (-12, 0)], touch=touch)
    desk.wait(lambda: desk.length(LEAD) not in ("6 m", ""))
    shown = desk.length(LEAD)
    assert desk.text() == TEXT  # nothing is kept before it is let go
    hand.drop(None if touch else far(ring, -12))
    desk.wait(lambda: desk.bar[0] != "Nothing to undo")
    shown = desk.length(LEAD)
    assert float(shown.removesuffix(" m")) < 6
    assert round(float(shown.removesuffix(" m")) * 10, 6).is_integer()
    saved = desk.saved(f"lead 6 m → {shown}")
    assert saved == TEXT.replace('length = "6 m"', f'length = "{shown}"')
    undo = hand.at("#bar .undo")
    (hand.tap if touch else hand.click)(undo)
    desk.wait(lambda: desk.text() == TEXT)  # one step took it all back
    desk.wait(lambda: desk.bar[1] != "Redo")
    # A second press in the same place does not do again what the first has undone.
    under = "return document.elementFromPoint(...arguments).closest('button').className"
    assert desk.run(under, *undo) == "undo"


def test_a_cable_that_is_not_let_go_is_put_back(desk: Desk, touch: bool) -> None:
    hand = desk.hand
    for end in ("Cancel", "Start", "Escape") if touch else ("Escape",):
        ring = hand.at(".ring", LEAD)
        hand.drag(ring, [(-6, 0), (-12, 0)], touch=touch)
        desk.wait(lambda: desk.length(LEAD) != "6 m")
        # The pointer is lost; or a second finger comes down; or one thinks better of it.
        if end == "Escape":
            hand.key("Escape", code=27)
        else:
            hand.fingers(end, *([] if end == "Cancel" else [far(ring, -12), (200, 500)]))
        desk.wait(lambda: desk.length(LEAD) == "6 m")
        if end != "Cancel":
            hand.drop(None if touch else far(ring, -12))
    assert desk.bar[0] == "Nothing to undo"
    assert desk.text() == TEXT


def test_a_patch_that_stands_in_no_line_becomes_one(desk: Desk, touch: bool) -> None:
    ring = desk.hand.at(".ring", PATCH)
    desk.hand.drag(ring, [(3, 0), (12, 0)], touch=touch)
    desk.hand.drop(None if touch else far(ring, 12))
    desk.wait(lambda: desk.bar[0] != "Nothing to undo")
    said = desk.text()
    # A patch goes by centimetres: 12 px at 240 px/m are 5 cm, at 140 px/m 9 cm.
    length = f'length = "{24 if touch else 20} cm"'
    assert said.count('length = "15 cm"') == 1
    assert said.index('stage = "tuner"') < said.index(length) < said.index('"fuzz"')


def test_keys_change_a_length_in_one_step(desk: Desk, touch: bool) -> None:
    hand = desk.hand
    desk.focus(LAST)
    # In feet as it is written: half a foot at a time, a yard for a metre.
    for name, code in (("ArrowUp", 38), ("ArrowUp", 38), ("ArrowDown", 40), ("PageDown", 34)):
        hand.key(name, code=code)
    desk.wait(lambda: desk.length(LAST) == "17.5 ft")
    assert desk.focused() == LAST
    assert "20 ft → 17.5 ft" in desk.bar[0]
    desk.focus(PATCH)
    hand.key("ArrowDown", code=40)
    desk.wait(lambda: "14 cm" in desk.bar[0])
    assert desk.focused().startswith("cable:")  # the same cable, now with a line of its own
    hand.key("z", control=True, code=90)
    desk.wait(lambda: "17.5 ft" in desk.bar[0])
    hand.key("z", control=True, code=90)
    desk.wait(lambda: desk.bar[0] == "Nothing to undo")
    hand.key("y", control=True, code=89)
    desk.wait(lambda: "17.5 ft" in desk.bar[0])
    hand.key("z", control=True, code=90)
    desk.wait(lambda: desk.text() == TEXT)
    hand.key("Z", control=True, shift=True, code=90)
    desk.wait(lambda: "17.5 ft" in desk.bar[0])


def test_a_box_is_carried_past_others(desk: Desk, touch: bool) -> None:
    hand = desk.hand
    start, goal = hand.at(".box", "box:fuzz"), hand.at(".box", "box:octave")
    way = (goal[0] - start[0] + 12, goal[1] - start[1])
    hand.drag(start, [(3, 1), (9, 2), way], touch=touch, hold=HOLD if touch else 0)
    desk.wait(lambda: bool(desk.run("return !document.querySelector('.drop-mark').hidden")))
    hand.drop(None if touch else far(start, *way))
    desk.wait(lambda: desk.bar[0] != "Nothing to undo")
    assert desk.order[:4] == ["tuner", "drive", "octave", "fuzz"]
    assert desk.run("return document.querySelectorAll('.carried, .drop-mark').length") == 0
    said = desk.text()
    assert said.index('"octave"') < said.index('"fuzz"  # fuzz') < said.index('"filter"')
    desk.focus("box:fuzz")
    hand.key("ArrowLeft", alt=True, code=37)
    hand.key("ArrowLeft", alt=True, code=37)
    desk.wait(lambda: desk.order[:4] == ["tuner", "fuzz", "drive", "octave"])
    assert desk.focused() == "box:fuzz"
    # No switch was thrown by all this: a drag is no click.
    assert desk.run(_SWITCHED) == 0


@pytest.mark.parametrize("size", ["phone"], indirect=True)
@pytest.mark.usefixtures("touch")
def test_a_finger_that_does_not_wait_scrolls(desk: Desk) -> None:
    start = desk.hand.at(".box", "box:tuner")
    desk.hand.drag(start, [(0, -20), (0, -60), (0, -110)], touch=True)
    desk.hand.drop()
    desk.wait(lambda: desk.run("return window.scrollY") != 0)
    assert desk.bar[0] == "Nothing to undo"
    assert desk.order == list(NAMES)


@pytest.mark.parametrize("size", ["desk"], indirect=True)
@pytest.mark.usefixtures("touch")
def test_other_buttons_and_small_slips_are_no_drag(desk: Desk) -> None:
    hand, start = desk.hand, desk.hand.at(".box", "box:fuzz")
    hand.mouse("Pressed", start, button="right")
    hand.mouse("Moved", far(start, 200), button="right")
    hand.mouse("Released", far(start, 200), button="right", held=False)
    hand.drag(start, [(3, 0), (4, 1)])
    assert desk.run("return document.querySelector('.carried')") is None
    hand.drop(far(start, 4, 1))
    desk.wait(lambda: desk.run(_SWITCHED) == 1)  # it was a click
    hand.click(start)
    desk.wait(lambda: desk.run(_SWITCHED) == 0)
    assert desk.run("return getSelection().toString()") == ""
    assert desk.order == list(NAMES)


def test_a_buffer_is_put_into_a_gap(desk: Desk, touch: bool) -> None:
    hand = desk.hand
    press = hand.tap if touch else hand.click
    press(hand.at("#bar .take"))
    desk.wait(lambda: desk.run(_PRICED) == len(NAMES) + 1)
    press(hand.at(".gap", "cable:1:after:fuzz"))
    desk.wait(lambda: len(desk.order) == len(NAMES) + 1)
    assert desk.order[:4] == ["tuner", "fuzz", "buffer", "drive"]
    assert desk.run(_PRICED) == 0
    hand.key("z", control=True, code=90)
    desk.wait(lambda: desk.text() == TEXT)
    desk.focus("box:drive")
    hand.key("+")
    desk.wait(lambda: desk.run(_PRICED) == len(NAMES) + 1)
    desk.wait(lambda: desk.focused() == desk.run(_BEST))
    hand.key("ArrowRight", code=39)
    assert desk.focused() == "cable:1:after:tuner"
    hand.key("Enter", code=13)
    desk.wait(lambda: desk.order[:3] == ["tuner", "buffer", "fuzz"])
    desk.wait(lambda: desk.focused() == "box:buffer")
    hand.key("+")
    desk.wait(lambda: desk.run(_PRICED) != 0)
    hand.key("Escape", code=27)
    desk.wait(lambda: desk.run(_PRICED) == 0)
    desk.wait(lambda: desk.focused() == "box:buffer")
    desk.run("document.querySelector('#bar .take').focus()")
    hand.key("Enter", code=13)
    desk.wait(lambda: desk.run(_BEST) not in (None, "") and desk.focused() == desk.run(_BEST))
    hand.key("Escape", code=27)
    desk.wait(lambda: bool(desk.run("return document.activeElement.matches('#bar .take')")))
    assert desk.run(_PRICED) == 0


def test_as_saved_is_held(desk: Desk, touch: bool) -> None:
    hand = desk.hand
    desk.focus(LAST)
    hand.key("PageDown", code=34)
    desk.wait(lambda: desk.length(LAST) == "17 ft")
    button = hand.at("#bar .as-saved")
    (hand.fingers("Start", button) if touch else hand.mouse("Pressed", button))
    desk.wait(lambda: desk.length(LAST) == "20 ft")
    (hand.fingers("End") if touch else hand.mouse("Released", button, held=False))
    desk.wait(lambda: desk.length(LAST) == "17 ft")
    for key, code in ((" ", 32), ("b", 66)):
        if key == "b":
            desk.focus(LAST)
        else:
            desk.run("document.querySelector('#bar .as-saved').focus()")
        hand.key(key, code=code, up=False)
        desk.wait(lambda: desk.length(LAST) == "20 ft")
        hand.key(key, code=code, down=False)
        desk.wait(lambda: desk.length(LAST) == "17 ft")
    assert desk.saved("cable to amp 20 ft → 17 ft") == TEXT.replace("20 ft", "17 ft")


def test_a_box_with_another_name_stays_on(desk: Desk, touch: bool) -> None:
    hand = desk.hand
    (hand.tap if touch else hand.click)(hand.at(".box", "box:fuzz"))
    desk.wait(lambda: desk.run(_SWITCHED) == 1)
    desk.focus("box:fuzz")
    hand.key("Enter", code=13)
    desk.wait(lambda: bool(desk.run("return document.querySelector('#drawer input')")))
    desk.run("document.querySelector('#drawer input').select()")
    desk.run("document.querySelector('#drawer input').focus()")
    hand.browser.press(*"growl", "\ue007")
    desk.wait(lambda: desk.order[1] == "growl")
    assert desk.run(_SWITCHED) == 1
    desk.focus("box:growl")
    hand.key("b", code=66, up=False)
    desk.wait(lambda: desk.order[1] == "fuzz")
    assert desk.run(_SWITCHED) == 1
    hand.key("b", code=66, down=False)
    desk.wait(lambda: desk.order[1] == "growl")
    hand.key("z", control=True, code=90)
    desk.wait(lambda: desk.text() == TEXT and desk.order[1] == "fuzz")
    assert desk.run(_SWITCHED) == 1


@pytest.mark.parametrize("part", [1, *only_full(4)])
def test_frames_while_a_cable_of_twenty_boxes_is_pulled(
    desk: Desk, tmp_path: Path, part: int
) -> None:
    file = tmp_path / "twenty.toml"
    file.write_text(written(tuple(f"box {number}" for number in range(1, 21))))
    hand = desk.hand
    with served(file) as address:
        hand.touchscreen(False)
        hand.browser.window(*DESK)
        hand.browser.driver.get(address)
        desk.wait(lambda: len(desk.order) == 20)
        ring = hand.at(".ring", LEAD)
        hand.slow(part)
        try:
            hand.drag(ring, [(2, 0)])
            hand.count_frames()
            for step in range(40):
                hand.mouse("Moved", far(ring, 40 - abs(step - 20) * 2))
                time.sleep(0.008)
            times = sorted(hand.frames())
            hand.key("Escape", code=27)
            hand.drop(ring)
        finally:
            hand.slow(1)
    most = times[int(0.95 * len(times))]
    print(f"frames at 1/{part} of the processor: 95 % of {len(times)} within {most:.1f} ms")
    # 17 and 34 ms are wanted on a machine of its own. Here others have the processor too, so that
    # only what a hand would surely feel is a fault.
    assert most < 200 * part

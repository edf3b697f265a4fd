"""The drawer, the lists, the panels and the questions of the page, in a real browser.

What is tried is what the page promises: every action by mouse and by keyboard alone, what
is wrong beside its field and nothing that was typed lost, nothing with the focus hidden. Sizes of
text and targets: WCAG 2.2, 2.5.8 (24 px); the rest of it is tried by axe-core.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest
from helpers.axe import NEEDS_AXE, faults
from helpers.browser import NEEDS_BROWSER, Browser, browser
from helpers.page_server import PAGE, page_server
from helpers.thinned import crossed
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.wait import WebDriverWait

from sigsim.board.parts import library
from sigsim.board.reader import read_board
from sigsim.show.page.data import board_data

pytestmark = NEEDS_BROWSER
HERE: Final = Path(__file__).parent
EXAMPLES: Final = HERE.parents[1] / "examples"
SIZES: Final = ((1366, 768), (390, 844), (320, 568))


def _page() -> dict[str, bytes]:
    """Return the page by path: that of the editor, with a server that answers from memory."""
    html = (PAGE / "editor.html").read_text(encoding="utf-8")
    html = html.replace("/page/edit.js", "/drawer_page.js")
    html = re.sub(r"/page/(\w+\.css)", r"/css/\1", html)
    if "panels.css" not in html:
        html = html.replace("</head>", '<link rel="stylesheet" href="/css/panels.css"></head>')
    parts = [
        {
            "part": part.name,
            "kind": part.kind,
            "summary": part.summary,
            "role": "pedals" if part.kind == "stage" else "",
            "isolates": False,
            "aliases": list(part.aliases),
        }
        for part in library().values()
    ]
    return {
        "/page.html": html.encode(),
        "/drawer_page.js": (HERE / "drawer_page.js").read_bytes(),
        "/board.json": json.dumps(board_data(read_board(EXAMPLES / "ferry-bass.toml"))).encode(),
        "/parts.json": json.dumps(parts).encode(),
    }


class Page:
    """The page in a browser.

    Parameters
    ----------
    window : that shows it
    address : of its server
    """

    def __init__(self, window: Browser, address: str) -> None:
        self.window, self.address = window, address
        self.run = window.run

    def load(
        self, query: str = "", size: tuple[int, int] = SIZES[0], scheme: str = "light"
    ) -> None:
        """Open it anew."""
        self.window.driver.get("about:blank")
        self.window.window(*size)
        self.window.prefer(scheme)
        self.window.messages()
        self.window.driver.get(f"{self.address}/page.html{query}")
        self.until("return window.ready === true")

    def until(self, script: str, *arguments: Any) -> Any:
        """Wait until a script returns something that holds, and return it."""
        wait = WebDriverWait(self.window.driver, 5, poll_frequency=0.05)
        return wait.until(lambda _: self.run(script, *arguments), script)

    def press(self, *keys: str) -> None:
        """Press keys where the focus is; a modifier holds until the end of its string."""
        for key in keys:
            self.window.driver.switch_to.active_element.send_keys(key)

    def type(self, text: str, *keys: str) -> None:
        """Put a text in place of what stands in the field with the focus."""
        self.press(Keys.CONTROL + "a", text, *keys)

    def click(self, selector: str) -> None:
        self.window.driver.find_element(By.CSS_SELECTOR, selector).click()

    def button(self, within: str, words: str) -> None:
        """Click a button by its words."""
        script = (
            "return [...document.querySelectorAll(`${arguments[0]} button`)]"
            ".find((b) => b.textContent === arguments[1] && b.offsetParent)"
        )
        self.until(script, within, words).click()

    def focused(self) -> str:
        """Return the key or id of what has the focus."""
        return str(self.run("const e = document.activeElement; return e.dataset.key ?? e.id"))

    def focused_label(self) -> str:
        script = (
            "const e = document.activeElement;"
            "return e.getAttribute('aria-label') ?? e.labels?.[0]?.textContent ?? e.textContent"
        )
        return str(self.run(script))

    def sent(self) -> list[Any]:
        """Return what the server was sent."""
        found: list[Any] = self.run("return page.sent")
        return found

    def kept(self) -> list[Any]:
        """Return the edits that were not only tried."""
        return [e for e in self.sent() if not (isinstance(e, dict) and e.get("tried"))]

    def fault(self, label: str) -> str:
        """Return what is said to be wrong beside the field of a label."""
        script = (
            "const row = [...document.querySelectorAll('#drawer .row')]"
            ".find((r) => r.querySelector('label')?.textContent === arguments[0]);"
            "return row.querySelector('.fault').textContent"
        )
        return str(self.run(script, label))

    def lead(self) -> str:
        """Return the key of the lead."""
        return str(self.run("return page.store.view().steady.data.chain[0].key"))

    def on_line(self, key: str) -> None:
        """Put the focus on a thing of the line."""
        self.run("page.line.focus(arguments[0])", key)
        assert self.focused() == key


@pytest.fixture(scope="module")
def page() -> Iterator[Page]:
    with page_server(_page()) as address, browser() as window:
        yield Page(window, address)


def test_a_drawer_is_opened_and_left_by_keyboard(page: Page) -> None:
    page.load()
    page.on_line("box:bilge fuzz")
    page.press(Keys.ENTER)
    assert page.run("return document.activeElement.closest('.drawer') !== null")
    assert page.window.texts("#drawer h2") == ["bilge fuzz"]
    page.press(Keys.ESCAPE)
    assert page.focused() == "box:bilge fuzz"
    assert page.run("return document.querySelector('.drawer').hidden")


def test_a_click_shows_it_and_close_hides_it(page: Page) -> None:
    page.load()
    page.click('#line .box[data-key="box:swell"]')
    assert page.window.texts("#drawer h2") == ["swell"]
    assert page.window.texts("#drawer .state") == ["on"]
    page.button("#drawer", "switch off")
    assert page.window.texts("#drawer .state") == ["off"]
    assert page.kept() == []
    page.button("#drawer", "close")
    assert page.focused() == "box:swell"


def test_on_a_phone_it_is_one_row_until_opened(page: Page) -> None:
    page.load("", SIZES[1])
    page.click('#line .box[data-key="box:last dance preamp"]')
    visible = "return document.querySelector(arguments[0]).checkVisibility()"
    height = "return document.querySelector('.drawer').offsetHeight"
    assert not page.run(visible, ".drawer-body")
    assert page.run(height) <= 60, "one row"
    page.button("#drawer", "change…")
    assert page.run(visible, ".drawer-body")
    assert page.run(height) <= 150, "more would hide the line"
    free = (
        "const box = document.querySelector('#line .box[data-key=\"box:last dance preamp\"]');"
        "return document.querySelector('.drawer').getBoundingClientRect().top"
        " - box.getBoundingClientRect().bottom"
    )
    assert page.run(free) >= 0
    page.press(Keys.ESCAPE)
    assert page.focused() == "box:last dance preamp"
    assert not page.run(visible, ".drawer-body")


def test_what_is_wrong_stands_beside_its_field_and_keeps_the_text(page: Page) -> None:
    page.load()
    page.on_line(page.lead())
    page.press(Keys.ENTER)
    assert page.focused_label() == "length"
    page.type("fifteen feet", Keys.ENTER)
    page.until("return document.querySelector('#drawer .fault:not(:empty)') !== null")
    assert "fifteen feet is no length" in page.fault("length")
    described = (
        "const ids = document.activeElement.getAttribute('aria-describedby').split(' ');"
        "return document.getElementById(ids[0]).textContent"
    )
    assert "no length" in page.run(described)
    assert page.run("return document.activeElement.value") == "fifteen feet"
    # What others change meanwhile does not touch it either.
    page.run("return page.store.edit({ do: 'scene', name: 'other', on: [] })")
    assert page.run("return document.activeElement.value") == "fifteen feet"
    page.type("15 ft", Keys.ENTER)
    page.until("return page.store.view().steady.data.chain[0].lengthText === '15 ft'")
    page.until("return document.querySelector('#drawer .fault:not(:empty)') === null")
    assert page.focused_label() == "length"
    page.press("x", Keys.ESCAPE)
    assert page.run("return document.activeElement.value") == "15 ft"
    page.press(Keys.ESCAPE)
    assert page.focused() == page.lead()


def test_a_new_name_is_followed(page: Page) -> None:
    page.load()
    page.run("page.drawer.open('box:bilge fuzz')")
    field = page.until(
        "const all = [...document.querySelectorAll('#drawer input')];"
        "return all.find((i) => i.value === 'bilge fuzz')"
    )
    field.clear()
    field.send_keys("<b>fuzz</b>", Keys.ENTER)
    page.until("return document.querySelector('#drawer h2').textContent === '<b>fuzz</b>'")
    assert page.run("return page.store.view().selected") == "box:<b>fuzz</b>"
    assert page.run("return document.activeElement.value") == "<b>fuzz</b>"
    assert page.run("return document.querySelectorAll('#drawer b').length") == 2  # of two figures


def test_taken_out_the_focus_goes_on_along_the_line(page: Page) -> None:
    page.load()
    page.run("page.drawer.open('box:bilge fuzz')")
    page.button("#drawer", "take out")
    page.until("return document.querySelector('.drawer').hidden")
    assert page.kept()[-1]["do"] == "take-out"
    assert page.run("return document.activeElement.closest('#line') !== null")


def test_moved_and_changed_from_the_drawer(page: Page) -> None:
    page.load()
    page.run("page.drawer.open('box:bilge fuzz')")
    page.button("#drawer", "earlier")
    page.button("#drawer", "later")
    page.until("return page.sent.length === 2")
    assert [(e["do"], e["by"]) for e in page.kept()] == [("move", -1), ("move", 1)]
    select = page.until("return document.querySelector('#drawer select')")
    select.send_keys("keeps")
    page.until("return page.sent.some((e) => e.keys?.bypass === 'buffered')")
    page.button("#drawer", "make a loop around it")
    page.until("return page.sent.some((e) => e.do === 'loop-around')")
    page.click("#drawer summary")
    assert page.window.texts("#drawer .figure dd b") == ["1 MΩ", "20 pF"]
    assert page.window.texts("#drawer .figure small") == ["its papers", "a handbook"]


def test_knobs_by_arrows_and_buttons(page: Page) -> None:
    page.load()
    page.run("page.drawer.open('instrument')")
    page.until("return document.querySelectorAll('#drawer [role=spinbutton]').length === 2")
    page.run("document.querySelectorAll('#drawer [role=spinbutton]')[1].focus()")
    page.press(Keys.ARROW_DOWN, Keys.ARROW_DOWN)
    # Presses that follow each other are one step.
    page.until("return page.sent.length === 1 && page.sent[0].keys.tone === '8'")
    page.type("11", Keys.ENTER)
    page.until("return document.querySelector('#drawer .fault:not(:empty)') !== null")
    assert "0 to 10" in page.fault("tone")
    assert page.run("return document.activeElement.value") == "11"


def test_a_part_is_put_in_by_keyboard(page: Page) -> None:
    page.load()
    page.on_line(page.lead())
    page.run("page.drawer.insert(arguments[0])", page.lead())
    page.until("return document.activeElement.getAttribute('role') === 'combobox'")
    page.press("fuzz", Keys.ARROW_DOWN)
    active = (
        "const id = document.activeElement.getAttribute('aria-activedescendant');"
        "return document.getElementById(id).firstChild.textContent"
    )
    assert "fuzz" in page.run(active)
    page.until("return page.sent.some((e) => e.tried && e.do === 'insert')")
    page.until("return page.store.view().ghost !== null")
    page.press(Keys.ESCAPE)
    page.until("return page.store.view().ghost === null")
    assert page.focused() == page.lead()
    assert page.kept() == []
    page.run("page.drawer.insert(arguments[0])", page.lead())
    page.until("return document.activeElement.getAttribute('role') === 'combobox'")
    page.press("fuzz", Keys.ENTER, Keys.ENTER)
    page.until("return page.store.view().selected === 'box:new one'")
    assert page.focused() == "box:new one"
    assert [e["do"] for e in page.kept()] == ["insert"]


def test_a_part_is_put_in_by_mouse_and_by_finger(page: Page) -> None:
    page.load()
    page.run("page.drawer.insert(arguments[0])", page.lead())
    row = page.until("return document.querySelector('.pick')")
    ActionChains(page.window.driver).move_to_element(row).perform()
    page.until("return page.store.view().ghost !== null")
    row.click()
    page.until("return page.store.view().selected === 'box:new one'")
    page.run("page.drawer.insert(arguments[0])", page.lead())
    page.until("return document.querySelector('.pick')")
    tap = (
        "document.querySelector('.pick').dispatchEvent("
        "new PointerEvent('click', { pointerType: 'touch', bubbles: true }))"
    )
    before = len(page.kept())
    page.run(tap)
    page.until("return page.store.view().ghost !== null")
    assert len(page.kept()) == before
    page.run(tap)
    page.until("return page.sent.filter((e) => !e.tried).length === arguments[0]", before + 1)


def test_another_part_of_a_box(page: Page) -> None:
    page.load()
    page.run("page.drawer.open('box:swell')")
    page.button("#drawer", "another …")
    page.until("return document.activeElement.getAttribute('role') === 'combobox'")
    page.press("no such thing at all")
    assert page.run("return document.querySelector('.picks').hidden")
    page.type("wah", Keys.ARROW_DOWN, Keys.ENTER)
    page.until("return page.sent.some((e) => e.do === 'part' && !e.tried)")
    page.until("return document.querySelector('.picker') === null")
    assert page.run("return document.activeElement.closest('.drawer') !== null")


def _panel(page: Page, title: str) -> str:
    """Open a panel and return a selector of it."""
    script = (
        "const all = [...document.querySelectorAll('#panels details')];"
        "const n = all.findIndex((d) => d.querySelector('h2').textContent === arguments[0]);"
        "all[n].id = `panel-${n}`; return `#panel-${n}`"
    )
    found = str(page.run(script, title))
    page.run("document.querySelector(`${arguments[0]} summary`).focus()", found)
    page.press(Keys.ENTER)
    page.until(
        "const panel = document.querySelector(arguments[0]);"
        "return panel.open && panel.querySelector('.panel-body').children.length > 0",
        found,
    )
    return found


def test_scenes_are_made_and_removed(page: Page) -> None:
    page.load()
    panel = _panel(page, "Scenes")
    before = len(page.run("return [...document.querySelectorAll(`${arguments[0]} .kept`)]", panel))
    page.button(panel, "keep as a scene")
    page.until(
        "return document.querySelector(`${arguments[0]} .buttons > .fault:not(:empty)`) !== null",
        panel,
    )
    page.run("document.getElementById('scene-new').focus()")
    page.press("encore", Keys.ENTER)
    page.until(
        "return document.querySelectorAll(`${arguments[0]} .kept`).length === arguments[1]",
        panel,
        before + 1,
    )
    assert page.kept()[-1] == {
        "do": "scene",
        "name": "encore",
        "on": page.run("return page.store.names()"),
    }
    page.run("document.querySelector('[aria-label=\"remove the scene encore\"]').focus()")
    page.press(Keys.ENTER)
    page.until(
        "return document.querySelectorAll(`${arguments[0]} .kept`).length === arguments[1]",
        panel,
        before,
    )
    assert page.run("return document.activeElement !== document.body")


def test_variants_say_where_an_edit_goes(page: Page) -> None:
    page.load()
    panel = _panel(page, "Variants")
    said = f"return document.querySelector('{panel} [role=status]').textContent"
    assert "into the board itself" in page.run(said)
    page.run("document.querySelector(`${arguments[0]} input:checked`).focus()", panel)
    page.press(Keys.ARROW_DOWN)
    page.until("return page.store.view().answer.variant === 'stage'")
    assert 'the variant "stage" only' in page.run(said)


def test_curves_are_kept(page: Page) -> None:
    page.load()
    panel = _panel(page, "Keep this curve")
    page.run("document.getElementById('pin-name').focus()")
    page.press("before", Keys.ENTER)
    (text,) = page.window.texts(f"{panel} li > span")
    assert re.fullmatch(r"before: \d+\.\d dB", text)
    page.run("document.querySelector(`${arguments[0]} li button`).focus()", panel)
    page.press(Keys.ENTER)
    assert page.focused() == "pin-name"


def test_errors_of_the_text_stand_beside_their_lines(page: Page) -> None:
    page.load()
    panel = _panel(page, "Show the file")
    area = page.until(
        "const a = document.querySelector(`${arguments[0]} textarea`); return a.value && a", panel
    )
    page.run("arguments[0].focus()", area)
    page.press(Keys.CONTROL + Keys.HOME, "nonsense =")
    page.press(Keys.CONTROL + Keys.ENTER)
    page.until("return document.querySelectorAll('.notes li').length === 2")
    assert page.window.texts(".numbers .wrong") == ["✕ 3", "✕ 4"]
    where = (
        "const all = [...document.querySelectorAll(arguments[0])];"
        "return all.map((e) => e.getBoundingClientRect().top)"
    )
    first, second = page.run(where, ".notes li")
    line, _ = page.run(where, ".numbers .wrong")
    assert abs(first - line) < 4, "on the height of its line, to the width of a border"
    assert second >= first + 20, "one line below, not over the first"
    assert page.run("return arguments[0].value", area).startswith("nonsense")
    page.button(".notes", "line 3")
    assert page.run("return document.activeElement === arguments[0]", area)
    page.button(panel, "put back")
    page.press(Keys.CONTROL + Keys.HOME, "# mine\n")
    page.press(Keys.CONTROL + Keys.ENTER)
    page.until("return page.sent.some((e) => e.do === 'text' && e.text.startsWith('# mine'))")
    page.until("return document.querySelectorAll('.numbers .changed').length === 2")


_UNSAVED: Final = (
    "const { store } = page; store.change({ answer: { ...store.view().answer, unsaved: true } })"
)


def test_the_file_changed_outside_while_nothing_is_unsaved(page: Page) -> None:
    """There is nothing to ask: theirs is taken, and it is said."""
    page.load()
    page.run("page.store.change({ dragging: true }); page.dialogs.news({ disk: 'changed' })")
    assert page.kept() == []
    page.run("page.store.change({ dragging: false })")
    page.until("return page.notices.length === 1")
    assert page.kept() == ["take"]
    assert page.run("return document.querySelector('dialog')") is None


def test_the_file_changed_outside(page: Page) -> None:
    page.load()
    page.on_line("box:swell")
    page.run(_UNSAVED)
    page.run("page.dialogs.news({ disk: 'changed' })")
    page.button("dialog", "see the difference")
    page.until("return document.querySelectorAll('.difference li').length === 3")
    assert page.window.texts(".difference .ours") == ["here: <b>mine</b>"]
    page.button("dialog", "take theirs")
    page.until("return document.querySelector('dialog') === null")
    assert page.kept() == ["take"]
    assert page.focused() == "box:swell"


def test_unsaved_work_of_last_time(page: Page) -> None:
    page.load("?offer")
    assert page.run("return document.querySelector('dialog').open")
    page.press(Keys.ENTER)
    page.until("return document.querySelector('dialog') === null")
    assert page.kept() == ["take"]


def test_without_its_server_the_page_keeps_the_work(page: Page) -> None:
    page.load()
    page.run("page.drawer.open(arguments[0])", page.lead())
    page.type("4 m", Keys.ENTER)
    page.until("return page.store.view().answer.revision === 2")
    page.run("page.leaveServer()")
    page.type("3 m", Keys.ENTER)
    page.until("return document.querySelector('.lasting').textContent.includes('sigsim edit')")
    assert page.run("return document.activeElement.value") == "3 m"
    assert "does not answer" in page.fault("length")
    page.button(".lasting", "copy the text")
    assert page.run("return document.querySelector('.away').value").startswith("title = ")
    assert page.run("return document.querySelector('.away').offsetHeight > 0")


def test_a_board_from_nothing(page: Page) -> None:
    page.load("?start")
    assert page.focused_label() == "What do you play?"
    count = page.window.driver.find_element(By.ID, "start-count")
    count.clear()
    count.send_keys("6")
    assert len(page.window.texts(".pedal")) == 6
    names = page.window.driver.find_elements(By.CSS_SELECTOR, ".pedal input")
    names[0].send_keys("tuner")
    names[1].send_keys("big fuzz")
    kinds = page.run("return [...document.querySelectorAll('.pedal select')].map((s) => s.value)")
    assert "tuner" in kinds[0]
    assert "fuzz" in kinds[1]
    lead = page.run(
        "const all = [...document.querySelectorAll('.start label')];"
        "return all.find((l) => l.textContent.startsWith('From the instrument')).control"
    )
    lead.clear()
    lead.send_keys("far")
    page.button(".start", "make the board")
    page.until(
        "return document.querySelector('form > .fault').textContent.includes('far is no length')"
    )
    assert page.run("return arguments[0].value", lead) == "far"
    lead.clear()
    lead.send_keys("4 m")
    page.button(".start", "make the board")
    page.until("return page.sent.includes('done')")
    answers = page.sent()[-2]
    assert (answers["lead"], len(answers["pedals"])) == ("4 m", 6)


def test_a_file_that_is_no_board_is_mended(page: Page) -> None:
    page.load("?mend")
    assert page.window.texts(".numbers .wrong") == ["✕ 1"]
    area = page.window.driver.find_element(By.CSS_SELECTOR, "textarea")
    area.clear()
    area.send_keys('title = "right"')
    page.button("#start", "apply")
    page.until("return page.sent.includes('done')")


_SMALL: Final = """
const named = (e) => e.outerHTML.slice(0, 90);
const wrong = [];
const seen = (e) => e.checkVisibility() && e.offsetWidth > 0 && e.offsetHeight > 0;
for (const e of [...document.querySelectorAll(arguments[0])].filter(seen)) {
  const r = e.getBoundingClientRect();
  const target = e.matches("button, input, select, summary, textarea, a, [role=option]");
  if (target && (r.width < 24 || r.height < 24)) wrong.push(`${named(e)} ${r.width} x ${r.height}`);
  const size = Number.parseFloat(getComputedStyle(e).fontSize);
  if (e.textContent && size < 12) wrong.push(`${named(e)} ${size}`);
}
const { scrollWidth } = document.documentElement;
if (scrollWidth > innerWidth) wrong.push(`sideways ${scrollWidth}`);
return wrong;
"""
_HIDDEN: Final = """
const e = document.activeElement, r = e.getBoundingClientRect();
const x = r.left + Math.min(r.width / 2, 40), y = r.top + Math.min(r.height / 2, 16);
const at = document.elementFromPoint(x, y);
if (at && (e.contains(at) || at.contains(e))) return "";
return `${e.outerHTML.slice(0, 90)} at ${x} ${y} is under ${at?.outerHTML.slice(0, 90)}`;
"""
_TO_LAST: Final = """
const all = [...document.querySelectorAll(`${arguments[0]} :is(button, input, select, summary)`)];
all.filter((e) => e.checkVisibility() && e.tabIndex >= 0).at(-1).focus();
"""


def _stops(page: Page, within: str) -> list[str]:
    """Tab through what is inside and return what has the focus while hidden."""
    wrong = []
    for keys in (Keys.TAB, Keys.SHIFT + Keys.TAB):
        for _ in range(40):
            if not page.run("return document.activeElement.closest(arguments[0]) !== null", within):
                break
            if said := page.run(_HIDDEN):
                wrong.append(said)
            page.press(keys)
        page.run(_TO_LAST, within)
    return wrong


def _drawer(page: Page) -> str:
    page.run("page.drawer.open('box:bilge fuzz')")
    page.until("return document.querySelector('#drawer .papers:not([hidden])') !== null")
    page.run("document.querySelector('#drawer details').open = true")
    return "#drawer, #drawer *"


def _cable(page: Page) -> str:
    page.run("page.drawer.open(page.store.view().steady.data.chain.at(-1).key)")
    return "#drawer, #drawer *"


def _list(page: Page) -> str:
    page.run("page.drawer.insert(arguments[0])", page.lead())
    page.until("return document.querySelector('.pick')")
    page.press("fuzz", Keys.ARROW_DOWN)
    return "#drawer, #drawer *"


def _dialog(page: Page) -> str:
    page.run(_UNSAVED)
    page.run("page.dialogs.news({ disk: 'changed' })")
    page.button("dialog", "see the difference")
    page.until("return document.querySelectorAll('.difference li').length === 3")
    return "dialog, dialog *"


def _panels(page: Page) -> str:
    page.run("document.querySelectorAll('#panels details').forEach((d) => { d.open = true; })")
    page.until("return document.querySelectorAll('#panels table').length > 5")
    return "#panels *"


STATES: Final = {
    "drawer": _drawer,
    "cable": _cable,
    "list": _list,
    "dialog": _dialog,
    "panels": _panels,
}


@NEEDS_AXE
@pytest.mark.parametrize(
    ("name", "size", "scheme"), crossed([*STATES, "?start", "?mend"], SIZES, ("light", "dark"))
)
def test_nothing_is_small_hidden_or_unreadable(
    page: Page, name: str, size: tuple[int, int], scheme: str
) -> None:
    page.load(name if name.startswith("?") else "", size, scheme)
    selector = STATES[name](page) if name in STATES else "#start *"
    assert page.run(_SMALL, selector) == []
    if name in ("drawer", "cable", "list"):
        assert _stops(page, "#drawer") == []
    assert faults(page.window) == []
    assert page.window.messages() == []

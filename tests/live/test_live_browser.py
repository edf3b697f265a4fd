"""The editor's page in a real browser: windows that follow, a hostile page beside it, the end.

The hostile page comes from another port of this machine. To a browser that is the same site, so
that it sends the cookie along (RFC 6265bis, "same-site"): what holds against it holds against all.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from helpers.browser import NEEDS_BROWSER, Browser, browser
from helpers.live import Editor
from helpers.page_server import page_server
from helpers.program import EXAMPLES

from sigsim import stopping
from sigsim.live.desk import Desk

pytestmark = NEEDS_BROWSER

MARKUP = "<img src=x onerror=window.caught=1><script>window.caught=1</script>"
HOSTILE = """<!doctype html><meta charset="utf-8"><title>hostile</title><body>
<form method="post" target="held" enctype="text/plain" action="HERE/edit">
<input name='{"edit": {"do": "title", "name": "caught"}, "revision": 1, "x": "' value='"}'></form>
<iframe name="held"></iframe><iframe id="page" src="HERE/"></iframe>
<script>
window.got = [];
const edit = '{"edit": {"do": "title", "name": "caught"}, "revision": 1}';
const note = (what) => (found) => window.got.push([what, found && (found.type || String(found))]);
const ways = [["GET", undefined], ["POST", "text/plain"], ["POST", "application/json"]];
window.done = Promise.all([
  ...["/document", "/text", "/edit", "/save", "/undo", "/new", "/disk"].flatMap((path) =>
    ways.flatMap(([method, kind]) => ["cors", "no-cors"].map((mode) => fetch("HERE" + path, {
      method, mode, credentials: "include", headers: kind ? { "content-type": kind } : {},
      body: method === "POST" ? edit : undefined,
    }).then((answer) => answer.text()).then((text) => { if (text) window.got.push([path, text]); },
      () => {})))),
  ...["/page/edit.js", "/document"].map((path) => new Promise((done) => {
    const script = document.createElement("script");
    script.src = "HERE" + path;
    script.onload = () => { window.got.push(["script", path]); done(); };
    script.onerror = done;
    document.head.append(script);
  })),
  new Promise((done) => {
    const source = new EventSource("HERE/events", { withCredentials: true });
    source.onmessage = note("event");
    source.onerror = () => { source.close(); done(); };
  }),
]).then(() => document.forms[0].submit()).then(() => true);
</script>"""


@pytest.fixture
def editor(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Editor]:
    text = (EXAMPLES / "ferry-bass.toml").read_text(encoding="utf-8")
    path = tmp_path / "b.toml"
    # A board's own names are the text of whoever wrote it.
    path.write_text(text.replace("bilge fuzz", MARKUP.replace('"', "")), encoding="utf-8")
    found = Editor(path, Desk())
    found.start()
    yield found
    stop(found, monkeypatch)


def stop(editor: Editor, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stopping, "was_noted", lambda: True)
    editor.thread.join(20)
    assert editor.ended == "keyboard"


def wait(for_what: Callable[[], object]) -> None:
    """Wait until something holds; a busy machine is no finding."""
    end = time.monotonic() + 30
    while not for_what():
        assert time.monotonic() < end
        time.sleep(0.05)


def shown(window: Browser) -> str:
    return str(window.run("return document.body.innerText"))


def test_windows_hostile_pages_and_the_end(editor: Editor, monkeypatch: pytest.MonkeyPatch) -> None:
    place = editor.address.partition("?")[0].rstrip("/")
    with browser() as window:
        driver = window.driver
        driver.get(editor.address)
        wait(lambda: "Night ferry" in driver.title)
        assert driver.current_url == f"{place}/"
        wait(lambda: "treble lost" in shown(window))
        first = driver.current_window_handle

        driver.switch_to.new_window("window")
        driver.get(f"{place}/")
        wait(lambda: "Night ferry" in driver.title)
        second = driver.current_window_handle
        assert not [line for line in window.messages() if "Content Security" in line]

        with page_server({"/bad.html": HOSTILE.replace("HERE", place).encode()}) as hostile:
            driver.switch_to.new_window("tab")
            driver.get(f"{hostile}/bad.html")
            driver.set_script_timeout(30)
            assert driver.execute_async_script("window.done.then(arguments[0])")
            time.sleep(0.5)  # the form is on its way
            assert window.run("return window.got") == []
        assert editor.session.revision == 1
        driver.close()

        editor.session.edit({"do": "title", "name": MARKUP}, 1, keep=True)
        for handle in (first, second):
            driver.switch_to.window(handle)
            wait(lambda: "window.caught" in driver.title)
            assert window.run("return window.caught") is None
            assert window.run("return document.querySelectorAll('img, body script').length") == 0

        stop(editor, monkeypatch)
        for handle in (first, second):
            driver.switch_to.window(handle)
            wait(lambda: "has ended or does not answer" in shown(window))

"""The editor's whole page in a browser, with a server that answers from memory."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any, Final

from helpers.browser import Browser, browser
from helpers.page_server import PAGE, page_server
from sigsim.board.reader import parse_board
from sigsim.show.page.data import board_data

# What a page with its boards can be asked for; nothing of it is kept.
_CARRIER: Final = """
const answers = await (await fetch("/answers.json")).json();
const query = new URLSearchParams(location.search);
const name = query.get("board") ?? Object.keys(answers)[0];
const answer = { revision: 1, title: "a board", file: "board.toml", unsaved: false, undo: null,
  redo: null, words: "", board: answers[name], saved: answers[name], variant: "", variants: [],
  cautions: [], disk: "same", draft: "", offer: null };
const worths = [
  { words: "engine room with a buffered bypass", now: 8.8, then: 1, worst: 1.9, withLead: false },
  { words: "a buffer after bilge fuzz", now: 8.8, then: 1.2, worst: 1.2, withLead: false },
  { words: "low-capacitance lead", now: 12.1, then: 11.1, worst: 11.2, withLead: true },
].map((one) => ({ ...one, edit: { do: "insert" } }));
const other = { ...answer, board: answers[query.get("other") ?? "other"] ?? answer.board };
const known = {
  document: async () => answer, attempt: async () => other, step: async () => answer,
  edit: async () => ({ ...other, revision: 2, undo: "a step", redo: query.get("redo") }),
  worth: async () => ({ list: window.noWorth ? [] : worths }), gaps: async () => ({ gaps: [] }),
  parts: async () => [], text: async () => ({ text: "", changed: [], saved: "" }),
  details: async () => ({ fields: [], figures: [] }),
  panel: async (id) => ({ id, title: id, blocks: [] }),
  sheetURL: () => "/sheet", events: () => () => {}, kept: () => "", leave: () => {},
};
export const createServer = () => known;
"""
# The page's own policy would be sent by the server: the same here.
_POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src data:"
)
_NAMES: Final = (
    "tuner", "bilge fuzz", "engine room", "octave below", "porthole filter", "swell",
    "paddle wheel", "gravel", "lantern chorus", "whirl", "ripple tremolo", "far shore echo",
    "anchor", "foghorn wah", "night watch", "even keel", "steam", "haze", "car deck reverb",
    "last dance preamp",
)  # fmt: skip


def pedal_board(count: int, more: str = "") -> str:
    """Return a board of so many pedals between a lead and the cable to the amp; invented."""
    parts = ("pedal-true-bypass", "fuzz-low-impedance", "drive-high-impedance", "preamp-pedal")
    boxes = "".join(
        f'[[chain]]\nstage = "{_NAMES[i % len(_NAMES)]}{"" if i < len(_NAMES) else f" {i}"}"\n'
        f'part = "{parts[i % 4]}"\n'
        for i in range(count)
    )
    return (
        '[instrument]\npart = "bass-split-coil"\n'
        '[destination]\npart = "solid-state-amplifier-input"\n'
        '[cables.lead]\npart = "cable-standard"\n[cables.patch]\npart = "cable-patch"\n'
        '[wiring]\ncable = "patch"\nlength = "25 cm"\n'
        '[[chain]]\ncable = "lead"\nlength = "5 m"\n'
        f"{boxes}{more}"
        '[[chain]]\ncable = "lead"\nlength = "9 m"\n'
        f'[scenes]\n"still water" = []\n"last dance" = ["{_NAMES[3]}"]\n'
        f'"storm" = ["{_NAMES[1]}", "{_NAMES[2]}"]\n'
    )


@contextmanager
def editor_page(texts: Mapping[str, str]) -> Iterator[tuple[Browser, str]]:
    """Give a browser and the address of the editor; `?board=NAME` says which board it opens.

    Parameters
    ----------
    texts : boards as files have them, by name; "other" is what every edit gives, unless
        `other=NAME` says another
    """
    boards: dict[str, Any] = {
        name: board_data(parse_board(text, "board.toml")) for name, text in texts.items()
    }
    html = (PAGE / "editor.html").read_text(encoding="utf-8")
    html = html.replace("/page/edit.js", "/js/edit.js")
    for style in sorted((PAGE / "css").glob("*.css")):
        html = html.replace(f"/page/{style.name}", f"/css/{style.name}")
    policy = f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
    added = {
        "/edit.html": html.replace("<head>", f"<head>{policy}").encode(),
        "/js/carrier.js": _CARRIER.encode(),
        "/answers.json": json.dumps(boards).encode(),
    }
    with page_server(added) as address, browser() as window:
        yield window, f"{address}/edit.html"

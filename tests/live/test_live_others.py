"""Boards inside the one that is edited: an editor of their own, and a page that follows them."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import time
from pathlib import Path

import httpx
import pytest
from helpers.live import browser
from helpers.program import EXAMPLES

from sigsim.board.reader import read_board
from sigsim.errors import SigsimError
from sigsim.live.desk import Desk
from sigsim.live.others import included_file, open_editor
from sigsim.live.session import Session

DECK = "ferry-plan-deck.toml"


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    for name in ("ferry-plan.toml", DECK):
        shutil.copy(EXAMPLES / name, tmp_path)
    return tmp_path / "ferry-plan.toml"


def test_the_page_follows_a_board_inside(plan: Path) -> None:
    session = Session(plan, Desk())
    session.tick(watch=True)
    before, answer = session.revision, session.now()
    heard: list[dict[str, object]] = []
    session.told = heard.append
    session.tick(watch=True)
    assert session.revision == before
    deck = plan.parent / DECK
    deck.write_text(deck.read_text().replace('"swell"', '"tide"'))
    session.tick(watch=True)
    assert heard == [{"revision": session.revision}]
    assert session.revision > before
    after = session.now()
    assert ("swell" in str(answer["board"]), "swell" in str(after["board"])) == (True, False)
    assert not session.unsaved


@pytest.mark.parametrize(
    "name", ["../x.toml", "ferry-plan.toml", "deck", None, 3, ["a"], DECK + "x"]
)
def test_no_other_file_is_opened(plan: Path, name: object) -> None:
    with pytest.raises(SigsimError, match="no board inside has this file"):
        included_file(read_board(plan), plan, name)
    assert included_file(read_board(plan), plan, f"./{DECK}").resolve() == plan.parent / DECK


def test_a_board_inside_has_an_editor_of_its_own(plan: Path) -> None:
    address = open_editor(plan.parent / DECK)
    try:
        with browser(address) as client:
            assert client.get("/document").json()["file"] == DECK
            with pytest.raises(SigsimError, match="edited already"):
                open_editor(plan.parent / DECK)
    finally:
        ended(plan.parent / DECK, address)


def ended(file: Path, address: str) -> None:
    """End an editor that was started by another process."""
    found = subprocess.run(["pgrep", "-f", str(file)], capture_output=True, text=True, check=False)
    for number in found.stdout.split():
        os.kill(int(number), signal.SIGINT)
    for _ in range(100):
        try:
            httpx.get(address, timeout=1)
        except httpx.HTTPError:
            return
        time.sleep(0.05)
    raise AssertionError("the editor still runs")


def test_as_saved_is_of_the_variant_that_is_shown(plan: Path) -> None:
    """Else a dashed curve would be that of another rig."""
    session = Session(plan, Desk())
    revision = session.now()["revision"]
    shown = {"do": "variant", "name": "active-bass"}
    answer = session.edit(shown, revision, keep=True)
    assert (answer["saved"]["active"], answer["board"]["active"]) == (True, True)
    longer = {"do": "length", "at": {"place": [0]}, "length": "6 m"}
    again = {"do": "variant", "name": ""}
    answer = session.edit(again, answer["revision"], keep=True)
    assert (answer["saved"]["active"], answer["board"]["active"]) == (False, False)
    assert "saved" not in session.edit(longer, answer["revision"], keep=True)

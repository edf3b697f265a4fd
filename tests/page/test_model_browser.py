"""The browser's model against the program's own: every number of every state, to the digit."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from helpers.browser import NEEDS_BROWSER, Browser, browser
from helpers.page_server import page_server

from sigsim.board.reader import read_board
from sigsim.decide.loss.report import assess
from sigsim.show.page.data import board_data
from sigsim.show.render.text import decibel
from sigsim.states.response import Solver

pytestmark = NEEDS_BROWSER
EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def window() -> Iterator[Browser]:
    """A browser in which modules can be imported."""
    with page_server() as address, browser() as found:
        found.driver.get(address)
        yield found


def asked(window: Browser, script: str, *arguments: Any) -> Any:
    """Return what a script with the page's modules returns."""
    whole = (
        "const done = arguments[arguments.length - 1], given = [...arguments].slice(0, -1);"
        'Promise.all([import("/js/model.js"), import("/js/words.js")])'
        f".then(([{{ createModel }}, words]) => {{ {script} }})"
        ".then(done, (error) => done({ error: String(error.stack) }));"
    )
    found = window.driver.execute_async_script(whole, *arguments)
    assert not (isinstance(found, dict) and "error" in found), found
    return found


def test_sentence_of_every_button(window: Browser) -> None:
    board = read_board(EXAMPLES / "ferry-plan.toml")
    data = board_data(board)
    script = (
        "const data = JSON.parse(given[0]), model = createModel(data);"
        "return data.states.map((s) => words.decibel(model.state(new Set(s.on)).treble));"
    )
    found = asked(window, script, json.dumps(data))
    switches, solver = board.switches(), Solver(board)
    states = (board.state({switches[i] for i in s["on"]}) for s in data["states"])
    assert found == [decibel(assess(solver, state).treble_loss) for state in states]

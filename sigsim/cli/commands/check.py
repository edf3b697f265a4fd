"""`sigsim check`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import say

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State


@click.command("check")
@options.board_argument
@options.one_state_options
@options.json_option
def command(board: Board, state: State | None, as_json: bool) -> None:
    """Check a board file and say what was understood.

    Draws the chain in one line, adds up cable and capacitance, and lists what an experienced
    player would ask about. Exit status 0 if the file can be used, 2 if not.
    """
    from sigsim.decide.check.overview import overview
    from sigsim.show import check as show

    facts = overview(board, state or board.state(()))
    say(as_json, lambda: show.as_json(facts), lambda: show.document(facts))

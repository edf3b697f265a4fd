"""`sigsim schema`."""

from __future__ import annotations

import click

from sigsim.cli.streams import echo_json


@click.command("schema")
def command() -> None:
    """Print the JSON Schema of board files, for editors.

    Save it beside your boards (sigsim schema > board-schema.json) and begin a board file with the
    line "#:schema ./board-schema.json": an editor that knows such schemas then completes keys and
    part names, shows what each key means, and marks what is wrong while you type.
    """
    from sigsim.board.schema import board_schema
    from sigsim.show.render.json import json_document

    echo_json(json_document(board_schema()))

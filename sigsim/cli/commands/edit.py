"""`sigsim edit`."""

from __future__ import annotations

import click

from sigsim.cli.editing import edit_here


@click.command("edit")
@click.argument("board", required=False, type=click.Path())
@click.option(
    "--port",
    type=click.IntRange(1, 65535),
    metavar="N",
    help="The number of the page's port.  [default: one that is free]",
)
@click.option("--no-browser", is_flag=True, help="Print the address and open no browser.")
def command(board: str | None, port: int | None, no_browser: bool) -> None:
    """Build and change a board on a page in the browser, and save it to the same file.

    The page shows the line of cables and boxes and what each change does to the sound. It is served
    by this machine to this machine only, at an address that nobody can guess. A BOARD that is not
    there is made when you save; without BOARD it is my-board.toml in this folder. What is not saved
    is kept beside the file and offered the next time. One of the file's variants is chosen on the
    page.
    """
    edit_here(board, port or 0, browser=not no_browser)

"""`sigsim parts`."""

from __future__ import annotations

import click

from sigsim.cli import options
from sigsim.cli.answers import say
from sigsim.cli.said import refuse_together


@click.command("parts")
@click.argument("name", required=False)
@click.option(
    "--kind",
    type=click.Choice(["instrument", "pickup", "cable", "stage", "destination"]),
    help="Only parts of this kind.",
)
@options.json_option
def command(name: str | None, kind: str | None, as_json: bool) -> None:
    """List the parts library, or show one part with its sources."""
    from sigsim.board.parts import library, part
    from sigsim.show import parts as show

    refuse_together(
        {"NAME": name is not None, "--kind": kind is not None}, "a part is named, or a kind"
    )
    if name is not None:
        found = [part(name)]
    else:
        found = [entry for entry in library().values() if kind in (None, entry.kind)]
    say(
        as_json,
        lambda: show.as_json(found),
        lambda: show.part_document(found[0]) if name is not None else show.library_document(found),
    )

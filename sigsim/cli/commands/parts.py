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
@click.option(
    "--like",
    metavar="WORDS",
    help='Only parts that players call so, the likeliest first: "gated fuzz", "looper".',
)
@options.json_option
def command(name: str | None, kind: str | None, like: str | None, as_json: bool) -> None:
    """List the parts library, or show one part with its sources."""
    from sigsim.board.parts import library, part
    from sigsim.show import parts as show

    refuse_together(
        {"NAME": name is not None, "--kind": kind is not None}, "a part is named, or a kind"
    )
    if name is not None:
        if like is not None:
            raise click.UsageError("Name a part or use --like, not both.")
        one = part(name)
        say(as_json, lambda: show.as_json([one]), lambda: show.part_document(one))
        return
    parts = [entry for entry in library().values() if kind in (None, entry.kind)]
    if like is None:
        say(as_json, lambda: show.as_json(parts), lambda: show.library_document(parts))
        return
    from sigsim.board.finding import find

    found = find(like, parts)
    say(as_json, lambda: show.as_json(found.fitting), lambda: show.found_document(found))

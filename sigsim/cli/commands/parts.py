"""`sigsim parts`."""

from __future__ import annotations

import click

from sigsim.cli import options


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
    from sigsim.show.render.terminal import print_document

    if name is not None:
        found = [part(name)]
    else:
        found = [entry for entry in library().values() if kind in (None, entry.kind)]
    if as_json:
        click.echo(show.as_json(found))
    elif name is not None:
        print_document(show.part_document(found[0]))
    else:
        print_document(show.library_document(found))

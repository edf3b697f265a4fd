"""`sigsim parts`."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import say
from sigsim.cli.output import note_input
from sigsim.cli.said import refuse_together
from sigsim.errors import UnknownNameError, shown_path

if TYPE_CHECKING:
    from sigsim.board.parts import Part


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
@click.option(
    "--from",
    "file",
    metavar="FILE",
    help="The parts of a file of your own instead.",
)
@options.json_option
def command(
    name: str | None, kind: str | None, like: str | None, file: str | None, as_json: bool
) -> None:
    """List the parts library, or show one part with its sources."""
    from sigsim.board.parts import library, part
    from sigsim.show import parts as show

    refuse_together(
        {"NAME": name is not None, "--kind": kind is not None}, "a part is named, or a kind"
    )
    if name is not None:
        if like is not None:
            raise click.UsageError("Name a part or use --like, not both.")
        one = part(name) if file is None else _own(name, file)
        say(as_json, lambda: show.as_json([one]), lambda: show.part_document(one))
        return
    every = library() if file is None else _parts(file)
    parts = [entry for entry in every.values() if kind in (None, entry.kind)]
    if like is None:
        say(as_json, lambda: show.as_json(parts), lambda: show.library_document(parts))
        return
    from sigsim.board.finding import find

    found = find(like, parts)
    say(as_json, lambda: show.as_json(found.fitting), lambda: show.found_document(found))


def _parts(file: str) -> Mapping[str, Part]:
    """Return the parts of a file, kind after kind; its warnings go to standard error."""
    from sigsim.board.own_parts import parts_of_file
    from sigsim.board.parts import KINDS

    note_input(file)
    parts, warnings = parts_of_file(Path(file))
    for warning in warnings:
        click.echo(f"warning: {shown_path(file)}: {warning}", err=True)
    return dict(sorted(parts.items(), key=lambda entry: KINDS.index(entry[1].kind)))


def _own(name: str, file: str) -> Part:
    """Return one part of a file."""
    parts = _parts(file)
    if name not in parts:
        raise UnknownNameError("part", name, tuple(parts), where=shown_path(file), shown=4)
    return parts[name]

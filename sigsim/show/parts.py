"""The parts library as tables and JSON."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import TYPE_CHECKING, Any

from sigsim.show.render.json import json_document
from sigsim.show.render.terminal import row, show, table

if TYPE_CHECKING:
    from sigsim.board.parts import Part

_HEADINGS = {
    "instrument": "Instruments, for [instrument]",
    "pickup": "Pickups, for [[instrument.pickups]]",
    "cable": "Cables, for [cables.NAME]",
    "stage": "Stages, for [[chain]]",
    "destination": "Destinations, for [destination]",
}


def print_list(parts: Iterable[Part]) -> None:
    """Print names and summaries, by the table in which a part may stand."""
    for kind, group in groupby(parts, key=lambda part: part.kind):
        made = table([_HEADINGS[kind], "What it is"], names=(_HEADINGS[kind], "What it is"))
        for part in group:
            row(made, part.name, part.summary)
        show(made)
    show("sigsim parts NAME shows the figures of one part and where each comes from.")


def print_part(part: Part) -> None:
    """Print one part: every figure with its source."""
    show(f"{part.name}: {part.summary}", "")
    made = table(["Key", "Value", "Source"], names=("Key", "Value", "Source"))
    for key, value in part.values.items():
        row(made, key, value_text(value), part.sources.get(key, ""))
    show(made, f'In a board file: part = "{part.name}"; any key beside it overrides the part\'s.')


def value_text(value: Any) -> str:
    """Return a value as a board file would show it."""
    if isinstance(value, list):
        return "\n".join(value_text(entry) for entry in value)
    if isinstance(value, dict):
        return "\n".join(f"{key} = {value_text(entry)}" for key, entry in value.items()) + "\n"
    if isinstance(value, bool):
        return str(value).lower()
    return str(value)


def as_json(parts: Iterable[Part]) -> str:
    """Return parts as one JSON document, values as a board file takes them."""
    values = {
        part.name: {
            "kind": part.kind,
            "summary": part.summary,
            "values": dict(part.values),
            "sources": dict(part.sources),
        }
        for part in parts
    }
    return json_document(values)

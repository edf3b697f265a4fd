"""The parts library as documents and as JSON."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any, Final

from sigsim.show import kinds
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.render.json import json_document

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sigsim.board.parts import Part
    from sigsim.show.document import Block

TITLE: Final = "The parts library"
_HEADINGS: Final = {
    "instrument": "Instruments, for [instrument]",
    "pickup": "Pickups, for [[instrument.pickups]]",
    "cable": "Cables, for [cables.NAME]",
    "stage": "Pedals and other boxes, for [[chain]]",
    "destination": "Amps and other inputs, for [destination]",
}
_WHAT: Final = Column("What it is", kinds.PHRASE)
_FIGURES: Final = (
    Column("Key", kinds.PHRASE),
    Column("Value", kinds.LINES),
    Column("Source", kinds.PHRASE),
)


def library_document(parts: Iterable[Part]) -> Document:
    """Return names and summaries, by the table in which a part may stand."""
    blocks: list[Block] = []
    for kind, group in groupby(parts, key=lambda part: part.kind):
        rows = [(part.name, part.summary) for part in group]
        blocks.append(Table("", (Column(_HEADINGS[kind], kinds.PHRASE), _WHAT), rows))
    more = "sigsim parts NAME shows the figures of one part and where each comes from."
    return Document(TITLE, (*blocks, Paragraph((more,))))


def part_document(part: Part) -> Document:
    """Return one part: every figure with its source."""
    use = f'In a board file: part = "{part.name}"; any key beside it overrides the part\'s.'
    rows = [(key, _text(value), part.sources.get(key, "")) for key, value in part.values.items()]
    first = Paragraph((f"{part.name}: {part.summary}",), apart=True)
    return Document(TITLE, (first, Table("", _FIGURES, rows), Paragraph((use,))), part.name)


def _text(value: Any) -> str:
    """Return a value as a board file would show it."""
    if isinstance(value, list):
        return "\n".join(_text(entry) for entry in value)
    if isinstance(value, dict):
        return "\n".join(f"{key} = {_text(entry)}" for key, entry in value.items()) + "\n"
    return str(value).lower() if isinstance(value, bool) else str(value)


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

"""The parts library as documents and as JSON."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any, Final

from sigsim.board.words import is_loop
from sigsim.errors import quote
from sigsim.show import kinds
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.render.json import json_document

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sigsim.board.finding import Found
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
_MORE: Final = "sigsim parts NAME shows the figures of one part and where each comes from."
# Common practice, no source.
_WHICH_BYPASS: Final = (
    "True bypass or buffered, without opening the box: switch the pedal off, then unplug its "
    "low-voltage supply lead from the pedal (and take out its battery) and play. If the sound "
    "still passes, it is true bypass; if it falls silent, it is buffered. A switch that clicks "
    "hints at true bypass, a soft and silent one at a buffer; some with relays fall silent all "
    "the same. "
    "Turn the amplifier down first, and open nothing that is powered from the mains.",
)
_A_LOOP: Final = (
    'A switched loop is no part but an item of the chain: [[chain]] with loop = "a name", and '
    "[[chain.inside]] for each pedal in it. A switcher is one such loop for each pair of its "
    "send and return.",
)
_FIGURES: Final = (
    Column("Key", kinds.PHRASE),
    Column("Value", kinds.LINES),
    Column("Source", kinds.PHRASE),
)


def library_document(parts: Iterable[Part]) -> Document:
    """Return names and summaries, by the table in which a part may stand."""
    blocks: list[Block] = []
    hint: tuple[Block, ...] = ()
    for kind, group in groupby(parts, key=lambda part: part.kind):
        rows = [(part.name, part.summary) for part in group]
        blocks.append(Table("", (Column(_HEADINGS[kind], kinds.PHRASE), _WHAT), rows))
        if kind == "stage":
            hint = (Paragraph(_WHICH_BYPASS, apart=True),)
    more = f'sigsim parts --like "gated fuzz" finds a part by what players call it; {_MORE}'
    return Document(TITLE, (*blocks, *hint, Paragraph((more,))))


def found_document(found: Found) -> Document:
    """Return the parts that answer to a name, or say that none does and what is near."""
    asked = quote(found.asked)
    loop = (Paragraph(_A_LOOP, apart=True),) if is_loop(found.asked) else ()
    if not found.fitting and not found.near:
        said = f"No part is called {asked} or anything like it; sigsim parts lists all of them."
        return Document(TITLE, (*loop, Paragraph((said,))), found.asked)
    said = f"Parts that players may call {asked}, the likeliest first:"
    if not found.fitting:
        said = f"No part is called {asked}. Near it, and perhaps not what is meant:"
    parts = found.fitting or found.near
    rows = [(part.name, _table(part.kind), part.summary) for part in parts]
    columns = (Column("Part", kinds.PHRASE), Column("For", kinds.PHRASE), _WHAT)
    blocks: list[Block] = [*loop, Paragraph((said,)), Table("", columns, rows)]
    if {"true", "buffered"} <= {part.values.get("bypass") for part in found.fitting}:
        blocks.append(Paragraph(_WHICH_BYPASS, apart=True))
    return Document(TITLE, (*blocks, Paragraph((_MORE,))), found.asked)


def _table(kind: str) -> str:
    """Return the table of a board file in which parts of a kind may stand."""
    return _HEADINGS[kind].partition(", for ")[2]


def part_document(part: Part) -> Document:
    """Return one part: every figure with its source."""
    use = f'In a board file: part = "{part.name}"; any key beside it overrides the part\'s.'
    rows = [(key, _text(value), part.sources.get(key, "")) for key, value in part.values.items()]
    named = f"{part.name}: {part.summary}" if part.summary else part.name
    lines = (named, f"Players say: {', '.join(part.aliases)}.")
    first = Paragraph(lines if part.aliases else lines[:1], apart=True)
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
            "aliases": list(part.aliases),
            "values": dict(part.values),
            "sources": dict(part.sources),
        }
        for part in parts
    }
    return json_document(values)

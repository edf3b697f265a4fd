"""Documents as Markdown with tables."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from sigsim.show.document import Fields, Heading, Items, Paragraph, Room, Table
from sigsim.show.render.cells import shown
from sigsim.show.render.text import one_line

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.show.document import Block, Document
    from sigsim.show.render.cells import Shown

_LONGEST: Final = 2000
# Punctuation that Markdown could take for markup, at the start of a line or in the text of a link.
_MARKUP: Final = re.compile(r"([\\`*_{}\[\]<>#|~&$@]|^[-+]|(?<=^\d)[.)]|:(?=//)|(?<=www)\.)")


def as_markdown(document: Document) -> str:
    """Return a document as Markdown."""
    title = ": ".join(filter(None, (document.title, document.subject)))
    lines = [f"# {_literal(title, 300)}", ""]
    for block in document.blocks:
        for text in _texts(block):
            lines += [text, ""]
    return "\n".join([*lines, ""])


def _texts(block: Block) -> Iterator[str]:
    match block:
        case Heading(text):
            yield f"## {_literal(text)}"
        case Paragraph(lines):
            yield from (_literal(line, _LONGEST) for line in lines)
        case Items(lines):
            yield "\n".join(f"- {_literal(line, _LONGEST)}" for line in lines)
        case Table():
            for part in shown(block, "markdown"):
                if block.title:
                    yield f"## {_literal(block.title)}"
                yield _table(part)
        case Fields(names):
            yield from (f"{_literal(name)}:" for name in names)
        case Room(title):
            yield f"## {_literal(title)}"


def _table(part: Shown) -> str:
    rule = "|".join(" ---: " if column.kind.right else " --- " for column in part.columns)
    rows = [_row(line.cells, strong=line.kind == "group") for line in part.lines]
    return "\n".join([_row(part.headings), f"|{rule}|", *rows])


def _row(cells: Sequence[str], *, strong: bool = False) -> str:
    texts = [_literal(cell) for cell in cells]
    if strong and texts[0]:
        texts[0] = f"**{texts[0]}**"
    return f"| {' | '.join(texts)} |"


def _literal(text: str, longest: int = 200) -> str:
    """Return text that Markdown shows letter by letter."""
    return _MARKUP.sub(r"\\\1", one_line(text, longest))

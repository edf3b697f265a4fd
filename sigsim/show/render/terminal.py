"""Documents on a terminal: as wide as it is, 80 columns at most, in colour only if wanted."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final

from sigsim.show.document import Heading, Items, Paragraph, Table
from sigsim.show.render.cells import shown
from sigsim.show.render.narrow import fitted, width
from sigsim.show.render.text import clean

if TYPE_CHECKING:
    from rich.table import Table as Grid

    from sigsim.show.document import Block, Document
    from sigsim.show.render.cells import Shown

_INDENT: Final = "  "
# Of a chain in one line.
_LETTERS: Final = str.maketrans({"●": "[x]", "○": "[.]", "◆": "[=]", "─": "-", "┬": "+", "→": ">"})


def print_document(document: Document) -> None:
    """Print a document to standard output. Figures and what is only for paper are left out."""
    show(*(part for block in document.blocks for part in _parts(block)))


def _parts(block: Block) -> Iterator[Any]:
    """Yield lines of text and tables for one block."""
    match block:
        case Heading(text):
            yield _writable(text)
        case Paragraph(lines, _, apart):
            yield from map(_writable, lines)
            yield from [""] if apart else []
        case Items(lines):
            yield from map(_writable, lines)
        case Table():
            for part in shown(block, "terminal"):
                if block.caption and block.captioned:
                    yield clean(block.caption)
                fit, left = fitted(part, width())
                yield _grid(fit)
                if left:
                    yield f"left out for want of room: {', '.join(left)}"


def _writable(text: str) -> str:
    """Return text of one line; plain letters for marks of a chain that this terminal lacks."""
    line = clean(text)
    try:
        line.encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        return line.translate(_LETTERS)
    return line


def _grid(part: Shown) -> Grid:
    """Return a table in the one style of this tool; nothing in its cells is markup."""
    from rich.box import SIMPLE_HEAD
    from rich.table import Table as Grid
    from rich.text import Text

    made = Grid(box=SIMPLE_HEAD, padding=0, pad_edge=False)
    for heading, column in zip(part.headings, part.columns, strict=True):
        made.add_column(
            heading,
            justify="right" if column.kind.right else "left",
            no_wrap=not column.kind.wraps,
            overflow="fold" if column.kind.wraps else "ellipsis",
        )
    for line in part.lines:
        first, *others = line.cells
        made.add_row(*map(Text, (f"{_INDENT if line.grouped else ''}{first}", *others)))
    return made


def show(*parts: Any) -> None:
    """Print text and tables to standard output, as wide as it is, colour only if wanted."""
    from rich.console import Console
    from rich.text import Text

    console = Console(width=width(), highlight=False, markup=False, emoji=False, soft_wrap=False)
    with console.capture() as captured:
        for part in parts:
            console.print(Text(clean(part)) if isinstance(part, str) else part)
    sys.stdout.write("".join(f"{line.rstrip()}\n" for line in captured.get().splitlines()))

"""The wiring sheet as a file: a page to print, Markdown, or CSV."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from importlib.resources import files
from typing import TYPE_CHECKING, Final

from sigsim.show.page.markup import policy, shown, table
from sigsim.show.render.text import plain
from sigsim.show.sheet import blocks, point, sentence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sigsim.decide.sheet import Sheet

_NOTE_LINES: Final = 8
# Punctuation that Markdown could take for markup, at the start of a line or in the text of a link.
_MARKDOWN: Final = re.compile(r"([\\`*_{}\[\]<>#|~&$@]|^[-+]|(?<=^\d)[.)]|:(?=//)|(?<=www)\.)")


def as_html(sheet: Sheet) -> str:
    """Return a page of one file, without scripts, to be printed on A4."""
    style = (files("sigsim.show") / "page" / "sheet.css").read_text(encoding="utf-8")
    name = shown(sheet.board.name)
    parts = []
    for number, block in enumerate(blocks(sheet)):
        numbers = [i for i, c in enumerate(block.columns) if c not in block.names]
        columns, rows = block.columns, block.rows
        if number == 0:
            columns, rows = ("Done", *columns), tuple(("☐", *cells) for cells in rows)
            numbers = [i + 1 for i in numbers]
        label = f'role=region tabindex=0 aria-label="{block.title}"'
        made = f"<div class=scroll {label}>{table(columns, rows, numbers)}</div>" if rows else ""
        notes = "".join(f"<p>{shown(note, 2000)}</p>" for note in block.notes)
        parts.append(f"<section><h2>{block.title}</h2>\n{made}{notes}</section>")
    lines = "<div class=line></div>" * _NOTE_LINES
    return (
        "<!doctype html>\n"
        '<html lang="en"><head><meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy([style])}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>Wiring sheet: {name}</title>\n<style>{style}</style></head>\n"
        f"<body><main><h1>Wiring sheet</h1><p class=name>{name}</p>\n"
        f"<p>{shown(sentence(sheet), 400)}</p>\n"
        "<p class=fields><span>Date</span><span>Wired by</span><span>Checked by</span></p>\n"
        + "\n".join(parts)
        + f"\n<section><h2>Notes</h2>{lines}</section></main></body></html>\n"
    )


def as_markdown(sheet: Sheet) -> str:
    """Return the sheet as Markdown with tables."""
    lines = [f"# Wiring sheet: {_literal(sheet.board.name, 200)}", ""]
    lines += [_literal(sentence(sheet), 400), "", "Date:", ""]
    for block in blocks(sheet):
        lines += [f"## {block.title}", ""]
        if block.rows:
            lines.append(_line(block.columns))
            lines.append(_rule(block.columns, block.names))
            lines += [_line(cells) for cells in block.rows] + [""]
        for note in block.notes:
            lines += [_literal(note, 2000), ""]
    return "\n".join([*lines, "## Notes", "", ""])


def _line(cells: Sequence[str]) -> str:
    return "| " + " | ".join(_literal(cell, 200) for cell in cells) + " |"


def _rule(columns: Sequence[str], names: Sequence[str]) -> str:
    return "|" + "|".join(" --- " if column in names else " ---: " for column in columns) + "|"


def _literal(text: str, longest: int) -> str:
    """Return text that Markdown shows letter by letter."""
    return _MARKDOWN.sub(r"\\\1", plain(text, longest))


def as_csv(sheet: Sheet) -> str:
    """Return the three lists one below the other, an empty line between; plain SI numbers."""
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\n").writerow
    write(["number", "from", "to", "cable", "length_m", "plugs", "capacitance_f", "so_far_f",
           "sees_pickup"])  # fmt: skip
    for c in sheet.connections:
        ends = (_cell(point(end)) for end in (c.begin, c.end))
        write([c.number, *ends, _cell(c.cable or ""), _si(c.length), c.plugs,
               _si(c.capacitance), _si(c.so_far), "yes" if c.sees_pickup else "no"])  # fmt: skip
    write([])
    write(["cable", "part", "pieces", "length_m", "total_m", "with_spare_m"])
    for p in sheet.purchases:
        for length, count in p.pieces:
            total = length * count
            write([_cell(p.cable), p.part, count, _si(length), _si(total),
                   _si(total * (1 + p.spare))])  # fmt: skip
    write([])
    write(["stage or loop", *(_cell(scene) for scene in sheet.board.scenes)])
    for name, positions in sheet.switches.items():
        write([_cell(name), *positions.values()])
    return out.getvalue()


def _si(value: float) -> str:
    return f"{value:.12g}"


def _cell(text: str) -> str:
    """Return a name that no spreadsheet takes for a formula."""
    name = plain(text, 200)
    return f"'{name}" if name[:1] in ("=", "+", "-", "@") else name


FORMATS: Final[dict[str, Callable[[Sheet], str]]] = {
    ".html": as_html,
    ".md": as_markdown,
    ".csv": as_csv,
}

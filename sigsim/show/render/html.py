"""Documents as one page without scripts, to be printed on A4."""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING, Final

from sigsim.show.document import Fields, FromAbove, Heading, Items, Paragraph, Room, Table
from sigsim.show.render.cells import shown as shown_tables
from sigsim.show.render.markup import policy, shown

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.show.document import Block, Document
    from sigsim.show.render.cells import Shown

# A text longer than this is none that we wrote.
LONGEST: Final = 2000


def as_html(document: Document) -> str:
    """Return a page that is one file and loads nothing."""
    style = (files("sigsim.show") / "render" / "print.css").read_text(encoding="utf-8")
    parts: list[list[str]] = [[]]
    for block in document.blocks:
        for element in _elements(block):
            if element.startswith("<h2>"):
                parts.append([])
            parts[-1].append(element)
    name, title = shown(document.subject), shown(document.title)
    sections = [f"<section>{chr(10).join(part)}</section>" for part in parts[1:]]
    return (
        "<!doctype html>\n"
        '<html lang="en"><head><meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy([style])}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}{': ' if name else ''}{name}</title>\n<style>{style}</style></head>\n"
        f"<body><main><h1>{title}</h1>\n"
        + "\n".join([f"<p class=name>{name}</p>"] * bool(name) + parts[0] + sections)
        + "</main></body></html>\n"
    )


def _elements(block: Block) -> Iterator[str]:
    """Yield the elements of one block; one that begins a section starts with its heading."""
    match block:
        case Heading(text):
            yield f"<h2>{shown(text)}</h2>"
        case Paragraph(lines, quiet):
            attribute = " class=quiet" if quiet else ""
            yield "".join(f"<p{attribute}>{shown(line, LONGEST)}</p>" for line in lines)
        case Items(lines):
            listed = "".join(f"<li>{shown(line, LONGEST)}</li>" for line in lines)
            yield f"<ul>{listed}</ul>"
        case Table():
            for part in shown_tables(block, "html"):
                label = shown(block.title)
                named = f'role=region aria-label="{label}" ' if label else ""
                yield from [f"<h2>{label}</h2>"] if label else []
                yield f"<div class=scroll {named}tabindex=0>{_table(part)}</div>"
        case Fields(names):
            yield f"<p class=fields>{''.join(f'<span>{shown(n)}</span>' for n in names)}</p>"
        case Room(title, lines):
            yield f"<h2>{shown(title)}</h2>"
            yield "<div class=line></div>" * lines
        case FromAbove(standing, title):
            from sigsim.show.render.plan_svg import as_svg, scale_said

            yield f"<h2>{shown(title)}</h2>"
            yield f"<div class=scroll role=region tabindex=0>{as_svg(standing, title)}</div>"
            yield f"<p class=quiet>{shown(scale_said(standing))}</p>"


def _table(part: Shown) -> str:
    right = [" class=n" if column.kind.right else "" for column in part.columns]
    heads = "".join(
        f"<th scope=col{c}>{shown(h)}</th>" for c, h in zip(right, part.headings, strict=True)
    )
    rows = []
    for line in part.lines:
        if line.kind == "group":
            cells = f"<th scope=rowgroup colspan={len(right)}>{shown(line.cells[0])}</th>"
        else:
            cells = "".join(
                f"<td{c}>{shown(cell)}</td>" for c, cell in zip(right, line.cells, strict=True)
            )
        rows.append(f"<tr{' class=total' if line.kind == 'total' else ''}>{cells}</tr>")
    body = "\n".join(rows)
    return f"<table><thead><tr>{heads}</tr></thead>\n<tbody>{body}</tbody></table>"

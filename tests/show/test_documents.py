"""Documents in every form: one value is written alike, and no text becomes anything but text.

What a form means is asked of readers that are not ours: html.parser, csv, and markdown-it-py, an
implementation of CommonMark (https://spec.commonmark.org/) with its tables.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable
from html.parser import HTMLParser
from typing import Any, Final

import pytest
from markdown_it import MarkdownIt
from rich.cells import cell_len

from sigsim.metrics import Resonance
from sigsim.quantities import FOOT, INCH, length_text
from sigsim.show.document import (
    Block,
    Column,
    Document,
    Fields,
    Group,
    Heading,
    Items,
    Paragraph,
    Room,
    Table,
    Total,
)
from sigsim.show.kinds import (
    BAR,
    BLANK,
    CAPACITANCE,
    CHANGE,
    COUNT,
    LENGTH,
    LOSS,
    NAME,
    PEAK,
    PHRASE,
    RESISTANCE,
    SHORT_HERTZ,
    WORD,
    Kind,
    Named,
    Unsaid,
    choices,
    frequencies,
    names,
)
from sigsim.show.lengths import sum_of, to_buy
from sigsim.show.render.browser import section
from sigsim.show.render.csv import as_csv
from sigsim.show.render.html import as_html
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.markdown import as_markdown
from sigsim.show.render.terminal import print_document
from sigsim.show.render.text import plain
from sigsim.text import shown

HOSTILE: Final = [
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "&amp; &lt;b&gt;",
    '"><b>',
    "**bold** _low_ ~~gone~~",
    "[link](javascript:alert(1))",
    "![i](x)",
    "`code` \\` $x$",
    "a | b || c",
    "- item",
    "+ item",
    "1. one",
    "# heading",
    "> said",
    "---",
    "<https://x.org>",
    "https://example.org www.example.org a@b.org",
    "=1+1",
    "+1",
    "-1",
    "@sum",
    "\t=1",
    "\r\n=1",
    "\x1b[31mred\x1b[0m \x07",
    "two\nlines",
    "nul\x00 \x9b31m \u202eback\u2066 \u200bzero",
    "[bold]markup[/bold] :smile:",
    'a "quoted", comma; semicolon',
    "x" * 5000,
    "漢字" * 300,
    "[^1] <!-- c --> {{x}} %{y}",
    "  ",
    "’ ‘ “",
]


class Elements(HTMLParser):
    """The elements of a page and the texts of its cells."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.rows: list[list[str]] = []
        self.text = ""
        self.cell = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element, and begin a row or a cell."""
        self.tags.append((tag, dict(attrs)))
        if tag == "tr":
            self.rows.append([])
        self.cell = tag in ("td", "th")
        if self.cell:
            self.rows[-1].append("")

    def handle_endtag(self, tag: str) -> None:
        """End a cell."""
        self.cell = self.cell and tag not in ("td", "th")

    def handle_data(self, data: str) -> None:
        """Keep text."""
        self.text += data
        if self.cell:
            self.rows[-1][-1] += data


def html_rows(document: Document) -> list[list[str]]:
    return Elements(as_html(document)).rows


def markdown_tokens(document: Document) -> list[Any]:
    return MarkdownIt("commonmark").enable("table").parse(as_markdown(document))


def markdown_rows(document: Document) -> list[list[str]]:
    rows: list[list[str]] = []
    inside = False
    for token in markdown_tokens(document):
        if token.type == "tr_open":
            rows.append([])
        inside = token.type in ("th_open", "td_open") or (inside and token.type == "inline")
        if inside and token.type == "inline":
            rows[-1].append("".join(child.content for child in token.children or ()))
    return rows


def browser_rows(document: Document) -> list[list[str]]:
    (table,) = (b for b in section("id", document)["blocks"] if b["kind"] == "table")
    return [table["columns"], *table["rows"]]


def csv_rows(document: Document) -> list[list[str]]:
    return list(csv.reader(io.StringIO(as_csv(document))))


WIDE: Final[dict[str, Callable[[Document], list[list[str]]]]] = {
    "html": html_rows,
    "markdown": markdown_rows,
    "browser": browser_rows,
}


def one(kind: Kind, *values: Any, **more: Any) -> Document:
    table = Table("", (Column("what", kind, key="what"),), tuple((v,) for v in values), **more)
    return Document("title", (table,))


def printed(document: Document, capsys: pytest.CaptureFixture[str]) -> list[str]:
    print_document(document)
    return capsys.readouterr().out.split("\n")


# Kind, value, as a person reads it everywhere, as data.
WRITTEN: Final[list[tuple[Kind, Any, str, str]]] = [
    (LOSS, 8.84, "8.8", "8.84"),
    (LOSS, -0.04, "0.0", "-0.04"),
    (LOSS, math.nan, "-", ""),
    (LOSS, math.inf, "-", ""),
    (CHANGE, 6.0, "+6.0", "6"),
    (CHANGE, -0.26, "-0.3", "-0.26"),
    (frequencies("none"), 2930.4, "2.93 kHz", "2930.4"),
    (frequencies("none"), None, "none", ""),
    (frequencies("-"), None, "-", ""),
    (SHORT_HERTZ, 2930.4, "2.93k", "2930.4"),
    (SHORT_HERTZ, 870.2, "870", "870.2"),
    (SHORT_HERTZ, None, "none", ""),
    (PEAK, Resonance(2930.4, 6.24), "2.93k +6.2", "2930.4"),
    (PEAK, None, "none", ""),
    (RESISTANCE, 48_600.0, "48.6 kΩ", "48600"),
    (CAPACITANCE, 7.17e-10, "717 pF", "7.17e-10"),
    (LENGTH, 0.2, "20 cm", "0.2"),
    (LENGTH, 6.0, "6 m", "6"),
    (COUNT, 12, "12", "12"),
    (WORD, "heavy", "heavy", "heavy"),
    (PHRASE, "after 'a'", "after 'a'", "after 'a'"),
    (NAME, "fuzz", "fuzz", "fuzz"),
    (NAME, Named("fuzz", "worst: ", " (now)"), "worst: fuzz (now)", "worst: fuzz (now)"),
    (NAME, None, "", ""),
    (names(quoted=True), "fuzz", "'fuzz'", "fuzz"),
    (names(none="no cable"), None, "no cable", ""),
    (choices({True: ("sees it", "yes")}), True, "sees it", "yes"),
    (LOSS, BLANK, "", ""),
    (LENGTH, Unsaid(0.25), "", "0.25"),
]


@pytest.mark.parametrize(("kind", "value", "text", "data"), WRITTEN)
def test_a_value_is_written_alike_everywhere(
    kind: Kind, value: Any, text: str, data: str, capsys: pytest.CaptureFixture[str]
) -> None:
    document = one(kind, value)
    assert printed(document, capsys)[3].strip() == text
    for read in WIDE.values():
        assert read(document)[1] == [text]
    assert csv_rows(document)[1:] == ([[data]] if data else [[""]])


@pytest.mark.parametrize("name", HOSTILE)
@pytest.mark.parametrize("kind", [NAME, PHRASE, WORD], ids=["name", "phrase", "word"])
def test_hostile_cells_are_only_text(
    kind: Kind, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every reader finds the name, on one line, shortened if long, and no element it would make."""
    document = one(kind, name, Named(name, "worst: ") if kind is NAME else name)
    longest = 80 if kind is NAME else 200
    for read in (html_rows, markdown_rows):
        assert read(document)[1][0].strip() == plain(name, longest)
        assert read(document)[2][0].endswith(plain(name, longest))
    for tag, attributes in Elements(as_html(document)).tags:
        assert tag in {
            "html",
            "head",
            "meta",
            "title",
            "style",
            "body",
            "main",
            "h1",
            "div",
            "table",
            "thead",
            "tbody",
            "tr",
            "th",
            "td",
        }
        assert set(attributes) <= {
            "lang",
            "charset",
            "http-equiv",
            "content",
            "name",
            "class",
            "tabindex",
            "scope",
        }
    inside = {c.type for token in markdown_tokens(document) for c in token.children or ()}
    assert inside <= {"text", "text_special"}
    assert len(markdown_rows(document)) == 3
    assert all(c.isprintable() for row in browser_rows(document) for cell in row for c in cell)
    for line in printed(document, capsys):
        assert line.isprintable()
        assert cell_len(line) <= 80
    data = [row[0] for row in csv_rows(document)[1:] if row]
    assert data[0] == ("'" if name.startswith(("=", "+", "-", "@", "'")) else "") + shown(name)
    assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for cell in data)
    assert len(csv_rows(document)) == 3


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_texts_are_only_text(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    blocks: tuple[Block, ...] = (
        Heading(name),
        Paragraph((name, "more"), quiet=True),
        Items((name,)),
        Fields((name,)),
        Room(name, 2),
        Table(name, (Column(name, NAME, key=name),), ((name,), Group(name))),
    )
    document = Document(name, blocks, name)
    page = Elements(as_html(document))
    allowed = {
        "html",
        "head",
        "meta",
        "title",
        "style",
        "body",
        "main",
        "h1",
        "h2",
        "p",
        "ul",
        "li",
        "span",
        "section",
        "div",
        "table",
        "thead",
        "tbody",
        "tr",
        "th",
        "td",
    }
    assert {tag for tag, _ in page.tags} <= allowed
    inside = {c.type for token in markdown_tokens(document) for c in token.children or ()}
    assert inside <= {"text", "text_special", "strong_open", "strong_close"}
    kinds = {token.type for token in markdown_tokens(document)}
    assert not kinds & {"html_block", "fence", "code_block", "hr", "blockquote_open"}
    assert all(line.isprintable() for line in printed(document, capsys))
    assert all(text.isprintable() for text in leaves(section("id", document)))
    assert not [c for row in csv_rows(document) for c in row if c.startswith(("=", "+", "-", "@"))]


def leaves(values: Any) -> list[str]:
    """Return all texts in plain values."""
    if isinstance(values, dict | list):
        inner = values.values() if isinstance(values, dict) else values
        return [text for value in inner for text in leaves(value)]
    return [values] if isinstance(values, str) else []


def test_a_page_lets_nothing_in_but_its_own_style() -> None:
    made = as_html(Document("t", ()))
    assert "default-src 'none'; script-src 'none'" in made
    assert "img-src" not in made
    assert "unsafe" not in made


def table() -> Table:
    """Return a table with groups, sums, repeated cells and columns for some places only."""
    columns = (
        Column("No", COUNT, only=("terminal",)),
        Column("Cable", NAME, key="cable", once=True),
        Column("Loss ", LOSS, key="loss_db"),
        Column("1k", LOSS, "1 kHz"),
        Column("", BAR, only=("browser",)),
    )
    rows = (
        Group("first"),
        (1, "lead", 4.0, 1.0, 4.0),
        (2, "lead", -2.0, 2.0, -2.0),
        Total((BLANK, Named("lead", after=", all"), 2.0, BLANK, BLANK)),
        Group("=second"),
        (3, "lead", math.nan, 4.0, math.nan),
    )
    return Table("By cable:", columns, rows)


def test_rows_and_columns_where_they_belong(capsys: pytest.CaptureFixture[str]) -> None:
    document = Document("t", (table(),))
    lines = [re.split(r" {2,}", line.strip()) for line in printed(document, capsys)]
    assert lines[0] == ["By cable:"]
    assert "No Cable" in " ".join(lines[2])
    assert html_rows(document)[0] == ["Cable", "Loss (dB)", "1 kHz"]
    body = [
        ["first"],
        ["lead", "4.0", "1.0"],
        ["", "-2.0", "2.0"],
        ["lead, all", "2.0", ""],
        ["=second"],
        ["lead", "-", "4.0"],
    ]
    assert html_rows(document)[1:] == body
    assert [row if row[1] else row[:1] for row in markdown_rows(document)[1:]] == body
    (made,) = section("id", document)["blocks"]
    assert made["caption"] == "By cable"
    assert [row if row[1] else row[:1] for row in made["rows"]] == body
    assert made["groups"] == [0, 4]
    assert made["numbers"] == [1, 2]
    assert made["bars"] == [0.0, 1.0, 0.0, 0.0, 0.0, 0.0]
    assert csv_rows(document) == [
        ["group", "cable", "loss_db"],
        ["first", "lead", "4"],
        ["first", "lead", "-2"],
        ["'=second", "lead", ""],
    ]


def test_many_columns_are_shown_below_one_another_and_stay_together_in_data() -> None:
    columns = (
        Column("Stage", NAME, key="stage"),
        *(Column(f"s{n}", WORD, key=f"s{n}") for n in range(5)),
    )
    wide = Table("Scenes", columns, (("fuzz", *"abcde"),), most=2)
    rows = html_rows(Document("t", (wide,)))
    assert [row[0] for row in rows[1::2]] == ["fuzz"] * 3
    assert [cell for row in rows[1::2] for cell in row[1:]] == list("abcde")
    assert csv_rows(Document("t", (wide,)))[1] == ["fuzz", *"abcde"]


def test_csv_leaves_out_what_has_no_key() -> None:
    bare = Table("", (Column("what", NAME),), (("fuzz",),))
    some = Table("", (Column("what", NAME, key="what"),), (("fuzz",),))
    apart = as_csv(Document("t", (some, bare, Paragraph(("text",)), some)))
    assert apart == "what\nfuzz\n\nwhat\nfuzz\n"


def test_a_row_has_a_cell_for_every_column() -> None:
    with pytest.raises(ValueError, match="2 cells in 1 columns"):
        Table("", (Column("a", LOSS),), ((1.0, 2.0),))


class Written(float):
    """A length that knows how it was written."""

    text = ""

    def __new__(cls, value: float, text: str) -> Written:
        """Return the value with its text."""
        made = super().__new__(cls, value)
        made.text = text
        return made


def test_a_length_is_shown_as_it_was_written() -> None:
    """One foot is 0.3048 m and one inch 0.0254 m exactly (international yard, 1959)."""
    lead, patch = Written(15 * FOOT, "15 ft"), Written(8 * INCH, '8"')
    assert [length_text(x) for x in (lead, patch, 4.572, 0.2032)] == [
        "15 ft",
        '8"',
        "4.572 m",
        "20.3 cm",
    ]
    document = one(LENGTH, lead)
    assert html_rows(document)[1] == ["15 ft"]
    assert csv_rows(document)[1] == ["4.572"]


# Pieces, spare, the sum and what to buy; worked out by hand.
BOUGHT: Final[list[tuple[list[tuple[float, int]], float, str, str]]] = [
    ([(0.25, 7)], 0.1, "1.75 m", "2 m"),
    ([(0.25, 8)], 0.0, "2 m", "2 m"),
    ([(0.1, 3)], 0.0, "30 cm", "30 cm"),
    ([(5.0, 1), (9.0, 1)], 0.1, "14 m", "15.5 m"),
    ([(9.01, 1)], 0.1, "9.01 m", "10 m"),
    ([(9.1, 1)], 0.1, "9.1 m", "10.5 m"),
    ([(10.0, 2)], 0.0, "20 m", "20 m"),
    ([(Written(15 * FOOT, "15 ft"), 1)], 0.1, "15 ft", "16 ft 6 in"),
    ([(Written(8 * INCH, "8 in"), 6)], 0.1, "4 ft", "4 ft 6 in"),
    ([(Written(15 * FOOT, "15 feet"), 1), (Written(1 * FOOT, "1'"), 1)], 0.0, "16 ft", "16 ft"),
    ([(Written(15 * FOOT, "15 ft"), 1), (Written(5.0, "5 m"), 1)], 0.1, "9.572 m", "11 m"),
    ([(Written(0.2, "20 cm"), 2)], 0.1, "40 cm", "50 cm"),
    ([(Written(10 * INCH, "10 in"), 2)], 0.1, "20 in", "2 ft"),
    ([(Written(47 * FOOT, "47 ft"), 1), (Written(8 * INCH, "8 in"), 1)], 0, "47 ft 8 in", "48 ft"),
    ([(Written(2.5 * INCH, "2.5 in"), 17)], 0, "3 ft 6.5 in", "4 ft"),
    ([(Written(11.99 * INCH, "11.99 in"), 4)], 0, "4 ft", "4 ft"),
    ([(Written(9 * INCH, "9 in"), 2)], 0, "1 ft 6 in", "1 ft 6 in"),
]


@pytest.mark.parametrize(("pieces", "spare", "total", "bought"), BOUGHT)
def test_lengths_to_buy(
    pieces: list[tuple[float, int]], spare: float, total: str, bought: str
) -> None:
    assert length_text(sum_of(pieces)) == total
    assert length_text(to_buy(sum_of(pieces), spare)) == bought


def test_json_knows_only_finite_numbers() -> None:
    assert json_document({"Ω": finite(math.inf)}) == '{\n  "Ω": null\n}'
    with pytest.raises(ValueError, match="JSON"):
        json_document(math.nan)

"""Rows that are proposed for a board, to be pasted, and what is still wrong in them."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Final

from sigsim.quantities import length_text
from sigsim.show.document import Paragraph
from sigsim.show.layout_problems import problem_lines
from sigsim.show.layout_words import total_of
from sigsim.show.render.text import count, decibel
from sigsim.text import escaped_json

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.decide.layout.proposal import Proposal
    from sigsim.decide.layout.report import LayoutReport
    from sigsim.show.document import Block

# Of a line that is to be pasted [letters].
_WIDEST: Final = 78
_CURES: Final = "give one a place of its own, write more or fewer rows, or take a larger board."


def proposed(tried: Proposal) -> Iterator[Block]:
    """Say what other rows gain, and print them so that they can be pasted."""
    stopped = "The search was stopped. " if tried.stopped else ""
    better = tried.better
    none_fits = [_none_fits(tried)] if tried.fits is False else []
    if better is None:
        none = "No other rows have shorter runs" if tried.exact else "No shorter runs were found"
        yield Paragraph((f"{stopped}{none}: nothing is proposed.", *none_fits), apart=True)
        return
    yield Paragraph(
        (f"{stopped}{_gained(tried, better)}", _treble(tried), *rows_text(tried.rows).splitlines()),
        apart=True,
    )
    own = better.own
    assert own is not None, "it is its rows that are proposed"
    wrong = list(problem_lines(better, [r for r in own.runs if r.way or r.why], [own]))
    if wrong or none_fits:
        head = "In these rows too there is something to mend:" if wrong else ""
        yield Paragraph(tuple(filter(None, (head, *wrong, *none_fits))), apart=True)


def _none_fits(tried: Proposal) -> str:
    if tried.exact:
        return f"No order of these boxes in so many rows fits on the board: {_CURES}"
    return f"No rows were found in which all boxes fit on the board: {_CURES}"


def _gained(tried: Proposal, better: LayoutReport) -> str:
    """Say in what the rows that are proposed are better."""
    now, then = _runs_said(tried.now), _runs_said(better)
    if tried.fits:
        how = "no others that fit are shorter" if tried.exact else "the best found that fit"
        return f"These rows fit on the board: {now} of runs now, in these rows {then} ({how})."
    how = "no other rows are better" if tried.exact else "the best found"
    gained = "Shorter runs" if better.total < tried.now.total else "Fewer connections lack a length"
    return f"{gained}: {now} now, in these rows {then} ({how})."


def _runs_said(report: LayoutReport) -> str:
    said = length_text(total_of(report))
    without = len(report.lacking)
    return f"{said} and {count(without, 'connection')} without a length" if without else said


def _treble(tried: Proposal) -> str:
    now, better = tried.now.worst, None if tried.better is None else tried.better.worst
    was, will = (
        "not known" if one is None else f"{decibel(one.treble_loss)} dB" for one in (now, better)
    )
    return f"Treble lost at worst: {was} now, {will} in these rows."


def rows_text(rows: Sequence[Sequence[str]]) -> str:
    """Return rows as a board file has them, to be pasted under its `[layout]`.

    A line ends between two names, so that no terminal breaks a name in two.

    Parameters
    ----------
    rows : of names, the back row first
    """
    lines = ["rows = ["]
    for row in rows:
        line = "  ["
        for number, name in enumerate(map(_quoted, row)):
            word = name + ("]," if number == len(row) - 1 else ",")
            if len(line) + 1 + len(word) > _WIDEST and line.strip("[ "):
                lines.append(line)
                line = "   "
            line += word if line.endswith("[") else f" {word}"
        lines.append(line)
    return "\n".join([*lines, "]"])


def _quoted(text: str) -> str:
    """Return text as a string of TOML, which is written as in JSON, with every character seen."""
    return escaped_json(json.dumps(text, ensure_ascii=False))

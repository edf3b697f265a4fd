"""What the virtual bench hid, beside what the recipes found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim.show import kinds
from sigsim.show.document import Column, Document, Group, Items, Paragraph, Table
from sigsim.show.figures import bounds, figure_text, in_words, value_text
from sigsim.show.suspects import first_asked
from sigsim.show.verify import sentence

if TYPE_CHECKING:
    from sigsim.measure.result import Measured
    from sigsim.measure.verdict import Verified
    from sigsim.show.document import Row

TITLE: Final = "Measured on a virtual bench"
_COLUMNS: Final = (
    Column("Figure", kinds.PHRASE),
    Column("Hidden", kinds.WORD),
    Column("Found", kinds.WORD),
    Column("95 of 100 times between", kinds.WORD),
)


@dataclass(frozen=True)
class Uncovered:
    """One thing that was measured, and what it is.

    Attributes
    ----------
    what : it is, in words
    hidden : its figures by key [SI]
    measured : what a recipe found
    """

    what: str
    hidden: Mapping[str, float]
    measured: Measured


def document(
    things: Sequence[Uncovered], verified: Verified, hidden: str, again: Sequence[str]
) -> Document:
    """Return what was hidden beside what was found.

    Parameters
    ----------
    things : that were measured
    verified : the built board beside its plan
    hidden : what is not as planned in it
    again : command lines that do the same
    """
    rows: list[Row] = []
    for thing in things:
        rows.append(Group(thing.what))
        rows += [_row(thing, key) for key in thing.hidden]
    suspects = [f"Check first: {first_asked(one)}" for one in verified.suspects[:1]]
    return Document(
        TITLE,
        (
            Table("What was hidden and what was found", _COLUMNS, rows, captioned=False),
            Paragraph(("The built board beside its plan:", sentence(verified), *suspects)),
            Paragraph((f"What was hidden in it: {hidden}.",), apart=True),
            Paragraph(("The same by hand, with the recordings that are here now:",)),
            Items(tuple(again)),
        ),
    )


def _row(thing: Uncovered, key: str) -> Row:
    found = thing.measured.figures[key]
    hidden = value_text(thing.hidden[key], found.unit)
    return in_words(key, thing.measured.recipe), hidden, figure_text(found), bounds(found)

"""The one wording of rows that stand for several."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, TypeVar

from sigsim.decide.folding import FOLDED_DB, folds_hide
from sigsim.show.document import Paragraph
from sigsim.show.kinds import Named
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from typing import Any

    from sigsim.board.state import Stated
    from sigsim.decide.folding import Fold

_Found = TypeVar("_Found", bound="Stated")
HINT: Final = " (--every lists each)"
_MERGED: Final = "Combinations that are the same are one row, their names joined by ={hint}."


def and_more(fold: Fold[Any]) -> str:
    """Return what a row's name ends with where it stands for more; empty where it does not."""
    if not fold.more:
        return ""
    least = "at least " if fold.at_least else ""
    return f" and {least}{len(fold.more)} more within {FOLDED_DB:g} dB"


def joined(fold: Fold[_Found], before: str = "") -> Named:
    """Return the names of states that are the same as one, with words of our own before them."""
    first = fold.first.state.title
    others = dict.fromkeys(row.state.title for row in fold.more)
    after = "".join(f" = {plain(title, 80)}" for title in others if title != first)
    return Named(first, before, after)


def merged_note(folds: Sequence[Fold[Any]], hint: str = HINT) -> Iterator[Paragraph]:
    """Yield what joined names mean, where there are any.

    Parameters
    ----------
    folds : the rows of a table
    hint : how to see each row, empty where it cannot be asked for
    """
    if folds_hide(folds):
        yield Paragraph((_MERGED.format(hint=hint),), quiet=True, apart=True)


def folded_note(folds: Sequence[Fold[Any]], hint: str = HINT) -> Iterator[Paragraph]:
    """Yield what a folded row means, where there is one.

    Parameters
    ----------
    folds : the rows of a table
    hint : how to see each row, empty where it cannot be asked for
    """
    if folds_hide(folds):
        text = f"One row for all that differ from it by {FOLDED_DB:g} dB at most{hint}."
        yield Paragraph((text,), quiet=True, apart=True)

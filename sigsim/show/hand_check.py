"""The two formulas for a pocket calculator as a table, and which of them counts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.decide.folding import Fold
from sigsim.show import kinds
from sigsim.show.document import Column, Group, Paragraph, Table
from sigsim.show.folds import joined

if TYPE_CHECKING:
    from sigsim.decide.loss.report import LossReport, StateReport
    from sigsim.show.document import Row

_TITLE: Final = "Hand check, by pocket calculator (the exact figures are in the table above)"
_MEANING: Final = """\
Rs: source resistance. ΣC: all capacitance across the line. L: the coil.
Counts: which of the two tells where the treble ends, the lower one. Behind a coil that is the \
resonance, 1/(2π√LC), which a low input behind it damps; behind a resistance, and behind a knob \
turned well down, it is the corner, 1/(2πRC)."""
_FORMULA: Final = kinds.frequencies("-")
_COLUMNS: Final = (
    Column("Combination and segment", kinds.NAME),
    Column("Rs", kinds.RESISTANCE),
    Column("ΣC", kinds.CAPACITANCE),
    Column("1/(2πRC)", _FORMULA, "1/(2π·Rs·ΣC)"),
    Column("1/(2π√LC)", _FORMULA, "1/(2π·√(L·ΣC))"),
    Column("Counts", kinds.WORD, "What counts"),
)


def hand_check(report: LossReport, *, with_worst: bool, most: int | None = None) -> Table:
    """Return the two formulas for every segment of every different state.

    Parameters
    ----------
    report : from `loss_report`
    with_worst : whether the worst of all states is in it as well
    most : how many states at most, None for all
    """
    states = [*report.states, *([report.worst] if with_worst else [])]
    by_heard: dict[frozenset[str], list[StateReport]] = {}
    for state in states:
        by_heard.setdefault(report.board.heard(state.state.on), []).append(state)
    rows: list[Row] = []
    for same in list(by_heard.values())[:most]:
        rows.append(Group(joined(Fold(1, same[0], tuple(same[1:])))))
        rows += [
            (c.segment, c.source_resistance, c.capacitance, c.rc_corner, c.lc_resonance,
             c.counts or "-")
            for c in same[0].hand_check
        ]  # fmt: skip
    return Table(_TITLE, _COLUMNS, rows)


def hand_meaning() -> Paragraph:
    """Return what the letters of the two formulas mean, and which of them counts."""
    return Paragraph(tuple(_MEANING.splitlines()), quiet=True)

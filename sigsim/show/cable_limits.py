"""How long cables may be, as a sentence, tables and JSON; and what a cable is called."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from sigsim.metrics import verdict
from sigsim.show import kinds
from sigsim.show.document import Column, Paragraph, Table
from sigsim.show.lengths import in_unit_of, length_text, rounded_down
from sigsim.show.render.json import finite
from sigsim.show.render.text import decibel, plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.decide.cables.limit import Limit, Role
    from sigsim.decide.cables.report import CablesReport, CableTrial, RoleReport
    from sigsim.show.document import Block, Cell

CABLE: Final = Column("Cable", kinds.PHRASE)
PER_METRE: Final = Column("pF/m", kinds.PER_METRE, "pF/m", rank=4)
NOW: Final = Column(" ", kinds.WORD)
_AS_SOLD: Final = Column("Sold", kinds.WORD, "As sold")
_FACTOR: Final = Column("Factor", kinds.FACTOR)
_TOTAL: Final = Column("Total", kinds.AT_MOST)
_REMARK: Final = Column("", kinds.WORD)


def cable_name(choice: CableTrial) -> str:
    """Return the cable's name, in quotes if it is the file's own."""
    name = plain(choice.candidate.name, 26)
    return name if choice.candidate.in_library else f"'{name}'"


def now(choice: CableTrial) -> str:
    """Return the mark of the cable now used, nothing for the others."""
    return "◀ now" if choice.now else ""


def limit_sentence(report: CablesReport) -> str:
    """Return the first sentence: how long each role may be with the cable now used."""
    limit = report.question.limit or 0.0
    parts = [
        f"'{plain(role.role.name, 24)}'{_besides(role)} {_may_be(role.role, role.now.limit)}"
        for role in report.roles
        if role.now.limit is not None
    ]
    return (
        f"To lose at most {limit:g} dB of treble in the worst combination "
        f"({verdict(limit * (1 - 1e-9))} at most), with the cable now used: {'; '.join(parts)}."
    )


def _besides(report: RoleReport) -> str:
    """Say that the instrument's own lead, which goes by the name of a role too, stays as it is."""
    own = report.now.with_lead is not None and not report.role.only_lead
    return " besides the instrument's own" if own else ""


def _may_be(role: Role, limit: Limit) -> str:
    used = length_text(role.longest) + _which(role)[1]
    if limit.any_length:
        return f"may have any length{_as_sold(role, limit)} ({used} now)"
    if limit.length is None:
        return f"cannot: {decibel(limit.at_zero)} dB are lost even at length 0 ({used} now)"
    return f"may be {_each(role, limit.length)}{_as_sold(role, limit)} ({used} now)"


def _as_sold(role: Role, limit: Limit) -> str:
    """Say which ready-made length that is, nothing for a cable that is cut to length."""
    if not role.spec.sold:
        return ""
    longest = limit.longest_sold(role.spec.sold)
    if longest is None:
        return f", but {length_text(min(role.spec.sold))} is the shortest that is sold"
    return f", of the lengths that are sold {length_text(longest)}"


def _each(role: Role, longest: float) -> str:
    return _at_most(role, longest) + _which(role)[1]


def _at_most(role: Role, length: float) -> str:
    return length_text(rounded_down(in_unit_of(length, role.lengths)))


def _which(role: Role) -> tuple[str, str]:
    """Return which piece of a role a length is of: as a heading, and behind the length."""
    if len(role.varying) == 1:
        return "Length", ""
    return ("Each", " each") if len(set(role.varying)) == 1 else ("Longest piece", " the longest")


def limit_tables(report: CablesReport) -> Iterator[Block]:
    """Yield the longest each cable may be, a table for each role."""
    limit = report.question.limit
    text = f"The longest each cable may be for at most {limit:g} dB of treble lost at worst:"
    yield Paragraph((text,))
    for role in report.roles:
        yield _table(role)


def _caption(role: Role) -> str:
    name = f"'{plain(role.name, 30)}'"
    if role.only_lead:
        return f"{name}, the instrument's own lead; counted against no cable at all"
    kept = ", the instrument's own lead left as it is" if any(role.leads) else ""
    many = len(role.varying)
    return f"{name}{kept}" + (f"; all {many} pieces scaled by one factor" if many > 1 else "")


def _table(report: RoleReport) -> Table:
    longest = Column(_which(report.role)[0], kinds.AT_MOST)
    sold = (_AS_SOLD,) if report.role.spec.sold else ()
    columns = (CABLE, PER_METRE, longest, *sold, _FACTOR, _TOTAL, NOW, _REMARK)
    rows = [
        (
            cable_name(c),
            c.capacitance,
            *_longest(report.role, c.limit),
            now(c),
            _remark(report.role, c.limit),
        )
        for c in report.choices
        if c.limit is not None
    ]
    return Table(_caption(report.role), columns, rows)


def _longest(role: Role, limit: Limit) -> tuple[Cell, ...]:
    stock = limit.longest_sold(role.spec.sold)
    sold = ("none" if stock is None else length_text(stock),) if role.spec.sold else ()
    if limit.length is None or limit.any_length:
        return "any" if limit.any_length else "none", *sold, None, "-"
    factor = limit.length / role.longest if role.longest else None
    total = sum(role.with_longest(limit.length))
    longest, together = (in_unit_of(length, role.lengths) for length in (limit.length, total))
    return longest, *sold, factor, together


def _remark(role: Role, limit: Limit) -> str:
    words = [f"{decibel(limit.at_zero)} dB at length 0"] if limit.length is None else []
    for low, high in limit.later[:1]:
        first = length_text(in_unit_of(low, role.lengths))
        words.append(f"again {first} to {_at_most(role, high)}")
    return ", ".join(words)


def limit_values(role: Role, limit: Limit) -> dict[str, Any]:
    """Return how long one cable may be as plain JSON values."""
    length = limit.length
    lengths = None if length is None else list(role.with_longest(length))
    sold = limit.longest_sold(role.spec.sold)
    answer = "none" if length is None else "any length" if limit.any_length else "length"
    return {
        "answer": answer,
        "length_m": length,
        "factor": length / role.longest if length is not None and role.longest else None,
        "lengths_m": lengths,
        "total_m": None if lengths is None else sum(lengths),
        "loss_at_zero_db": finite(limit.at_zero),
        "counts_lead": role.only_lead,
        "longest_sold_m": sold if sold is None else float(sold),
        "sold_within_m": list(map(float, limit.keeping(role.spec.sold))),
        "windows_m": [list(window) for window in limit.windows],
    }

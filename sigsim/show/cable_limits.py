"""How long cables may be, as a sentence, tables and JSON; and what a cable is called."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any, Final

from sigsim.decide.cables.limit import shown_over
from sigsim.metrics import verdict
from sigsim.quantities import length_text
from sigsim.show import kinds
from sigsim.show.document import Column, Paragraph, Table
from sigsim.show.lengths import in_unit_of, rounded_down
from sigsim.show.render.json import finite
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.decide.cables.limit import Limit, Role
    from sigsim.decide.cables.ready_made import ReadyMade
    from sigsim.decide.cables.report import CablesReport, CableTrial, RoleReport
    from sigsim.show.document import Block, Cell

CABLE: Final = Column("Cable", kinds.PHRASE)
PER_METRE: Final = Column("pF/m", kinds.PER_METRE, "pF/m", rank=4)
NOW: Final = Column(" ", kinds.WORD)
_AS_SOLD: Final = Column("Sold", kinds.WORD, "As sold")
_FACTOR: Final = Column("Factor", kinds.FACTOR)
_TOTAL: Final = Column("Total", kinds.AT_MOST)
_MOST_SHORT: Final = 4
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
        f"'{plain(role.role.name, 24)}'{_besides(role)} {_may_be(role.role, role.now.limit, limit)}"
        for role in report.roles
        if role.now.limit is not None
    ]
    return (
        f"To lose at most {limit:g} dB of treble in the worst combination "
        f"({verdict(limit * (1 - 1e-9))} at most), with the cable now used: {'; '.join(parts)}."
        f"{''.join(map(_reach, report.roles))}"
    )


def _besides(report: RoleReport) -> str:
    """Say that the instrument's own lead, which goes by the name of a role too, stays as it is."""
    own = report.now.with_lead is not None and not report.role.only_lead
    return " besides the instrument's own" if own else ""


def _may_be(role: Role, limit: Limit, most: float) -> str:
    now = f"{length_text(role.longest)}{_which(role)[1]} now"
    ready = limit.ready
    if ready is not None and ready.length is not None:
        cut = f"; {_if_cut(role, limit)} if cut to length" if limit.length is not None else ""
        longest = length_text(ready.length) + _which(role)[1]
        pieces = _pieces(role, ready.lengths)
        return f"may be {longest}, of the lengths that are sold ({pieces}; {now}{cut})"
    if limit.length is None:
        return f"cannot: {shown_over(limit.at_zero, most)} dB are lost even at length 0 ({now})"
    if ready is not None:
        shortest, lost = length_text(min(role.spec.sold)), shown_over(ready.loss, most)
        cut = f"{now}; {_if_cut(role, limit)} if cut to length"
        return f"cannot: with {shortest}, the shortest that is sold, {lost} dB are lost ({cut})"
    if limit.any_length:
        return f"may have any length ({now})"
    return f"may be {_each(role, limit.length)} ({now})"


def _if_cut(role: Role, limit: Limit) -> str:
    """Say how long the longest piece may be where no ready-made length is asked for."""
    return "any length" if limit.any_length else _at_most(role, limit.length or 0.0)


def _pieces(role: Role, lengths: Sequence[float]) -> str:
    """Return the pieces that vary as they are bought, the longest first."""
    free = [
        length
        for length, lead in zip(lengths, role.leads, strict=True)
        if role.only_lead or not lead
    ]
    counted = sorted(Counter(free).items(), reverse=True)
    return " and ".join(f"{number} × {length_text(length)}" for length, number in counted)


def _reach(report: RoleReport) -> str:
    """Say which connections the pieces do not reach, empty where they reach all."""
    ready = None if report.now.limit is None else report.now.limit.ready
    if ready is None or not ready.short:
        return ""
    said = [
        f"{plain(one.begin, 30)} to {plain(one.end, 30)}"
        + (f" needs {length_text(one.needed)}" if one.needed is not None else "")
        for one in ready.short[:_MOST_SHORT]
    ]
    more = len(ready.short) - _MOST_SHORT
    said += [f"{more} more"] if more > 0 else []
    cannot = "" if ready.in_place else ": with the boxes where they stand this limit cannot be kept"
    return f" Too short as '{plain(report.role.name, 24)}' from {'; '.join(said)}{cannot}."


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
        yield _table(role, limit or 0.0)


def _caption(role: Role) -> str:
    name = f"'{plain(role.name, 30)}'"
    if role.only_lead:
        return f"{name}, the instrument's own lead; counted against no cable at all"
    kept = ", the instrument's own lead left as it is" if any(role.leads) else ""
    many = len(role.varying)
    return f"{name}{kept}" + (f"; all {many} pieces scaled by one factor" if many > 1 else "")


def _table(report: RoleReport, limit: float) -> Table:
    longest = Column(_which(report.role)[0], kinds.AT_MOST)
    sold = (_AS_SOLD,) if report.role.spec.sold else ()
    columns = (CABLE, PER_METRE, longest, *sold, _FACTOR, _TOTAL, NOW, _REMARK)
    rows = [
        (
            cable_name(c),
            c.capacitance,
            *_longest(report.role, c.limit),
            now(c),
            _remark(report.role, c.limit, limit),
        )
        for c in report.choices
        if c.limit is not None
    ]
    return Table(_caption(report.role), columns, rows)


def _longest(role: Role, limit: Limit) -> tuple[Cell, ...]:
    stock = None if limit.ready is None else limit.ready.length
    sold = ("none" if stock is None else length_text(stock),) if limit.ready is not None else ()
    if limit.length is None or limit.any_length:
        return "any" if limit.any_length else "none", *sold, None, "-"
    factor = limit.length / role.longest if role.longest else None
    total = sum(role.with_longest(limit.length))
    longest, together = (in_unit_of(length, role.lengths) for length in (limit.length, total))
    return longest, *sold, factor, together


def _remark(role: Role, limit: Limit, most: float) -> str:
    lost = shown_over(limit.at_zero, most)
    words = [f"{lost} dB at length 0"] if limit.length is None else []
    for low, high in limit.later[:1]:
        first = length_text(in_unit_of(low, role.lengths))
        words.append(f"again {first} to {_at_most(role, high)}")
    return ", ".join(words)


def limit_values(role: Role, limit: Limit) -> dict[str, Any]:
    """Return how long one cable may be as plain JSON values."""
    length = limit.length
    lengths = None if length is None else list(role.with_longest(length))
    answer = "none" if length is None else "any length" if limit.any_length else "length"
    return {
        "answer": answer,
        "length_m": length,
        "factor": length / role.longest if length is not None and role.longest else None,
        "lengths_m": lengths,
        "total_m": None if lengths is None else sum(lengths),
        "loss_at_zero_db": finite(limit.at_zero),
        "counts_lead": role.only_lead,
        "windows_m": [list(window) for window in limit.windows],
        **_ready_values(limit.ready),
    }


def _ready_values(ready: ReadyMade | None) -> dict[str, Any]:
    """Return the pieces as they can be bought; nothing for a cable that is cut to length."""
    length = None if ready is None else ready.length
    kept = length is not None
    return {
        "longest_sold_m": length if length is None else float(length),
        "sold_within_m": [] if ready is None else list(map(float, ready.within)),
        "bought_m": list(map(float, ready.lengths)) if ready is not None and kept else None,
        "bought_loss_db": finite(ready.loss) if ready is not None and kept else None,
        "too_short": [
            {
                "from": one.begin,
                "to": one.end,
                "run_m": float(one.run),
                "bought_m": float(one.bought),
                "needed_m": one.needed if one.needed is None else float(one.needed),
            }
            for one in (ready.short if ready is not None else ())
        ],
        "kept_in_place": None if ready is None else kept and ready.in_place,
    }

"""How long cables may be, as words, tables and JSON; and what a cable is called."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from sigsim.metrics import verdict
from sigsim.show.lengths import length_text
from sigsim.show.render.json import finite
from sigsim.show.render.terminal import row, show, table
from sigsim.show.render.text import decibel, plain

if TYPE_CHECKING:
    from rich.table import Table

    from sigsim.decide.cables.limit import Limit, Role
    from sigsim.decide.cables.report import CablesReport, CableTrial, RoleReport

NOW: Final = "◀ now"
_PICO: Final = 1e12


def cable_name(choice: CableTrial) -> str:
    """Return the cable's name, in quotes if it is the file's own."""
    candidate = choice.candidate
    return plain(candidate.name, 26) if candidate.in_library else f"'{plain(candidate.name, 26)}'"


def picofarads(choice: CableTrial) -> str:
    """Return the capacitance per metre in picofarads."""
    return f"{float(choice.candidate.spec.capacitance) * _PICO:.3g}"


def limit_sentence(report: CablesReport) -> str:
    """Return the first sentence: how long each role may be with the cable now used."""
    limit = report.question.limit
    assert limit is not None
    parts = []
    for role in report.roles:
        found = role.now.limit
        assert found is not None
        parts.append(f"'{plain(role.role.name, 24)}' {_may_be(role.role, found)}")
    return (
        f"To lose at most {limit:g} dB of treble in the worst state "
        f"({verdict(limit * (1 - 1e-9))} at most), with the cable now used: {'; '.join(parts)}."
    )


def _may_be(role: Role, limit: Limit) -> str:
    now = _each(role, role.longest)
    if limit.any_length:
        return f"may have any length ({now} now)"
    if limit.length is None:
        return f"cannot: {decibel(limit.at_zero)} dB are lost even at length 0 ({now} now)"
    return f"may be {_each(role, limit.length)} ({now} now)"


def _each(role: Role, longest: float) -> str:
    """Return the length of the pieces that vary where the longest has this one, rounded down."""
    varying = role.varying
    shown = length_text(_down(longest))
    if len(varying) == 1:
        return shown
    if len(set(varying)) == 1:
        return f"{shown} each"
    return f"{shown} the longest"


def _down(length: float) -> float:
    """Round a length [m] down to three digits, so that what is printed keeps the limit."""
    if length <= 0:
        return 0.0
    unit = 10.0 ** (math.floor(math.log10(length)) - 2)
    return math.floor(length / unit + 1e-6) * unit


def print_limits(report: CablesReport) -> None:
    """Print the longest each cable may be, a table for each role."""
    limit = report.question.limit
    show(f"The longest each cable may be for at most {limit:g} dB of treble lost at worst:")
    for role in report.roles:
        show(_limit_heading(role.role), _limit_table(role))


def _limit_heading(role: Role) -> str:
    name = f"'{plain(role.name, 30)}'"
    if role.only_lead:
        return f"{name}, the instrument's own lead; counted against no cable at all"
    kept = ", the instrument's own lead left as it is" if any(role.leads) else ""
    if len(role.varying) == 1:
        return f"{name}{kept}"
    return f"{name}{kept}; all {len(role.varying)} pieces scaled by one factor"


def _limit_table(report: RoleReport) -> Table:
    role = report.role
    several = len(role.varying) > 1
    same = len(set(role.varying)) == 1
    longest = "Length" if not several else "Each" if same else "Longest piece"
    columns = ["Cable", "pF/m", longest, "Factor", "Total", " ", ""]
    made = table(columns, names=("Cable",), words=(" ", ""))
    for choice in report.choices:
        limit = choice.limit
        assert limit is not None
        row(made, cable_name(choice), picofarads(choice), *_limit_cells(role, limit),
            NOW if choice.now else "", _remark(limit))  # fmt: skip
    return made


def _limit_cells(role: Role, limit: Limit) -> tuple[str, str, str]:
    if limit.length is None:
        return "none", "-", "-"
    if limit.any_length:
        return "any", "-", "-"
    total = length_text(_down(sum(role.with_longest(limit.length))))
    factor = f"{_down(limit.length / role.longest):.3g}" if role.longest else "-"
    return length_text(_down(limit.length)), factor, total


def _remark(limit: Limit) -> str:
    words = []
    if limit.length is None:
        words.append(f"{decibel(limit.at_zero)} dB at length 0")
    later = limit.windows[0 if limit.length is None else 1 :]
    if later:
        low, high = later[0]
        words.append(f"again {length_text(low)} to {length_text(_down(high))}")
    return ", ".join(words)


def limit_document(role: Role, limit: Limit) -> dict[str, Any]:
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
    }

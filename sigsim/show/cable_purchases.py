"""What to buy for one role: pieces, metres and plugs, and what would be better or cheaper."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING

from sigsim.quantities import length_text
from sigsim.show.cable_limits import cable_name
from sigsim.show.lengths import sum_of
from sigsim.show.render.text import count, plain, signed

if TYPE_CHECKING:
    from sigsim.decide.cables.limit import Role
    from sigsim.decide.cables.report import CableTrial, RoleReport

_PLUGS_A_PIECE = 2


def amount(role: Role) -> str:
    """Return how long all pieces of a role are together."""
    return length_text(sum_of(Counter(role.lengths).items()))


def to_buy(report: RoleReport) -> str:
    """Return what to buy for a role, and what else could be bought."""
    role = report.role
    sizes = ", ".join(
        f"{number} × {length_text(length)}" for length, number in Counter(role.lengths).items()
    )
    text = f"  '{plain(role.name, 24)}': {cable_name(report.now)}, {sizes}, {amount(role)} in all"
    text += f" ({_bought(role, report.now)})."
    if report.better is not None:
        how = "Better" if report.noticed else "Better, but hardly to be heard"
        text += f" {how}: {_changed(role, report.better)}."
    if report.cheaper is not None and math.isfinite(report.cheaper.change):
        cheaper = _changed(role, report.cheaper)
        text += f" Cheaper cable often has more pF/m: {cheaper}."
    return text


def _bought(role: Role, choice: CableTrial) -> str:
    """Say how a cable is bought in the pieces of a role."""
    pieces = len(role.lengths)
    plugs = count(_PLUGS_A_PIECE * pieces, "plug")
    ways = {
        "ready-made": "ready-made",
        "by the metre": f"by the metre, with {plugs}",
    }
    said = [ways[way] for way in choice.candidate.sold if way in ways]
    return " or ".join(said) or f"cut to length, with {plugs}"


def _changed(role: Role, choice: CableTrial) -> str:
    return f"{cable_name(choice)}, {signed(choice.change)} dB ({_bought(role, choice)})"

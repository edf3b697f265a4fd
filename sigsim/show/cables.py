"""The cables of a board as words, tables and JSON."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING, Any, Final

from sigsim.metrics import verdict
from sigsim.show.cable_limits import (
    NOW,
    cable_name,
    limit_document,
    limit_sentence,
    picofarads,
    print_limits,
)
from sigsim.show.lengths import length_text
from sigsim.show.loss import state_values
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.terminal import row, show, table
from sigsim.show.render.text import count, decibel, peak, plain, short_hertz, signed

if TYPE_CHECKING:
    from rich.table import Table

    from sigsim.decide.cables.limit import Role
    from sigsim.decide.cables.report import CablesReport, CableTrial, RoleReport
    from sigsim.decide.loss.report import StateReport

_MOST_SCENES: Final = 5
_SCENE_ROOM: Final = 48
_NOTICED_DB: Final = 0.5

_LEAD_NOTE: Final = (
    "+lead: counting the instrument's own lead as well, against no cable at all. 'Treble' and "
    "the scenes are as sigsim loss says it, which measures against the same lead and so does "
    "not count the lead's own part; the order and the change go by +lead."
)


def print_cables(report: CablesReport, *, scenes: bool) -> None:
    """Print the answer: the sentence, a table for each role, and what to buy."""
    show(sentence(report), "")
    for role in report.roles:
        show(_heading(role), _table(role, "worst"))
        if role.now.with_lead is not None:
            show(_LEAD_NOTE, "")
        if role.now.scenes:
            show("Treble loss (dB) in the scenes:", _scene_table(role))
        for number, scene in enumerate(role.now.scenes if scenes else ()):
            show(f"In the scene '{plain(scene.state.title, 50)}':", _table(role, number))
    if report.question.limit is not None:
        print_limits(report)
    show("To buy:", *(_to_buy(role) for role in report.roles))
    if report.unused:
        names = ", ".join(f"'{plain(name, 30)}'" for name in report.unused)
        show(f"In the file but not in the chain: {names}.")
    if not all(choice.proven for role in report.roles for choice in role.choices):
        show("Too many passive switches in one run to try them all: a worse state may exist.")


def sentence(report: CablesReport) -> str:
    """Return the first sentence: the best single change, or the limit if one was asked for."""
    if report.question.limit is not None:
        return limit_sentence(report)
    best = min(report.roles, key=lambda role: _order(role.choices[0].change))
    now, first = best.now, best.choices[0]
    if not math.isfinite(now.counted):
        return "Nothing comes out of this board in any state: is a volume knob at 0?"
    named = f"'{plain(best.role.name, 24)}'"
    counted = "counting the lead itself, " if now.with_lead is not None else ""
    was = f"{decibel(now.counted)} dB ({verdict(now.counted)})"
    becomes = f"{decibel(first.counted)} dB ({verdict(first.counted)})"
    if first.change > -_NOTICED_DB:
        return (
            f"No other cable makes a difference that is noticed: as {named}, {counted}"
            f"{cable_name(first)} would bring the worst treble loss from {was} to {becomes}."
        )
    return (
        f"The best change is {cable_name(first)} as {named}: {counted}the worst treble loss falls "
        f"from {was} to {becomes}."
    )


def _order(change: float) -> float:
    return change if math.isfinite(change) else 0.0


def _heading(report: RoleReport) -> str:
    role = report.role
    lead = " (the instrument's own lead)" if role.only_lead else ""
    lead = " (with the instrument's own lead)" if any(role.leads) and not lead else lead
    return (
        f"As '{plain(role.name, 30)}'{lead}, {_amount(role)}; in the worst of all states, "
        "the least lost first:"
    )


def _amount(role: Role) -> str:
    return f"{length_text(sum(role.lengths))} in {count(len(role.lengths), 'piece')}"


def _state(choice: CableTrial, which: str | int) -> StateReport:
    return choice.worst if isinstance(which, str) else choice.scenes[which]


def _table(report: RoleReport, which: str | int) -> Table:
    with_lead = which == "worst" and report.now.with_lead is not None
    columns = ["Cable", "pF/m", "Treble", "", "Corner", "Resonance"]
    columns += ["+lead"] if with_lead else []
    columns += ["Change", " "] if which == "worst" else [" "]
    made = table(columns, names=("Cable",), words=("", " "))
    for choice in report.choices:
        state = _state(choice, which)
        cells = [
            cable_name(choice),
            picofarads(choice),
            decibel(state.treble_loss),
            state.verdict,
            short_hertz(state.corner),
            peak(state.resonance),
        ]
        cells += [decibel(choice.counted)] if with_lead else []
        cells += [_change(choice)] if which == "worst" else []
        row(made, *cells, NOW if choice.now else "")
    return made


def _change(choice: CableTrial) -> str:
    return "" if choice.now else signed(choice.change)


def _scene_table(report: RoleReport) -> Table:
    scenes = report.now.scenes[:_MOST_SCENES]
    room = _SCENE_ROOM // len(scenes) - 1
    headings = [plain(scene.state.title, room) for scene in scenes]
    # Two short names that look alike still are two columns.
    headings = [h if headings.count(h) == 1 else f"{h[:8]} {i}" for i, h in enumerate(headings, 1)]
    more = len(report.now.scenes) - len(scenes)
    made = table(["Cable", *headings, " "], names=("Cable",), words=(" ",))
    for choice in report.choices:
        losses = [decibel(scene.treble_loss) for scene in choice.scenes[:_MOST_SCENES]]
        row(made, cable_name(choice), *losses, NOW if choice.now else "")
    if more:
        made.caption = f"{count(more, 'more scene')} with --scenes or --json"
    return made


def _to_buy(report: RoleReport) -> str:
    role, now = report.role, report.now
    sizes = ", ".join(
        f"{number} × {length_text(length)}" for length, number in Counter(role.lengths).items()
    )
    total = f"{length_text(sum(role.lengths))} in all."
    text = f"  '{plain(role.name, 24)}': {cable_name(now)}, {sizes}, {total}"
    if report.better is not None:
        text += f" Better: {cable_name(report.better)} ({signed(report.better.change)} dB)."
    if report.cheaper is not None:
        changed = f"{cable_name(report.cheaper)} ({signed(report.cheaper.change)} dB)"
        text += f" Cheaper cable often has more pF/m: {changed}."
    return text


def as_json(report: CablesReport) -> str:
    """Return the report as one JSON document; plain numbers in SI units, null for none."""
    question = report.question
    values = {
        "board": question.board.name,
        "reference": question.basis.reference,
        "band_hz": list(question.basis.band),
        "limit_db": question.limit,
        "roles": [_role_document(role) for role in report.roles],
        "unused": list(report.unused),
    }
    return json_document(values)


def _role_document(report: RoleReport) -> dict[str, Any]:
    role = report.role
    return {
        "role": role.name,
        "cable_now": report.now.candidate.name,
        "pieces": len(role.lengths),
        "lengths_m": list(role.lengths),
        "total_m": sum(role.lengths),
        "instrument_lead": [n for n, lead in enumerate(role.leads) if lead],
        "better": _step(report.better),
        "cheaper": _step(report.cheaper),
        "cables": [_choice_document(role, choice) for choice in report.choices],
    }


def _step(choice: CableTrial | None) -> dict[str, Any] | None:
    if choice is None:
        return None
    return {"cable": choice.candidate.name, "change_db": finite(choice.change)}


def _choice_document(role: Role, choice: CableTrial) -> dict[str, Any]:
    candidate = choice.candidate
    return {
        "cable": candidate.name,
        "from": "library" if candidate.in_library else "file",
        "names_in_file": list(candidate.in_file),
        "now": choice.now,
        "capacitance_f_per_m": float(candidate.spec.capacitance),
        "treble_loss_db": finite(choice.worst.treble_loss),
        "treble_loss_with_lead_db": finite(choice.with_lead),
        "change_db": finite(choice.change),
        "worst": state_values(choice.worst),
        "worst_proven": choice.proven,
        "scenes": [state_values(scene) for scene in choice.scenes],
        "limit": None if choice.limit is None else limit_document(role, choice.limit),
    }

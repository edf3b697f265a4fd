"""The cables of a board as a document and as JSON."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any, Final

from sigsim.metrics import verdict
from sigsim.show import kinds
from sigsim.show.cable_limits import (
    CABLE,
    NOW,
    PER_METRE,
    cable_name,
    limit_sentence,
    limit_tables,
    limit_values,
    now,
)
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.kinds import BLANK
from sigsim.show.lengths import length_text, sum_of
from sigsim.show.loss import NUMBERS, UNPROVEN, asked, numbers, state_values
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.text import count, decibel, plain, signed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.decide.cables.limit import Role
    from sigsim.decide.cables.report import CablesReport, CableTrial, RoleReport
    from sigsim.decide.loss.report import StateReport
    from sigsim.show.document import Block, Cell

TITLE: Final = "Which cable?"
_MOST_SCENES: Final = 5
_SCENE_ROOM: Final = 48

_LEAD_NOTE: Final = (
    "+lead: counting the instrument's own lead as well, against no cable at all. 'Treble' and "
    "the scenes are as sigsim loss says it, which measures against the same lead and so does "
    "not count the lead's own part; the order and the change go by +lead."
)
_STATE: Final = (CABLE, PER_METRE, *NUMBERS)
_LEAD: Final = Column("+lead", kinds.LOSS, rank=1)
_CHANGE: Final = Column("Change", kinds.CHANGE)
_BAR: Final = Column("", kinds.BAR, only=("browser",))


def document(report: CablesReport, *, scenes: bool) -> Document:
    """Return the answer: the sentence, a table for each role, and what to buy.

    Parameters
    ----------
    report : from `cables_report`
    scenes : whether each scene has a table of its own
    """
    blocks: list[Block] = [Paragraph((sentence(report),), apart=True)]
    for role in report.roles:
        blocks += _role(role, scenes=scenes)
    if report.question.limit is not None:
        blocks += limit_tables(report)
    lines = ["To buy:", *(_to_buy(role) for role in report.roles)]
    if report.unused:
        names = ", ".join(f"'{plain(name, 30)}'" for name in report.unused)
        lines.append(f"In the file but not in the chain: {names}.")
    if not report.proven:
        lines.append(UNPROVEN)
    return Document(TITLE, (*blocks, Paragraph(tuple(lines))))


def sentence(report: CablesReport) -> str:
    """Return the first sentence: the best single change, or the limit if one was asked for."""
    if report.question.limit is not None:
        return limit_sentence(report)
    if report.silent:
        return "Nothing comes out of this board in any state: is a volume knob at 0?"
    best = report.best
    used, first = best.now, best.choices[0]
    named = f"'{plain(best.role.name, 24)}'"
    counted = "counting the lead itself, " if used.with_lead is not None else ""
    was, becomes = (f"{decibel(c.counted)} dB ({verdict(c.counted)})" for c in (used, first))
    if not best.noticed:
        return (
            f"No other cable makes a difference that is noticed: as {named}, {counted}"
            f"{cable_name(first)} would bring the worst treble loss from {was} to {becomes}."
        )
    return (
        f"The best change is {cable_name(first)} as {named}: {counted}the worst treble loss falls "
        f"from {was} to {becomes}."
    )


def _role(report: RoleReport, *, scenes: bool) -> Iterator[Block]:
    yield _worst_table(report)
    if report.now.with_lead is not None:
        yield Paragraph((_LEAD_NOTE,), quiet=True, apart=True)
    if not report.now.scenes:
        return
    yield _scenes_table(report)
    if (more := len(report.now.scenes) - _MOST_SCENES) > 0:
        yield Paragraph((f"{count(more, 'more scene')} with --scenes or --json",), quiet=True)
    for number, scene in enumerate(report.now.scenes if scenes else ()):
        rows = [(*_state(c, c.scenes[number]), now(c)) for c in report.choices]
        yield Table(f"In the scene '{plain(scene.state.title, 50)}':", (*_STATE, NOW), rows)


def _worst_table(report: RoleReport) -> Table:
    role = report.role
    lead = (_LEAD,) if report.now.with_lead is not None else ()
    rows = []
    for c in report.choices:
        change = BLANK if c.now else c.change
        rows.append((*_state(c, c.worst), *[c.counted for _ in lead], change, now(c), c.counted))
    whose = " (with the instrument's own lead)" if any(role.leads) else ""
    whose = " (the instrument's own lead)" if role.only_lead else whose
    amount = f"{_all_of(role)} in {count(len(role.lengths), 'piece')}"
    last = "in the worst of all states, the least lost first:"
    caption = f"As '{plain(role.name, 30)}'{whose}, {amount}; {last}"
    return Table(caption, (*_STATE, *lead, _CHANGE, NOW, _BAR), rows)


def _state(choice: CableTrial, state: StateReport) -> tuple[Cell, ...]:
    return cable_name(choice), choice.capacitance, *numbers(state)


def _scenes_table(report: RoleReport) -> Table:
    names = [scene.state.title for scene in report.now.scenes[:_MOST_SCENES]]
    short = [plain(name, _SCENE_ROOM // len(names) - 1) for name in names]
    # Two short names that look alike still are two columns.
    headings = [h if short.count(h) == 1 else f"{h[:8]} {i}" for i, h in enumerate(short, 1)]
    columns = [
        Column(h, kinds.LOSS, plain(name, 40)) for h, name in zip(headings, names, strict=True)
    ]
    rows = [
        (cable_name(c), *(scene.treble_loss for scene in c.scenes[:_MOST_SCENES]), now(c))
        for c in report.choices
    ]
    return Table("Treble loss (dB) in the scenes:", (CABLE, *columns, NOW), rows)


def _to_buy(report: RoleReport) -> str:
    role = report.role
    sizes = ", ".join(
        f"{number} × {length_text(length)}" for length, number in Counter(role.lengths).items()
    )
    total = f"{_all_of(role)} in all."
    text = f"  '{plain(role.name, 24)}': {cable_name(report.now)}, {sizes}, {total}"
    if report.better is not None:
        text += f" Better: {_changed(report.better)}."
    if report.cheaper is not None:
        text += f" Cheaper cable often has more pF/m: {_changed(report.cheaper)}."
    return text


def _all_of(role: Role) -> str:
    return length_text(sum_of(Counter(role.lengths).items()))


def _changed(choice: CableTrial) -> str:
    return f"{cable_name(choice)} ({signed(choice.change)} dB)"


def as_json(report: CablesReport) -> str:
    """Return the report as one JSON document; plain numbers in SI units, null for none."""
    question = report.question
    values = {
        **asked(question.board, question.basis),
        "limit_db": question.limit,
        "roles": [_role_values(role) for role in report.roles],
        "unused": list(report.unused),
    }
    return json_document(values)


def _role_values(report: RoleReport) -> dict[str, Any]:
    role = report.role
    return {
        "role": role.name,
        "cable_now": report.now.candidate.name,
        "pieces": len(role.lengths),
        "lengths_m": list(role.lengths),
        "total_m": sum(role.lengths),
        "instrument_lead": [n for n, lead in enumerate(role.leads) if lead],
        "better": _step_values(report.better),
        "cheaper": _step_values(report.cheaper),
        "cables": [_choice_values(role, choice) for choice in report.choices],
    }


def _step_values(choice: CableTrial | None) -> dict[str, Any] | None:
    if choice is None:
        return None
    return {"cable": choice.candidate.name, "change_db": finite(choice.change)}


def _choice_values(role: Role, choice: CableTrial) -> dict[str, Any]:
    candidate = choice.candidate
    return {
        "cable": candidate.name,
        "from": "library" if candidate.in_library else "file",
        "names_in_file": list(candidate.in_file),
        "now": choice.now,
        "capacitance_f_per_m": choice.capacitance,
        "treble_loss_db": finite(choice.worst.treble_loss),
        "treble_loss_with_lead_db": finite(choice.with_lead),
        "change_db": finite(choice.change),
        "worst": state_values(choice.worst),
        "worst_proven": choice.proven,
        "scenes": [state_values(scene) for scene in choice.scenes],
        "limit": None if choice.limit is None else limit_values(role, choice.limit),
    }

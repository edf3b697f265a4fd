"""The cables of a board as a document and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from sigsim.decide.folding import unfolded
from sigsim.metrics import LEVEL_SAID_DB, verdict
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
from sigsim.show.cable_purchases import amount, to_buy
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.ends import at_end, ended, why_silent
from sigsim.show.folds import HINT, and_more, folded_note
from sigsim.show.kinds import BLANK
from sigsim.show.loss import UNPROVEN, asked, louder, state_values
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.text import count, decibel, plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.decide.cables.limit import Role
    from sigsim.decide.cables.report import CablesReport, CableTrial, RoleReport
    from sigsim.decide.folding import Fold
    from sigsim.decide.loss.report import StateReport
    from sigsim.show.document import Block, Cell

TITLE: Final = "Which cable?"
_MOST_SCENES: Final = 5
_SCENE_ROOM: Final = 48

_LEAD_NOTE: Final = (
    "With lead: the instrument's own lead is counted too, against no cable at all. sigsim loss "
    "says it as 'with its lead'; its first figure is against the same lead, and a dull lead would "
    "then seem to lose little."
)
# What is bought for something else, in a narrow column.
_BOUGHT_AS: Final = {"lead": "lead", "patch": "patch", "coiled lead": "coiled"}
_OTHER: Final = "line"
_UNFIT_NOTE: Final = "Marked {marks}: bought for something else, and not in the advice."
_WITH_LEAD: Final = Column("With lead", kinds.LOSS, rank=0)
_TREBLE: Final = Column("Treble", kinds.LOSS, rank=0)
_LEVEL: Final = Column("Louder", kinds.CHANGE, rank=4)
_FIGURES: Final = (
    Column("", kinds.WORD, "In a word", rank=1),
    Column("Corner", kinds.SHORT_HERTZ, rank=5),
    Column("Resonance", kinds.PEAK, rank=6),
)
_CHANGE: Final = Column("Change", kinds.CHANGE)
_BAR: Final = Column("", kinds.BAR, only=("browser",))


def document(
    report: CablesReport, *, scenes: bool, every: bool = False, hint: str = HINT
) -> Document:
    """Return the answer: the sentence, a table for each role, and what to buy.

    Parameters
    ----------
    report : from `cables_report`
    scenes : whether each scene has a table of its own
    every : whether cables that lose nearly the same have a row each
    hint : how to see each, empty where it cannot be asked for
    """
    blocks: list[Block] = [Paragraph((sentence(report),), apart=True)]
    rows = [unfolded(role.choices) if every else role.folds() for role in report.roles]
    for role, folds in zip(report.roles, rows, strict=True):
        blocks += _role(role, folds, scenes=scenes)
    shown = [fold for folds in rows for fold in folds]
    if marks := dict.fromkeys(filter(None, (_unfit(fold.first) for fold in shown))):
        text = _UNFIT_NOTE.format(marks=" or ".join(marks))
        blocks.append(Paragraph((text,), quiet=True, apart=True))
    blocks += folded_note(shown, hint)
    if report.question.limit is not None:
        blocks += limit_tables(report)
    lines = ["To buy:", *(to_buy(role) for role in report.roles)]
    if report.unused:
        names = ", ".join(f"'{plain(name, 30)}'" for name in report.unused)
        lines.append(f"In the file but not in the chain: {names}.")
    if not report.proven:
        lines.append(UNPROVEN)
    return Document(TITLE, (*blocks, Paragraph(tuple(lines))))


def sentence(report: CablesReport) -> str:
    """Return the first sentence: the best single change, or the limit if one was asked for."""
    return at_end(report.question.board, _sentence(report))


def _sentence(report: CablesReport) -> str:
    if report.question.limit is not None:
        return limit_sentence(report)
    if report.silent:
        why = why_silent(report.question.board, ())
        return ended(f"Nothing comes out of this board in any combination: {why}")
    role = report.best
    used, first = role.now, role.best
    named = f"'{plain(role.role.name, 24)}'"
    counted = "counting the lead itself, " if used.with_lead is not None else ""
    was, becomes = (f"{decibel(c.counted)} dB ({verdict(c.counted)})" for c in (used, first))
    level = louder(first.ranked.level_change)
    if role.better is None:
        return (
            f"No other cable loses less than the one now used: as {named}, {counted}"
            f"{cable_name(used)} leaves the worst treble loss at {was}{level}."
        )
    if not role.noticed:
        return (
            f"No other cable makes a difference that is noticed: as {named}, {counted}"
            f"{cable_name(first)} would bring the worst treble loss from {was} to {becomes}{level}."
        )
    return (
        f"The best change is {cable_name(first)} as {named}: {counted}the worst treble loss falls "
        f"from {was} to {becomes}{level}."
    )


def _role(
    report: RoleReport, folds: Sequence[Fold[CableTrial]], *, scenes: bool
) -> Iterator[Block]:
    yield _worst_table(report, folds)
    if report.now.with_lead is not None:
        yield Paragraph((_LEAD_NOTE,), quiet=True, apart=True)
    if not report.now.scenes:
        return
    yield _scenes_table(report, folds)
    if (more := len(report.now.scenes) - _MOST_SCENES) > 0:
        yield Paragraph((f"{count(more, 'more scene')} with --scenes or --json",), quiet=True)
    for number, scene in enumerate(report.now.scenes if scenes else ()):
        states = [(fold, fold.first.scenes[number]) for fold in folds]
        columns = _columns(report, [state for _, state in states])
        rows = [(*_cells(fold, state, columns), _mark(fold.first)) for fold, state in states]
        yield Table(f"In the scene '{plain(scene.state.title, 50)}':", (*columns, NOW), rows)


def _worst_table(report: RoleReport, folds: Sequence[Fold[CableTrial]]) -> Table:
    role = report.role
    columns = _columns(report, [fold.first.ranked for fold in folds])
    rows = []
    for fold in folds:
        c = fold.first
        change = BLANK if c.now else c.change
        rows.append((*_cells(fold, c.ranked, columns), change, _mark(c), c.counted))
    whose = " (with the instrument's own lead)" if any(role.leads) else ""
    whose = " (the instrument's own lead)" if role.only_lead else whose
    pieces = f"{amount(role)} in {count(len(role.lengths), 'piece')}"
    last = "in the worst of all combinations, the least lost first:"
    caption = f"As '{plain(role.name, 30)}'{whose}, {pieces}; {last}"
    return Table(caption, (*columns, _CHANGE, NOW, _BAR), rows)


def _columns(report: RoleReport, states: Sequence[StateReport]) -> tuple[Column, ...]:
    """Return the columns of a role: the one loss that ranks it, and the level where it changes."""
    loss = _TREBLE if report.now.with_lead is None else _WITH_LEAD
    level = any(abs(state.level_change) >= LEVEL_SAID_DB for state in states)
    return (CABLE, PER_METRE, *([_LEVEL] if level else []), loss, *_FIGURES)


def _cells(
    fold: Fold[CableTrial], state: StateReport, columns: Sequence[Column]
) -> tuple[Cell, ...]:
    """Return the cells of one cable in one state."""
    choice = fold.first
    counted = choice.counted if state is choice.ranked else choice.counted_in(state)
    level = [state.level_change] if _LEVEL in columns else []
    word = verdict(counted) or "silent"
    name = cable_name(choice) + and_more(fold)
    return name, choice.capacitance, *level, counted, word, state.corner, state.resonance


def _mark(choice: CableTrial) -> str:
    """Return the mark of the cable now used, and of one that is bought for something else."""
    return now(choice) or _unfit(choice)


def _unfit(choice: CableTrial) -> str:
    if choice.fits or choice.now:
        return ""
    return _BOUGHT_AS.get(choice.candidate.bought_as[0], _OTHER)


def _scenes_table(report: RoleReport, folds: Sequence[Fold[CableTrial]]) -> Table:
    names = [scene.state.title for scene in report.now.scenes[:_MOST_SCENES]]
    short = [plain(name, _SCENE_ROOM // len(names) - 1) for name in names]
    # Two short names that look alike still are two columns.
    headings = [h if short.count(h) == 1 else f"{h[:8]} {i}" for i, h in enumerate(short, 1)]
    columns = [
        Column(h, kinds.LOSS, plain(name, 40)) for h, name in zip(headings, names, strict=True)
    ]
    rows = [
        (
            cable_name(fold.first) + and_more(fold),
            *(fold.first.counted_in(scene) for scene in fold.first.scenes[:_MOST_SCENES]),
            _mark(fold.first),
        )
        for fold in folds
    ]
    counted = "" if report.now.with_lead is None else ", counting the lead itself,"
    return Table(f"Treble loss (dB){counted} in the scenes:", (CABLE, *columns, NOW), rows)


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
    with_lead = report.now.with_lead is not None
    return {
        "role": role.name,
        "bought_as": sorted(role.bought_as),
        "cable_now": report.now.candidate.name,
        "pieces": len(role.lengths),
        "lengths_m": list(role.lengths),
        "total_m": sum(role.lengths),
        "plugs": 2 * len(role.lengths),
        "instrument_lead": [n for n, lead in enumerate(role.leads) if lead],
        "ranked_by": "treble_loss_with_lead_db" if with_lead else "treble_loss_db",
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
        "bought_as": list(candidate.bought_as),
        "sold": list(candidate.sold),
        "advised": choice.fits,
        "capacitance_f_per_m": choice.capacitance,
        "treble_loss_db": finite(choice.worst.treble_loss),
        "treble_loss_with_lead_db": finite(choice.with_lead),
        "change_db": finite(choice.change),
        "worst": state_values(choice.worst),
        "worst_proven": choice.proven,
        "scenes": [state_values(scene) for scene in choice.scenes],
        "limit": None if choice.limit is None else limit_values(role, choice.limit),
    }

"""Orders of boxes in words: the line of names, why one loses less, what one breaks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.quantities import length_text
from sigsim.show.lengths import sum_of
from sigsim.show.render.text import listed, plain

if TYPE_CHECKING:
    from sigsim.decide.order.question import Constraint, Question
    from sigsim.decide.order.reasons import Moved, Reason, Shield
    from sigsim.decide.order.report import Kind
    from sigsim.items.base import Item

ARROW: Final = " → "
_NAME: Final = 30
_FEW: Final = 2
_KINDS: Final[dict[Kind, str]] = {
    "best": "the best",
    "custom": "the best that keeps the custom",
    "one": "the best that moves one box",
    "two": "the best that moves two boxes",
    "listed": "another",
}
# Behind another of them the same again is not said.
_ALSO: Final[dict[Kind, str]] = {
    "custom": "keeps the custom",
    "one": "moves one box",
    "two": "moves two boxes",
}


def arrows(names: Sequence[str]) -> str:
    """Return the names of boxes as one line, in the order in which the signal meets them."""
    return ARROW.join(plain(name, _NAME) for name in names)


def kinds_words(kinds: Sequence[Kind]) -> str:
    """Say what an order is."""
    if not kinds:
        return _KINDS["listed"]
    first, *others = kinds
    # Of two boxes that may move, one may have been enough.
    also = [_ALSO[kind] for kind in others if not (kind == "two" and "one" in kinds)]
    if not also:
        return _KINDS[first]
    if first == "best":
        return f"the best; {' and '.join(also)}"
    return f"{_KINDS[first]} and {' and '.join(also)}"


def reason_words(reason: Reason) -> str:
    """Return in one sentence why an order does what it does."""
    clauses = list(_clauses(reason))
    return "; ".join(clauses) if clauses else "no box has another place"


def _clauses(reason: Reason) -> Iterator[str]:
    few = 0 < len(reason.moved) <= _FEW
    shield = reason.shield
    # What is moved and shields is named once.
    one = shield is not None and few and reason.moved[-1].box == shield.box
    moves = [_moved(moved) for moved in reason.moved] if few else []
    if one and shield is not None:
        moves[-1] += f" and {_shields(shield)}"
    if moves:
        yield " and ".join(moves) if not one else "; ".join(moves)
    if reason.sees_now:
        yield f"{listed(reason.sees_now, most=3)} now {_sees(reason.sees_now)} the pickup"
    elif reason.sees_still:
        yield f"{listed(reason.sees_still, most=3)} still {_sees(reason.sees_still)} the pickup"
    if shield is not None and not one:
        yield f"'{plain(shield.box, _NAME)}' {_shields(shield)}"
    if reason.stretch is not None:
        then, now = (
            length_text(sum_of((piece, 1) for piece in pieces))
            for pieces in (reason.stretch.then, reason.stretch.now)
        )
        yield (
            f"the longest stretch of cable that nothing shields is {then} in its worst "
            f"combination, {now} now"
        )
    elif shield is None and reason.moved and not few:
        yield f"{listed([moved.box for moved in reason.moved], most=4)} have other places"


def _sees(names: Sequence[str]) -> str:
    return "sees" if len(names) == 1 else "see"


def _moved(moved: Moved) -> str:
    where = f"behind '{plain(moved.behind, _NAME)}'" if moved.behind else "to the front"
    return f"'{plain(moved.box, _NAME)}' moves {where}"


def _shields(shield: Shield) -> str:
    what = "everything behind it" if shield.all_behind else f"{listed(shield.kept, most=3)} too"
    return f"now shields {what}"


def broken_words(question: Question, broken: Constraint) -> str:
    """Say what the order of the file breaks."""
    one, other = _named(question, broken)
    if broken.rule == "needs_pickup":
        return f"{one} wants to see the pickup, but {other} stands before it"
    stands = "behind" if broken.rule == "before" else "before"
    return f"{_demanded(question, broken)}, but stands {stands} it"


def demand_words(question: Question, demand: Constraint) -> str:
    """Say what one demand asks of an order."""
    one, other = _named(question, demand)
    if demand.rule == "needs_pickup":
        return f"{one} wants to see the pickup, so {other} must stand behind it"
    return _demanded(question, demand)


def _demanded(question: Question, demand: Constraint) -> str:
    one, _ = _named(question, demand)
    if demand.rule == "fixed":
        return f"{one} says fixed = true, so it stays number {demand.second + 1}"
    said = f'{one} says {demand.rule} = ["{plain(demand.other, _NAME)}"]'
    _, other = _named(question, demand)
    # What is inside a loop stands where the loop does.
    return f"{said}, which is {other}" if other != f"'{plain(demand.other, _NAME)}'" else said


def written_words(demand: Constraint) -> str:
    """Name a demand by what is written at a box."""
    one = f"'{plain(demand.stage, _NAME)}'"
    if demand.rule == "fixed":
        return f"fixed = true at {one}"
    return f'{demand.rule} = ["{plain(demand.other, _NAME)}"] at {one}'


def demand_values(demand: Constraint) -> dict[str, str | None]:
    """Return a demand as plain JSON values."""
    return {"stage": demand.stage, "rule": demand.rule, "other": demand.other or None}


def _named(question: Question, constraint: Constraint) -> tuple[str, str]:
    """Return the stage at which a demand is written and the one it is about, with their loops."""
    first, second = constraint.first, constraint.second
    if constraint.rule == "after":
        first, second = second, first
    one = _in_box(question, constraint.stage, first)
    return one, "" if constraint.rule == "fixed" else _in_box(question, constraint.other, second)


def _in_box(question: Question, stage: str, number: int) -> str:
    name = f"'{plain(stage, _NAME)}'"
    box = question.boxes[number] if number < len(question.boxes) else None
    if box is None or not any(stage in _inside(item) for item in (box.item, *box.hanging)):
        return name
    return f"{name} in '{plain(box.name, _NAME)}'"


def _inside(item: Item) -> Iterator[str]:
    """Yield the names of what is inside a loop or split."""
    for inner in item.inside if isinstance(item, Loop | Split) else ():
        yield inner.label
        yield from _inside(inner)


def contradiction_words(question: Question, demands: Sequence[Constraint]) -> str:
    """Say which demands no order obeys together."""
    *others, last = (demand_words(question, demand) for demand in demands)
    if not others:
        return last
    return f"{'; '.join(others)}; but {last}"

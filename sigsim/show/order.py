"""The best order of the boxes, as a document."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from sigsim.board.state import ALL_OFF_TITLE
from sigsim.decide.order.ranking import EQUAL_DB, LITTLE_DB
from sigsim.decide.order.report import FEWEST_BOXES, LEAST_GAIN_DB
from sigsim.items.base import CUSTOM
from sigsim.metrics import verdict, worth_doing
from sigsim.show.cures import no_pickup
from sigsim.show.document import Document, Items, Paragraph
from sigsim.show.ends import at_end
from sigsim.show.order_stuck import stuck_blocks
from sigsim.show.order_table import laid_out_words, orders_table, ranking_table
from sigsim.show.order_words import (
    arrows,
    broken_words,
    contradiction_words,
    kinds_words,
    reason_words,
)
from sigsim.show.render.text import count, decibel, listed, plain

if TYPE_CHECKING:
    from sigsim.decide.order.question import Found
    from sigsim.decide.order.report import Kind, OrderReport, Proposed
    from sigsim.show.document import Block

TITLE: Final = "In which order?"
_MOST_BROKEN: Final = 5


def sentence(report: OrderReport) -> str:
    """Return the answer in a few sentences; what the order of the file breaks is said first."""
    broken = "" if report.contradiction else _breaks(report)
    said = at_end(report.question.board, f"{broken}{_sentence(report)}")
    if not report.loop:
        return said
    return f"Inside '{plain(report.loop, 30)}': {said[:1].lower()}{said[1:]}"


def _sentence(report: OrderReport) -> str:
    if report.contradiction:
        return "No order obeys all that the file asks."
    found = report.found
    if found is None:
        return _too_few(report)
    now = f"the {worst(report)} treble loss is {_loss(found.now.loss)}"
    best = report.advised
    if best is None:
        return _fine(report, found, now)
    what = "the best" if found.proven else "the best found so far"
    with_buffer = " with a buffer" if report.question.buffer is not None else ""
    obeys = f" that obeys {'it' if len(report.breaks) == 1 else 'them'}" if report.breaks else ""
    return f"{_capital(now)} as it is, {_loss(best.ordered.loss)} in {what}{with_buffer}{obeys}."


def _too_few(report: OrderReport) -> str:
    boxes = len(report.question.boxes)
    where = "in it" if report.loop else "in the chain"
    which = "no box" if not boxes else "one box only"
    return f"There is {which} {where}: an order needs {FEWEST_BOXES}."


def _fine(report: OrderReport, found: Found, now: str) -> str:
    """Say that no other order is worth it, as far as is known."""
    other = "no other order"
    if report.question.buffer is not None:
        other = "neither another order nor a buffer"
    if report.without_place:
        return (
            "A buffer has no place here: it would hide the pickup from what wants to see it, and "
            f"behind the last box no cable follows; as it is, {now}."
        )
    if not report.proposed:
        return f"No order was tried before it was stopped; {now}."
    if math.isnan(found.now.loss):
        return _silent(report)
    if found.now.loss <= LITTLE_DB:
        told = f"The order is fine as it is: {now}, and up to {LITTLE_DB:g} dB all count as equal."
        return told + _more_usual(report, found)
    if found.proven and found.bound <= found.now.loss - LEAST_GAIN_DB:
        gained = f"gains less than {LEAST_GAIN_DB:g} dB"
        return f"No other order is worth it: {now}, and the first in the ranking {gained}."
    least = f"{LEAST_GAIN_DB:g} dB"
    if found.proven or found.bound > found.now.loss - LEAST_GAIN_DB:
        told = f"The order is fine as it is: {now}, and {other} gains {least}."
        return told + _else(report, found) + _more_usual(report, found)
    bound = f"; none is under {decibel(found.bound)} dB" if math.isfinite(found.bound) else ""
    return (
        f"The order is fine as far as was looked: {now}, and {other} was found that gains "
        f"{least}{bound}.{_too(report, found)}"
    )


def _more_usual(report: OrderReport, found: Found) -> str:
    """Return the first of the ranking where all it gains is to be more usual, else nothing."""
    first = report.proposed[0]
    most = max(found.now.loss + EQUAL_DB, LITTLE_DB)
    if first.ordered.custom >= found.now.custom or first.ordered.loss > most:
        return ""
    return (
        f" More usual, and counted as equal: {arrows(first.names)} (--write FILE --pick "
        f"{first.number})."
    )


def _silent(report: OrderReport) -> str:
    """Say that there is no loss to rank by."""
    if report.question.mean:
        return (
            "In one of the scenes nothing comes out, so that there is no mean: --weight SCENE=0 "
            "leaves it out."
        )
    where = "in its scenes" if report.question.views[0].name else "of this board"
    return f"Nothing comes out {where}, so that no order loses more than another."


def _else(report: OrderReport, found: Found) -> str:
    """Return what may help where an order does not, empty where no help is needed."""
    more = _too(report, found)
    return more and f" What it loses no order cures;{more}"


def _too(report: OrderReport, found: Found) -> str:
    """Return what else can be looked for, empty where no help is needed."""
    if report.question.buffer is not None or not worth_doing(found.now.loss):
        return ""
    return " --buffer looks for a place for a buffer too."


def worst(report: OrderReport) -> str:
    """Return what kind of treble loss orders are ranked by."""
    if report.question.mean:
        return "mean"
    return "worst"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _loss(loss: float) -> str:
    if math.isnan(loss):
        return "unknown"
    return f"{decibel(loss)} dB ({verdict(loss)})"


def document(report: OrderReport, *, top: int = 1, hint: str = "") -> Document:
    """Return the answer, the orders that are worth it with their reasons, and what may be swapped.

    Parameters
    ----------
    report : from `order_report`
    top : how many orders of the ranking are listed
    hint : how to see more, empty for nothing
    """
    blocks: list[Block] = []
    best = report.advised
    lines = [sentence(report)]
    if best is not None and not report.contradiction:
        lines.append(arrows(best.names))
        lines.append(_proof(report))
    blocks.append(Paragraph(tuple(lines), apart=True))
    blocks += _notes(report)
    if report.contradiction:
        words = contradiction_words(report.question, report.contradiction)
        blocks.append(Paragraph((f"{words}.",), apart=True))
    elif best is not None:
        blocks += _orders(report, hint)
    elif report.found is not None and report.found.orders[:1] == (report.found.now,):
        blocks += [Paragraph((said,)) for said in _swaps(report)]
    if not report.contradiction and top > 1 and report.found is not None:
        blocks.append(ranking_table(report))
    blocks += stuck_blocks(report)
    return Document(TITLE, tuple(blocks))


def _breaks(report: OrderReport) -> str:
    """Return a sentence about what the order of the file breaks, empty where it is nothing."""
    broken = [broken_words(report.question, one) for one in report.breaks]
    if not broken:
        return ""
    number = len({(one.stage, one.rule) for one in report.breaks})
    rules = "a rule" if number == 1 else f"{number} rules"
    left = len(broken) - _MOST_BROKEN
    more = f"; and {left} more" if left > 0 else ""
    return f"The order of the file breaks {rules}: {'; '.join(broken[:_MOST_BROKEN])}{more}. "


def _proof(report: OrderReport) -> str:
    found = report.found
    assert found is not None
    asked = "order that obeys the file" if report.question.constraints else "order"
    if found.proven:
        also = ""
        if not found.ranking_proven:
            also = " Among equal ones it is the best found so far by custom and fewest turned."
        return f"Proven: no {asked} loses less.{also}"
    stopped = "Stopped. " if report.interrupted else ""
    if not math.isfinite(found.bound):
        return f"{stopped}Not proven: another {asked} may lose less."
    return f"{stopped}Not proven: no {asked} is under {decibel(found.bound)} dB."


def _notes(report: OrderReport) -> Iterator[Paragraph]:
    """Yield what holds for all orders: the scenes, and a demand that is dropped."""
    views, lines = report.question.views, []
    if report.question.mean:
        weights = ", ".join(f"{plain(v.name, 20)} × {v.weight:g}" for v in views)
        lines.append(f"The mean over the scenes: {weights}.")
    elif views[0].name:
        lines.append(f"The worst of the {count(len(views), 'scene')} of the file.")
    if report.dropped:
        lines.append(f"{no_pickup(report.dropped)}: no order is refused for it.")
    lines += laid_out_words(report)
    if lines:
        yield Paragraph(tuple(lines), apart=True)


def _orders(report: OrderReport, hint: str) -> Iterator[Block]:
    shown = [one for one in report.proposed if one.told]
    rows = [(one, kinds_words(_kinds(report, one))) for one in shown]
    yield orders_table(report, "What is worth it", rows)
    reasons = []
    for one in shown:
        way = "" if one is report.advised else f"{arrows(one.names)}: "
        reasons.append(f"{one.number}. {way}{_sentence_of(reason_words(one.reason), way)}.")
    yield Items(tuple(reasons))
    notes = (*_against(report), *_swaps(report), *_noise(report))
    yield Paragraph(("", *notes, *([hint] if hint else [])))


def _against(report: OrderReport) -> Iterator[str]:
    """Yield what the column of the custom counts, and whether the best goes more against it."""
    if not report.has_custom:
        return
    yield f"Custom: how many pairs stand against what is usual ({', '.join(CUSTOM)})."
    found = report.found
    assert found is not None
    if report.proposed[0].ordered.custom > found.now.custom and not any(
        one.told and one.ordered.custom <= found.now.custom for one in report.proposed
    ):
        yield "No order that keeps the custom as the file does is worth it."


def _sentence_of(words: str, before: str) -> str:
    return words if before else _capital(words)


def _kinds(report: OrderReport, one: Proposed) -> list[Kind]:
    """Return what an order is; the custom is left out where there is none for these boxes."""
    assert report.found is not None
    found = [kind for kind in one.kinds if kind != "custom" or report.has_custom]
    keeps = one.ordered.custom <= report.found.now.custom
    if "best" in found and "custom" not in found and report.has_custom and keeps:
        found.insert(1, "custom")
    return found


def _swaps(report: OrderReport) -> Iterator[str]:
    assert report.found is not None
    best = report.proposed[0]
    names = dict(zip(best.ordered.order, best.names, strict=True))
    runs = [listed([names[n] for n in run]) for run in report.found.groups]
    if runs:
        within = f"within {LEAST_GAIN_DB:g} dB"
        if report.question.constraints:
            within += ", as far as the file allows"
        where = "this order" if report.advised is None else "the best order"
        yield f"May be swapped freely in {where} ({within}): {'; '.join(runs)}."


def _noise(report: OrderReport) -> Iterator[str]:
    if not math.isfinite(report.noise) or not any(one.noise for one in report.proposed):
        return
    off = f"'{plain(report.loop, 30)}' in and the rest off" if report.loop else ALL_OFF_TITLE
    yield (
        f"Noise: how much more (+) or less (-) hiss comes out, in dB, A-weighted, with {off}. As "
        f"it is, it lies {decibel(report.noise, 0)} dB under a signal of 100 mV "
        f"({report.noise_word})."
    )

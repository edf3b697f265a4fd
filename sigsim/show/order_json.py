"""The best order of the boxes, as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sigsim.metrics import verdict
from sigsim.show.ends import at_value
from sigsim.show.order_stuck import stuck_values
from sigsim.show.order_words import demand_values, reason_words
from sigsim.show.render.json import finite, json_document

if TYPE_CHECKING:
    from sigsim.decide.order.question import Ordered
    from sigsim.decide.order.report import Kind, OrderReport, Proposed


def as_json(report: OrderReport, written: dict[str, Any] | None) -> str:
    """Return the report as one JSON document; plain numbers, null for none.

    Parameters
    ----------
    report : from `order_report`
    written : what was written where, None where nothing was to be
    """
    question, found = report.question, report.found
    scenes = [{"scene": v.name, "weight": v.weight} for v in question.views if v.name]
    values = {
        "board": question.board.name,
        **at_value(question.board),
        "level": report.loop or None,
        "buffer": None if question.buffer is None else question.buffer.part,
        "ranked_by": scenes or "worst of all states",
        "mean": question.mean,
        "proven": found is not None and found.proven,
        "ranking_proven": found is not None and found.ranking_proven,
        "bound_db": None if found is None else finite(found.bound),
        "tried": 0 if found is None else found.tried,
        "stopped": report.interrupted,
        "advised": report.advised is not None,
        "noise_below_100_mv_db": finite(report.noise),
        "now": None if found is None else _now(report, found.now),
        "orders": [_order(report, one) for one in report.ranking],
        **{key: _of_kind(report, kind) for key, kind in _KINDS.items()},
        "swap_freely": _groups(report),
        "contradiction": [demand_values(demand) for demand in report.contradiction],
        "stuck": stuck_values(report),
        "needs_pickup_dropped": list(report.dropped),
        "written": written,
    }
    return json_document(values)


_KINDS: dict[str, Kind] = {"keeps_custom": "custom", "moves_one": "one", "moves_two": "two"}


def _now(report: OrderReport, now: Ordered) -> dict[str, Any]:
    return {
        "order": list(report.names),
        **_numbers(now),
        "laid_out_db": report.laid_out,
        "breaks": [demand_values(broken) for broken in report.breaks],
    }


def _order(report: OrderReport, one: Proposed) -> dict[str, Any]:
    assert report.found is not None
    return {
        "number": one.number,
        "order": list(one.names),
        **_numbers(one.ordered),
        "laid_out_db": one.laid_out,
        "change_db": finite(one.ordered.loss - report.found.now.loss),
        "noise_change_db": finite(one.noise),
        "reason": reason_words(one.reason),
    }


def _numbers(ordered: Ordered) -> dict[str, Any]:
    return {
        "treble_loss_db": finite(ordered.loss),
        "verdict": verdict(ordered.loss),
        "worst_state": list(ordered.worst),
        "custom": ordered.custom,
        "turned": ordered.turned,
    }


def _of_kind(report: OrderReport, kind: Kind) -> dict[str, Any] | None:
    found = report.of_kind(kind)
    return None if found is None else _order(report, found)


def _groups(report: OrderReport) -> list[list[str]]:
    if report.found is None or not report.proposed:
        return []
    best = report.proposed[0]
    names = dict(zip(best.ordered.order, best.names, strict=True))
    return [[names[number] for number in run] for run in report.found.groups]

"""Where a buffer goes, as JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from sigsim.metrics import verdict
from sigsim.show.cures import remedy_values
from sigsim.show.ends import at_value
from sigsim.show.places import place
from sigsim.show.render.json import finite, json_document

if TYPE_CHECKING:
    from sigsim.decide.buffer.instead import Instead
    from sigsim.decide.buffer.noise import BufferNoise
    from sigsim.decide.buffer.report import BufferReport, Placement
    from sigsim.decide.cures import Remedy


def as_json(
    report: BufferReport,
    instead: Sequence[Instead],
    noise: BufferNoise,
    remedies: Sequence[Remedy],
    written: dict[str, Any] | None,
) -> str:
    """Return the report as one JSON document; plain numbers, null for none.

    Parameters
    ----------
    report : from `buffer_report`
    instead : from `instead_of_buffer`
    noise : of the first placements; null for the others
    remedies : for stages from which the pickup is always hidden
    written : what was written where, None where nothing was to be
    """
    known = [*noise.changes, *[math.nan] * (len(report.placements) - len(noise.changes))]
    first_inside = len(report.placements) + 1
    values = {
        "board": report.board.name,
        **at_value(report.board),
        "part": report.part.part,
        "count": report.count,
        "ranked_by": [{"scene": v.name, "weight": v.weight} for v in report.views if v.name]
        or "worst of all states",
        "now_db": finite(report.now),
        "verdict": verdict(report.now),
        "needed": report.needed,
        "proven": report.proven,
        "own_cost_db": finite(report.own_cost),
        "own_level_db": finite(report.own_level),
        "noise_below_100_mv_db": finite(noise.now),
        "best_by_count_db": {str(n): finite(v) for n, v in sorted(report.best_by_count.items())},
        "placements": [
            _placement(report, rank, rank, placement) | {"noise_change_db": finite(hiss)}
            for rank, (placement, hiss) in enumerate(zip(report.placements, known, strict=True), 1)
        ],
        "inside_loops": [
            {"loop": p.gaps[0].loop, "way": p.gaps[0].way} | _placement(report, rank, number, p)
            for rank, (number, p) in enumerate(enumerate(report.inside, first_inside), 1)
        ],
        "refused": [
            {"gap": g.index, "place": place(g), "because_of": g.forbidden_by}
            for g in report.refused
        ],
        "instead": [
            {
                "kind": c.change,
                "stage": c.stage,
                "place": place(c.gap) if c.gap else None,
                "treble_loss_db": finite(c.loss),
                "change_db": finite(c.loss - report.now),
                "level_change_db": finite(c.level_change),
            }
            for c in instead
        ],
        "hidden_pickups": [remedy_values(remedy) for remedy in remedies],
        "written": written,
    }
    return json_document(values)


def _placement(
    report: BufferReport, rank: int, number: int, placement: Placement
) -> dict[str, Any]:
    return {
        "rank": rank,
        "number": number,
        "gaps": [gap.index for gap in placement.gaps],
        "places": [place(gap) for gap in placement.gaps],
        "treble_loss_db": finite(placement.loss),
        "change_db": finite(placement.loss - report.now),
        "level_change_db": finite(placement.level_change),
        "verdict": verdict(placement.loss),
        "proposed": report.gains(placement),
    }

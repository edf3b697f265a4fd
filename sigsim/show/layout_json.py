"""Where things stand and how long the cables are, as JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from sigsim.metrics import verdict
from sigsim.show.ends import changes_value
from sigsim.show.layout_words import end_name
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.decide.layout.proposal import Proposal
    from sigsim.decide.layout.report import LayoutReport, Run, Standing
    from sigsim.decide.layout.shopping import Stock


def as_json(
    reports: Sequence[LayoutReport],
    bought: Sequence[Stock],
    tried: Sequence[Proposal],
    then: Sequence[Stock] = (),
) -> str:
    """Return the answer as one JSON document: one object for a board, a list of them for several.

    Parameters
    ----------
    reports : one for each board
    bought : what to buy for all of them
    tried : rows that were looked for, one for each board or none
    then : what to buy where the boards are in the rows that are proposed, nothing for none
    """
    proposals: Sequence[Proposal | None] = tried or [None] * len(reports)
    boards = [_board(one, found) for one, found in zip(reports, proposals, strict=True)]
    shopping = [row for stock in bought for row in _bought(stock)]
    lists: dict[str, Any] = {"shopping": shopping}
    if tried:
        lists["shopping_proposed"] = [row for stock in then for row in _bought(stock)] or None
    if len(boards) == 1:
        return json_document({**boards[0], **lists})
    return json_document({"boards": boards, **lists})


def _board(report: LayoutReport, tried: Proposal | None) -> dict[str, Any]:
    worst = report.worst
    loss = None if worst is None else finite(worst.treble_loss)
    standing = report.standing
    return {
        "board": report.board.name,
        **changes_value(report.board),
        "connections": run_values(report),
        "total_run_m": report.total,
        "overlaps": [list(pair) for one in standing for pair in one.overlaps],
        "overhangs": [value for one in standing for value in _overhangs(one)],
        "plugs_face": [value for one in standing for value in _facing(one)],
        "treble_loss_db": loss,
        "verdict": None if loss is None else verdict(loss),
        "worst_state": None if worst is None else list(worst.state.on),
        "layouts": [_layout(one) for one in standing],
        "try": None if tried is None else _try(tried),
    }


def run_values(report: LayoutReport) -> list[dict[str, Any]]:
    """Return every cable with its run and length as plain JSON values."""
    return [_run(one) for one in report.runs]


def _run(one: Run) -> dict[str, Any]:
    return {
        "number": one.link.number,
        "from": plain(end_name(one.link.connection.begin)),
        "to": plain(end_name(one.link.connection.end)),
        "cable": one.link.cable.cable,
        "run_m": one.run,
        "length_m": None if one.length is None else float(one.length),
        "left_over_m": one.left_over,
        "by_layout": not one.link.from_file,
        "why": one.why or None,
        "too_short_m": one.too_short or None,
        "on_board_m": one.on_board,
        "no_room_for_plug": list(dict.fromkeys(one.tight)),
        "board": one.link.connection.board or None,
    }


def _overhangs(one: Standing) -> Iterator[dict[str, Any]]:
    for over in one.overhangs:
        yield {"box": over.name, "edge": over.edge, "by_m": over.by}


def _facing(one: Standing) -> Iterator[dict[str, Any]]:
    for pair in one.facing:
        yield {"boxes": [pair.one, pair.other], "gap_m": pair.gap}


def _layout(one: Standing) -> dict[str, Any]:
    layout = one.laying.layout
    return {
        "board": one.file or None,
        "loop": one.loop or None,
        "size_m": list(layout.size),
        "rows": [list(row) for row in layout.rows],
        "slack_m": layout.slack,
        "boxes": [
            {"box": name, "x_m": o.x, "y_m": o.y, "width_m": o.width, "depth_m": o.depth}
            for name, o in one.floor.outlines.items()
        ],
    }


def _try(tried: Proposal) -> dict[str, Any]:
    found = tried.now if tried.better is None else tried.better
    standing = found.standing
    loss = None if found.worst is None else finite(found.worst.treble_loss)
    return {
        "rows": None if tried.better is None else [list(row) for row in tried.rows],
        "total_run_m": found.total,
        "treble_loss_db": loss,
        "exact": tried.exact,
        "stopped": tried.stopped,
        "without_length": len(found.lacking),
        "fits": tried.fits,
        "overlaps": [list(pair) for one in standing for pair in one.overlaps],
        "overhangs": [value for one in standing for value in _overhangs(one)],
        "plugs_face": [value for one in standing for value in _facing(one)],
        "no_room_for_plug": list(dict.fromkeys(box for run in found.runs for box in run.tight)),
    }


def _bought(stock: Stock) -> Iterator[dict[str, Any]]:
    pieces = stock.pieces
    common = {"cable": stock.cable, "part": stock.spec.part or None, "boards": list(stock.boards)}
    total = math.fsum(length * number for length, number in pieces.counted)
    for length, number in pieces.counted:
        yield common | {
            "length_m": float(length),
            "count": number,
            "sold": length not in pieces.beyond if stock.sold else None,
            "also_for_m": [float(one) for one, taken in pieces.longer if taken == length],
            "cut_from_m": None if stock.sold else total,
        }
    if stock.lacking:
        yield {**common, "length_m": None, "count": stock.lacking}

"""The wiring sheet as words and tables; files of it are written in `sheet_files`."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from sigsim.metrics import verdict
from sigsim.show.lengths import metres
from sigsim.show.render.text import count, decibel, finite, plain, row, show, table
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.decide.sheet import Connection, Point, Purchase, Run, Sheet

MOST_SCENES: Final = 6
_MARKS: Final = {"on": "ON", "off": "-", "always": "always", "hidden": "on, loop out"}
_POINTS: Final = {
    "instrument": "instrument",
    "stage": "{name}",
    "loop in": "loop {name}: input",
    "loop out": "loop {name}: output",
    "send": "loop {name}: send",
    "return": "loop {name}: return",
    "joint": "joint of two cables",
    "tap": "branch to {name}",
    "far end": "{name} (far end)",
    "destination": "{name}",
}


@dataclass(frozen=True)
class Block:
    """One table of the sheet with what is said about it.

    Attributes
    ----------
    title : its heading
    columns : headings
    rows : of cells
    names : the columns that hold text; all others hold numbers
    notes : sentences below it
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    names: tuple[str, ...]
    notes: tuple[str, ...] = ()


def point(place: Point, longest: int = 60) -> str:
    """Name one end of a connection."""
    return plain(_POINTS[place.kind].format(name=place.name), longest)


def sentence(sheet: Sheet) -> str:
    """Return the first sentence: how much there is to wire, and what it costs."""
    pieces = sum(n for p in sheet.purchases for _, n in p.pieces)
    total = sum(p.total for p in sheet.purchases)
    worst = sheet.losses.worst
    lost = (
        f"at worst it takes {decibel(worst.treble_loss)} dB of treble ({worst.verdict})."
        if worst.verdict != "silent"
        else "no sound comes through it: is a volume knob at 0?"
    )
    return (
        f"{count(len(sheet.connections), 'connection')} with {metres(total)} of cable in "
        f"{count(pieces, 'piece')}; {lost}"
    )


def blocks(sheet: Sheet) -> Iterator[Block]:
    """Yield the tables of the sheet."""
    yield _connections(sheet)
    yield _runs(sheet.runs)
    yield _cutting(sheet.purchases)
    yield from _switching(sheet)


def _inputs_that_see(connections: Sequence[Connection]) -> tuple[list[str], list[str]]:
    """Return the inputs that see the pickup: outside of loops, and inside."""
    found: tuple[dict[str, None], dict[str, None]] = ({}, {})
    depth = 0
    for connection in connections:
        depth += connection.begin.kind == "send"
        if connection.sees_pickup and connection.end.kind in ("stage", "destination"):
            found[depth > 0][point(connection.end, 30)] = None
        depth -= connection.end.kind == "return"
    return list(found[0]), list(found[1])


def _connections(sheet: Sheet) -> Block:
    passive = sheet.board.instrument.has_coil
    see, inside = _inputs_that_see(sheet.connections)
    notes = [
        "C: of this cable with its plugs. C so far: of all cable, plugs and boxes that are off, "
        "from the instrument or the last box that isolates to here, everything off.",
    ]
    if any(c.end.kind == "return" for c in sheet.connections):
        notes.append(
            "Inside a loop these two and Pickup count as if this loop were in, behind it as if out."
        )
    if passive:
        listed = ", ".join(see) or "none"
        notes.append(f"Inputs that see the pickup while everything is off: {listed}.")
        if inside:
            notes.append(f"Inside a loop, once it alone is in, also: {', '.join(inside)}.")
    else:
        notes.append("The instrument is active: no input sees a pickup.")
    notes.append("Before you change a connection, turn down and switch off.")
    return Block(
        "Connections",
        ("No", "From", "To", "Cable", "Length", "Plugs", "C", "C so far", "Pickup"),
        tuple(_connection(c) for c in sheet.connections),
        ("From", "To", "Cable", "Pickup"),
        tuple(notes),
    )


def _connection(c: Connection) -> tuple[str, ...]:
    direct = c.cable is None
    return (
        f"{c.number}",
        point(c.begin, 40),
        point(c.end, 40),
        "no cable" if direct else plain(c.cable or "", 24),
        "" if direct else metres(c.length),
        "" if direct else f"{c.plugs}",
        "" if direct else render(c.capacitance, "F"),
        render(c.so_far, "F"),
        "sees it" if c.sees_pickup else "no",
    )


def _runs(runs: Sequence[Run]) -> Block:
    return Block(
        "What hangs on each source, everything off",
        ("From", "To", "Winding", "Cables", "Boxes", "Input", "Together"),
        tuple(
            (
                *(point(end, 40) for end in (r.begin, r.end)),
                *(render(c, "F") for c in (r.winding, r.cables, r.boxes, r.input, r.total)),
            )
            for r in runs
        ),
        ("From", "To"),
    )


def _cutting(purchases: Sequence[Purchase]) -> Block:
    rows: list[tuple[str, ...]] = []
    for p in purchases:
        for number, (length, pieces) in enumerate(p.pieces):
            name = plain(p.cable, 24) if number == 0 else ""
            rows.append((name, f"{pieces}", metres(length), metres(length * pieces), "", ""))
        rows.append((
            f"{plain(p.cable, 24)}, all",
            f"{sum(n for _, n in p.pieces)}",
            "",
            metres(p.total),
            f"{p.plugs}",
            metres(p.with_spare),
        ))  # fmt: skip
    spare = purchases[0].spare if purchases else 0.0
    return Block(
        "To cut and to buy",
        ("Cable", "Pieces", "Length", "Total", "Plugs", f"With {100 * spare:.3g} % spare"),
        tuple(rows),
        ("Cable",),
        tuple(f"{plain(p.cable, 24)}: part {p.part}." for p in purchases if p.part),
    )


def _switching(sheet: Sheet) -> Iterator[Block]:
    scenes = tuple(sheet.board.scenes)
    for start in range(0, len(scenes), MOST_SCENES):
        some = scenes[start : start + MOST_SCENES]
        headings = ("Stage or loop", *(plain(name, 40) for name in some))
        rows = tuple(
            (plain(name, 40), *(_MARKS[positions[scene]] for scene in some))
            for name, positions in sheet.switches.items()
        )
        yield Block("Switched on in each scene", headings, rows, headings)
    if not scenes:
        yield Block("Switched on in each scene", (), (), (), ("The board has no scenes.",))


def print_sheet(sheet: Sheet) -> None:
    """Print the sheet."""
    show(sentence(sheet), "")
    for block in blocks(sheet):
        show(block.title)
        if block.rows:
            made = table(block.columns, names=block.names)
            for cells in block.rows:
                row(made, *cells)
            show(made)
        show(*block.notes)
        if block.notes:
            show("")


def as_json(sheet: Sheet) -> str:
    """Return the sheet as one JSON document; plain numbers in SI units, null for none."""
    worst = sheet.losses.worst
    document = {
        "board": sheet.board.name,
        "connections": [_connection_document(c) for c in sheet.connections],
        "runs": [
            {"from": point(r.begin), "to": point(r.end), "winding_f": r.winding,
             "cables_f": r.cables, "boxes_f": r.boxes, "input_f": r.input, "total_f": r.total}
            for r in sheet.runs
        ],
        "buy": [
            {"cable": p.cable, "part": p.part or None, "plugs": p.plugs, "total_m": p.total,
             "with_spare_m": p.with_spare,
             "pieces": [{"length_m": length, "count": n} for length, n in p.pieces]}
            for p in sheet.purchases
        ],
        "scenes": {
            scene: {name: positions[scene] for name, positions in sheet.switches.items()}
            for scene in sheet.board.scenes
        },
        "worst_treble_loss_db": finite(worst.treble_loss),
        "verdict": verdict(worst.treble_loss),
    }  # fmt: skip
    return json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False)


def _connection_document(c: Connection) -> dict[str, Any]:
    return {
        "number": c.number,
        "from": point(c.begin),
        "to": point(c.end),
        "cable": c.cable,
        "length_m": c.length,
        "plugs": c.plugs,
        "capacitance_f": c.capacitance,
        "so_far_f": c.so_far,
        "sees_pickup": c.sees_pickup,
    }

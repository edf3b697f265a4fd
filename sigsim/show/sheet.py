"""The wiring sheet as a document and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from sigsim.board.inside import boards_inside
from sigsim.board.state import ALL_OFF_TITLE
from sigsim.metrics import verdict
from sigsim.physics.arrays import scalar
from sigsim.quantities import length_text
from sigsim.show import kinds
from sigsim.show.document import Column, Document, Fields, Heading, Paragraph, Room, Table, Total
from sigsim.show.ends import changed, changes_value, placed, where, why_silent
from sigsim.show.kinds import BLANK, Named, Unsaid
from sigsim.show.lengths import sum_of, to_buy
from sigsim.show.measured_days import day_column, measured_table, measured_values
from sigsim.show.points import point
from sigsim.show.power_beside import beside_values
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.text import count, decibel, plain
from sigsim.show.sheet_bought import bought_values, ready_made
from sigsim.show.sheet_cables import board_column, figures, from_where, side_values, to_where
from sigsim.show.sheet_layout import drawings, laid_values, run_blocks
from sigsim.show.sheet_power import power_blocks

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.decide.layout.report import LayoutReport
    from sigsim.decide.purchases import Purchase
    from sigsim.decide.sheet import Connection, Sheet
    from sigsim.decide.sheet_runs import Run
    from sigsim.show.document import Block, Cell, Place, Row

MOST_SCENES: Final = 6
_NOTE_LINES: Final = 8
_CABLE: Final = kinds.names(24, 24, none="no cable")
# The Y of a side cable sits right at the next input: nothing to cut, and nothing to tick off.
_DIRECT: Final = Named("", "", "at the input")
# A split is the output itself, or a Y in it.
_AT_OUTPUT: Final = Named("", "", "at the output")
_END: Final = kinds.names(40, 40)
_CABLE_ALL: Final = ", all"
_YES: Final = kinds.choices({True: ("sees it", "yes"), False: ("no", "no")})
_MARK: Final = kinds.choices(
    {
        "on": ("ON", "on"),
        "off": ("-", "off"),
        "always": ("always", "always"),
        "hidden": ("on, loop out", "hidden"),
    }
)
_CONNECTIONS: Final = (
    Column("Done", kinds.WORD, only=("html",)),
    Column("No", kinds.COUNT, key="number"),
    Column("From", _END, key="from"),
    Column("To", _END, key="to"),
    Column("Cable", _CABLE, key="cable"),
    Column("Length", kinds.LENGTH, key="length_m"),
    Column("Plugs", kinds.COUNT, key="plugs"),
    Column("C", kinds.CAPACITANCE, key="capacitance_f"),
    Column("C so far", kinds.CAPACITANCE, key="so_far_f"),
    Column("Pickup", _YES, key="sees_pickup"),
)
_RUNS: Final = (
    Column("From", _END),
    Column("To", _END),
    Column("Winding", kinds.CAPACITANCE),
    Column("Cables", kinds.CAPACITANCE),
    Column("Boxes", kinds.CAPACITANCE),
    Column("Input", kinds.CAPACITANCE),
    Column("Together", kinds.CAPACITANCE),
)


def sentence(sheet: Sheet) -> str:
    """Return the first sentence: how much there is to wire, and what it costs."""
    pieces = sum(n for p in sheet.purchases for _, n in p.pieces)
    total = sum_of([piece for p in sheet.purchases for piece in p.pieces])
    worst = sheet.losses.worst
    lost = (
        f"at worst it takes {decibel(worst.treble_loss)} dB of treble ({worst.verdict})"
        if not worst.silent
        else f"no sound comes through it: {why_silent(sheet.board, ())}"
    )
    for other in sheet.others:
        there = other.worst
        loss = f"{decibel(there.treble_loss)} dB ({there.verdict})"
        lost += f", {where(other.board)} {'nothing comes out' if there.silent else loss}"
    return placed(
        changed(sheet.board),
        f"{count(len(sheet.connections), 'connection')} with {length_text(total)} of cable in "
        f"{count(pieces, 'piece')}; {lost}{'' if lost.endswith('?') else '.'}",
    )


def document(sheet: Sheet, laid: LayoutReport | None = None) -> Document:
    """Return the sheet, with room to write on where it is printed.

    Parameters
    ----------
    sheet : from `decide.sheet`
    laid : where its boxes stand, None where no layout says so
    """
    fields = Fields(("Date", "Wired by", "Checked by"))
    blocks: list[Block] = [Paragraph((sentence(sheet),), apart=True), fields]
    blocks += drawings(laid)
    blocks.append(_wired(sheet.connections))
    blocks += [_notes(sheet), *run_blocks(laid), _runs(sheet.runs)]
    blocks += _cutting(sheet.purchases)
    blocks += [*measured_table(sheet), *_switching(sheet), *power_blocks(sheet.power)]
    blocks += [Room("Notes", _NOTE_LINES)]
    return Document("Wiring sheet", tuple(blocks), sheet.board.name)


def _wired(connections: Sequence[Connection]) -> Table:
    days = day_column([c.measured for c in connections])
    boards = board_column([c.board for c in connections])
    rows = [
        (*_connection(c), *([c.board] if boards else []), *([c.measured] if days else []))
        for c in connections
    ]
    return Table("Connections", (*_CONNECTIONS, *boards, *days), rows)


def _inputs_that_see(connections: Sequence[Connection]) -> tuple[list[str], list[str]]:
    """Return the inputs that see the pickup: outside of loops, and inside."""
    found: tuple[dict[str, None], dict[str, None]] = ({}, {})
    depth = 0
    for connection in connections:
        depth += connection.begin.at == "send"
        if connection.sees_pickup and connection.end.at in ("stage", "destination"):
            found[depth > 0][plain(point(connection.end), 30)] = None
        depth -= connection.end.at == "return"
    return list(found[0]), list(found[1])


def _notes(sheet: Sheet) -> Paragraph:
    passive = sheet.board.instrument.has_coil
    see, inside = _inputs_that_see(sheet.connections)
    notes = [
        "C: of this cable with its plugs. C so far: of all cable, plugs and boxes that are off, "
        f"from the instrument or the last box that isolates to here, with {ALL_OFF_TITLE}."
    ]
    if any(c.end.at == "return" for c in sheet.connections):
        notes.append(
            "Inside a loop these two and Pickup count as if this loop were in, behind it as if out."
        )
    if any(c.end.at == "tap" for c in sheet.connections):
        notes.append("Y: two plugs on one jack, where a side cable leaves the line.")
    if any(c.begin.at == "split" for c in sheet.connections):
        notes.append(
            "A split: one output, or a Y in it, that feeds two ways. What leads to its own end "
            "comes first, then the chain goes on from it."
        )
    for held in boards_inside(sheet.board.listed):
        inner = f"Between the send of '{plain(held.loop.loop, 30)}' and its return is the board of"
        notes.append(
            f"{inner} {plain(held.file, 40)}; its cables are called {plain(held.cables, 40)}…"
        )
    if passive:
        seen = ", ".join(see) or "none"
        notes.append(f"Inputs that see the pickup with {ALL_OFF_TITLE}: {seen}.")
        if inside:
            notes.append(f"Inside a loop, once it alone is in, also: {', '.join(inside)}.")
    else:
        notes.append("The instrument is active: no input sees a pickup.")
    notes.append("Before you change a connection, turn down and switch off.")
    return Paragraph(tuple(notes), apart=True)


def _connection(c: Connection) -> tuple[Cell, ...]:
    wire: tuple[Cell, ...] = (c.cable, c.length, c.plugs, c.capacitance)
    at_input = c.cable is None and c.begin.at == "tap"
    at_output = c.cable is None and c.end.at == "split"
    if c.cable is None:
        name = _DIRECT if at_input else _AT_OUTPUT if at_output else None
        wire = (name, *(Unsaid(value) for value in wire[1:]))
    done = BLANK if at_input or at_output else "☐"
    ends = from_where(c, point(c.begin)), to_where(c, point(c.end))
    return (done, c.number, *ends, *wire, c.so_far, c.sees_pickup)


def _runs(runs: Sequence[Run]) -> Table:
    rows = [
        (point(r.begin), point(r.end), r.winding, r.cables, r.boxes, r.input, r.total) for r in runs
    ]
    return Table(f"What hangs on each source, {ALL_OFF_TITLE}", _RUNS, rows)


def _cutting(purchases: Sequence[Purchase]) -> Iterator[Block]:
    spare = purchases[0].spare if purchases else 0.0
    columns = (
        Column("Cable", _CABLE, key="cable", once=True),
        Column("Part", kinds.NAME, key="part", only=("csv",)),
        Column("Pieces", kinds.COUNT, key="pieces"),
        Column("Length", kinds.LENGTH, key="length_m"),
        Column("Total", kinds.LENGTH, key="total_m"),
        Column("Plugs", kinds.COUNT),
        Column(f"With {100 * spare:.3g} % spare", kinds.LENGTH, key="with_spare_m"),
        Column("C", kinds.CAPACITANCE, key="capacitance_f_per_m", only=("csv",)),
        *(boards := board_column([purchase.board for purchase in purchases])),
        *(days := day_column([purchase.spec.measured for purchase in purchases])),
    )
    said = {"board": bool(boards), "day": bool(days)}
    rows = [row for purchase in purchases for row in _bought(purchase, **said)]
    yield Table("To cut and to buy", columns, rows)
    if purchases:
        yield Paragraph(tuple(map(figures, purchases)), apart=True)


def _bought(p: Purchase, *, board: bool, day: bool) -> Iterator[Row]:
    held, measured = [p.board] if board else [], [p.spec.measured] if day else []
    last = (scalar(p.spec.capacitance), *held, *measured)
    if p.spec.sold:
        yield from ready_made(p, last, _CABLE_ALL)
        return
    for length, pieces in p.pieces:
        total = length if pieces == 1 else sum_of([(length, pieces)])
        spared = Unsaid(total * (1 + p.spare))
        yield p.cable, p.part, pieces, length, total, BLANK, spared, *last
    total, many = sum_of(p.pieces), sum(number for _, number in p.pieces)
    bought = to_buy(total, p.spare)
    name = Named(p.cable, after=_CABLE_ALL)
    yield Total((name, p.part, many, BLANK, total, p.plugs, bought, *last))


def _switching(sheet: Sheet) -> Iterator[Block]:
    scenes = tuple(sheet.board.scenes)
    title = "Switched on in each scene"
    # A name that stands at the head of a column has no other kind than its marks.
    columns = [Column(plain(scene, 40), _MARK, key=scene) for scene in scenes]
    stage = Column("Box", _END, key="stage or loop")
    rows = [(name, *positions.values()) for name, positions in sheet.switches.items()]
    if not scenes:
        yield from (Heading(title), Paragraph(("The board has no scenes.",), apart=True))
    only: tuple[Place, ...] = () if scenes else ("csv",)
    yield Table(title, (stage, *columns), rows, most=MOST_SCENES, only=only)


def as_json(sheet: Sheet, laid: LayoutReport | None = None) -> str:
    """Return the sheet as one JSON document; plain numbers in SI units, null for none."""
    worst = sheet.losses.worst
    values = {
        "board": sheet.board.name,
        **changes_value(sheet.board),
        "connections": [_connection_values(c) for c in sheet.connections],
        "laid": laid_values(laid),
        "runs": [_run_values(r) for r in sheet.runs],
        "buy": [_purchase_values(p) for p in sheet.purchases],
        "measured": measured_values(sheet.measured),
        "scenes": {
            scene: {name: positions[scene] for name, positions in sheet.switches.items()}
            for scene in sheet.board.scenes
        },
        "power": beside_values(sheet.power),
        "worst_treble_loss_db": finite(worst.treble_loss),
        "verdict": verdict(worst.treble_loss),
        "other_ends": [
            {
                "at": other.board.at or None,
                "worst_treble_loss_db": finite(other.worst.treble_loss),
                "verdict": verdict(other.worst.treble_loss),
            }
            for other in sheet.others
        ],
    }
    return json_document(values)


def _connection_values(c: Connection) -> dict[str, Any]:
    return {
        "number": c.number,
        "from": plain(point(c.begin)),
        "to": plain(point(c.end)),
        "cable": c.cable,
        "length_m": c.length,
        "by_layout": c.by_layout,
        "plugs": c.plugs,
        "capacitance_f": c.capacitance,
        "so_far_f": c.so_far,
        "sees_pickup": c.sees_pickup,
        "measured": c.measured or None,
        "board": c.board or None,
        **side_values(c),
    }


def _run_values(r: Run) -> dict[str, Any]:
    return {
        "from": plain(point(r.begin)),
        "to": plain(point(r.end)),
        "winding_f": r.winding,
        "cables_f": r.cables,
        "boxes_f": r.boxes,
        "input_f": r.input,
        "total_f": r.total,
    }


def _purchase_values(p: Purchase) -> dict[str, Any]:
    return {
        "cable": p.cable,
        "part": p.part or None,
        "capacitance_f_per_m": scalar(p.spec.capacitance),
        "plug_capacitance_f": scalar(p.spec.plug_capacitance),
        "plugs": p.plugs,
        "measured": p.spec.measured or None,
        "board": p.board or None,
        "total_m": p.total,
        "with_spare_m": p.with_spare,
        "pieces": [{"length_m": length, "count": number} for length, number in p.pieces],
        **bought_values(p),
    }

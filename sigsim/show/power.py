"""What feeds a board as a document and as JSON."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final, NamedTuple

from sigsim.items.feeding import CENTRE_NEGATIVE
from sigsim.show import kinds
from sigsim.show.document import Column, Document, Items, Paragraph, Table
from sigsim.show.ends import changed, placed
from sigsim.show.kinds import Kind
from sigsim.show.power_apart import apart, cautions
from sigsim.show.power_words import (
    amps,
    battery_words,
    boxes_words,
    hours_text,
    joined_words,
    missing_words,
    scenes_words,
    sentence,
    turned_words,
    unknown_words,
    wanted_words,
)
from sigsim.show.render.text import in_the_middle, listed
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.decide.power.report import OutletLoad, PowerReport
    from sigsim.show.document import Block, Cell

TITLE: Final = "What feeds it?"
# What is on where all is; a scene may have this name too.
_EVERYTHING: Final = "everything"


class Amps(NamedTuple):
    """A current [A], perhaps at least or at most so much."""

    value: float
    before: str = ""


_AMPS: Final = Kind(
    lambda v: "not told" if v is None else v.before + amps(v.value), data=lambda v: v and v.value
)
_DRAWS: Final = Kind(lambda v: "not told" if v is None else amps(v))
_VOLTS: Final = Kind(lambda v: render(v, "V"))
_HOURS: Final = Kind(hours_text, data=lambda v: None if v is None else v.low)
# The number of an output stands at the end of its name.
_OUTPUT: Final = Kind(
    lambda v: "none" if v is None else in_the_middle(v, 20),
    wide=lambda v: "none" if v is None else in_the_middle(v, 40),
    right=False,
    wraps=True,
)
_WHO: Final = Kind(
    lambda v: in_the_middle(v, 24), wide=lambda v: in_the_middle(v, 40), right=False, wraps=True
)
_POLARITY: Final = Kind(
    lambda v: v.replace(" negative", " −").replace(" positive", " +"),
    wide=str,
    right=False,
    data=str,
)
# What the sign before a figure says to a person, data say in a word.
_MARKS: Final = Kind(lambda v: v.split(", ")[0] if v != "at most" else "", right=False, data=str)
_PLUG: Final = Column("Centre", _POLARITY, "Polarity", key="polarity")
_OUTPUTS: Final = (
    Column("Output", _OUTPUT, key="output"),
    Column("Volts", _VOLTS, key="voltage_v"),
    _PLUG,
    Column("Gives", _AMPS, key="current_a"),
    Column("Load", _AMPS, key="load_a"),
    Column("Left", _AMPS, key="margin_a"),
    Column("", _MARKS, "Figures", key="figures"),
    Column("Feeds", kinds.PHRASE, key="stages"),
)
_DRAINS: Final = (
    Column("Pedal", _WHO, key="stage"),
    Column("Output", _OUTPUT, key="output"),
    Column("Volts", kinds.WORD, key="voltage"),
    _PLUG,
    Column("Draws", _DRAWS, key="current_a"),
    Column("Off", _DRAWS, key="current_off_a"),
    Column("", kinds.WORD, "Figures", key="figures"),
)
_LASTING: Final = (
    Column("Supply", _WHO, key="supply"),
    Column("On", _WHO, key="state"),
    Column("Lasts", _HOURS, key="hours"),
    Column("", kinds.WORD, "Figures", key="figures"),
)


def document(report: PowerReport) -> Document:
    """Return the answer, the outputs, the pedals, the hours, and the cautions."""
    return Document(TITLE, tuple(blocks(report)), report.board.name)


def blocks(report: PowerReport, *, paper: bool = False) -> Iterator[Block]:
    """Yield what feeds a board, with the cautions last.

    Parameters
    ----------
    report : the answer
    paper : whether it is printed, where no key and no option helps
    """
    first = placed(changed(report.board), sentence(report))
    yield Paragraph((first, *_said(report, paper=paper)), apart=True)
    if report.loads and report.drains:
        yield _table("Outputs", _OUTPUTS, [*map(_output, report.loads)], kept=_odd_plugs(report))
    if report.drains:
        yield _table("Pedals", _DRAINS, list(_pedals(report)), kept=_odd_plugs(report))
    if report.hours and report.drains:
        yield _table("Hours on a battery", _LASTING, list(_lasting(report)))
        told = (*map(battery_words, report.hours), *scenes_words(report, paper=paper))
        yield Paragraph(told, quiet=True)
    yield from _notes(report, paper=paper)
    if report.drains or report.loads:
        yield Items(cautions(report))


def _odd_plugs(report: PowerReport) -> tuple[Column, ...]:
    """Return the column of polarities if not all are the usual one."""
    found = [load.outlet.output.polarity for load in report.loads]
    found += [drain.fed.polarity for drain in report.drains]
    return (_PLUG,) if any(one != CENTRE_NEGATIVE for one in found) else ()


def _table(
    caption: str,
    columns: Sequence[Column],
    rows: Sequence[tuple[Cell, ...]],
    kept: Sequence[Column] = (),
) -> Table:
    """Return a table in which a person sees no column that says nothing; data keep them."""

    def says(column: Column, cells: Sequence[Cell]) -> bool:
        return column is not _PLUG and any(map(column.kind.text, cells))

    shown = [
        column if column in kept or says(column, cells) else replace(column, only=("csv",))
        for column, cells in zip(columns, zip(*rows, strict=True), strict=True)
    ]
    return Table(caption, shown, rows)


def _said(report: PowerReport, *, paper: bool) -> Iterator[str]:
    yield from (missing_words(one) for one in report.missing)
    yield from wanted_words(report)
    yield from unknown_words(report, paper=paper)
    yield from boxes_words(report, paper=paper)
    if not report.proven:
        yield "The search was ended before it was done: this is the best that was found."
    if report.by_clock:
        yield "The time ended it, so that another run may find another."


def _notes(report: PowerReport, *, paper: bool) -> Iterator[Block]:
    notes = [
        *(joined_words(joined) for joined in report.joined),
        *(said for load in report.loads for said in turned_words(load)),
    ]
    if report.own_battery:
        key = "" if paper else " (battery_inside)"
        notes.append(
            f"Feeding themselves{key}, and on no supply: {listed(report.own_battery)}. "
            "How long a battery inside lasts is not told."
        )
    if report.elsewhere:
        files = listed(report.elsewhere, mark="")
        notes.append(f"Fed by supplies of their own, in their own files: {files}.")
    if notes:
        yield Paragraph(tuple(notes), apart=True)


def _output(load: OutletLoad) -> tuple[Cell, ...]:
    output, unknown = load.outlet.output, bool(load.unknown)
    return (
        load.outlet.name,
        load.voltage,
        output.polarity,
        Amps(output.current),
        None if load.all_unknown else Amps(load.load, "≥ " if unknown else ""),
        Amps(load.margin, "≤ " if unknown else ""),
        _mark(guess=load.guessed, at_most=unknown),
        listed([drain.name for drain in load.drains], mark="") or "-",
    )


def _mark(*, guess: bool, at_most: bool = False) -> str:
    return ", ".join(["guess"] * guess + ["at most"] * at_most)


def _pedals(report: PowerReport) -> Iterator[tuple[Cell, ...]]:
    voltage = {d.name: load.voltage for load in report.loads for d in load.drains}
    for drain in report.drains:
        volts = voltage.get(drain.name)
        yield (
            drain.name,
            report.placed[drain.name],
            " or ".join(render(v, "V") for v in ([volts] if volts else drain.fed.voltage)),
            drain.fed.polarity,
            None if drain.draws is None else drain.draws.high,
            kinds.BLANK if drain.off is None else drain.off,
            _mark(guess=drain.guess),
        )


def _lasting(report: PowerReport) -> Iterator[tuple[Cell, ...]]:
    for one in report.hours:
        mark = _mark(guess=one.guess, at_most=bool(one.unknown))
        name = one.supply.name
        yield (name, _EVERYTHING, one.everything, mark)
        for scene, hours in one.scenes.items():
            yield (name, apart(scene, _EVERYTHING, one.scenes), hours, mark)

"""What feeds a board as a document and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

from sigsim.show import kinds
from sigsim.show.document import Column, Document, Items, Paragraph, Table
from sigsim.show.ends import changed, changes_value, placed
from sigsim.show.kinds import Kind
from sigsim.show.power_apart import apart, cautions
from sigsim.show.power_words import (
    amps,
    battery_words,
    hours_text,
    joined_words,
    missing_words,
    sentence,
    turned_words,
    unknown_words,
    wanted_words,
)
from sigsim.show.render.json import json_document
from sigsim.show.render.text import in_the_middle, listed, plain
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.decide.power.hours import Hours
    from sigsim.decide.power.question import Range
    from sigsim.decide.power.report import OutletLoad, PowerReport
    from sigsim.show.document import Block, Row

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
_OUTPUTS: Final = (
    Column("Output", _OUTPUT, key="output"),
    Column("Volts", _VOLTS, key="voltage_v"),
    Column("Gives", _AMPS, key="current_a"),
    Column("Load", _AMPS, key="load_a"),
    Column("Left", _AMPS, key="margin_a"),
    Column("", kinds.WORD, "Figures", key="figures"),
    Column("Feeds", kinds.PHRASE, key="stages"),
)
_DRAINS: Final = (
    Column("Pedal", _WHO, key="stage"),
    Column("Output", _OUTPUT, key="output"),
    Column("Volts", kinds.WORD, key="voltage"),
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


def blocks(report: PowerReport) -> Iterator[Block]:
    """Yield what feeds a board, with the cautions last."""
    first = placed(changed(report.board), sentence(report))
    yield Paragraph((first, *_said(report)), apart=True)
    if report.loads and report.drains:
        yield Table("Outputs", _OUTPUTS, [_output(load) for load in report.loads])
    if report.drains:
        yield Table("Pedals", _DRAINS, list(_pedals(report)))
    if report.hours and report.drains:
        yield Table("Hours on a battery", _LASTING, list(_lasting(report)))
        yield Paragraph(tuple(map(battery_words, report.hours)), quiet=True)
    yield from _notes(report)
    if report.drains or report.loads:
        yield Items(cautions(report))


def _said(report: PowerReport) -> Iterator[str]:
    yield from (missing_words(one) for one in report.missing)
    yield from wanted_words(report)
    yield from unknown_words(report)
    if not report.proven:
        yield "The search was ended before it was done: this is the best that was found."
    if report.by_clock:
        yield "The time ended it, so that another run may find another."


def _notes(report: PowerReport) -> Iterator[Block]:
    notes = [
        *(joined_words(joined) for joined in report.joined),
        *(said for load in report.loads for said in turned_words(load)),
    ]
    if report.own_battery:
        notes.append(
            f"Feeding themselves (battery_inside), and on no supply: {listed(report.own_battery)}. "
            "How long a battery inside lasts is not told."
        )
    if report.elsewhere:
        files = listed(report.elsewhere, mark="")
        notes.append(f"Fed by supplies of their own, in their own files: {files}.")
    if notes:
        yield Paragraph(tuple(notes), apart=True)


def _output(load: OutletLoad) -> Row:
    output, unknown = load.outlet.output, bool(load.unknown)
    return (
        load.outlet.name,
        load.voltage,
        Amps(output.current),
        None if load.all_unknown else Amps(load.load, "≥ " if unknown else ""),
        Amps(load.margin, "≤ " if unknown else ""),
        _mark(guess=load.guessed, at_most=unknown),
        listed([drain.name for drain in load.drains], mark="") or "-",
    )


def _mark(*, guess: bool, at_most: bool = False) -> str:
    return ", ".join(["guess"] * guess + ["at most"] * at_most)


def _pedals(report: PowerReport) -> Iterator[Row]:
    voltage = {d.name: load.voltage for load in report.loads for d in load.drains}
    for drain in report.drains:
        volts = voltage.get(drain.name)
        yield (
            drain.name,
            report.placed[drain.name],
            " or ".join(render(v, "V") for v in ([volts] if volts else drain.fed.voltage)),
            None if drain.draws is None else drain.draws.high,
            kinds.BLANK if drain.off is None else drain.off,
            _mark(guess=drain.guess),
        )


def _lasting(report: PowerReport) -> Iterator[Row]:
    for one in report.hours:
        mark = _mark(guess=one.guess, at_most=bool(one.unknown))
        name = one.supply.name
        yield (name, _EVERYTHING, one.everything, mark)
        for scene, hours in one.scenes.items():
            yield (name, apart(scene, _EVERYTHING, one.scenes), hours, mark)


def as_json(report: PowerReport) -> str:
    """Return what feeds a board as one JSON document; plain numbers in SI units, null for none."""
    return json_document(
        {"board": report.board.name, **changes_value(report.board), **power_values(report)}
    )


def power_values(report: PowerReport) -> dict[str, Any]:
    """Return what feeds a board as plain JSON values."""
    return {
        "guess": report.guess,
        "proven": report.proven,
        "answer": sentence(report),
        "assignment": report.placed,
        "outputs": [_output_values(load) for load in report.loads],
        "stages": [
            {
                "stage": drain.name,
                "output": report.placed[drain.name],
                "voltage_v": list(drain.fed.voltage),
                "polarity": drain.fed.polarity,
                "current_a": None if drain.draws is None else drain.draws.high,
                "current_off_a": drain.off,
                "guess": drain.guess,
            }
            for drain in report.drains
        ],
        "missing": [
            {"stage": one.drain.name, "why": missing_words(one), "obstacle": one.obstacle}
            for one in report.missing
        ],
        "needed": [
            {
                "voltage_v": want.voltage,
                "polarity": want.polarity,
                "current_a": want.current.high,
                "stages": [drain.name for drain in want.drains],
                "unknown_current": list(want.unknown),
                "guess": want.guess,
            }
            for want in report.wanted
        ],
        "unknown_current": list(report.unknown),
        "guessed": list(report.guessed),
        "shared": [
            {
                "output": load.outlet.name,
                "isolated": load.outlet.supply.isolated,
                "stages": [drain.name for drain in load.drains],
            }
            for load in report.shared
        ],
        "loops": [
            {"where": joined.where, "isolated": joined.isolated, "stages": list(joined.names)}
            for joined in report.joined
        ],
        "hours": {one.supply.name: _hours_values(one) for one in report.hours},
        "hours_range": {
            one.supply.name: {
                "all": _range(one.everything),
                "scenes": {scene: _range(hours) for scene, hours in one.scenes.items()},
                "at_most": bool(one.unknown),
                "guess": one.guess,
                "energy_wh": one.energy,
            }
            for one in report.hours
        },
        "battery_inside": list(report.own_battery),
        "fed_elsewhere": [plain(file, 200) for file in report.elsewhere],
        "cautions": list(cautions(report)),
    }


def _output_values(load: OutletLoad) -> dict[str, Any]:
    return {
        "supply": load.outlet.supply.name,
        "output": load.outlet.index + 1,
        "name": load.outlet.name,
        "voltage_v": load.voltage,
        "polarity": load.outlet.output.polarity,
        "current_a": load.outlet.output.current,
        "load_a": None if load.all_unknown else load.load,
        "margin_a": load.margin,
        "stages": [drain.name for drain in load.drains],
        "unknown_current": list(load.unknown),
        "guess": load.guessed,
        "reversed": list(load.turned),
    }


def _hours_values(one: Hours) -> dict[str, float | None]:
    """Return the hours by state, with everything on first."""
    low = {apart(scene, "all", one.scenes): h and h.low for scene, h in one.scenes.items()}
    return {"all": None if one.everything is None else one.everything.low} | low


def _range(hours: Range | None) -> list[float] | None:
    return None if hours is None else list(hours)

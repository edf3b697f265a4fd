"""What feeds a board as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sigsim.show.ends import changes_value
from sigsim.show.power_apart import apart, cautions
from sigsim.show.power_words import missing_words, sentence
from sigsim.show.render.json import json_document
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from sigsim.decide.power.hours import Hours
    from sigsim.decide.power.question import Range
    from sigsim.decide.power.report import OutletLoad, PowerReport


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
        "boxes_without_current": list(report.untold_boxes),
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

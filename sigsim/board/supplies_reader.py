"""Reading `[supplies]`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, Final

from sigsim.board.letters import Names, name_problem
from sigsim.board.supplied import written_problems
from sigsim.errors import Problem, QuantityError, quote
from sigsim.items.supply import OUTPUT_SPECS, Output, Supply, output_name
from sigsim.units import parse

if TYPE_CHECKING:
    from sigsim.board.boxes import Boxes
    from sigsim.board.reading import Reading

MOST_OUTPUTS: Final = 64
MOST_SUPPLIES: Final = 32
_SUCH: Final = 'outputs = [{ current = "300 mA", voltage = "9 V" }]'


def read_supplies(reading: Reading, data: Mapping[str, Any], boxes: Boxes) -> dict[str, Supply]:
    """Return the supplies by name; what is wrong with them, and with what names them, is noted.

    Parameters
    ----------
    reading : where problems go
    data : of the file
    boxes : all that may draw a current in it
    """
    given = data.get("supplies", {})
    read = _supplies(reading, given)
    if not isinstance(given, dict):
        return {}
    reading.problems += written_problems(tuple(boxes.fed()), read)
    return {name: supply for name, supply in read.items() if supply is not None}


def _supplies(reading: Reading, tables: object) -> dict[str, Supply | None]:
    listed = reading.table(tables, "[supplies]") or {}
    if len(listed) > MOST_SUPPLIES:
        what = f"there are at most {MOST_SUPPLIES} supplies"
        reading.fault(what, "[supplies]", str(len(listed)))
        return {}
    names = Names()
    for name in listed:
        problem = name_problem(name, "[supplies]") or names.claimed(name, _place(name))
        reading.problems += [problem] if problem else []
    found = {name: _supply(reading, name, table) for name, table in listed.items()}
    reading.problems += _meaning_two(found)
    return found


def _place(name: object) -> str:
    return f"[supplies.{quote(name).strip(chr(34))}]"


def _supply(reading: Reading, name: str, table: object) -> Supply | None:
    place = _place(name)
    raw = reading.table(table, place)
    if raw is None:
        return None
    outputs = _outputs(reading, raw.pop("outputs", None), place)
    before = len(reading.problems)
    extra = {"name": name, "outputs": outputs or ()}
    made: Supply | None = reading.make(Supply, raw, place, "", extra, tuple(OUTPUT_SPECS))
    if made is not None:
        reading.problems += _battery_problems(made, place, raw)
    return made if outputs and len(reading.problems) == before else None


def _outputs(reading: Reading, given: object, place: str) -> tuple[Output, ...] | None:
    """Return the outputs of a supply, None where something is wrong with one."""
    where = f"{place}, outputs"
    if given is None or given == []:
        reading.fault("this supply has no outputs", place, accepted=_SUCH)
        return None
    if not isinstance(given, list):
        reading.fault("a list of tables is wanted here", where, quote(given), _SUCH)
        return None
    if len(given) > MOST_OUTPUTS:
        reading.fault(f"a supply has at most {MOST_OUTPUTS} outputs", where, str(len(given)))
        return None
    made = [_output(reading, one, f"{place}, output {i}") for i, one in enumerate(given, 1)]
    found = tuple(one for one in made if one is not None)
    return found if len(found) == len(made) else None


def _output(reading: Reading, table: object, place: str) -> Output | None:
    if not isinstance(table, dict):
        reading.fault("a table is wanted here", place, quote(table), _SUCH)
        return None
    raw = reading.table(table, place) or {}
    if _is_nothing(raw.get("current")):
        what = "an output of 0 A feeds nothing"
        accepted = 'what it can give, such as "300 mA"; leave an output out that is not used'
        reading.fault(what, f"{place}, current", quote(raw["current"]), accepted)
        return None
    made: Output | None = reading.make(Output, raw, place)
    return made


def _is_nothing(value: object) -> bool:
    try:
        return value is not None and parse(value, "current").value == 0
    except QuantityError:
        return False


def _battery_problems(supply: Supply, place: str, given: Mapping[str, Any]) -> Iterator[Problem]:
    if supply.battery is None:
        return
    if supply.battery.unit == "Ah" and supply.battery_voltage is None:
        what = "ampere-hours say nothing without the voltage of the battery's cells"
        accepted = 'battery_voltage beside it, such as "3.7 V", or watt-hours such as "37 Wh"'
        yield Problem(what, f"{place}, battery", quote(given["battery"]), accepted)
    if supply.battery.unit == "Wh" and supply.battery_voltage is not None:
        what = "this has no effect: watt-hours say it all"
        accepted = "the line left out, or ampere-hours"
        where = f"{place}, battery_voltage"
        yield Problem(what, where, quote(given["battery_voltage"]), accepted)


def _meaning_two(supplies: Mapping[str, Supply | None]) -> Iterator[Problem]:
    """Yield the names that are an output of one supply and another supply."""
    for name, supply in supplies.items():
        for index in range(0 if supply is None else len(supply.outputs)):
            if (other := output_name(name, index)) in supplies:
                yield Problem(
                    f"this name means two things: output {index + 1} of {quote(name)}, and a "
                    "supply of its own",
                    _place(other),
                    quote(other),
                    "another name for one of the two",
                )

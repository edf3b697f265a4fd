"""Which table of a board file the figures of a recipe belong to, by the name that is given."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from sigsim.board.edit import places
from sigsim.board.inside import board_of_cable, board_of_place, refuse_elsewhere
from sigsim.board.letters import name_problem
from sigsim.board.parts import OURS, Library
from sigsim.errors import SigsimError, UnknownNameError, nearest, quote
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.destination import Destination
from sigsim.items.fields import specs
from sigsim.items.instrument import ActiveInstrument, PassiveInstrument, Pickup
from sigsim.items.loop import Loop
from sigsim.items.needs import PICKUPS
from sigsim.items.passive_stage import Pad, Transformer, VolumePedal
from sigsim.items.split import Split
from sigsim.items.stage import ActiveStage
from sigsim.items.tap import Tap
from sigsim.units import render

if TYPE_CHECKING:
    from sigsim.board.edit_table import Way
    from sigsim.board.model import Board
    from sigsim.items.fields import Declared

INSTRUMENT, DESTINATION = "instrument", "destination"
_MOST_OFFERED: Final = 12


@dataclass(frozen=True)
class Target:
    """A table that figures are written into.

    Attributes
    ----------
    way : to it, from the top of the file
    item : the class that is made of it
    title : what a message calls it
    values : what holds in it now, by key; empty for a new table
    part : the part its figures came from, empty for none
    naming : the keys that a new table needs to be known by
    beside : values of other tables that decide whether a key here is heard
    elsewhere : the keys that belong to another table, each with why
    remarks : sentences for the reader
    library : to which its part belongs
    """

    way: Way
    item: type
    title: str
    values: Mapping[str, Any] = field(default_factory=dict)
    part: str = ""
    naming: Mapping[str, str] = field(default_factory=dict)
    beside: Mapping[str, Any] = field(default_factory=dict)
    elsewhere: Mapping[str, str] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()
    library: Library = OURS


def target(board: Board, data: Mapping[str, Any], name: str, recipe: str) -> Target:
    """Return the table that a recipe's figures belong to.

    Parameters
    ----------
    board : as it was read from a file
    data : the tables of that file
    name : of a cable, a stage or a pickup, "instrument" or "destination"
    recipe : its name

    Raises
    ------
    SigsimError : the board has no such table, or the recipe does not fit it
    """
    if recipe == "cable":
        found = _cable(board, name)
    elif recipe == "pickup":
        found = _pickup(board, data, name)
    else:
        found = _box(board, name, recipe)
    return replace(found, library=board.library)


def _of(thing: Declared, way: Way, title: str, **more: Any) -> Target:
    values = {key: getattr(thing, key) for key in specs(type(thing))}
    given = {key: value for key, value in values.items() if value is not None}
    return Target(way, type(thing), title, given, thing.part, **more)


def _cable(board: Board, name: str) -> Target:
    title = f"[cables.{quote(name).strip(chr(34))}]"
    unused = f"Nothing in the chain is made of {quote(name)} yet: name it there, or in [wiring]."
    refuse_elsewhere(board_of_cable(board, name), quote(name), where="--as")
    if name in board.cables:
        remarks = () if any(board.pieces(name)) else (unused,)
        return _of(board.cables[name], ("cables", name), title, remarks=remarks)
    if name in (INSTRUMENT, DESTINATION) or name in board.item_names():
        raise _unfit(
            name, "a cable's figures belong to a cable", ", ".join(map(quote, board.cables))
        )
    if problem := name_problem(name, ""):
        raise SigsimError(problem.what, where="--as", found=quote(name), accepted=problem.accepted)
    if (near := nearest(name, board.cables)) and not _numbered(name, near):
        raise SigsimError(
            "this board has no cable of this name, and one of nearly the same",
            where="--as",
            found=quote(name),
            accepted=f"{', '.join(map(quote, board.cables))}; or put {title} into the file first",
            nearest=near,
        )
    return Target(("cables", name), CableSpec, f"{title}, which is new", remarks=(unused,))


def _numbered(name: str, other: str) -> bool:
    """Whether two names are of a series: alike but for a number."""
    return [*re.findall(r"\d+", name)] != [*re.findall(r"\d+", other)]


def _pickup(board: Board, data: Mapping[str, Any], name: str) -> Target:
    instrument = board.instrument
    if isinstance(instrument, ActiveInstrument):
        what = "this instrument is active: no pickup of it can be measured at its jack"
        raise SigsimError(
            what, where=f"{board.file}, [instrument]", accepted="output --as instrument"
        )
    pickups = instrument.pickups
    if not pickups:
        if name != INSTRUMENT:
            raise _unfit(name, "a pickup's figures belong to the instrument", INSTRUMENT)
        return _of(instrument, ("instrument",), "[instrument]", beside={PICKUPS: ()})
    if name == INSTRUMENT and len(pickups) > 1:
        names = ", ".join(quote(pickup.name) for pickup in pickups)
        raise _unfit(
            name, "this instrument has several pickups: which of them was measured?", names
        )
    wanted = pickups[0].name if name == INSTRUMENT else name
    for pickup in pickups:
        if pickup.name == wanted:
            return _one_pickup(instrument, pickup, _listed(data, pickups))
    raise UnknownNameError("pickup", name, [pickup.name for pickup in pickups], where="--as")


def _listed(data: Mapping[str, Any], pickups: Sequence[Pickup]) -> list[str]:
    """Return the names of the pickups that the file lists, those without one by what they get."""
    tables = data["instrument"].get(PICKUPS, [])
    alone = pickups[0].name if len(pickups) == 1 else ""
    return [t.get("name", alone or f"pickup {number}") for number, t in enumerate(tables, 1)]


def _one_pickup(instrument: PassiveInstrument, pickup: Pickup, listed: Sequence[str]) -> Target:
    number = listed.index(pickup.name) if pickup.name in listed else len(listed)
    elsewhere: dict[str, str] = {}
    remarks: list[str] = []
    if pickup.volume_track is None and instrument.volume_track is not None:
        elsewhere["volume_track"] = "which belongs to [instrument]"
    if instrument.wiring_capacitance:
        shown = render(float(instrument.wiring_capacitance), "F")
        remarks.append(
            f"[instrument] has a wiring_capacitance of {shown}, which is in what was measured too: "
            "take that line out, or write 0, if it is the same wire."
        )
    return _of(
        pickup,
        ("instrument", PICKUPS, number),
        f"[[instrument.pickups]] {quote(pickup.name)}",
        naming={} if number < len(listed) else {"name": pickup.name},
        beside={"pickups_wiring": instrument.pickups_wiring},
        elsewhere=elsewhere,
        remarks=tuple(remarks),
    )


def _box(board: Board, name: str, recipe: str) -> Target:
    """Return the table of a pedal, a loop, or of an end, whatever the recipe fits."""
    for place, item in places(board):
        if item.label == name and not isinstance(item, Cable):
            refuse_elsewhere(board_of_place(board, place), quote(name), where="--as")
    named = [table for table in _tables(board) if table.name == name]
    fitting = _FITTING[recipe]
    found = [table for table in named if isinstance(table.thing, fitting)]
    if len(found) == 1:
        return _of(found[0].thing, found[0].way, found[0].title)
    if found:
        what = f"{len(found)} tables of this board go by this name"
        raise _unfit(name, what, "a name of its own for each")
    known = [table.name for table in _tables(board) if isinstance(table.thing, fitting)]
    if named:
        raise _unfit(name, f"{_WHY[recipe]}, and this is none", _some(known))
    raise UnknownNameError(_WHAT[recipe], name, known, where="--as")


class _Table(NamedTuple):
    """A table of the file: the name it goes by, what was made of it, where it is."""

    name: str
    thing: Declared
    way: Way
    title: str


def _tables(board: Board) -> Iterator[_Table]:
    """Yield every table whose figures are not a cable's or a pickup's."""
    yield _Table(INSTRUMENT, board.instrument, ("instrument",), "[instrument]")
    for place, item in places(board):
        if isinstance(item, Cable) or board_of_place(board, place) is not None:
            continue
        steps: list[str | int] = ["chain"]
        for number in place:
            steps += [number, "inside"]
        way, called = tuple(steps[:-1]), f"{item.key} {quote(item.label)}"
        if isinstance(item, Split):
            end = f"the destination of {called}"
            yield _Table(item.label, item.destination, (*way, "destination"), end)
        else:
            yield _Table(item.label, item, way, called)
    yield _Table(DESTINATION, board.destination, ("destination",), "[destination]")


_FITTING: Final[Mapping[str, tuple[type, ...]]] = {
    "input": (ActiveStage, Destination, Tap),
    "bypass": (ActiveStage, VolumePedal, Pad, Transformer, Loop),
    "output": (ActiveStage, ActiveInstrument),
}
_WHAT: Final = {
    "input": "stage or destination",
    "bypass": "stage or loop",
    "output": "stage",
}
_WHY: Final = {
    "input": "an input belongs to a powered stage, a destination or a tap",
    "bypass": "a bypass belongs to a stage or a loop",
    "output": "an output belongs to a powered stage or an active instrument",
}


def _some(names: Iterable[str]) -> str:
    """Return the first names as a message offers them."""
    return ", ".join(quote(name) for name in islice(names, _MOST_OFFERED)) or "(there is none)"


def _unfit(name: str, what: str, accepted: str) -> SigsimError:
    return SigsimError(what, where="--as", found=quote(name), accepted=accepted)

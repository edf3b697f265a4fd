"""Reading `[[instrument.pickups]]`, and laying them over the pickups of the instrument's part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sigsim.board.idle import INSTRUMENT
from sigsim.board.reading import Reading, merged_part
from sigsim.errors import nearest, quote
from sigsim.items.instrument import Pickup
from sigsim.items.needs import PICKUPS


def read_pickups(reading: Reading, table: dict[str, Any], part: str) -> tuple[Pickup | None, ...]:
    """Take the pickups out of an instrument's table and return them, None for a wrong one.

    Parameters
    ----------
    reading : where problems go
    table : of a passive instrument, its part's values underneath
    part : the name of that part
    """
    listed = table.pop(PICKUPS, None)
    if listed is None:
        return ()
    untouched = PICKUPS in reading.from_part.get(INSTRUMENT, ())
    if not isinstance(listed, list) or not listed:
        reading.fault("[[instrument.pickups]] tables are wanted", f"{INSTRUMENT}, pickups")
        return ()
    given = reading.library.part(part, ("instrument",)).values if part else {}
    beneath = given.get(PICKUPS, [])
    entries = _Entries(reading, [] if untouched else listed, beneath, table)
    return tuple(entries.over_part() if beneath else entries.alone())


class _Entries:
    """The tables of `[[instrument.pickups]]` in one file.

    Parameters
    ----------
    reading : where problems go
    listed : the tables
    beneath : the pickups of the instrument's part
    whole : the instrument's table
    """

    def __init__(
        self,
        reading: Reading,
        listed: Sequence[object],
        beneath: Sequence[Mapping[str, Any]],
        whole: Mapping[str, Any],
    ) -> None:
        self.reading = reading
        self.beneath = {str(pickup["name"]): pickup for pickup in beneath}
        self.beside = {
            "pickups_wiring": whole.get("pickups_wiring", "parallel"),
            INSTRUMENT: whole,
        }
        self.tables: list[tuple[str, dict[str, Any]]] = []
        for number, entry in enumerate(listed, 1):
            place = f"[[instrument.pickups]] {number}"
            table = reading.table(entry, place)
            if table is not None:
                self.tables.append((place, table))

    def alone(self) -> list[Pickup | None]:
        """Return the pickups where no part has any; several without a name are numbered."""
        if len(self.tables) > 1:
            for number, (_, table) in enumerate(self.tables, 1):
                table.setdefault("name", f"pickup {number}")
        self._refuse_twice()
        return [self._made(place, table, {}) for place, table in self.tables]

    def over_part(self) -> list[Pickup | None]:
        """Return the part's pickups, each with what the file says of the one of its name."""
        named: dict[str, tuple[str, dict[str, Any]]] = {}
        for place, table in self.tables:
            if len(self.beneath) == 1:
                table.setdefault("name", next(iter(self.beneath)))
            if self._is_known(table.get("name"), place):
                named.setdefault(table["name"], (place, table))
        self._refuse_twice()
        made = []
        for name, beneath in self.beneath.items():
            place, table = named.get(name, (f"[[instrument.pickups]] {quote(name)}", {}))
            made.append(self._made(place, table, beneath))
        return made

    def _is_known(self, name: object, place: str) -> bool:
        """Whether the part has a pickup of this name; note it if not."""
        if isinstance(name, str) and name in self.beneath:
            return True
        accepted = f"name = {' or '.join(quote(known) for known in self.beneath)}"
        if name is None:
            what = "the part has several pickups: which of them is meant?"
            self.reading.fault(what, place, "no name", accepted)
        else:
            what, near = "the part has no pickup of this name", nearest(str(name), self.beneath)
            self.reading.fault(what, f"{place}, name", quote(name), accepted, near)
        return False

    def _refuse_twice(self) -> None:
        seen: list[object] = []
        for place, table in self.tables:
            name = table.get("name")
            if name is not None and name in seen:
                where = f"{place}, name"
                what = "two pickups have this name"
                self.reading.fault(what, where, quote(name), "a name of its own")
            seen.append(name)

    def _made(
        self, place: str, table: Mapping[str, Any], beneath: Mapping[str, Any]
    ) -> Pickup | None:
        reading = self.reading
        if INSTRUMENT in reading.unmerged:
            reading.unmerged.add(place)
        values, part = merged_part(reading, table, place, ("pickup",))
        own = frozenset(table) - {"part"}
        reading.from_part[place] = reading.from_part.get(place, frozenset()) | (
            frozenset(beneath) - own
        )
        values = {**beneath, **values}
        made: Pickup | None = reading.make(
            Pickup,
            values,
            place,
            part,
            also=("part",),
            beside=self.beside,
        )
        if "inductance" not in values and place not in reading.unmerged:
            self._no_coil(place, "none")
        elif made is not None and not made.inductance:
            self._no_coil(place, quote(values["inductance"]))
        return made

    def _no_coil(self, place: str, found: str) -> None:
        accepted = 'such as "3.5 H", or a part of kind pickup'
        what = "a pickup has an inductance"
        self.reading.fault(what, f"{place}, inductance", found, accepted)

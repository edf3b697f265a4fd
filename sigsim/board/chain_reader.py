"""Reading `[[chain]]` and what is inside its loops and splits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from sigsim.board.boxes import Boxes
from sigsim.board.claims import Claims
from sigsim.board.letters import name_problem
from sigsim.board.reading import Reading, merged_part
from sigsim.board.standing import Named
from sigsim.board.words import meant_item
from sigsim.errors import nearest, quote
from sigsim.items import passive_stage as _passive_stages  # noqa: F401  registers its kinds
from sigsim.items import stage as _stages  # noqa: F401  registers its kind
from sigsim.items.base import STAGE_KINDS, Item, Stage
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.destination import Destination
from sigsim.items.fields import specs
from sigsim.items.loop import BOARD_SPECS, Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.board.boards_reader import BoardsReader

DEEPEST = 32
MOST_ITEMS = 20_000
# Keys that are read before the rest of a table.
_OF_A_STAGE, _OF_A_TAP = ("kind", "part"), ("cable", "length", "part")

_Reader = Callable[["ChainReader", dict[str, Any], str], Item | None]


class ChainReader:
    """Turns the tables of a chain into items.

    Parameters
    ----------
    reading : where problems go
    cables : the kinds of cable, None for one that could not be read
    boards : reads those inside loops; None where there can be none
    depth : how many loops and splits are around the chain

    Attributes
    ----------
    names : of the stages and loops so far as this file calls them, also of those in which
        something is wrong
    named : what their `before` and `after` name
    branches : what each tap and split so far is, by its name
    boxes : what may stand somewhere in a layout
    incomplete : whether something could not be looked into, so that a name may be missing
    """

    def __init__(
        self,
        reading: Reading,
        cables: Mapping[str, CableSpec | None],
        boards: BoardsReader | None = None,
        depth: int = 0,
    ) -> None:
        self.reading = reading
        self.cables = cables
        self.boards = boards
        self.names: dict[str, None] = {}
        self.named: list[Named] = []
        self.branches: dict[str, str] = {}
        self.boxes = Boxes()
        self.incomplete = False
        self.depth = depth
        self.claims = boards.claims if boards is not None else Claims()

    def chain(self, tables: object) -> tuple[Item, ...]:
        """Return the items of the whole chain in order."""
        if not isinstance(tables, list) or not tables:
            if isinstance(tables, dict):
                self.reading.fault(
                    "the chain is one table only",
                    "[chain]",
                    accepted="[[chain]] with two brackets on each side for every item",
                )
                return ()
            self.reading.fault(
                "the chain is empty", accepted="[[chain]] tables from instrument to destination"
            )
            return ()
        if len(tables) > MOST_ITEMS:
            self.reading.fault(f"a chain has at most {MOST_ITEMS} items", found=str(len(tables)))
            return ()
        return self._items(tables, "chain item")

    def _items(self, tables: list[Any], place: str) -> tuple[Item, ...]:
        items = (self.item(entry, f"{place} {index + 1}") for index, entry in enumerate(tables))
        return tuple(item for item in items if item is not None)

    def item(self, entry: object, place: str) -> Item | None:
        """Return the item of one table, None if anything is wrong with it."""
        table = self.reading.table(entry, place)
        key = None if table is None else self._what(table, place)
        if table is None or key is None:
            self.incomplete = True
            return None
        if key == "cable":
            return self.reading.cable(table, place, self.cables)
        return READERS[key](self, table, f"{place}, {key} {quote(table[key])}")

    def _what(self, table: dict[str, Any], place: str) -> str | None:
        """Return the key that says what an item is, or note that none or several do."""
        key = _key(table)
        if key is None:
            keys = [k for k in table if isinstance(k, str)]
            near = meant_item(keys) or next(
                (n for k in keys if (n := nearest(k, tuple(READERS)))), None
            )
            if isinstance(table.get("destination"), dict):  # which only one kind of item has
                near = "split"
            self.reading.fault(
                "it is not clear what this item is",
                place,
                ", ".join(quote(k) for k in keys) or "an empty table",
                _KINDS,
                near,
            )
            return None
        others = [k for k in READERS if k in table and k != key and (key, k) != ("tap", "cable")]
        if others:
            self.reading.fault(
                "an item is one thing only",
                place,
                f"{key} and {' and '.join(others)}",
                _KINDS,
            )
            return None
        return key

    def stage(self, table: dict[str, Any], place: str) -> Item | None:
        """Make a stage of whatever kind it says."""
        self._box("stage", table, place)
        values, part = merged_part(self.reading, table, place, ("stage",))
        kind = values.pop("kind", "active")
        if not isinstance(kind, str) or kind not in STAGE_KINDS:
            self.reading.fault(
                "this kind of stage is not known",
                place,
                quote(kind),
                ", ".join(f'"{k}"' for k in STAGE_KINDS),
                nearest(str(kind), STAGE_KINDS),
            )
            return None
        if not self.reading.suits(part, place, "kind", kind):
            return None
        before = len(self.reading.problems)
        made: Stage | None = self._made(STAGE_KINDS[kind], values, place, part, also=_OF_A_STAGE)
        self.boxes.note_stage(table, place, made)
        if not part and made is None:
            self.reading.advise_part(table["stage"], before)
        return made

    def loop(self, table: dict[str, Any], place: str) -> Item | None:
        """Make a loop with all that is inside it, or with the board that is."""
        self._box("loop", table, place)
        self.boxes.note_loop(table["loop"], place)
        if self.boards is not None and not BOARD_SPECS.keys().isdisjoint(table):
            extra = self.boards.taken(self, table, place)
        else:
            extra = {"inside": self.inside("loop", table, place)}
        values, part = merged_part(self.reading, table, place, ())
        also = ("inside", *BOARD_SPECS)
        made: Item | None = self._made(Loop, values, place, part, extra, also)
        return made if extra["inside"] else None

    def _made(
        self,
        item: type[Item],
        values: Mapping[str, Any],
        place: str,
        part: str,
        extra: Mapping[str, Any] | None = None,
        also: Sequence[str] = (),
    ) -> Any:
        """Make an item of a name of its own, as the board that holds this one calls it."""
        made = self.reading.make(item, values, place, part, extra, also)
        naming = self.reading.naming
        if made is None or not naming.prefix:
            return made
        others = [key for key, spec in specs(item).items() if spec.kind == "names"]
        called = {key: tuple(map(naming.item, getattr(made, key))) for key in others}
        return replace(made, **called, **{item.key: naming.item(made.label)})

    def inside(self, key: str, table: dict[str, Any], place: str) -> tuple[Item, ...]:
        """Take what is inside a loop or a split out of its table and return its items."""
        inside = table.pop("inside", [] if key == "split" else None)
        if self.depth >= DEEPEST:
            self.incomplete = True
            self.reading.fault(f"loops and splits can be nested {DEEPEST} deep at most", place)
            return ()
        if not isinstance(inside, list) or not (inside or key == "split"):
            self.incomplete = True
            what = f"there is nothing inside this {key}"
            wrong = "" if inside in (None, []) else quote(inside)
            self.reading.fault(
                f"what is inside this {key} is no list of tables" if wrong else what,
                place,
                wrong,
                "[[chain.inside]] tables, with two brackets on each side",
            )
            return ()
        self.depth += 1
        items = self._items(inside, f"inside {key} {quote(table[key])}, item")
        self.depth -= 1
        return items

    def split(self, table: dict[str, Any], place: str) -> Item | None:
        """Make a split with all that is inside it, and its destination."""
        self._branch("split", table, place)
        items = self.inside("split", table, place)
        end = self._end(table, place)
        if (part := table.pop("part", None)) is not None:
            self.reading.fault(
                "a split has no part; its destination has one",
                f"{place}, part",
                quote(part),
                f"destination = {{ part = {quote(part)} }}",
            )
        fields = {"inside": items, "destination": end or _NOWHERE}
        also = ("inside", "destination")
        made: Split | None = self._made(Split, table, place, "", fields, also)
        return made if end else None

    def _end(self, table: dict[str, Any], place: str) -> Destination | None:
        """Take the destination of a split out of its table."""
        where = f"{place}, destination"
        given = table.pop("destination", None)
        slip = next((k for k in table if isinstance(k, str) and nearest(k, ["destination"])), "")
        if given is None:
            table.pop(slip, None)
            self.reading.fault(
                "this split has no destination",
                place,
                quote(slip) if slip else "",
                _ENDS,
                "destination" if slip else None,
            )
            return None
        if not isinstance(given, dict):
            self.reading.fault("a table is wanted here", where, quote(given), _ENDS)
            return None
        self.reading.changed.note(where, given)
        raw = dict(given)
        values, part = merged_part(self.reading, raw, where, ("destination",))
        if isinstance(table["split"], str) and name_problem(table["split"], "") is None:
            values.setdefault("name", self.reading.naming.item(table["split"]))
        made: Destination | None = self.reading.make(
            Destination, values, where, part, also=("part",)
        )
        return made

    def tap(self, table: dict[str, Any], place: str) -> Item | None:
        """Make a tap with its cable."""
        self._branch("tap", table, place)
        values, part = merged_part(self.reading, table, place, ("destination",))
        if part:
            values.pop("name", None)
        cable_values: dict[str, Any] = {
            k: values.pop(k) for k in ("cable", "length") if k in values
        }
        cable = self.reading.cable(cable_values, place, self.cables, far=_FAR)
        laid = {"cable": cable or _PLACEHOLDER}
        made: Tap | None = self._made(Tap, values, place, part, laid, also=_OF_A_TAP)
        return made if cable else None

    def _box(self, key: str, table: Mapping[str, Any], place: str) -> None:
        """Note a stage or a loop, and what it names."""
        name = table[key]
        self._claim(name, place)
        if isinstance(name, str):
            self.names[name] = None
        for side in ("before", "after"):
            if isinstance(given := table.get(side), list):
                texts = [n for n in given if isinstance(n, str) and name_problem(n, "") is None]
                self.named += [Named(str(name), f"{place}, {side}", text) for text in texts]

    def _branch(self, key: str, table: Mapping[str, Any], place: str) -> None:
        """Note a tap or a split."""
        if isinstance(table[key], str):
            self.branches[table[key]] = key
        self._claim(table[key], place)

    def _claim(self, name: object, place: str) -> None:
        """Note a name that no two of the stages, loops, taps and splits may have."""
        if not isinstance(name, str):
            return  # the table's own check says so
        problem = self.claims.claimed(self.reading.naming.item(name), name, place)
        self.reading.problems += [problem] if problem else []


READERS: dict[str, _Reader] = {
    "stage": ChainReader.stage,
    "loop": ChainReader.loop,
    "split": ChainReader.split,
    "tap": ChainReader.tap,
    "cable": ChainReader.tap,  # never called: a cable alone is read by `Reading.cable`
}

_KINDS: Final = f"one of {', '.join(READERS)}"
_ENDS: Final = 'destination = { part = "…" }, or destination = {} for an open end'
_PLACEHOLDER = Cable(cable="", spec=CableSpec(), length=0.0)
_NOWHERE = Destination()
_FAR: Final = "the far end of a tap stands nowhere in [layout]"


def _key(table: object) -> str | None:
    """Return which kind of item a table is, by the key that names it."""
    if not isinstance(table, dict):
        return None
    return next((key for key in READERS if key in table), None)

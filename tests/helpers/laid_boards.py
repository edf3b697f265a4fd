"""Random boards whose cables take their lengths from a layout, and the same with them typed in.

The second is made from plain data: which two places each cable lies between is told here once more,
without the program's own way along the chain. Only how long a way is comes from the program.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from copy import deepcopy
from typing import Any, TypeAlias

from helpers.variants import text
from sigsim.board.laying import Laying
from sigsim.board.reader import parse_board
from sigsim.layout.floor import Floor
from sigsim.layout.model import Socket
from sigsim.layout.sold import taken

Table: TypeAlias = dict[str, Any]

PARTS = ("pedal-true-bypass", "pedal-buffered", "pedal-true-bypass", "buffer-opamp")
PLACING = ("width", "depth", "jacks")


def laid_board(seed: int) -> Table:
    """Return a board with a layout in which every way is free."""
    chance = random.Random(seed)
    names = iter(f"box {number}" for number in range(1, 30))
    chain: list[Table] = [{"cable": "lead", "length": 3.0 + seed % 4}]
    standing: list[str] = []
    boxes: dict[str, Table] = {}
    for number in range(chance.randint(2, 4)):
        if chance.random() < 0.4:
            loops = [f"loop {number}.{k}" for k in range(chance.randint(1, 3))]
            boxes[f"switcher {number}"] = {
                "width": 0.2, "depth": 0.05, "loops": loops, "jacks": _jacks(chance),
            }  # fmt: skip
            standing.append(f"switcher {number}")
            for loop in loops:
                inside = _stages(chance, names, standing, chance.randint(1, 2))
                chain.append({"loop": loop, "inside": _with_cables(chance, inside)})
        else:
            chain += _stages(chance, names, standing, 1)
        chain += _beside(chance, names, standing, number)
    chain = _with_cables(chance, chain)
    chain.append({"cable": "lead", "length": 4.5})
    chance.shuffle(standing)
    half = len(standing) // 2
    sold = {"sold": [0.1, 0.25, 0.5, 1.0, 3.0]} if chance.random() < 0.5 else {}
    wiring = {"length": 0.15} if chance.random() < 0.2 else {}
    return {
        "title": "laid",
        "layout": {
            "size": [2.0, 0.8],
            "rows": [standing[:half], standing[half:]] if half else [standing],
            "gap": 0.05,
            "slack": 0.013,
        },
        "boxes": boxes,
        "instrument": {"part": "guitar-single-coil"},
        "destination": {"part": "valve-amplifier-input"},
        "cables": {
            "lead": {"part": "cable-standard"},
            "patch": {"part": "cable-patch", **sold},
            "other": {"part": "cable-low"},
        },
        "wiring": {"cable": "patch", **wiring},
        "chain": chain,
        "scenes": {"first": [], "one": [standing_stage(chain)]},
    }


def standing_stage(chain: Sequence[Table]) -> str:
    """Return the name of the first stage or loop."""
    return next(str(i.get("stage") or i["loop"]) for i in chain if "stage" in i or "loop" in i)


def _jacks(chance: random.Random) -> str:
    return chance.choice(["right to left", "left to right", "back"])


def _stages(
    chance: random.Random, names: Iterator[str], standing: list[str], count: int
) -> list[Table]:
    made = []
    for _ in range(count):
        name = next(names)
        standing.append(name)
        part = chance.choice(PARTS)
        width, depth = 0.05 + 0.01 * chance.randint(0, 6), 0.08 + 0.01 * chance.randint(0, 5)
        made.append(
            {"stage": name, "part": part, "width": width, "depth": depth, "jacks": _jacks(chance)}
        )
    return made


def _beside(
    chance: random.Random, names: Iterator[str], standing: list[str], number: int
) -> list[Table]:
    """Return what hangs on an output, now and then."""
    if chance.random() < 0.2:
        return [{"tap": f"tap {number}", "cable": "patch", "length": 0.8, "open": True}]
    if chance.random() < 0.2:
        inside = _with_cables(chance, _stages(chance, names, standing, chance.randint(1, 2)))
        end = {"part": "instrument-input", "name": f"end {number}"}
        last = {"cable": "lead", "length": 2.0}
        return [{"split": f"split {number}", "inside": [*inside, last], "destination": end}]
    return []


def _with_cables(chance: random.Random, items: Sequence[Table]) -> list[Table]:
    """Put cables between neighbours now and then: without a length, or with one."""
    made: list[Table] = []
    for item in items:
        boxed = bool(made) and ("stage" in made[-1] or "loop" in made[-1])
        joined = boxed and "loop" in made[-1] and "loop" in item
        if boxed and not joined and "stage" in item and chance.random() < 0.3:
            own = {"length": 0.33} if chance.random() < 0.3 else {}
            made.append({"cable": chance.choice(["patch", "other"]), **own})
        made.append(item)
    return made


def typed_board(board: Table, laying: Laying | None = None) -> Table:
    """Return the board without a layout, with every length typed in; `laying` is of its file."""
    laying = laying or parse_board(text(board)).laying
    assert laying is not None
    made = deepcopy(board)
    chain = _Typed(board, Floor(laying.layout), laying.layout.slack).list(made["chain"])
    for key in ("layout", "boxes", "wiring"):
        made.pop(key, None)
    return made | {"chain": chain}


class _Typed:
    """Types the lengths of a board."""

    def __init__(self, board: Table, floor: Floor, slack: float) -> None:
        self.board, self.floor, self.slack = board, floor, slack

    def list(
        self,
        items: Sequence[Table],
        at: Socket | None = None,
        end: Socket | None = None,
        *,
        plugged: bool = False,
    ) -> list[Table]:
        """Return the items of a chain, or of what is inside something.

        `at` is where they begin and `end` where they end, `plugged` whether something is at `at`.
        """
        made: list[Table] = []
        for number, item in enumerate(items):
            item = {key: value for key, value in item.items() if key not in PLACING}
            if "split" in item:
                item["inside"] = self.list(item["inside"], at, plugged=True)
            elif "tap" not in item and "cable" in item:
                if "length" not in item:
                    item["length"] = self._length(item["cable"], at, _next(items, number, end))
                at, plugged = None, False
            elif "tap" not in item:
                name = str(item.get("stage") or item["loop"])
                made += self._wiring(at, Socket(name, "in"), plugged)
                if "inside" in item:
                    send, back = Socket(name, "send"), Socket(name, "return")
                    item["inside"] = self.list(item["inside"], send, back, plugged=True)
                at, plugged = Socket(name, "out"), True
            made.append(item)
        return made + (self._wiring(at, end, plugged) if end is not None else [])

    def _wiring(self, begin: Socket | None, end: Socket | None, plugged: bool) -> list[Table]:
        if not plugged or self._joined(begin, end):
            return []
        own = self.board["wiring"]
        length = own["length"] if "length" in own else self._length(own["cable"], begin, end)
        return [{"cable": own["cable"], "length": length}]

    def _joined(self, begin: Socket | None, end: Socket | None) -> bool:
        boxes = [{*box["loops"]} for box in self.board.get("boxes", {}).values()]
        ends = {one.name for one in (begin, end) if one is not None and one.side in ("in", "out")}
        return len(ends) == 2 and any(ends <= loops for loops in boxes)

    def _length(self, cable: str, begin: Socket | None, end: Socket | None) -> float:
        assert begin is not None
        assert end is not None
        way = self.floor.way(begin, end)
        assert way is not None
        found = taken(way.length + self.slack, self.board["cables"][cable].get("sold", ()))
        assert found is not None
        return found


def _next(items: Sequence[Table], number: int, end: Socket | None) -> Socket | None:
    for item in items[number + 1 :]:
        if "tap" not in item and "split" not in item:
            return Socket(str(item.get("stage") or item["loop"]), "in")
    return end

"""Random edits of a board, as the page would send them."""

from __future__ import annotations

import random
from typing import Any

from sigsim.board import edit
from sigsim.board.inside import board_of_place
from sigsim.board.model import Board
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.stage import ActiveStage
from sigsim.items.tap import Tap
from sigsim.live.questions.gaps import places_on_line

Edit = dict[str, Any]

PARTS = ("buffer-opamp", "pedal-true-bypass", "fuzz-low-impedance", "volume-pedal-passive")
LENGTHS = ("15 ft", "30 cm", "2.5 m", "0.4 m", "7 in")
WORDS = (
    "length", "length", "patch", "all-lengths", "cable", "cable-part", "insert", "insert", "tap",
    "split", "loop", "take-out", "move", "move", "set", "rename", "part", "scene", "scene-out",
    "scene-name",
    "title", "loop-around", "loop-away", "instrument", "destination",
)  # fmt: skip


class Chance:
    """Draws edits of one board.

    Parameters
    ----------
    draw : of random numbers
    board : that is edited
    """

    def __init__(self, draw: random.Random, board: Board) -> None:
        self.draw, self.board = draw, board
        self.own = [
            (place, item)
            for place, item in edit.places(board)
            if board_of_place(board, place) is None
        ]

    def edit(self, word: str = "") -> Edit | None:
        """Return an edit, None where the board has nothing for the word that was drawn."""
        word = word or self.draw.choice(WORDS)
        made: Edit | None = getattr(self, word.replace("-", "_"))()
        return made

    def _one(self, *kinds: type) -> tuple[Any, Any] | None:
        found = [(place, item) for place, item in self.own if isinstance(item, kinds)]
        return self.draw.choice(found) if found else None

    def _at(self, do: str, *kinds: type, **more: Any) -> Edit | None:
        found = self._one(*kinds)
        return found and {"do": do, "at": {"place": list(found[0])}, **more}

    def length(self) -> Edit | None:
        return self._at("length", Cable, Tap, length=self.draw.choice(LENGTHS))

    def patch(self) -> Edit | None:
        """A length of a patch that stands in no line."""
        gaps = [g.place for g in places_on_line(self.board) if g.place and ":after:" in g.key]
        if not gaps or self.board.wiring is None:
            return None
        at = {"wiring": list(self.draw.choice(gaps))}
        return {"do": "length", "at": at, "length": self.draw.choice(LENGTHS)}

    def all_lengths(self) -> Edit | None:
        return {"do": "all-lengths", "length": self.draw.choice(LENGTHS)}

    def cable(self) -> Edit | None:
        return self._at("cable", Cable, name=self.draw.choice(list(self.board.cables) or ["lead"]))

    def cable_part(self) -> Edit | None:
        name = self.draw.choice(list(self.board.cables) or ["lead"])
        return {"do": "cable-part", "name": name, "part": "cable-low"}

    def insert(self, **more: Any) -> Edit | None:
        gaps = [gap.place for gap in places_on_line(self.board) if gap.place is not None]
        if not gaps:
            return None
        gap = {"place": list(self.draw.choice(gaps))}
        part = {} if "kind" in more else {"part": self.draw.choice(PARTS)}
        return {"do": "insert", "gap": gap, **part, **more}

    def tap(self) -> Edit | None:
        return self.insert(kind="tap")

    def split(self) -> Edit | None:
        return self.insert(kind="split")

    def loop(self) -> Edit | None:
        return self.insert(kind="loop")

    def take_out(self) -> Edit | None:
        return self._at("take-out", object)

    def move(self) -> Edit | None:
        return self._at("move", ActiveStage, Loop, by=self.draw.choice((-2, -1, 1, 1, 3)))

    def set(self) -> Edit | None:
        keys = self.draw.choice(({"bypass": "buffered"}, {"gain": "3 dB"}, {"role": "drive"}))
        return self._at("set", ActiveStage, keys=keys)

    def rename(self) -> Edit | None:
        return self._at("rename", ActiveStage, Loop, Tap, Split, name=self._name())

    def part(self) -> Edit | None:
        return self._at("part", ActiveStage, part=self.draw.choice(PARTS))

    def scene(self) -> Edit | None:
        switches = list(self.board.switches())
        on = self.draw.sample(switches, min(2, len(switches)))
        return {"do": "scene", "name": self._name(), "on": on}

    def scene_out(self) -> Edit | None:
        scenes = list(self.board.scenes)
        return {"do": "scene-out", "name": self.draw.choice(scenes)} if scenes else None

    def scene_name(self) -> Edit | None:
        found = self.scene_out()
        return found and {**found, "do": "scene-name", "to": self._name()}

    def title(self) -> Edit | None:
        return {"do": "title", "name": self._name()}

    def loop_around(self) -> Edit | None:
        return self._at("loop-around", ActiveStage, Loop)

    def loop_away(self) -> Edit | None:
        return self._at("loop-away", Loop)

    def instrument(self) -> Edit | None:
        part = self.draw.choice(("bass-active", "guitar-single-coil"))
        return {"do": "instrument", "part": part}

    def destination(self) -> Edit | None:
        return {"do": "destination", "part": "instrument-input"}

    def _name(self) -> str:
        names = ("dawn", 'a "quoted" name', "<b>bold</b>", "Ünïcode ♫", "a.b", "= 7", "#")
        return f"{self.draw.choice(names)} {self.draw.randrange(1000)}"

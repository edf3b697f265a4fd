"""An edit of a board and the same edit of its file come to the same board, whatever the edit."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from typing import Any

import pytest
from helpers.boards import Table, boards, to_toml
from helpers.program import EXAMPLES
from helpers.thinned import tries
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from sigsim.board import edit, edit_file, reorder, reorder_file
from sigsim.board.chain_reader import ChainReader
from sigsim.board.model import Board
from sigsim.board.reader import parse_board, read_board
from sigsim.board.reading import Reading
from sigsim.board.tables import read_table
from sigsim.decide.buffer.gaps import gaps
from sigsim.errors import SigsimError
from sigsim.items.base import Item
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.needs import idle
from sigsim.items.split import Split
from sigsim.items.tap import Tap

BASS = EXAMPLES / "ferry-bass.toml"
Keys = dict[str, Any]
NO_BOX = (Cable, Tap, Split)

BOXES: tuple[Keys, ...] = (
    {"stage": "new box", "part": "buffer-opamp", "always_on": True},
    {"stage": "new box", "part": "fuzz-low-impedance", "needs_pickup": True},
    {"stage": "new box", "kind": "volume pedal", "track": "250 kΩ ± 20 %", "always_on": False},
    {"loop": "new box", "inside": [{"stage": "new inner", "part": "pedal-true-bypass"}]},
    {
        "split": "new box",
        "inside": [{"stage": "new inner", "part": "pedal-true-bypass"}],
        "destination": {"input_resistance": "1 MΩ ± 5 %", "name": "far amp"},
    },
    {"split": "new box", "destination": {}},
)


def item_of(board: Board, keys: Keys) -> Item:
    reading = Reading()
    item = ChainReader(reading, board.cables).item(keys, "new")
    assert not reading.problems
    assert item is not None
    return item


def lists(board: Board) -> list[tuple[edit.Place, int]]:
    """Return every list of items: the place of its first, and how many there are."""
    groups = [(p, i) for p, i in edit.places(board) if isinstance(i, Loop | Split)]
    inside = [((*p, 0), len(i.inside)) for p, i in groups]
    return [((0,), len(board.listed)), *inside]


def values_of(item: Item, keys: Keys) -> tuple[dict[str, Any], dict[str, float]]:
    """Return keys of a file as values and tolerances; a tap's table holds those of its cable."""
    kinds: list[type] = [Tap, Cable] if isinstance(item, Tap) else [type(item)]
    values: dict[str, Any] = {}
    tolerances: dict[str, float] = {}
    for kind in kinds:
        known = {k: v for k, v in keys.items() if k in kind.__dataclass_fields__}
        if kind is Tap:
            known.pop("cable", None)
        table = read_table(kind, known, "new", partial=True)
        assert not table.problems
        values |= table.values
        tolerances |= table.tolerances
    return values, tolerances


class Change:
    """One edit in both its forms, drawn for a board."""

    def __init__(self, draw: Any, board: Board, number: int) -> None:
        self.board, self.number = board, number
        kinds = ["inserted", "taken_out", "with_values", "reordered"]
        kinds += ["with_cable"] * bool(board.cables)
        self.kind = draw(st.sampled_from(kinds))
        first, count = draw(st.sampled_from(lists(board)))
        if not count:
            self.kind = "inserted"
        room = count if self.kind == "inserted" else count - 1
        self.place = (*first[:-1], draw(st.integers(0, max(room, 0))))
        self.pick = draw(st.integers(0, 99))
        boxes = [i for i in edit.siblings(board, first) if not isinstance(i, NO_BOX)]
        self.order = draw(st.permutations(range(len(boxes))))
        in_split = len(first) > 1 and isinstance(edit.item_at(board, first[:-1]), Split)
        self.is_refused = self.kind == "taken_out" and count == 1 and not in_split

    def both(self, text: str) -> tuple[Board, str]:
        forms: tuple[Board, str] = getattr(self, self.kind)(text)
        return forms

    def inserted(self, text: str) -> tuple[Board, str]:
        roles = list(self.board.cables)
        cables = [{"cable": role, "length": "15 ft"} for role in roles]
        taps = [{"tap": "new tap", "cable": role, "length": 2, "open": True} for role in roles]
        choices = [*BOXES, *cables, *taps]
        keys = dict(choices[self.pick % len(choices)])
        for key in ("stage", "loop", "tap", "split"):
            if key in keys:
                keys[key] = f"{keys[key]} {self.number}"
        for inner in keys.get("inside", []):
            keys["inside"] = [{**inner, "stage": f"inner {self.number}"}]
        item = item_of(self.board, keys)
        new_text = edit_file.inserted(text, self.place, keys, "a remark")
        return edit.inserted(self.board, self.place, item), new_text

    def taken_out(self, text: str) -> tuple[Board, str]:
        return edit.taken_out(self.board, self.place), edit_file.taken_out(text, self.place)

    def with_values(self, text: str) -> tuple[Board, str]:
        item = edit.siblings(self.board, self.place)[self.place[-1]]
        keys: Keys = {"wiring_capacitance": "31 pF ± 10 %"}
        if isinstance(item, Cable | Tap):
            keys = {"length": "7 ft", "cable": list(self.board.cables)[-1]}
        elif isinstance(item, Split):
            keys = {"split": f"renamed {self.number}"}
        elif self.pick % 2 or "wiring_capacitance" in idle(type(item), vars(item), {}):
            keys = {item.key: f"renamed {self.number}"}
        values, tolerances = values_of(item, keys)
        made = edit.with_values(self.board, self.place, values, tolerances)
        return made, edit_file.with_values(text, self.place, keys)

    def reordered(self, text: str) -> tuple[Board, str]:
        level = self.place[:-1]
        made = reorder.reordered(self.board, level, self.order)
        return made, reorder_file.reordered(text, level, self.order)

    def with_cable(self, text: str) -> tuple[Board, str]:
        role = list(self.board.cables)[self.pick % len(self.board.cables)]
        other = parse_board('[instrument]\n[destination]\n[cables.x]\ncapacitance = "70 pF/m"\n'
                            '[[chain]]\ncable = "x"\nlength = 1\n').cables["x"]  # fmt: skip
        keys = {"capacitance": "70 pF/m"}
        made = edit.with_cable(self.board, role, other)
        return made, edit_file.with_cable(text, role, keys)


@settings(max_examples=tries(75, 150))
@seed(111)
@given(boards(), st.data())
def test_edits_at_random_agree_with_the_edited_file_read_anew(
    table: Table, data: st.DataObject
) -> None:
    text = to_toml(table)
    board = parse_board(text)
    for number in range(data.draw(st.integers(1, 4))):
        change = Change(data.draw, board, number)
        if change.is_refused:
            with pytest.raises(SigsimError, match="nothing would be left"):
                edit.taken_out(board, change.place)
            with pytest.raises(SigsimError, match="nothing would be left"):
                edit_file.taken_out(text, change.place)
            continue
        made, text = change.both(text)
        read = parse_board(text)
        assert replace(made, warnings=()) == replace(read, warnings=())
        assert made.switches() == read.switches()
        assert made.ends == read.ends
        for at in made.ends:
            one, other = made.heard_at(at), read.heard_at(at)
            assert one.chain == other.chain
            assert one.end == other.end
            assert [gap.place for gap in gaps(one)] == [gap.place for gap in gaps(other)]
        board = made


SPLIT = """
[instrument]
[destination]
[cables.a]
capacitance = "100 pF/m"
[[chain]]
cable = "a"
length = 1
[[chain]]
# The way to the other amp.
split = "wet"
[[chain.inside]]
stage = "echo"
part = "pedal-true-bypass"
[chain.destination] # at the back of the stage
input_resistance = "1M"
[[chain]]
stage = "drive"
part = "pedal-true-bypass"
[scenes]
both = ["echo", "drive"]
"""


def test_a_split_goes_with_all_that_is_in_it() -> None:
    board = parse_board(SPLIT)
    alone = parse_board(edit_file.taken_out(SPLIT, (1,)))
    assert alone == edit.taken_out(board, (1,))
    assert (alone.ends, alone.scenes) == (("",), {"both": ("drive",)})


@pytest.mark.parametrize("keys", BOXES, ids=lambda keys: next(iter(keys)))
def test_a_split_may_be_emptied_and_filled_again(keys: Keys) -> None:
    text = edit_file.taken_out(SPLIT, (1, 0))
    board = parse_board(text)
    assert board == edit.taken_out(parse_board(SPLIT), (1, 0))
    assert board.scenes == {"both": ("drive",)}
    filled = edit_file.inserted(text, (1, 0), dict(keys))
    assert parse_board(filled) == edit.inserted(board, (1, 0), item_of(board, dict(keys)))
    assert "# The way to the other amp." in filled
    assert "# at the back of the stage" in filled


@pytest.mark.parametrize(("name", "renamed"), [("", "dry"), ("wet", "dry"), ("my amp", "my amp")])
def test_an_end_that_has_no_name_of_its_own_goes_by_its_split(name: str, renamed: str) -> None:
    own = f'name = "{name}"\n' * bool(name)
    text = SPLIT.replace('input_resistance = "1M"\n', f'input_resistance = "1M"\n{own}')
    keys = {"split": "dry"}
    made = edit.with_values(parse_board(text), (1,), keys, {})
    assert made == parse_board(edit_file.with_values(text, (1,), keys))
    assert made.heard_at("dry").end.name == renamed


def test_a_cable_that_is_changed_leaves_the_gaps_where_they_are() -> None:
    board = read_board(BASS)
    spec = board.cables["lead"]
    assert len(gaps(board)) == len(gaps(edit.with_cable(board, "patch", spec))) == 10


def test_the_lead_is_what_comes_first_after_an_edit_too() -> None:
    board = read_board(BASS)
    boxed = edit.inserted(board, (0,), item_of(board, dict(BOXES[0])))
    assert board.lead is not None
    assert boxed.lead is None
    assert edit.taken_out(boxed, (0,)).lead == board.lead


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_comments_stay_with_what_they_are_about(ends: str) -> None:
    text = BASS.read_text(encoding="utf-8").replace("\n", ends)
    before = [line for line in text.splitlines() if line.lstrip().startswith("#")]
    boxed = edit_file.inserted(text, (2,), dict(BOXES[0]), "a remark")
    assert [line for line in boxed.splitlines() if line.lstrip().startswith("#")] == before
    assert boxed.count(ends) == boxed.count("\n")
    assert edit_file.taken_out(boxed, (2,)) == text
    last = len(tomllib.loads(text)["chain"])
    assert edit_file.taken_out(edit_file.inserted(text, (last,), dict(BOXES[0])), (last,)) == text


def test_a_file_of_both_kinds_of_line_ends_keeps_them() -> None:
    text = BASS.read_text(encoding="utf-8").replace("\n", "\r\n", 3)
    boxed = edit_file.inserted(text, (2,), dict(BOXES[0]))
    assert boxed.count("\r\n") == 3
    assert edit_file.taken_out(boxed, (2,)) == text


INLINE = """chain = [ {cable = "a", length = 1}, {stage = "x", part = "pedal-true-bypass"} ] # mine
[instrument]
[destination]
[cables]
a = {capacitance = "100 pF/m"}
[scenes]
s = ["x"]
"""
APART = """[instrument]
[destination]
[cables.a]
capacitance = "100 pF/m"
[[chain]]
cable = "a"
length = 1
[scenes]
s = ["x"]
# The last box.
[[chain]]
stage = "x"
part = "pedal-true-bypass\""""


@pytest.mark.parametrize("text", [INLINE, APART], ids=["inline", "apart"])
@pytest.mark.parametrize("place", [(0,), (1,), (2,)])
def test_other_ways_to_write_a_chain(text: str, place: edit.Place) -> None:
    board = parse_board(text)
    keys = dict(BOXES[0])
    boxed = parse_board(edit_file.inserted(text, place, keys))
    assert boxed == edit.inserted(board, place, item_of(board, keys))
    renamed = parse_board(edit_file.with_values(text, (1,), {"stage": "y"}))
    assert renamed.scenes == {"s": ("y",)}
    alone = parse_board(edit_file.taken_out(text, (1,)))
    assert alone.scenes == {"s": ()}


def test_an_edit_that_does_not_fit_is_refused() -> None:
    board = read_board(BASS)
    with pytest.raises(SigsimError, match="used twice"):
        edit.inserted(board, (1,), board.listed[1])
    with pytest.raises(SigsimError, match="no cable of this name"):
        edit.with_values(board, (0,), {"cable": "leed"}, {})
    only = parse_board(INLINE.replace(', {stage = "x", part = "pedal-true-bypass"}', "").replace(
        '"x"', ""))  # fmt: skip
    with pytest.raises(SigsimError, match="nothing would be left in the chain"):
        edit.taken_out(only, (0,))

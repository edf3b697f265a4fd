"""The things on the line of the page stand where the board file has them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from helpers.boards import boards, to_toml
from helpers.laid_boards import laid_board
from helpers.thinned import tries
from hypothesis import Phase, given, settings

from sigsim.board import edit
from sigsim.board.model import Board
from sigsim.board.parts import OURS
from sigsim.board.reader import parse_board, read_board
from sigsim.items.cable import Cable
from sigsim.items.stage import ActiveStage
from sigsim.items.tap import Tap
from sigsim.show.page.data import board_data
from sigsim.show.page.things import Thing, things

EXAMPLES = Path(__file__).parents[2] / "examples"
NEW = ActiveStage(stage="new box", input_resistance=1e6, output_resistance=100.0)


def plain(made: tuple[Thing, ...]) -> list[dict[str, Any]]:
    return [{**one.about, "inside": plain(one.inside)} for one in made]


def flat(items: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    for item in items:
        yield item
        yield from flat(item.get("inside", []))


def lists(items: list[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    """Yield the chain and what is inside each loop and split, without side ways."""
    yield [item for item in items if item["kind"] not in ("tap", "split")]
    for item in items:
        if "inside" in item:
            yield from lists(item["inside"])


def neighbours(chain: list[dict[str, Any]], key: str) -> tuple[str, str]:
    """Return what stands before and behind a cable or joint, or a box, but for cables."""
    for items in lists(chain):
        keys = [item["key"] for item in items]
        if key in keys:
            at = keys.index(key)
            boxes = [item["key"] if item["kind"] in ("box", "loop") else "" for item in items]
            before = next((box for box in reversed(boxes[:at]) if box), "")
            return before, next((box for box in boxes[at + 1 :] if box), "")
    raise AssertionError(key)


def checked(board: Board) -> None:
    """Check every thing of a board listened at its ends."""
    for end in board.ends:
        heard = board.heard_at(end)
        chain = plain(things(heard))
        found = list(flat(chain))
        keys = [thing["key"] for thing in found]
        assert len(keys) == len(set(keys))
        for thing in found:
            if "at" in thing:
                _stands(heard, thing)
            if "wiring" in thing.get("at", {}) and heard.wiring is not None:
                _keeps_its_key(heard, thing, keys)
        gaps = [thing for thing in found if "gap" in thing]
        places = [tuple(thing["gap"]["place"]) for thing in gaps]
        assert len(places) == len(set(places))
        for thing in gaps:
            _takes(heard, chain, thing)


def _stands(board: Board, thing: dict[str, Any]) -> None:
    if "wiring" in thing["at"] or "lead" in thing["at"]:
        return
    item = edit.item_at(board, tuple(thing["at"]["place"]))
    if thing["kind"] == "cable":
        assert isinstance(item, Cable)
        assert item.lays is not None or thing["length"] == pytest.approx(float(item.length))
        assert thing["cable"] == item.cable
    else:
        assert thing["key"].endswith(f":{item.label}")
        assert isinstance(item, Tap) == (thing["kind"] == "tap")


def _keeps_its_key(board: Board, thing: dict[str, Any], keys: list[str]) -> None:
    """A patch that becomes a line of the file while it is dragged keeps what has the focus."""
    assert board.wiring is not None
    longer = replace(board.wiring, length=1.25, lays=None)
    made = edit.inserted(board, tuple(thing["at"]["wiring"]), longer)
    found = list(flat(plain(things(made))))
    assert [new["key"] for new in found] == keys
    (new,) = (one for one in found if one["key"] == thing["key"])
    assert (new["length"], new["at"]) == (1.25, {"place": thing["at"]["wiring"]})
    assert not new.get("unwritten")


def _takes(board: Board, chain: list[dict[str, Any]], thing: dict[str, Any]) -> None:
    """A box that is put in stands between what the gap lies between."""
    place = tuple(thing["gap"]["place"])
    made = edit.inserted(board, place, NEW)
    after = plain(things(made))
    assert neighbours(after, "box:new box") == neighbours(chain, thing["key"])
    if thing.get("lead"):
        (lead,) = (one for one in flat(after) if one.get("lead"))
        assert lead["key"] == thing["key"], "the lead stays with the instrument"


@settings(max_examples=tries(25, 300), phases=[Phase.generate], deadline=None)
@given(drawn=boards())
def test_random_boards(drawn: Any) -> None:
    checked(parse_board(to_toml(drawn)))


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_examples(path: Path) -> None:
    checked(read_board(path))


@pytest.mark.parametrize("seed", range(tries(4, 40)))
def test_boards_with_a_layout(seed: int) -> None:
    checked(parse_board(to_toml(laid_board(seed))))


def test_a_board_inside_another() -> None:
    board = read_board(EXAMPLES / "ferry-plan.toml")
    data = board_data(board)
    (loop,) = (one for one in data["chain"] if one["kind"] == "loop")
    assert loop["boardFile"] == "ferry-plan-deck.toml"
    assert loop["board"] == read_board(EXAMPLES / "ferry-plan-deck.toml").title
    out, *inside, back = loop["inside"]
    assert out["at"] == {"place": loop["at"]["place"], "lead": "out"}
    assert back["at"] == {"place": loop["at"]["place"], "lead": "back"}
    assert not any("at" in thing or "gap" in thing for thing in inside)
    assert not any("gap" in thing for thing in (out, back))


def test_what_is_said_of_a_cable() -> None:
    board = parse_board(
        'instrument = { part = "bass-split-coil" }\n'
        'destination = { part = "instrument-input" }\n'
        '[cables]\nlead = { part = "cable-standard" }\npatch = { part = "cable-patch" }\n'
        '[wiring]\ncable = "patch"\nlength = "30 cm"\n'
        '[[chain]]\ncable = "lead"\nlength = "15 ft"\n'
        '[[chain]]\nstage = "a"\npart = "pedal-true-bypass"\n'
        '[[chain]]\nstage = "b"\npart = "fuzz-low-impedance"\n'
        '[[chain]]\ncable = "patch"\nlength = 0.3\n'
        '[[chain]]\ntap = "t"\ncable = "lead"\nlength = "2 m"\nopen = true\n'
        '[[chain]]\nstage = "c"\npart = "buffer-opamp"\n'
        '[[chain]]\ncable = "lead"\nlength = "12 in"\n'
    )
    lead, a, wiring, b, patch, tap, c, last = board_data(board)["chain"]
    assert (lead["lengthText"], lead["unit"], lead["length"]) == ("15 ft", "ft", 15 * 0.3048)
    assert (last["lengthText"], last["unit"]) == ("12 in", "in")
    assert (wiring["lengthText"], wiring["unit"], wiring["unwritten"]) == ("30 cm", "cm", True)
    assert (patch["lengthText"], patch["wiring"]) == ("30 cm", True)
    assert "unwritten" not in patch
    assert (tap["ending"], tap["lengthText"], tap["cable"]) == ("open end", "2 m", "lead")
    assert (lead["lead"], lead["name"], last["name"]) == (True, "lead", "cable to amp")
    assert (a["bypass"], a["part"], b["pickup"]) == ("true", "pedal-true-bypass", True)
    assert "pickup" not in a
    assert "s" not in c, "a buffer is always on"
    assert OURS.of("buffer-opamp") is not None

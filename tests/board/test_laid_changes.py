"""Boards with a layout, changed and written: what is printed is what the file then says."""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from helpers.in_process import sigsim_here
from helpers.laid_boards import laid_board, typed_board
from helpers.thinned import crossed, some, tries
from helpers.variants import text

from sigsim.board import edit, edit_file
from sigsim.board.model import Board
from sigsim.board.reader import parse_board, read_board
from sigsim.board.relaid import relaid
from sigsim.decide.order.report import loss_in
from sigsim.decide.order.rules import question
from sigsim.errors import BoardError
from sigsim.items.base import Stage
from sigsim.items.loop import Loop

SEEDS = range(tries(6, 100))
# What is printed has all digits in JSON; a sum of two numbers may differ in the last of them [dB].
SAME_DB = 1e-9


def written(folder: Path, board: dict[str, Any], name: str = "board.toml") -> Path:
    path = folder / name
    # As a file has it: items of the chain in tables of their own.
    path.write_text(text({key: board[key] for key in board}), encoding="utf-8")
    return path


def asked(*arguments: object) -> Any:
    run = sigsim_here(*arguments, "--json")
    assert run.status in (0, 1), run.err
    return json.loads(run.out)


def lengths(board: Board) -> list[tuple[str, float]]:
    return [(piece.cable, float(piece.length)) for piece in board.pieces()]


def plain(**more: Any) -> dict[str, Any]:
    """Return a board of three boxes in a row, 10 cm apart, the first one on the right."""
    boxes = [
        {"stage": name, "part": "pedal-true-bypass", "width": 0.1, "depth": 0.1}
        for name in ("a", "b", "c")
    ]
    lead = {"cable": "lead", "length": 3.0}
    return {
        "layout": {"size": [1.0, 0.5], "rows": [["c", "b", "a"]], "gap": 0.1, "slack": 0.01},
        "instrument": {"part": "guitar-single-coil"},
        "destination": {"part": "valve-amplifier-input"},
        "cables": {"lead": {"part": "cable-standard"}, "patch": {"part": "cable-patch"}},
        "wiring": {"cable": "patch"},
        "chain": [lead, *boxes, {"cable": "lead", "length": 4.0}],
    } | more


def test_a_straight_run_is_the_gap_with_its_slack() -> None:
    assert lengths(parse_board(text(plain())))[1:3] == [("patch", 0.11)] * 2


def test_what_has_no_length_is_named_and_exits_2(tmp_path: Path) -> None:
    board = plain()
    board["cables"]["patch"]["sold"] = [0.05, 0.1]
    board["chain"][0].pop("length")
    board["chain"][3] = {"stage": "c", "part": "pedal-true-bypass"}
    board["layout"]["rows"] = [["b", "a"]]
    path = written(tmp_path, board)
    with pytest.raises(BoardError) as caught:
        read_board(path)
    said = [str(problem) for problem in caught.value.problems]
    assert len(said) == 3
    assert said[0].startswith("the 'lead' cable from the instrument to 'a': the instrument is no")
    assert "from 'a' to 'b': longer (11 cm) than all lengths of 'patch'" in said[1]
    assert "(longest 0.1 m)" in said[1] or "(longest 10 cm)" in said[1]
    assert "'c' stands nowhere in [layout]; accepted: put it into a row" in said[2]
    assert sigsim_here("loss", path).status == 2
    kept = read_board(path, lacking=True)
    assert [one.why for one in kept.lacking] == ["no place", "too long", "no place"]


def test_what_a_variant_leaves_without_a_length_is_told_with_the_file(tmp_path: Path) -> None:
    board = plain(variants={"close": {"layout": {"gap": 0.0}}, "far": {"layout": {"gap": 0.2}}})
    path = written(tmp_path, board)
    with pytest.raises(BoardError) as caught:
        read_board(path)
    places = [problem.where for problem in caught.value.problems]
    assert len(places) == 2
    assert all("close" in place and "cable from" in place for place in places)
    assert read_board(path, lacking=True).variants == ("close", "far")


def test_boxes_that_touch_leave_no_way() -> None:
    board = plain()
    board["layout"] |= {"gap": 0.0}
    kept = parse_board(text(board), lacking=True)
    assert [one.why for one in kept.lacking] == ["no way"] * 2


@pytest.mark.parametrize("own", [{}, {"length": 0.2}])
def test_loops_of_one_box_have_no_wiring_between_them(own: dict[str, float]) -> None:
    board = plain(boxes={"sw": {"width": 0.3, "depth": 0.05, "loops": ["x", "y"]}})
    board["layout"]["rows"] = [["b", "a"], ["sw"]]
    board["wiring"] |= own
    a, b = board["chain"][1:3]
    loops = [{"loop": "x", "inside": [a]}, {"loop": "y", "inside": [b]}]
    board["chain"] = [board["chain"][0], *loops, board["chain"][-1]]
    found = parse_board(text(board))
    assert [name for name, _ in lengths(found)] == ["lead", *["patch"] * 4, "lead"]


@pytest.mark.parametrize("seed", some(SEEDS, 3))
def test_a_board_inside_has_its_own_layout(tmp_path: Path, seed: int) -> None:
    deck = laid_board(seed)
    loop = {"loop": "send", "board": "deck.toml", "prefix": "deck "}
    loop |= {f"lead_{way}": {"cable": "lead", "length": 2.5} for way in ("out", "back")}
    main = plain()
    side = {"cable": "patch", "length": 0.4}
    main["chain"][3:3] = [side, loop, side]
    path = written(tmp_path, main)
    written(tmp_path, deck, "deck.toml")
    laid = read_board(path)
    written(tmp_path, typed_board(deck), "deck.toml")
    typed = read_board(written(tmp_path, typed_board(main, laid.laying)))
    assert lengths(laid) == lengths(typed)


@pytest.mark.parametrize("seed", some(SEEDS, 3))
def test_another_layout_counts_as_in_a_file_and_in_a_variant(tmp_path: Path, seed: int) -> None:
    board = laid_board(seed)
    other = deepcopy(board)
    other["layout"]["rows"] = [row[::-1] for row in board["layout"]["rows"][::-1]]
    other["layout"]["slack"] = 0.07
    wanted = parse_board(text(other))
    assert wanted.laying is not None
    found = relaid(parse_board(text(board)), wanted.laying.layout)
    assert lengths(found) == lengths(wanted)
    board["variants"] = {"turned": {"layout": {"rows": other["layout"]["rows"], "slack": 0.07}}}
    path = written(tmp_path, board)
    values = [asked("loss", path, "--variant", "turned"), asked("loss", written(tmp_path, other))]
    assert values[0]["worst"]["treble_loss_db"] == values[1]["worst"]["treble_loss_db"]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_buffer_that_is_written_loses_what_was_printed(tmp_path: Path, seed: int) -> None:
    path, out = written(tmp_path, laid_board(seed)), tmp_path / "out.toml"
    number = 1 + seed % 3
    told = asked("buffer", path, "--every", "--place", number, "--write", out, "--force")
    placements = [*told["placements"], *told["inside_loops"]]
    assert told["written"]["file"] is not None
    wanted = placements[number - 1]["treble_loss_db"]
    found = asked("loss", out)["worst"]["treble_loss_db"]
    assert found == pytest.approx(wanted, abs=SAME_DB)


@pytest.mark.parametrize(("seed", "more"), [*crossed(SEEDS[:2], [(), ("--buffer",)])])
def test_an_order_that_is_written_loses_what_was_printed(
    tmp_path: Path, seed: int, more: tuple[str, ...]
) -> None:
    path, out = written(tmp_path, laid_board(seed)), tmp_path / "out.toml"
    told = asked("order", path, "--top", 2, *more)
    assert told["now"]["laid_out_db"] == pytest.approx(
        asked("loss", path)["worst"]["treble_loss_db"], abs=SAME_DB
    )
    for one in told["orders"]:
        run = sigsim_here("order", path, "--top", 2, *more, "--pick", one["number"], "--write", out)
        if one["laid_out_db"] is None:
            assert run.status == 2
            continue
        assert run.status == 0, run.err
        found = asked("loss", out)["worst"]["treble_loss_db"]
        assert found == pytest.approx(one["laid_out_db"], abs=SAME_DB)
        out.unlink()


def test_while_boxes_move_each_cable_between_them_is_as_long_as_the_mean() -> None:
    board = plain()
    board["layout"] |= {"rows": [["c"], ["b", "a"]], "gap": 0.2}
    laid = parse_board(text(board))
    (_, one), (_, two) = lengths(laid)[1:3]
    assert one != two
    even = deepcopy(board)
    del even["layout"]
    even["wiring"] |= {"length": (one + two) / 2}
    for stage in even["chain"][1:4]:
        del stage["width"], stage["depth"]
    found, wanted = question(laid), question(parse_board(text(even)))
    assert loss_in(found, found.board) == loss_in(wanted, wanted.board)


def test_both_cables_of_a_box_put_in_are_as_long_as_the_one_that_was_there() -> None:
    board = parse_board(text(plain()))
    box = next(item for item in board.listed if item.label == "b")
    put = edit.inserted(board, (3,), type(box)(**{**vars(box), "stage": "new"}))
    assert lengths(put)[1:4] == [("patch", 0.11)] * 3


@pytest.mark.parametrize("seed", some(SEEDS, 2))
def test_an_edit_of_the_board_is_that_of_its_text(seed: int) -> None:
    source = text(laid_board(seed))
    board = parse_board(source)
    chances = [
        (place, item) for place, item in edit.places(board) if isinstance(item, Stage | Loop)
    ]
    for place, item in some(chances, 2):
        keys = {item.key: "renamed"}
        found = edit.with_values(board, place, keys, {})
        wanted = parse_board(edit_file.with_values(source, place, keys))
        assert lengths(found) == lengths(wanted)
        if len(edit.siblings(board, place)) > 1:
            found = edit.taken_out(board, place)
            wanted = parse_board(edit_file.taken_out(source, place), lacking=True)
            assert lengths(found) == lengths(wanted)


def test_what_check_says_of_where_boxes_stand(tmp_path: Path) -> None:
    board = plain(boxes={"supply": {"width": 0.2, "depth": 0.2, "place": [0.15, 0.05]}})
    board["layout"] |= {"size": [0.45, 0.5], "entry": "right", "gap": 0.01}
    board["chain"][2:2] = [{"cable": "patch", "length": 0.005}]
    found = asked("check", written(tmp_path, board))
    kinds = {one["kind"]: one["text"] for one in found["cautions"]}
    assert "overlap" in kinds["boxes-overlap"]
    assert found["not_in_chain"] == ["supply"]
    assert "too short for its way" in kinds["cable-too-short"]
    assert "no room for a straight plug" in kinds["no-room-for-plug"]
    assert [lead["to"] for lead in found["leads_on_board"]] == ["a"]

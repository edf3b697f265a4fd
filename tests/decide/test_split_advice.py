"""What is decided about boards with splits: cautions, sheet, blame, places for a buffer."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from helpers.refusals import quick
from helpers.split_boards import (
    HEAD,
    IN_A_LOOP,
    TWO_AMPS,
    WIRING,
    cable,
    loop,
    split,
    stage,
    written,
)
from helpers.thinned import crossed

from sigsim.board import edit
from sigsim.board.reader import parse_board, read_board
from sigsim.decide.blame.report import blame_report
from sigsim.decide.buffer.gaps import gap_at, gaps, gaps_elsewhere, is_place
from sigsim.decide.buffer.instead import instead_of_buffer
from sigsim.decide.buffer.views import ALL_STATES
from sigsim.decide.check.caution import Caution
from sigsim.decide.check.cautions import cautions
from sigsim.decide.cures import remedies
from sigsim.decide.moves import along, elsewhere
from sigsim.decide.sheet import sheet
from sigsim.items.split import Split
from sigsim.metrics import treble_loss
from sigsim.show.check import caution_text, chain_line
from sigsim.show.points import point
from sigsim.states.hand_check import hand_check
from sigsim.states.response import response

BOTH = (TWO_AMPS, IN_A_LOOP)
FUZZ = "needs_pickup = true\n"


def found(text: str) -> dict[str, Caution]:
    return {caution.code: caution for caution in cautions(parse_board(text))}


def test_the_chain_line_draws_both_ways() -> None:
    board = parse_board(TWO_AMPS)
    assert chain_line(board, ("echo",)) == (
        "instrument ─lead 6 m─ ○drive [second amp: ─lead 3 m─ ●echo ─lead 6 m─ → interface] "
        "─lead 20 cm─ ○wah ─lead 4 m─ → amp"
    )
    assert chain_line(board.heard_at("second amp"), ()) == chain_line(board, ())
    loose = parse_board(TWO_AMPS.replace('{ part = "instrument-input", name = "interface" }', "{}"))
    assert "─lead 6 m─ → open]" in chain_line(loose, ())


def test_joints_of_a_split_begin_at_it_and_end_at_its_last_box() -> None:
    text = HEAD + cable("3 m") + stage("a") + split("dry") + stage("b", depth=1)
    text += stage("c") + cable("3 m")
    assert found(text)["no-patch-cable"].values == {"bare": 2, "joints": 2}
    last = found(text)["no-amp-cable"]
    assert (last.subject, last.values["split"]) == ("b", "dry")
    assert "the split 'dry' ends without a cable" in caution_text(last)
    wired = WIRING + cable("3 m") + stage("a") + split("dry") + cable("3 m", 1) + cable("3 m")
    assert not {"no-patch-cable", "no-amp-cable"} & set(found(HEAD + wired))


@pytest.mark.parametrize("text", BOTH)
@pytest.mark.parametrize("at", ["", "second amp"])
def test_a_gap_is_found_as_the_list_has_it(text: str, at: str) -> None:
    board = parse_board(text)
    board = board.heard_at(at) if at else board
    every = (*gaps(board), *gaps_elsewhere(board))
    assert [gap_at(board, gap.place) for gap in every] == list(every)


def test_a_split_with_nothing_in_it_has_no_cable() -> None:
    text = HEAD + cable("3 m") + stage("a") + split("dry") + cable("3 m")
    assert found(text)["no-amp-cable"].subject == "dry"


def test_a_cable_to_nothing_is_asked_about() -> None:
    text = HEAD + cable("3 m") + stage("a") + split("loose", "{}") + cable("3 m", 1) + cable("2 m")
    loose = found(text)["open-split"]
    assert loose.subject == "loose"
    assert loose.values["capacitance"] == pytest.approx(312e-12)  # 3 m, two plugs of 6 pF
    assert "310 pF hang on the line for nothing" in caution_text(loose)
    # A tuner there is what the cable is for, and an isolator hides what hangs behind it.
    tuner = stage("tuner", "tuner-true-bypass", 1)
    behind = stage("box", "pedal-buffered", 1) + cable("3 m", 1)
    for rest in (tuner, behind):
        other = text.replace(cable("2 m"), rest + cable("2 m"))
        assert "open-split" not in found(other)


def test_inputs_on_every_way_are_looked_at_and_load_the_other() -> None:
    low = '{ input_resistance = "20k", name = "desk" }'
    text = HEAD + cable("3 m") + stage("a") + split("dry", low) + cable("3 m", 1)
    text += stage("inside", depth=1, more='input_resistance = "30k"\n') + cable("3 m", 1)
    board = parse_board(text + stage("b") + cable("3 m"))
    low_inputs = [c for c in cautions(board) if c.code == "low-input"]
    assert [c.subject for c in low_inputs] == ["inside", "desk"]
    assert cautions(board.heard_at("dry")) == cautions(board)


def test_cable_on_other_ways_counts_in_a_long_run() -> None:
    total = sum(found(TWO_AMPS)["long-run"].values["lengths"])
    assert total == pytest.approx(19.2)
    long = TWO_AMPS.replace('"3 m"', '"12 m"')
    assert found(long)["long-cable"].values["length"] == 12
    shielded = TWO_AMPS.replace(cable("3 m", 1), "").replace(
        'stage = "echo"\npart = "pedal-true-bypass"', 'stage = "echo"\npart = "pedal-buffered"'
    )
    assert sum(found(shielded)["long-run"].values["lengths"]) == pytest.approx(10.4)


@pytest.mark.parametrize("text", BOTH)
def test_the_sheet_has_every_piece_of_cable_once(text: str) -> None:
    board = parse_board(text)
    made = sheet(board)
    laid = [c for c in made.connections if c.cable is not None]
    assert sorted(c.length for c in laid) == sorted(float(p.length) for p in board.pieces())
    assert sum(n for p in made.purchases for _, n in p.pieces) == len(laid)
    assert {point(c.end) for c in made.connections} >= {"interface", "amp", "split second amp"}
    assert list(made.switches) == list(board.switches())
    assert sheet(board.heard_at("second amp")).connections == made.connections


def test_the_sheet_adds_up_what_hangs_on_each_source() -> None:
    board = parse_board(TWO_AMPS)
    made = sheet(board)
    assert [run.total for run in made.runs] == pytest.approx([hand_check(board, ())[0].capacitance])
    buffered = parse_board(TWO_AMPS.replace(
        'stage = "echo"\npart = "pedal-true-bypass"', 'stage = "echo"\npart = "pedal-buffered"'
    ))  # fmt: skip
    runs = sheet(buffered).runs
    assert [(point(r.begin), point(r.end)) for r in runs] == [
        ("instrument", "amp"), ("echo", "interface"),
    ]  # fmt: skip
    checks = [hand_check(buffered, ())[0], hand_check(buffered.heard_at("second amp"), ())[-1]]
    assert [run.total for run in runs] == pytest.approx([c.capacitance for c in checks])


def test_the_sheet_says_what_is_lost_at_every_end(tmp_path: Path) -> None:
    board = written(tmp_path, TWO_AMPS)
    values = json.loads(quick("sheet", board, "--json"))
    worst = {
        at: json.loads(quick("loss", board, *more, "--json"))["worst"]["treble_loss_db"]
        for at, more in ((None, ()), ("second amp", ("--at", "second amp")))
    }
    assert values["worst_treble_loss_db"] == worst[None]
    (other,) = values["other_ends"]
    assert (other["at"], other["worst_treble_loss_db"]) == ("second amp", worst["second amp"])
    assert "at 'second amp' " in " ".join(quick("sheet", board).split())


def test_a_loose_end_is_no_connection_to_make() -> None:
    tuner = HEAD + cable("3 m") + stage("a") + split("tuner out", "{}") + cable("1 m", 1)
    tuner += stage("tuner", "tuner-true-bypass", 1) + cable("3 m")
    ends = [point(c.end) for c in sheet(parse_board(tuner)).connections]
    assert ends == ["a", "split tuner out", "tuner", "amp"]


def test_blame_takes_a_split_out_as_one_thing() -> None:
    board = parse_board(TWO_AMPS)
    report = blame_report(board, board.state(()))
    taken = next(b for b in report.items if b.group == "splits")
    assert taken.name == "second amp (split)"
    assert not taken.in_reference
    without = edit.taken_out(board, edit_place(board, "second amp"))
    assert taken.without.treble_loss == pytest.approx(treble_loss(response(without)), abs=1e-9)
    # A piece of cable lies between boxes, whatever hangs in between.
    assert any(b.name == "lead: drive → wah" for b in report.items)


def test_blame_at_a_split_names_the_way_to_the_other_end() -> None:
    board = parse_board(TWO_AMPS).heard_at("second amp")
    report = blame_report(board, board.state(()))
    names = {b.name: b.group for b in report.items}
    assert names["the way to amp"] == "splits"
    assert names["interface"] == "destination"
    assert "lead: echo → interface" in names


def edit_place(board: Any, name: str) -> tuple[int, ...]:
    return next(place for place, item in edit.places(board) if item.label == name)


def test_a_split_behind_a_box_travels_with_it() -> None:
    board = parse_board(TWO_AMPS)
    (move,) = along(board, edit_place(board, "wah"))
    order = [i.label for i in move.board.listed if i.label != "lead"]
    assert order == ["wah", "drive", "second amp"]
    (move,) = along(board, edit_place(board, "drive"))
    assert [i.label for i in move.board.listed if i.label != "lead"] == order


def test_a_box_alone_in_a_split_has_no_other_place_there() -> None:
    board = parse_board(TWO_AMPS)
    assert not list(along(board, edit_place(board, "echo")))
    # On another way it would be heard at another end.
    assert not list(elsewhere(board, edit_place(board, "echo")))
    looped = parse_board(IN_A_LOOP)
    places = {m.gap.place[:-1] for m in elsewhere(looped, edit_place(looped, "wah"))}
    assert places == {edit_place(looped, "L")}


def test_a_buffered_bypass_on_one_way_hides_nothing_from_the_other() -> None:
    text = HEAD + cable("6 m") + split("dry") + cable("9 m", 1) + stage("echo", depth=1)
    text += cable("6 m", 1) + stage("coal", "fuzz-low-impedance", more=FUZZ) + cable("6 m")
    given = {c.stage for c in instead_of_buffer(parse_board(text), (ALL_STATES,))}
    assert "echo" in given
    before = text.replace(split("dry"), stage("front") + split("dry"))
    assert "front" not in {c.stage for c in instead_of_buffer(parse_board(before), (ALL_STATES,))}


def test_a_fuzz_inside_a_split_is_hidden_by_what_is_before_it_only() -> None:
    text = HEAD + WIRING + cable("3 m") + stage("buf", "buffer-opamp", more="always_on = true\n")
    text += split("dry") + cable("1 m", 1) + stage("coal", "fuzz-low-impedance", 1, FUZZ)
    text += cable("3 m", 1) + stage("c") + cable("3 m")
    (remedy,) = remedies(parse_board(text))
    assert remedy.hidden.always == ("buf",)
    assert "pickup-hidden" in found(text)


@pytest.mark.parametrize(("text", "at"), crossed(BOTH, ["", "second amp"]))
def test_a_place_that_is_written_gives_the_printed_number(
    text: str, at: str, tmp_path: Path
) -> None:
    board, new = written(tmp_path, text), tmp_path / "new.toml"
    end = ("--at", at) if at else ()
    listed = json.loads(quick("buffer", board, *end, "--json"))
    rows = [*listed["placements"], *listed["inside_loops"]]
    assert len(rows) == 7 if text is TWO_AMPS else 10
    for row in rows:
        write = ("--write", new, "--force", "--place", row["number"])
        said = quick("buffer", board, *end, *write, "--json")
        (put,) = json.loads(said)["written"]["stages"]
        worst = json.loads(quick("loss", new, *end, "--json"))["worst"]["treble_loss_db"]
        assert row["treble_loss_db"] == pytest.approx(worst, abs=1e-9)
        assert put["stage"] in read_board(new).stage_names()


def test_places_say_on_which_way_they_are() -> None:
    board = parse_board(TWO_AMPS)
    for at, other in (("", "second amp"), ("second amp", "amp")):
        heard = board.heard_at(at)
        assert {gap.way for gap in gaps(heard)} == {""}
        assert {gap.way for gap in gaps_elsewhere(heard) if is_place(heard, gap)} == {other}


def test_buffer_speaks_of_other_ways(tmp_path: Path) -> None:
    said = quick("buffer", written(tmp_path, TWO_AMPS))
    assert "on the way to 'second amp', before the 3 m cable" in said
    assert "On another way, of which it takes the load:" in said
    looped = " ".join(quick("buffer", written(tmp_path, IN_A_LOOP)).split())
    assert "when the loop is out, or on another way, of which it takes the load:" in looped
    assert "after the split 'second amp'" in looped


def test_noise_names_the_split(tmp_path: Path) -> None:
    board = written(tmp_path, TWO_AMPS)
    shares = json.loads(quick("noise", board, "--all-off", "--json"))["states"][0]["contributions"]
    assert {"split"} == {s["kind"] for s in shares if s["name"] == "second amp"}
    assert "split 'second amp'" in quick("noise", board, "--all-off")


def test_roles_have_the_pieces_of_all_ways(tmp_path: Path) -> None:
    board = written(tmp_path, TWO_AMPS)
    for end in ((), ("--at", "second amp")):
        (role,) = json.loads(quick("cables", board, *end, "--only", "cable-low", "--json"))["roles"]
        assert sorted(role["lengths_m"]) == pytest.approx([0.2, 3, 4, 6, 6])


def test_spread_draws_what_is_on_every_way(tmp_path: Path) -> None:
    board = written(tmp_path, TWO_AMPS)
    found = json.loads(quick("spread", board, "--draws", "50", "--at", "second amp", "--json"))
    places = {quantity["place"] for quantity in found["quantities"]}
    assert {"interface", "amp", "echo", "wah"} <= places


def test_a_split_in_a_loop_without_boxes() -> None:
    text = HEAD + WIRING + cable("6 m") + stage("a") + loop("L") + split("dry", depth=1)
    text += cable("3 m", 2) + cable("3 m")
    board = parse_board(text)
    assert any(isinstance(item, Split) for item in board.items())
    assert sheet(board).connections
    assert [c.code for c in cautions(board)] == []

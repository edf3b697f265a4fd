"""What `buffer` and `check` propose holds, on random boards: every proposal tried as a board."""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from helpers.all_states import every_loss, every_state
from helpers.boards import Table, boards, switches, to_toml
from helpers.in_process import sigsim_here as sigsim
from helpers.program import EXAMPLES
from helpers.refusals import assert_refused
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings

from sigsim.board.edit import inserted, siblings, with_values
from sigsim.board.model import Board
from sigsim.board.reader import parse_board, read_board
from sigsim.decide.buffer.instead import instead_of_buffer
from sigsim.decide.buffer.report import BufferReport, buffer_report, with_buffers
from sigsim.decide.buffer.views import ALL_STATES
from sigsim.decide.cures import Remedy, remedies
from sigsim.decide.moves import along, elsewhere
from sigsim.decide.pickup import Hidden, hidden_pickups, powered_places
from sigsim.items.cable import Cable
from sigsim.items.instrument import PassiveInstrument
from sigsim.items.loop import Loop
from sigsim.items.stage import ActiveStage
from sigsim.show.buffer import groups, sentence
from sigsim.states.path import path
from sigsim.states.response import response
from sigsim.states.search import worst

BASS = EXAMPLES / "ferry-bass.toml"
BUFFER = ActiveStage(
    stage="buffer", input_resistance=1e6, input_capacitance=20e-12, output_resistance=220.0,
    always_on=True,
)  # fmt: skip
# Sums of segments against one logarithm of the whole: rounding.
ROUNDING_DB = 1e-7
PROPOSED_DB = 0.1
PEDAL = '[[chain]]\nstage = "{name}"\npart = "{part}"\n{more}\n'
CABLE = '[[chain]]\ncable = "lead"\nlength = "{length}"\n'
ENDS = """
[instrument]
part = "{instrument}"
[destination]
part = "instrument-input"
[cables.lead]
part = "cable-standard"
[wiring]
cable = "lead"
length = "20 cm"
"""


def board_of(*pedals: tuple[str, str, str], instrument: str = "bass-split-coil") -> str:
    chain = "".join(PEDAL.format(name=n, part=p, more=m) for n, p, m in pedals)
    ends = ENDS.format(instrument=instrument)
    return ends + CABLE.format(length="6 m") + chain + CABLE.format(length="6 m")


def drawn(table: Table) -> Board:
    assume(len(switches(table)) <= 5)
    board = parse_board(to_toml(table))
    assume(math.isfinite(worst(board).value))
    return board


def worst_of(board: Board) -> float:
    return max(every_loss(board, "ideal").values(), default=math.nan)


@settings(max_examples=tries(12, 30))
@seed(61)
@given(boards())
def test_every_proposed_place_gains_and_is_one(table: Table) -> None:
    """Each is put in and every state solved; none stands behind the last cable or in pairs."""
    board = drawn(table)
    report = buffer_report(board, BUFFER)
    now = worst_of(board)
    for placement in (*report.proposed, *report.proposed_inside):
        (gap,) = placement.gaps
        changed = inserted(board, gap.place, report.part)
        assert placement.loss == pytest.approx(worst_of(changed), abs=ROUNDING_DB)
        assert now - placement.loss >= PROPOSED_DB - ROUNDING_DB
    for placement in report.placements:
        (gap,) = placement.gaps
        assert any(isinstance(i, Cable | ActiveStage | Loop) or hasattr(i, "always_on")
                   for i in board.listed[gap.index :])  # fmt: skip
    assert_told(report)


def assert_told(report: BufferReport) -> None:
    """The sentence names the first row of the table; folded rows lie within a step of theirs."""
    if report.advised is not None:
        assert report.advised is groups(report, 1, every=False)[0].first
        assert report.advised is groups(report, 1, every=True)[0].first
    for fold in groups(report, 1000, every=False):
        # A hair for the rounding of a difference.
        assert all(one.loss - fold.first.loss <= PROPOSED_DB + 1e-9 for one in fold.more)
    assert sentence(report).endswith(".")


@settings(max_examples=15)
@seed(62)
@given(boards())
def test_the_level_beside_a_place_is_that_of_the_worst_state(table: Table) -> None:
    board = drawn(table)
    on = worst(board).on
    count = 2 if len(table["chain"]) % 2 else 1
    report = buffer_report(board, BUFFER, count, ignore_pickup=True)
    for placement in report.placements[:6]:
        then, now = (level(b, on) for b in (with_buffers(report, placement), board))
        # One is a sum of segments in decibels.
        assert placement.level_change == pytest.approx(then - now, abs=ROUNDING_DB)


def level(board: Board, on: frozenset[str]) -> float:
    return float(response(board, on, np.array([100.0])).gain_db[0])


@settings(max_examples=25)
@seed(63)
@given(boards())
def test_what_is_proposed_instead_gains_and_hides_no_pickup(table: Table) -> None:
    board = drawn(table)
    changes = instead_of_buffer(board, [ALL_STATES])
    now = worst_of(board)
    for change in changes:
        assert now - change.loss >= PROPOSED_DB - ROUNDING_DB
    for index, stage in enumerate(board.listed):
        told = [c for c in changes if c.change == "moved" and c.stage == stage.label]
        for change in told:
            (move,) = [m for m in along(board, (index,)) if m.gap == change.gap]
            assert worst_of(move.board) == pytest.approx(change.loss, abs=ROUNDING_DB)
            assert seen_at(move.board) >= seen_at(board)


def seen_at(board: Board) -> set[tuple[str, frozenset[str]]]:
    """Walk through every state: where a stage that wants to see the pickup is on and sees it.

    What is not a tuner and does not want to see the pickup itself may not be on before it.
    """
    if not isinstance(board.instrument, PassiveInstrument):
        return set()
    return {(name, on) for on in every_state(board) for name in seen_in(board, on)}


def seen_in(board: Board, on: frozenset[str]) -> Iterator[str]:
    for met in path(board.chain, on):
        item = met.item
        if isinstance(item, ActiveStage) and item.needs_pickup:
            yield item.stage
        if item.isolates(met.on):
            return


@settings(max_examples=40)
@seed(64)
@given(boards())
def test_moves_keep_every_box_and_cable(table: Table) -> None:
    """Along a level the cables keep their places and every box is there once."""
    board = parse_board(to_toml(table))
    names = sorted(board.stage_names())
    for place, stage in powered_places(board):
        for move in (*along(board, place), *elsewhere(board, place)):
            assert sorted(move.board.stage_names()) == names
            assert move.board.scenes == board.scenes
            there = [p for p, s in powered_places(move.board) if s.stage == stage.stage]
            assert there == [move.gap.place]
        if len(place) == 1:
            for move in along(board, place):
                assert kinds(move.board) == kinds(board)


def kinds(board: Board) -> list[str]:
    """Cables in their order, and how many boxes stand between them."""
    return [i.label if isinstance(i, Cable) else "" for i in board.listed
            if isinstance(i, Cable | Loop) or hasattr(i, "always_on")]  # fmt: skip


@settings(max_examples=tries(24, 60))
@seed(65)
@given(boards())
def test_a_cure_cures(table: Table) -> None:
    """Every state is walked through: the stage then sees the pickup where it is said to."""
    board = drawn(table)
    hidden = {h.stage for h in hidden_pickups(board) if h.always}
    found = remedies(board)
    assert {remedy.hidden.stage for remedy in found} == hidden
    for remedy in found:
        assert bool(remedy.cures) or bool(remedy.spoilt)
        assert not any(seen == remedy.hidden.stage for seen, _ in seen_at(board))
        assert_cured(board, remedy)


def assert_cured(board: Board, remedy: Remedy) -> None:
    name = remedy.hidden.stage
    for cure in remedy.cures:
        changed = changed_by(board, remedy, cure.boxes[0], cure.gap)
        for on in every_state(changed):
            met = [m.item.label for m in path(changed.chain, on)]
            if name in met and not set(cure.hidden_while) & set(met) & on_or_steady(changed, on):
                seen = set(seen_before(changed, on, name))
                assert seen <= tolerated(changed), (name, on, seen)
        if math.isfinite(cure.loss):
            assert cure.loss == pytest.approx(worst_of(changed), abs=ROUNDING_DB)


def on_or_steady(board: Board, on: frozenset[str]) -> set[str]:
    return {m.item.label for m in path(board.chain, on) if m.item.isolates(m.on)}


def seen_before(board: Board, on: frozenset[str], name: str) -> Iterator[str]:
    """Yield what isolates before a stage in a state."""
    for met in path(board.chain, on):
        if met.item.label == name:
            return
        if met.item.isolates(met.on):
            yield met.item.label


def tolerated(board: Board) -> set[str]:
    """Return what may be on before: what wants to see the pickup itself; nothing is a tuner."""
    return {s.stage for _, s in powered_places(board) if s.needs_pickup}


def changed_by(board: Board, remedy: Remedy, box: str, gap: object) -> Board:
    """Return the board with a cure made, found again among all moves."""
    if gap is None:
        for place, stage in powered_places(board):
            if stage.stage in remedy.hidden.always:
                board = with_values(board, place, {"bypass": "true"}, {})
        return board
    place = next(p for p, s in powered_places(board) if s.stage == remedy.hidden.stage)
    for depth in range(1, len(place) + 1):
        for move in along(board, place[:depth]):
            if move.gap == gap and label_at(move.board, move.gap.place) == box:
                return move.board
    return next(m.board for m in elsewhere(board, place) if m.gap == gap)


def label_at(board: Board, place: tuple[int, ...]) -> str:
    return siblings(board, place)[place[-1]].label


FUZZ = ("fuzz", "fuzz-low-impedance", "")
BUFFERED = ("echo", "pedal-buffered", "")
STEADY = ("desk", "preamp-always-on", "")
TRUE = ("drive", "pedal-true-bypass", "")
TUNER = ("tuner", "tuner-true-bypass", "")


@pytest.mark.parametrize(
    ("pedals", "expected"),
    [
        ((TUNER, FUZZ), None),
        ((("wah", "wah-hardwire", "needs_pickup = true"), FUZZ), None),
        ((TRUE, FUZZ), Hidden("fuzz", (), ("drive",))),
        ((BUFFERED, FUZZ), Hidden("fuzz", ("echo",), ())),
        ((TUNER, STEADY, TRUE, FUZZ), Hidden("fuzz", ("desk",), ("drive",))),
        ((("tuner", "tuner-buffered", ""), FUZZ), Hidden("fuzz", ("tuner",), ())),
        ((FUZZ, STEADY), None),
    ],
    ids=["tuner", "wah", "drive", "echo", "desk", "buffered tuner", "behind"],
)
def test_what_may_stand_before(
    pedals: tuple[tuple[str, str, str], ...], expected: Hidden | None
) -> None:
    board = parse_board(board_of(*pedals))
    assert hidden_pickups(board) == (() if expected is None else (expected,))


def test_with_an_active_instrument_the_demand_is_dropped_and_said_once(tmp_path: Path) -> None:
    board = tmp_path / "b.toml"
    board.write_text(board_of(STEADY, TRUE, FUZZ, instrument="bass-active"))
    assert not buffer_report(read_board(board), BUFFER).refused
    for command in ("check", "buffer"):
        said = " ".join(sigsim(command, board).out.split())
        assert said.count("wants to see a pickup, but the instrument is active") == 1
        assert "Refused" not in said


def test_cures_are_said_by_check_and_buffer_with_the_treble(tmp_path: Path) -> None:
    board = tmp_path / "b.toml"
    board.write_text(board_of(TUNER, BUFFERED, TRUE, FUZZ))
    for command in ("check", "buffer"):
        said = " ".join(sigsim(command, board).out.split())
        assert "'fuzz' wants to see the pickup, but 'echo' always stands between" in said
        assert "'echo' with true bypass" in said
    assert "'fuzz' moved to after 'tuner'" in " ".join(sigsim("check", board).out.split())
    document = json.loads(sigsim("buffer", board, "--json").out)
    (remedy,) = document["hidden_pickups"]
    kinds_found = {cure["kind"] for cure in remedy["cures"]}
    assert kinds_found == {"moved", "true bypass"}
    (caution,) = [
        c for c in json.loads(sigsim("check", board, "--json").out)["cautions"]
        if c["kind"] == "pickup-hidden"
    ]  # fmt: skip
    assert caution["remedy"] == remedy


def test_two_that_hide_the_pickup_from_each_other_cannot_be_cured(tmp_path: Path) -> None:
    board = tmp_path / "b.toml"
    first, second = ((n, "preamp-always-on", "needs_pickup = true") for n in ("octaver", "fuzz"))
    board.write_text(board_of(first, second))
    for command in ("check", "buffer"):
        said = " ".join(sigsim(command, board).out.split())
        assert "Nothing cures it: ahead of that, it would hide the pickup from 'octaver'" in said
    (remedy,) = json.loads(sigsim("buffer", board, "--json").out)["hidden_pickups"]
    assert not remedy["cures"]
    assert remedy["impossible_because_of"] == ["octaver"]


def test_nothing_is_written_where_no_buffer_helps(tmp_path: Path) -> None:
    board, target = tmp_path / "b.toml", tmp_path / "new.toml"
    board.write_text(board_of(STEADY, TRUE).replace('"6 m"', '"1 m"'))
    run = sigsim("buffer", board, "--write", target)
    said = " ".join(run.out.split())
    assert run.status == 0
    assert not target.exists()
    assert "Not written" in said
    assert "'desk' isolates already, a further buffer is not needed" in said
    document = json.loads(sigsim("buffer", board, "--write", target, "--json").out)
    assert document["written"]["file"] is None
    assert document["written"]["why_not"]
    assert not target.exists()


@pytest.mark.parametrize("title", ['title = "mine"\n', "", "# first\n\n"])
def test_a_place_is_written_by_its_number_and_said(tmp_path: Path, title: str) -> None:
    board, target = tmp_path / "b.toml", tmp_path / "new.toml"
    board.write_text(title + board_of(STEADY, TRUE))
    document = json.loads(sigsim("buffer", board, "--json").out)
    for placement in document["placements"]:
        number = placement["number"]
        run = sigsim("buffer", board, "--write", target, "--place", number, "--force")
        assert run.status == 0, run.err
        last = run.out.splitlines()[-1]
        assert last.startswith(f"Written: {target}")
        assert "between '" in last or "between the" in last
        loss = json.loads(sigsim("loss", target, "--json").out)["worst"]["treble_loss_db"]
        assert loss == pytest.approx(placement["treble_loss_db"], abs=ROUNDING_DB)
        written = tomllib.loads(target.read_text())["title"]
        assert written.endswith(f", with a buffer {placement['places'][0]}")
        assert written != tomllib.loads(board.read_text()).get("title")


def test_a_place_inside_a_loop_is_written(tmp_path: Path) -> None:
    target, board = tmp_path / "new.toml", EXAMPLES / "ferry-guitar-big.toml"
    best = json.loads(sigsim("buffer", board, "--json").out)["inside_loops"][0]
    run = sigsim("buffer", board, "--write", target, "--place", best["number"])
    assert run.status == 0, run.err
    loss = json.loads(sigsim("loss", target, "--json").out)["worst"]["treble_loss_db"]
    assert loss == pytest.approx(best["treble_loss_db"], abs=ROUNDING_DB)


def test_numbers_of_places_are_checked(tmp_path: Path) -> None:
    target = tmp_path / "new.toml"
    assert_refused(sigsim("buffer", BASS, "--place", 1), "--place", "--write")
    refused = sigsim("buffer", BASS, "--write", target, "--place", 99)
    assert_refused(refused, "no place of this number", "1 to ")
    assert not target.exists()
    board = tmp_path / "b.toml"
    board.write_bytes(BASS.read_bytes())
    assert_refused(sigsim("buffer", board, "--write", board), "--force")
    assert board.read_bytes() == BASS.read_bytes()


def test_every_lists_every_place() -> None:
    few, every = (sigsim("buffer", BASS, *more).out for more in ((), ("--every",)))
    assert "more within" in few
    assert "more within" not in every
    count = len(json.loads(sigsim("buffer", BASS, "--json").out)["placements"])
    assert f"\n {count} after" in every

"""Limits are refused at once and named by `check`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from helpers.all_states import many_stages
from helpers.in_process import sigsim_here

from sigsim.board.reader import parse_board
from sigsim.decide.compare import compare
from sigsim.decide.limits import LIMITS, MOST_WALKED, exceeded, open_runs
from sigsim.decide.loss.report import loss_report
from sigsim.decide.sheet import sheet
from sigsim.errors import SigsimError

LOOP = '[[chain]]\nloop = "l{i}"\n[[chain.inside]]\nstage = "p{i}"\npart = "pedal-true-bypass"\n'


def test_check_names_every_limit_and_each_command_refuses(tmp_path: Path) -> None:
    board = tmp_path / "large.toml"
    board.write_text(many_stages(520), encoding="utf-8")
    found = json.loads(sigsim_here("check", board, "--json").out)["cautions"]
    named = {c["subject"] for c in found if c["kind"] == "too-large"}
    assert named == {"states", "buffer", "cables", "blame", "spread", "noise", "report"}
    for command in sorted(named):
        more = {
            "report": ["-o", tmp_path / "page.html"],
            "spread": ["--tolerance", "resistance=10"],
        }.get(command, [])
        run = sigsim_here(command, board, *more)
        assert run.status == 2, command
        assert "at most" in run.err
        assert "too many" in run.err


def test_boards_of_64_stages_are_within_all_limits() -> None:
    assert not list(exceeded(parse_board(many_stages(64))))
    assert {limit.command for limit in LIMITS} >= {"states", "buffer", "report"}


@pytest.mark.parametrize(("loops", "runs"), [(0, 1), (1, 3), (2, 7), (3, 15)])
def test_runs_are_counted_as_the_walk_meets_them(loops: int, runs: int) -> None:
    """A loop with one pedal that isolates: out, in with it off, or a run that starts behind it."""
    text = many_stages(0) + "".join(LOOP.format(i=i) for i in range(loops))
    assert open_runs(parse_board(text)) == runs


def test_too_many_loops_are_refused_where_each_would_be_searched(tmp_path: Path) -> None:
    board = tmp_path / "loops.toml"
    board.write_text(many_stages(0) + "".join(LOOP.format(i=i) for i in range(24)), "utf-8")
    for command in (["buffer"], ["cables"], ["cables", "--limit", "6"]):
        run = sigsim_here(command[0], board, *command[1:])
        assert run.status == 2
        assert "ways through its loops" in run.err


PAD = (
    '[[chain]]\nstage = "p{i}"\nkind = "pad"\nseries_resistance = "1 kΩ"\n'
    'shunt_resistance = "1 MΩ"\nalways_on = false\n'
)


def test_what_is_held_opens_no_runs() -> None:
    board = parse_board(many_stages(0) + "".join(PAD.format(i=i) for i in range(5)))
    assert open_runs(board) == 2**5
    assert open_runs(board, {"p0": True, "p1": False}) == 2**3
    inside = parse_board(many_stages(0) + "".join(LOOP.format(i=i) for i in range(3)))
    assert open_runs(inside, {"l0": False, "l1": False}) == 3


def test_states_of_many_passive_things_are_drawn(tmp_path: Path) -> None:
    board = tmp_path / "pads.toml"
    board.write_text(many_stages(0) + "".join(PAD.format(i=i) for i in range(18)), "utf-8")
    assert MOST_WALKED < 2**18
    found = json.loads(sigsim_here("states", board, "--by", "corner", "--json").out)
    assert (found["states_total"], found["sampled"]) == (2**18, 2048)
    held = sigsim_here("states", board, "--by", "corner", "--off", "p0,p1,p2,p3,p4,p5,p6", "--json")
    assert json.loads(held.out)["sampled"] is None
    run = sigsim_here("states", board, "--csv", "-")
    assert run.status == 2
    assert "262,144" in run.err
    assert "131,072" in run.err


def test_what_grows_with_the_square_is_refused_on_a_board_of_thousands() -> None:
    board = parse_board(many_stages(4001))
    with pytest.raises(SigsimError, match=r"for `loss` .*4,001"):
        loss_report(board, [board.state(())])
    with pytest.raises(SigsimError, match=r"for `sheet` .*4,001"):
        sheet(board)
    with pytest.raises(SigsimError, match=r"for `compare` .*4,001"):
        compare([board, board])


@pytest.mark.parametrize("part", ["spread", "noise"])
def test_a_page_adds_nothing_that_its_command_refuses(part: str, tmp_path: Path) -> None:
    board = tmp_path / "large.toml"
    board.write_text(many_stages(520), encoding="utf-8")
    run = sigsim_here(
        "report", board, "-o", tmp_path / "page.html", "--only-scenes", "--with", part
    )
    assert run.status == 2
    assert f"for `{part}`" in run.err

"""Limits are refused at once and named by `check`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from helpers.all_states import many_stages
from helpers.in_process import sigsim_here

from sigsim.board.reader import parse_board
from sigsim.decide.limits import LIMITS, exceeded, open_runs

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

"""Limits are refused at once and named by `check`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from helpers.all_states import many_stages
from helpers.in_process import sigsim_here

from sigsim.board.reader import parse_board
from sigsim.decide.compare import compare
from sigsim.decide.limits import LIMITS, exceeded
from sigsim.decide.loss.report import loss_report
from sigsim.decide.sheet import sheet
from sigsim.errors import SigsimError


def test_check_names_every_limit_and_each_command_refuses(tmp_path: Path) -> None:
    board = tmp_path / "large.toml"
    board.write_text(many_stages(520), encoding="utf-8")
    found = json.loads(sigsim_here("check", board, "--json").out)["cautions"]
    named = {c["subject"] for c in found if c["kind"] == "too-large"}
    assert named == {"states", "buffer", "order", "cables", "blame", "spread", "noise", "report",
                     "edit"}  # fmt: skip
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


PAD = (
    '[[chain]]\nstage = "p{i}"\nkind = "pad"\nseries_resistance = "1 kΩ"\n'
    'shunt_resistance = "1 MΩ"\nalways_on = false\n'
)


@pytest.mark.parametrize(
    "command", ["loss", "states", "buffer", "order", "cables", "compare", "sheet"]
)
def test_pads_in_one_split_make_too_many_loads(command: str, tmp_path: Path) -> None:
    """Each pad doubles them; held, they do not."""
    board = tmp_path / "split.toml"
    pads = "".join(PAD.format(i=i) for i in range(17)).replace("[[chain]]", "[[chain.inside]]")
    board.write_text(many_stages(1) + '[[chain]]\nsplit = "s"\ndestination = {}\n' + pads, "utf-8")
    other = tmp_path / "other.toml"
    other.write_text(many_stages(1), "utf-8")
    run = sigsim_here(command, board, *([other] if command == "compare" else []))
    assert run.status == 2
    assert "131,072" in run.err
    assert "loads of one split" in run.err


def test_many_passive_things_are_no_limit(tmp_path: Path) -> None:
    board = tmp_path / "pads.toml"
    board.write_text(many_stages(0) + "".join(PAD.format(i=i) for i in range(30)), "utf-8")
    assert not list(exceeded(parse_board(board.read_text("utf-8"))))
    found = json.loads(sigsim_here("states", board, "--json").out)
    assert found["proven"]
    assert found["states_total"] == 2**30


def test_what_grows_with_the_square_is_refused_on_a_board_of_thousands() -> None:
    board = parse_board(many_stages(4001))
    with pytest.raises(SigsimError, match=r"for `loss` .*4,001"):
        loss_report(board, [board.state(())])
    board = parse_board(many_stages(2001))
    with pytest.raises(SigsimError, match=r"for `sheet` .*2,001"):
        sheet(board)
    with pytest.raises(SigsimError, match=r"for `compare` .*2,001"):
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

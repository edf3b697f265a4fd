"""What is written and where: no output is an input or another output; all appear or none."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from helpers.in_process import sigsim_here as sigsim
from helpers.refusals import ENDS, LEAD, STAGE, assert_refused

BOARD = ENDS + LEAD + STAGE + '[scenes]\nsolo = ["fuzz"]\n'


@pytest.fixture
def board(tmp_path: Path) -> Path:
    path = tmp_path / "b.toml"
    path.write_text(BOARD, encoding="utf-8")
    return path


def onto(board: Path, how: str) -> str:
    """Return another name of the board's file."""
    folder = board.parent
    match how:
        case "itself":
            return "b.toml"
        case "spelling":
            return f"../{folder.name}/./b.toml"
        case "link":
            (folder / "l.toml").symlink_to("b.toml")
            return "l.toml"
        case _:
            os.link(board, folder / "h.toml")
            return "h.toml"


@pytest.mark.parametrize("how", ["itself", "spelling", "link", "hard link"])
@pytest.mark.parametrize(
    "command",
    [
        ["netlist", "-o"],
        ["response", "--csv"],
        ["states", "--csv"],
        ["states", "--top", "2", "--csv"],
    ],
    ids=" ".join,
)
def test_an_output_is_never_the_board(command: list[str], how: str, board: Path) -> None:
    name = onto(board, how)
    run = sigsim(command[0], "b.toml", *command[1:], name, "--force", cwd=board.parent)
    assert_refused(run, "the input itself")
    assert board.read_text(encoding="utf-8") == BOARD


def test_a_board_to_compare_with_is_an_input_too(board: Path) -> None:
    page = board.parent / "other.html"
    page.write_text(BOARD, encoding="utf-8")
    run = sigsim("report", board, "-o", page, "--compare", page, "--force")
    assert_refused(run, "the input itself")
    assert page.read_text(encoding="utf-8") == BOARD


def test_a_buffer_is_written_onto_the_board_only_with_force(board: Path) -> None:
    board.chmod(0o640)
    assert_refused(sigsim("buffer", board, "--write", board), "--force")
    assert board.read_text(encoding="utf-8") == BOARD
    assert sigsim("buffer", board, "--write", board, "--force", "--place", 1).status == 0
    assert "put in by sigsim buffer" in board.read_text(encoding="utf-8")
    assert stat.S_IMODE(board.stat().st_mode) == 0o640


@pytest.mark.parametrize("other", ["x.svg", "./x.svg", "link.svg"])
def test_two_outputs_are_never_one_file(other: str, board: Path) -> None:
    folder = board.parent
    (folder / "link.svg").symlink_to("x.svg")
    run = sigsim("states", board, "--csv", "x.svg", "--plot", other, cwd=folder)
    assert_refused(run, "two outputs")
    assert not (folder / "x.svg").exists()


def test_a_second_output_that_cannot_be_takes_nothing_with_it(board: Path) -> None:
    old = board.parent / "x.csv"
    old.write_text("mine")
    for plot, words in ((board.parent, "folder"), ("no/x.svg", "folder"), ("x.gif", ".svg")):
        run = sigsim("states", board, "--csv", old, "--plot", plot, "--force", cwd=board.parent)
        assert_refused(run, words)
        assert old.read_text() == "mine"


def test_a_plot_that_fails_late_leaves_the_other_file(board: Path) -> None:
    """A limit on the size of files stops the plot, which is larger than the CSV."""
    old = board.parent / "x.csv"
    old.write_text("mine")
    command = (
        f'ulimit -f 16; "{sys.executable}" -m sigsim states "{board}" --csv x.csv --plot x.png'
        " --force"
    )
    done = subprocess.run(
        command, shell=True, cwd=board.parent, capture_output=True, text=True, timeout=100
    )
    assert done.returncode == 2
    assert "cannot be written" in done.stderr
    assert old.read_text() == "mine"
    assert sorted(os.listdir(board.parent)) == ["b.toml", "x.csv"]


def test_a_replaced_file_keeps_its_mode_and_a_link_stays(board: Path) -> None:
    target, link = board.parent / "x.cir", board.parent / "l.cir"
    target.write_text("mine")
    target.chmod(0o600)
    link.symlink_to("x.cir")
    assert_refused(sigsim("netlist", board, "-o", link), "--force")
    assert sigsim("netlist", board, "-o", link, "--force").status == 0
    assert link.is_symlink()
    assert target.read_text().startswith("*")
    assert stat.S_IMODE(target.stat().st_mode) == 0o600


def test_a_new_file_has_the_mode_of_any_new_file(board: Path) -> None:
    command = f'umask 027; "{sys.executable}" -m sigsim netlist "{board}" -o x.cir'
    subprocess.run(command, shell=True, cwd=board.parent, check=True, timeout=60)
    assert stat.S_IMODE((board.parent / "x.cir").stat().st_mode) == 0o640


@pytest.mark.parametrize("name", ["new/", "new/.", "new/..", ".", "", "  ", "-"])
@pytest.mark.parametrize(
    "command", [["netlist", "-o"], ["loss", "--plot"], ["buffer", "--write"]], ids=" ".join
)
def test_names_that_are_no_file(command: list[str], name: str, board: Path) -> None:
    run = sigsim(command[0], board, *command[1:], name, "--force", cwd=board.parent)
    assert_refused(run)
    assert (name.strip() or command[1]) in run.err
    assert os.listdir(board.parent) == ["b.toml"]


def test_standard_output_is_no_file_to_replace(board: Path) -> None:
    with (board.parent / "out.csv").open("w") as out:
        done = subprocess.run(
            [sys.executable, "-m", "sigsim", "response", board, "--csv", "out.csv", "--force"],
            cwd=board.parent, stdout=out, stderr=subprocess.PIPE, text=True, timeout=60,
        )  # fmt: skip
    assert done.returncode == 2
    assert "standard output" in done.stderr


def test_special_files_are_left_alone(board: Path) -> None:
    pipe = board.parent / "pipe"
    os.mkfifo(pipe)
    assert_refused(sigsim("netlist", board, "-o", pipe, "--force"), "ordinary file")
    assert stat.S_ISFIFO(pipe.stat().st_mode)


def test_a_board_whose_name_holds_a_control_character(tmp_path: Path) -> None:
    board = tmp_path / "bell\x07.toml"
    board.write_text(BOARD, encoding="utf-8")
    run = sigsim("buffer", board, "--write", tmp_path / "out.toml", "--place", 1)
    assert run.status == 0, run.err
    assert "put in by sigsim buffer" in (tmp_path / "out.toml").read_text(encoding="utf-8")

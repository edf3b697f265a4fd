"""--at on every command that shows a response: which end is heard, and how that is said."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from helpers.in_process import sigsim_here
from helpers.made import options
from helpers.program import EXAMPLES, sigsim
from helpers.refusals import assert_refused, quick, refused
from helpers.split_boards import IN_A_LOOP, TWO_AMPS, written

from sigsim.board.reader import parse_board, read_board
from sigsim.cli.main import COMMANDS
from sigsim.decide.loss.report import loss_report
from sigsim.errors import UnknownNameError
from sigsim.metrics import treble_loss
from sigsim.states.response import response

AT = ("--at", "second amp")
# Where each of them says at which end, in its first line.
SAID = ("loss", "states", "buffer", "order", "cables", "blame", "noise", "spread")
FEW = {"spread": ("--draws", "100"), "cables": ("--only", "cable-low")}


@pytest.fixture
def board(tmp_path: Path) -> Path:
    return written(tmp_path, TWO_AMPS)


def document(*arguments: object) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(quick(*arguments, "--json"))
    return found


def test_every_command_that_shows_a_response_of_a_board_takes_it() -> None:
    without = {
        "layout",
        "power",
        "sheet",
        "check",
        "parts",
        "new",
        "demo",
        "schema",
        "sweep",
        "record",
        "edit",
        "measure",
    }
    takes = {name for name in COMMANDS if any("--at" in option.opts for option in options(name))}
    assert takes == set(COMMANDS) - without


def test_the_end_asked_for_is_the_one_that_is_heard(board: Path) -> None:
    read = read_board(board)
    for end in read.ends:
        wanted = loss_report(read.heard_at(end), read.named_states()).worst.treble_loss
        at = ("--at", end) if end else ()
        assert document("loss", board, *at)["worst"]["treble_loss_db"] == wanted
        # Searched as one product and not segment by segment: another rounding.
        searched = pytest.approx(wanted, abs=1e-9)
        assert document("states", board, *at)["summary"]["worst_db"] == searched
        assert document("buffer", board, *at)["now_db"] == searched
        assert document("blame", board, *at)["state"]["treble_loss_db"] == wanted
        rows = document("response", board, *at, "--points", "2")
        exact = response(read.heard_at(end), (), rows["frequency_hz"])
        assert rows["gain_db"] == exact.gain_db.tolist()
    first, second = (document("loss", board, *at)["worst"] for at in ((), AT))
    assert first["treble_loss_db"] != second["treble_loss_db"]
    assert [check["segment"] for check in second["hand_check"]] == ["instrument → interface"]


@pytest.mark.parametrize("name", SAID)
def test_answers_say_at_which_end(board: Path, name: str) -> None:
    more = FEW.get(name, ())
    assert quick(name, board, *AT, *more).startswith("At 'second amp': ")
    assert quick(name, board, *more).startswith("At 'amp': ")
    assert document(name, board, *AT, *more)["at"] == "second amp"
    assert document(name, board, *more)["at"] is None


def test_a_board_with_one_end_does_not_speak_of_it() -> None:
    bass = EXAMPLES / "ferry-bass.toml"
    assert quick("loss", bass).startswith("Worst with")
    assert document("loss", bass)["at"] is None
    assert quick("loss", bass, "--at", "amp") == quick("loss", bass)


def test_a_destination_is_named_as_well_as_its_split(board: Path) -> None:
    at_split = quick("loss", board, *AT)
    assert quick("loss", board, "--at", "interface") == at_split
    assert quick("loss", board, "--at", "amp") == quick("loss", board)


def test_compare_listens_at_the_end_of_each_board(board: Path, tmp_path: Path) -> None:
    other = written(tmp_path, TWO_AMPS.replace('"3 m"', '"9 m"'), "longer.toml")
    said = quick("compare", board, other, *AT)
    assert said.startswith("At 'second amp': A, 'board.toml', loses")
    found = document("compare", board, other, *AT)
    assert [one["at"] for one in found["boards"]] == ["second amp"] * 2
    worst = [document("loss", one, *AT)["worst"]["treble_loss_db"] for one in (board, other)]
    assert [cell["treble_loss_db"] for cell in found["states"][-1]["boards"]] == worst


def test_boards_with_other_ends_are_compared_at_their_destinations(board: Path) -> None:
    bass = EXAMPLES / "ferry-bass.toml"
    said = quick("compare", board, bass)
    assert not said.startswith("At '")
    assert "A  two amps (" in said
    assert ", at 'amp'\n" in said
    message = refused("compare", board, bass, *AT)
    assert "ferry-bass.toml, --at" in message
    assert "this board has no split" in message


def test_a_recording_through_another_board_is_heard_at_its_end_of_that_name(
    board: Path, tmp_path: Path
) -> None:
    assert sigsim("demo", "--listen", cwd=tmp_path).status == 0
    dry = tmp_path / "sigsim-demo-reference.wav"
    other = written(tmp_path, TWO_AMPS.replace('"3 m"', '"9 m"'), "longer.toml")
    bass = EXAMPLES / "ferry-bass.toml"
    for through, end in ((other, ", at 'second amp'"), (bass, "")):
        found = document(
            "listen", board, dry, "-o", tmp_path / "o.wav", *AT, "--recorded-through", through,
            "--force",
        )  # fmt: skip
        assert found["at"] == "second amp"
        assert found["recorded_through"] == f"every stage off, {through.name}{end}"


def test_report_is_of_the_end_asked_for(board: Path, tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    said = quick("report", board, "-o", page, "--only-scenes", *AT)
    assert said.startswith("At 'second amp': worst with ")
    message = refused(
        "report", board, "-o", page, "--force", *AT, "--compare", EXAMPLES / "ferry-bass.toml"
    )
    assert "ferry-bass.toml, --at" in message


def test_silence_of_a_loop_that_is_out_is_no_knob_at_zero(tmp_path: Path) -> None:
    board = written(tmp_path, IN_A_LOOP)
    for name in ("loss", "blame", "noise", "spread"):
        said = " ".join(quick(name, board, *AT, "--all-off", *FEW.get(name, ())).split())
        assert "the loop 'L' around it is out" in said
        assert "knob" not in said
    assert "Noise" not in quick("buffer", board, *AT)


@pytest.mark.parametrize("name", ["loss", "response", "compare", "blame", "states", "buffer"])
@pytest.mark.parametrize("suffix", [".svg"])
def test_plots_say_at_which_end(board: Path, tmp_path: Path, name: str, suffix: str) -> None:
    plot = tmp_path / f"plot{suffix}"
    others = (written(tmp_path, TWO_AMPS.replace('"3 m"', '"9 m"'), "longer.toml"),)
    quick(name, board, *(others if name == "compare" else ()), *AT, "--plot", plot)
    assert "second amp" in plot.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("at", "words"),
    [
        ("second am", ["--at: there is no end of this name", 'did you mean "second amp"']),
        ("wah", ['accepted: "second amp", "interface", "amp"']),
        ("lead", ['accepted: "second amp", "interface", "amp"']),
        ("", ["--at: this says nothing", "accepted: NAME"]),
        (" ", ["--at: this says nothing"]),
    ],
)
def test_an_end_that_is_not_there_is_refused(board: Path, at: str, words: list[str]) -> None:
    assert_refused(sigsim_here("loss", board, "--at", at), *words)


def test_a_board_without_a_split_says_so() -> None:
    run = sigsim_here("loss", EXAMPLES / "ferry-bass.toml", "--at", "x")
    assert_refused(run, "this board has no split", 'accepted: "amp"')


def test_a_split_is_no_switch(board: Path) -> None:
    message = refused("loss", board, "--on", "second amp")
    assert "--on: a split cannot be switched" in message


def test_two_ends_of_one_name() -> None:
    """The chain's own destination goes by its name; of splits that share one neither does."""
    text = TWO_AMPS.replace('name = "interface"', 'name = "amp"')
    assert parse_board(text).heard_at("amp").at == ""
    twice = text.replace('name = "amp"', 'name = "desk"')
    other = twice[twice.index("[[chain]]\nsplit") : twice.index('[[chain]]\nstage = "wah"')]
    other = other.replace("second amp", "third").replace('"echo"', '"reverb"')
    twice = twice.replace("[scenes]", f'{other}[[chain]]\ncable = "lead"\nlength = 1\n[scenes]')
    with pytest.raises(UnknownNameError, match="no end"):
        parse_board(twice).heard_at("desk")
    assert parse_board(twice).ends == ("", "second amp", "third")


def test_python_takes_the_end_too(board: Path) -> None:
    read = read_board(board)
    there = response(read, at="second amp")
    assert treble_loss(there) == treble_loss(response(read.heard_at("second amp")))
    assert treble_loss(response(read.heard_at("second amp"))) != treble_loss(response(read))
    with pytest.raises(UnknownNameError):
        response(read, at="third amp")

"""`sigsim new`: with options, at a terminal, from a pipe and with nobody there."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from helpers.in_process import sigsim_here
from helpers.program import Run
from helpers.thinned import crossed
from hypothesis import given
from hypothesis import strategies as st

from sigsim.board.instrument_text import BLEEDS
from sigsim.board.parts import library
from sigsim.board.reader import parse_board, read_board
from sigsim.board.writer import BYPASSES, MOST_PEDALS, Plan, board_text
from sigsim.cli.commands import new
from sigsim.cli.main import COMMANDS, cli
from sigsim.decide.loss.report import loss_report
from sigsim.errors import SigsimError
from sigsim.items.instrument import PassiveInstrument
from sigsim.text import is_refused

PLAN: dict[str, Any] = {
    "title": "a title",
    "instrument": "bass-split-coil",
    "destination": "active-di",
    "cable": "cable-standard",
    "lead": "6 m",
    "patch": "20 cm",
    "last": "15 ft",
    "pedals": 4,
}
NEXT = "Written. Next: sigsim check board.toml, then sigsim loss board.toml\n"


def sigsim(*arguments: object, cwd: Path | None = None, text: str = "") -> Run:
    """Run the program with a pipe as its standard input, as nobody at a terminal would."""
    return sigsim_here(*arguments, cwd=cwd, text=text)


def uncommented(text: str) -> str:
    """Return a board file with every hidden example made to count."""
    return re.sub(r"(?m)^#(?=\S)", "", text)


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """Pretend that somebody sits there, in an empty folder."""
    monkeypatch.setattr(new, "is_terminal", lambda: True)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def asked(answers: str, *arguments: str) -> Result:
    return CliRunner().invoke(cli, ["new", "board.toml", *arguments], input=answers)


def stages(path: Path) -> list[str]:
    """Return the part of every stage in a board file."""
    chain = tomllib.loads(path.read_text(encoding="utf-8"))["chain"]
    return [item["part"] for item in chain if "stage" in item]


# The text


@pytest.mark.parametrize("pedals", [0, 1, 2, 6, MOST_PEDALS])
def test_text_reads_without_a_warning(pedals: int) -> None:
    board = parse_board(board_text(Plan(**PLAN | {"pedals": pedals})))
    assert not board.warnings
    assert board.switches() == tuple(f"pedal {n}" for n in range(1, pedals + 1))
    assert board.lead is not None
    assert board.scenes
    assert set(loss_report(board, []).worst.state.on) <= set(board.switches())


@pytest.mark.parametrize("pedals", [0, 1, 2, 6])
def test_hidden_examples_count_once_the_sign_is_gone(pedals: int) -> None:
    """The examples teach a tap, a loop, a buffer and scenes; all of them work as they stand."""
    text = board_text(Plan(**PLAN | {"pedals": pedals}))
    board = parse_board(uncommented(text))
    assert not board.warnings
    assert len(board.scenes) > len(parse_board(text).scenes)
    if pedals:
        names = {item.label for item in board.items()}
        assert {"buffer", "tuner output", "loop 1", "echo"} <= names


@pytest.mark.parametrize(("pedals", "patch"), crossed([1, 6, 14], ["20 cm", "8 in"]))
def test_the_examples_of_places_and_power_work(pedals: int, patch: str, tmp_path: Path) -> None:
    """Without the hidden loop and buffer, which stand nowhere; the layout gives every length."""
    odd = ("Tuner", 'an "odd" name $first', "volume pedal", "Fuzz")
    names = tuple(f"echo {n}" for n in range(pedals)) if pedals == 14 else odd[:pedals]
    plan = {"pedals": pedals, "patch": patch, "names": names, "counted": False}
    text = board_text(Plan(**PLAN | plan))
    before, *others = text.split("# Where the pedals stand")
    assert len(others) == 1
    for sign in ("sold = ", "current = "):
        assert len(re.findall(rf"(?m)^#{sign}", before)) == 1
        before = before.replace(f"#{sign}", sign)
    before = re.sub(r'(cable = "patch"\n)length = .*\n', r"\1", before)
    board = tmp_path / "board.toml"
    after = uncommented(others[0]).replace('"with the loop"', "#")
    board.write_text(f"{before}#{after}", encoding="utf-8")
    made = read_board(board)
    assert not made.warnings
    assert made.laying is not None
    assert all(piece.length > 0 for piece in made.pieces())
    run = sigsim("layout", board)
    assert run.status == 0, run.out
    assert "hangs over" not in run.out
    assert "no room" not in run.out
    assert sigsim("power", board).status == 0


def test_names_that_tell_nothing_are_said(tmp_path: Path) -> None:
    names = "Tuner,Vol,Echo,Crunch"
    run = sigsim("new", "board.toml", "--yes", "--names", names, cwd=tmp_path)
    said = " ".join(run.out.split())
    assert "Not recognised by the name: 'Vol', 'Crunch': taken for pedal-true-bypass." in said
    assert "sigsim parts --like" in said
    run = sigsim("new", "other.toml", "--yes", "--names", "Tuner,Echo", cwd=tmp_path)
    assert "Not recognised" not in run.out


def test_every_instrument_destination_and_cable() -> None:
    """No part of the library gives a file that cannot be read, hidden examples included."""
    for name, part in library().items():
        if part.kind in ("instrument", "destination", "cable"):
            text = board_text(Plan(**PLAN | {part.kind: name}))
            assert not parse_board(text).warnings
            parse_board(uncommented(text))


def test_old_pedals_come_first_and_buffered_ones_last() -> None:
    text = board_text(Plan(**PLAN | {"hardwire": 1, "buffered": 2}))
    parts = [item["part"] for item in tomllib.loads(text)["chain"] if "stage" in item]
    kinds = ["hardwire", "true", "buffered", "buffered"]
    assert parts == [BYPASSES[kind][0] for kind in kinds]


def test_counts_must_fit() -> None:
    with pytest.raises(SigsimError, match="more buffered and old pedals than pedals"):
        board_text(Plan(**PLAN | {"hardwire": 3, "buffered": 2}))


def test_every_section_says_what_to_change() -> None:
    """Before each table of a new kind there is a note; and the usual caution is there."""
    text = board_text(Plan(**PLAN))
    for section in ("[instrument]", "[destination]", "[cables.lead]", "[wiring]", "[scenes]"):
        assert text.split(section)[0].rstrip("\n").rpartition("\n")[2].startswith("# ")
    assert "dangerous voltages" in text


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_any_title_comes_back(title: str) -> None:
    title = "".join(c for c in title if not is_refused(c))  # what no board file may hold
    assert parse_board(board_text(Plan(**PLAN | {"title": title}))).title == title


# With options


def test_options_answer_everything(tmp_path: Path) -> None:
    run = sigsim(
        "new", "board.toml", "--instrument", "bass-active", "--lead", "15 ft", "--pedals", 5,
        "--buffered", 2, "--hardwire", 1, "--patch", "8 in", "--destination", "active-di",
        "--to-amp", "7 m", "--cable", "low", "--title", "Kiosk", cwd=tmp_path,
    )  # fmt: skip
    assert run == Run(0, NEXT, "")
    board = read_board(tmp_path / "board.toml")
    assert board.title == "Kiosk"
    assert [item.length for item in board.chain if item.label == "lead"] == [  # type: ignore[attr-defined]
        pytest.approx(15 * 0.3048), 7.0,
    ]  # fmt: skip
    assert sorted(stages(tmp_path / "board.toml")) == [
        "pedal-buffered", "pedal-buffered", "pedal-true-bypass", "pedal-true-bypass",
        "vintage-hardwire",
    ]  # fmt: skip
    assert board.cables["lead"].capacitance == pytest.approx(52e-12)


def test_what_it_writes_works_with_what_it_names_next(tmp_path: Path) -> None:
    sigsim("new", "board.toml", "--yes", cwd=tmp_path)
    for command in ("check", "loss"):
        assert sigsim(command, "board.toml", cwd=tmp_path).status == 0


def test_a_name_with_spaces_is_quoted_in_the_last_line(tmp_path: Path) -> None:
    run = sigsim("new", "my board.toml", "--yes", cwd=tmp_path)
    assert run.out.endswith("sigsim loss 'my board.toml'\n")
    assert read_board(tmp_path / "my board.toml").title == "my board"


def test_hostile_title(tmp_path: Path) -> None:
    title = 'a "quote" [instrument]\\ # é\U0001f3b8 ${pedals} {0} %s [31m \'\'\' """'
    run = sigsim("new", "board.toml", "--yes", "--title", title, cwd=tmp_path)
    assert run.status == 0
    assert read_board(tmp_path / "board.toml").title == title


@pytest.mark.parametrize("title", ["\x1b[31m", "a\rb", "\x9b", "\u202e", "a\u2028b"])
def test_a_title_that_no_board_may_have_is_refused(title: str, tmp_path: Path) -> None:
    run = sigsim("new", "board.toml", "--yes", "--title", title, cwd=tmp_path)
    assert run.status == 2
    assert "is not seen" in run.err
    assert not (tmp_path / "board.toml").exists()


def test_a_file_name_that_is_not_seen_becomes_a_title_that_is(tmp_path: Path) -> None:
    run = sigsim("new", "a\x1bb.toml", "--yes", cwd=tmp_path)
    assert run.status == 0
    assert "\x1b" not in run.out
    assert read_board(tmp_path / "a\x1bb.toml").title == "a\\u001bb"


def test_title_that_is_no_text(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "sigsim", "new", "board.toml", "--yes", "--title", b"\xff"]
    done = subprocess.run(command, capture_output=True, cwd=tmp_path, stdin=subprocess.DEVNULL)
    assert done.returncode == 2
    assert b"this title is not text" in done.stderr
    assert not list(tmp_path.iterdir())


BAD = {
    ("--lead", "6 kg"): ["--lead", "6 kg", "6 m"],
    ("--lead", "1,5 m"): ["--lead", "decimal point"],
    ("--lead", "200 m"): ["--lead", "cannot be meant", "0 to 100 m"],
    ("--lead", "-1 m"): ["--lead", "negative"],
    ("--patch", "nan"): ["--patch", "finite"],
    ("--patch", ""): ["--patch"],
    ("--to-amp", "4 kΩ"): ["--to-amp", "this is a resistance; a length is wanted"],
    ("--to-amp", "1 km"): ["--to-amp", "0 to 300 m"],
    ("--pedals", "61"): ["--pedals", "0 to 60"],
    ("--pedals", "-1"): ["--pedals", "-1"],
    ("--pedals", "six"): ["--pedals", "whole number"],
    ("--pedals", "9" * 5000): ["--pedals", "whole number"],
    ("--buffered", "7"): ["--buffered", "of 6 pedals so many cannot be", "0 to 6"],
    ("--instrument", "bass-split"): ["--instrument", 'did you mean "bass-split-coil"?'],
    ("--instrument", "cable-low"): ["--instrument", "none of the answers"],
    ("--destination", "10"): ["--destination", "none of the answers"],
    ("--cable", "best"): ["--cable", "low, standard, high"],
    ("--title", "x" * 10_001): ["--title", "10000 characters"],
}


@pytest.mark.parametrize("option", BAD, ids=lambda o: " ".join(o)[:30])
def test_bad_options(option: tuple[str, str], tmp_path: Path) -> None:
    """One message, status 2, nothing written."""
    run = sigsim("new", "board.toml", "--yes", *option, cwd=tmp_path)
    assert (run.status, run.out) == (2, "")
    assert run.err.startswith("sigsim: ")
    assert run.err.count("\n") == 1
    for word in BAD[option]:
        assert word in run.err
    assert not list(tmp_path.iterdir())


def test_options_that_do_not_fit_each_other(tmp_path: Path) -> None:
    many = ("--pedals", 4, "--buffered", 3, "--hardwire", 2)
    run = sigsim("new", "board.toml", "--yes", *many, cwd=tmp_path)
    assert run.status == 2
    assert "--hardwire: of 4 pedals so many cannot be, with 3 buffered" in run.err
    run = sigsim("new", "board.toml", "--yes", "--pedals", 0, "--to-amp", "5 m", cwd=tmp_path)
    assert run.status == 2
    assert "without pedals there is only the lead" in run.err
    assert not list(tmp_path.iterdir())


# Files


def test_existing_file_is_left_alone(tmp_path: Path) -> None:
    target = tmp_path / "board.toml"
    target.write_text("mine", encoding="utf-8")
    run = sigsim("new", "board.toml", "--yes", cwd=tmp_path)
    assert run == Run(2, "", "sigsim: board.toml: this file exists; --force overwrites it\n")
    assert target.read_text(encoding="utf-8") == "mine"
    assert sigsim("new", "board.toml", "--yes", "--force", cwd=tmp_path).status == 0
    assert read_board(target).title == "board"
    assert [path.name for path in tmp_path.iterdir()] == ["board.toml"]


def test_existing_file_is_refused_before_any_question(terminal: Path) -> None:
    (terminal / "board.toml").touch()
    result = asked("")
    assert "this file exists" in str(result.exception)
    assert "What do you play" not in result.output


def test_folder_that_is_not_there(tmp_path: Path) -> None:
    run = sigsim("new", "boards/new.toml", "--yes", cwd=tmp_path)
    assert (run.status, run.out) == (2, "")
    assert "there is no such folder" in run.err


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="nothing is closed to root")
def test_folder_that_is_closed(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    try:
        run = sigsim("new", "board.toml", "--yes", cwd=tmp_path)
    finally:
        tmp_path.chmod(0o700)
    assert (run.status, run.out) == (2, "")
    assert "cannot be written" in run.err
    assert not list(tmp_path.iterdir())


def test_folder_that_cannot_be_written(terminal: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As above, where nothing is closed to the user."""

    def refuse(*_args: Any, **_more: Any) -> Any:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("tempfile.mkstemp", refuse)
    result = asked("", "--yes")
    assert "the file cannot be written: Permission denied" in str(result.exception)
    assert not list(terminal.iterdir())


# At a terminal


def test_questions_at_a_terminal(terminal: Path) -> None:
    """Enter takes the default; numbers of the lists and names both answer."""
    answers = ["4", "15 ft", "3", "mix", "1", "", "", "active-di", "", "3", ""]
    result = asked("\n".join(answers) + "\n")
    assert result.exception is None
    assert result.stdout == NEXT
    assert result.stderr.count("? ") == len(answers)
    assert "Electric guitar with single-coil pickups" in result.stderr
    text = (terminal / "board.toml").read_text(encoding="utf-8")
    assert 'part = "bass-split-coil"' in text
    assert 'part = "cable-high"' in text
    assert stages(terminal / "board.toml") == ["pedal-true-bypass"] * 2 + ["pedal-buffered"]


@pytest.mark.parametrize(
    ("how", "part"),
    [("true", "pedal-true-bypass"), ("2", "pedal-buffered"), ("hardwire", "vintage-hardwire")],
)
def test_all_pedals_alike(terminal: Path, how: str, part: str) -> None:
    assert asked(f"\n\n2\n{how}\n\n\n\n\n\n").exception is None
    assert stages(terminal / "board.toml") == [part] * 2


def test_bad_answers_are_asked_again(terminal: Path) -> None:
    result = asked("kazoo\n1\n6 kg\n6 m\n99\n2\n\n\n\n\n\n\n")
    assert result.exception is None
    assert result.stderr.count("Error: ") == 3
    for word in ("none of the answers", "cannot be read as a length", "0 to 60"):
        assert word in result.stderr
    assert len(stages(terminal / "board.toml")) == 2


def test_what_an_option_says_is_not_asked(terminal: Path) -> None:
    result = asked("\n\n\n\n\n", "--instrument", "bass-active", "--pedals", "1", "--hardwire", "1")
    assert result.exception is None
    for question in ("What do you play", "How many", "patch cable", "when they are off"):
        assert question not in result.stderr
    assert stages(terminal / "board.toml") == ["vintage-hardwire"]


def test_no_pedals_no_further_questions_about_them(terminal: Path) -> None:
    result = asked("\n\n0\n\n\n")
    assert result.exception is None
    for question in ("when they are off", "patch cable", "the last pedal to there"):
        assert question not in result.stderr
    assert len(read_board(terminal / "board.toml").chain) == 1


def test_bad_option_is_refused_before_any_question(terminal: Path) -> None:
    result = asked("", "--cable", "best")
    assert "--cable: this is none of the answers" in str(result.exception)
    assert "What do you play" not in result.output


def test_stopping_half_way_writes_nothing(terminal: Path) -> None:
    result = asked("1\n6 m\n")
    assert result.exit_code == 1  # aborted; the program itself says 130
    assert not list(terminal.iterdir())


@pytest.mark.skipif(os.name != "posix", reason="needs a pseudo-terminal")
def test_real_terminal(tmp_path: Path) -> None:
    import pty

    master, slave = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "sigsim", "new", "board.toml", "--lead", "3 m"],
        stdin=slave, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=tmp_path,
    )  # fmt: skip
    os.write(master, b"2\n1\n\n\n\n\n\n")
    out, err = process.communicate(timeout=60)
    os.close(slave)
    os.close(master)
    assert process.returncode == 0
    assert out.decode() == NEXT
    assert b"What do you play" in err
    assert b"How long is the lead" not in err
    assert b"defaults taken" not in err


# Without a terminal


def test_nobody_there(tmp_path: Path) -> None:
    """Nothing is asked, and what holds is said as options that can be copied."""
    run = sigsim("new", "board.toml", "--pedals", "2", cwd=tmp_path)
    assert (run.status, run.out) == (0, NEXT)
    assert run.err == (
        "defaults taken: --instrument guitar-single-coil --lead '6 m' --buffered 0 --hardwire 0 "
        "--patch '20 cm' --destination solid-state-amplifier-input --to-amp '5 m' "
        "--cable standard\n"
    )
    options = run.err.removeprefix("defaults taken: ").strip().replace("'", "")
    assert options.count("--") == 8


def test_silent_pipe_does_not_hang(tmp_path: Path) -> None:
    """Another program may leave a pipe there that says nothing and never ends."""
    process = subprocess.Popen(
        [sys.executable, "-m", "sigsim", "new", "board.toml"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=tmp_path,
    )  # fmt: skip
    assert process.wait(timeout=60) == 0
    process.communicate()
    assert len(stages(tmp_path / "board.toml")) == 6


def test_piped_answers(tmp_path: Path) -> None:
    """One a line, an empty line for the default; where they end, the defaults begin."""
    run = sigsim("new", "board.toml", cwd=tmp_path, text="bass-two-coil\n\n4\n4\n0\n8 in\n")
    assert (run.status, run.out) == (0, NEXT)
    assert run.err == (
        "defaults taken: --lead '6 m' --destination solid-state-amplifier-input --to-amp '5 m' "
        "--cable standard\n"
    )
    board = read_board(tmp_path / "board.toml")
    assert stages(tmp_path / "board.toml") == ["pedal-buffered"] * 4
    assert board.instrument.part == "bass-two-coil"


def test_bad_piped_answer_names_its_line(tmp_path: Path) -> None:
    run = sigsim("new", "board.toml", cwd=tmp_path, text="1\n6 kg\n")
    assert (run.status, run.out) == (2, "")
    assert 'standard input, line 2, "How long is the lead from the instrument?"' in run.err
    assert not list(tmp_path.iterdir())


def test_yes_leaves_standard_input_alone(tmp_path: Path) -> None:
    run = sigsim("new", "board.toml", "--yes", cwd=tmp_path, text="kazoo\n")
    assert run.status == 0
    assert "defaults taken: --instrument" in run.err


@pytest.mark.parametrize("content", [b"\xff\xfe\x00\n", b"x" * 100_000])
def test_piped_rubbish(content: bytes, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "sigsim", "new", "board.toml"]
    done = subprocess.run(command, input=content, capture_output=True, cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr.startswith(b"sigsim: ")
    assert done.stderr.count(b"\n") == 1
    assert not list(tmp_path.iterdir())


def test_help_is_the_line_of_the_list() -> None:
    assert (new.command.help or "").splitlines()[0] == COMMANDS["new"]


# Names, lengths without a unit, and what a question means


def test_names_of_the_pedals(tmp_path: Path) -> None:
    run = sigsim("new", "board.toml", "--yes", "--names", 'tuner, "fuzz", $echo', cwd=tmp_path)
    assert run.status == 0, run.err
    board = read_board(tmp_path / "board.toml")
    assert board.switches() == ("tuner", '"fuzz"', "$echo")
    assert board.scenes["last pedal"] == ("$echo",)
    more = ("--names", "a,b", "--pedals", 4, "--force")
    assert sigsim("new", "board.toml", "--yes", *more, cwd=tmp_path).status == 0
    assert read_board(tmp_path / "board.toml").switches() == ("a", "b", "pedal 3", "pedal 4")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--names", ","), ["--names", "says nothing"]),
        (("--names", "a,a"), ["--names", "twice"]),
        (("--names", "a,b,c", "--pedals", "2"), ["--names", "more names than pedals"]),
        (("--patch", "0"), ["--patch", "a cable has a length"]),
        (("--patch", "20"), ["--patch", 'did you mean "20 cm"?']),
        (("--patch", "6"), ["--patch", 'did you mean "6 in"?', '"6 m" if metres']),
        (("--lead", "20"), ["--lead", 'did you mean "20 ft"?']),
        (("--lead", "1 ft 6 in"), ["--lead", '"1.5 ft" or "18 in"']),
        (("--lead", "2 m 50 cm"), ["--lead", '"2.5 m" or "250 cm"']),
    ],
)
def test_slips_are_asked_about(options: tuple[str, ...], words: list[str], tmp_path: Path) -> None:
    run = sigsim("new", "board.toml", "--yes", *options, cwd=tmp_path)
    assert (run.status, run.out) == (2, "")
    for word in words:
        assert word in run.err
    assert not list(tmp_path.iterdir())


def test_a_question_mark_explains_the_question(terminal: Path) -> None:
    result = asked("?\n1\n?\n6 m\n0\n\n\n")
    assert result.exception is None
    assert "Error" not in result.stderr
    assert result.stderr.count("1  guitar-single-coil") == 2
    assert "It hangs right on the pickup" in " ".join(result.stderr.split())


@pytest.mark.parametrize("pedals", ["0", "1", "3"])
def test_a_pipe_has_a_line_for_each_option_in_order(pedals: str, tmp_path: Path) -> None:
    lines = ["bass-two-coil", "3 m", pedals, "0", "0", "8 in", "active-di", "4 m", "low"]
    run = sigsim("new", "board.toml", cwd=tmp_path, text="\n".join(lines) + "\n")
    assert (run.status, run.err) == (0, "")
    board = read_board(tmp_path / "board.toml")
    assert board.cables["lead"].part == "cable-low"
    assert len(board.switches()) == int(pedals)


# What names tell


def made(names: str, *options: object, folder: Path) -> tuple[list[str], Run]:
    run = sigsim("new", "board.toml", "--yes", "--force", "--names", names, *options, cwd=folder)
    assert run.status == 0, run.err
    assert not read_board(folder / "board.toml").warnings
    return stages(folder / "board.toml"), run


def test_a_name_that_says_what_a_pedal_is_picks_the_part(tmp_path: Path) -> None:
    parts, run = made("tuner,comp,My Coal FUZZ 2,zonk,chorus,echo", folder=tmp_path)
    assert parts == [
        "tuner-true-bypass", "compressor-buffered", "fuzz-low-impedance", "pedal-true-bypass",
        "modulation-true-bypass", "echo-buffered",
    ]  # fmt: skip
    said = " ".join(run.out.split())
    assert "'My Coal FUZZ 2' is taken for fuzz-low-impedance, which wants the pickup" in said
    assert "To change one, change its part" in said
    assert "Not recognised by the name: 'zonk': taken for pedal-true-bypass." in said
    assert "--buffered" not in run.err  # no count holds where names tell
    lines = (tmp_path / "board.toml").read_text(encoding="utf-8").splitlines()
    for part in parts:
        (line, *_) = [line for line in lines if line.startswith(f'part = "{part}"')]
        from_name = '# from its name; if it is another, write one of "sigsim parts"' in line
        assert from_name == (part != "pedal-true-bypass")
        assert ("wants the pickup" in line) == (part == "fuzz-low-impedance")


COUNTED: dict[tuple[str, int, int], list[str]] = {
    ("fuzz,wub", 1, 0): ["fuzz-low-impedance", "pedal-buffered"],
    ("wub,fuzz", 1, 0): ["pedal-buffered", "fuzz-low-impedance"],
    ("wub,zonk,tuner", 1, 0): ["pedal-true-bypass", "pedal-buffered", "tuner-true-bypass"],
    ("comp,chorus,echo,reverb", 2, 0): [
        "compressor-true-bypass", "modulation-true-bypass", "echo-buffered", "echo-buffered",
    ],
    ("comp,echo", 0, 0): ["compressor-true-bypass", "echo-true-bypass"],
    ("chorus,tuner", 2, 0): ["modulation-buffered", "tuner-buffered"],
    ("looper,echo", 0, 0): ["looper-buffered", "echo-true-bypass"],
    ("fuzz,wah,zonk", 0, 1): ["fuzz-low-impedance", "wah-true-bypass", "vintage-hardwire"],
    ("fuzz,wah", 0, 1): ["fuzz-low-impedance", "wah-hardwire"],
    ("fuzz,fuzz 2", 2, 0): ["fuzz-low-impedance", "fuzz-low-impedance"],
}  # fmt: skip


@pytest.mark.parametrize("case", COUNTED, ids=str)
def test_a_count_goes_to_names_that_tell_nothing_and_never_to_a_fuzz(
    case: tuple[str, int, int], tmp_path: Path
) -> None:
    names, buffered, hardwire = case
    options = ("--buffered", buffered, "--hardwire", hardwire)
    assert made(names, *options, folder=tmp_path)[0] == COUNTED[case]


@pytest.mark.parametrize("name", ["pedal", "effect", "tuner out", "fuzzy logic", "2", "red one"])
def test_a_name_that_tells_nothing_or_too_much(name: str, tmp_path: Path) -> None:
    parts, run = made(name, folder=tmp_path)
    assert parts == ["pedal-true-bypass"]
    assert f"Not recognised by the name: '{name}': taken for" in run.out
    assert "is taken for" not in run.out
    assert run.out.endswith(NEXT)


def test_every_alias_gives_a_board_that_reads(tmp_path: Path) -> None:
    aliases = {a for part in library().values() if part.kind == "stage" for a in part.aliases}
    names = sorted(aliases)
    for start in range(0, len(names), MOST_PEDALS):
        some = tuple(names[start : start + MOST_PEDALS])
        plan = PLAN | {"pedals": len(some), "names": some, "counted": False}
        assert not parse_board(board_text(Plan(**plan))).warnings


def test_a_name_cannot_write_into_the_file(tmp_path: Path) -> None:
    name = '"]\n[scenes]\nevil = ["x fuzz'
    run = sigsim("new", "board.toml", "--yes", "--names", name, cwd=tmp_path)
    assert run.status == 2  # a line feed is no letter of a name
    assert not list(tmp_path.iterdir())


def test_names_are_asked_last_as_help_lists_them(terminal: Path) -> None:
    result = asked("\n\n3\n\n\n\n\n\na,a\na,b,c,d\nfuzz, echo\n")
    assert result.exception is None
    assert "What are they called, in order from the instrument" in result.stderr
    assert "Enter for pedal 1, pedal 2" in result.stderr
    assert result.stderr.count("Error: ") == 2
    assert read_board(terminal / "board.toml").switches() == ("fuzz", "echo", "pedal 3")
    assert stages(terminal / "board.toml")[:2] == ["fuzz-low-impedance", "echo-buffered"]


def test_names_from_a_pipe(tmp_path: Path) -> None:
    lines = ["", "", "2", "", "", "", "", "", "", "tuner, fuzz"]
    assert sigsim("new", "board.toml", cwd=tmp_path, text="\n".join(lines)).status == 0
    assert read_board(tmp_path / "board.toml").switches() == ("tuner", "fuzz")
    help_text = sigsim("new", "--help", cwd=tmp_path).out
    places = [help_text.index(f"\n  {q.option} ") for q in new.QUESTIONS]
    assert places == sorted(places)


def test_every_question_is_explained(terminal: Path) -> None:
    """A question mark says more than the question: a sentence or two of its own."""
    for question in (*new.QUESTIONS, new.BYPASS):
        assert 1 <= len(re.findall(r"[.](?: |$)", question.why)) <= 2, question.text
        assert question.why not in (question.text, question.help)
    result = asked("?\n\n?\n\n?\n2\n?\n\n?\n\n?\n\n?\n\n?\n\n?\n\n")
    assert result.exception is None
    said = " ".join(result.stderr.split())
    for question in new.QUESTIONS:
        if question not in (new.BUFFERED, new.HARDWIRE, new.TREBLE_BLEED):
            assert question.why in said


# What players say, feet after feet, and odd lengths


def test_a_treble_bleed_is_asked_about_where_there_is_one(terminal: Path) -> None:
    result = asked("\n" * 8 + "?\nseries\n", "--instrument", "guitar-treble-bleed")
    assert result.exception is None
    assert new.TREBLE_BLEED.why in " ".join(result.stderr.split())
    made = read_board(terminal / "board.toml").instrument
    assert (made.treble_bleed, made.treble_bleed_capacitor) == ("series", 1e-9)  # type: ignore[union-attr]


@pytest.mark.parametrize("kind", BLEEDS)
@pytest.mark.parametrize(
    "name", ["guitar-single-coil", "bass-two-pickup", "guitar-two-pickup", "guitar-treble-bleed"]
)
def test_a_treble_bleed_at_every_volume_knob(name: str, kind: str) -> None:
    """In the instrument's own table, or in that of every pickup with a knob of its own."""
    made = parse_board(board_text(Plan(**PLAN | {"instrument": name, "treble_bleed": kind})))
    assert not made.warnings
    instrument = made.instrument
    assert isinstance(instrument, PassiveInstrument)
    pots = [p for p in (instrument, *instrument.pickups) if p.volume_track is not None]
    for pot in pots:
        assert pot.treble_bleed_capacitor
        assert kind == pot.treble_bleed if pot.treble_bleed_resistor else kind == "capacitor"
    assert len(pots) == max(len(instrument.pickups), 1)


def test_a_treble_bleed_from_a_pipe_and_as_an_option(tmp_path: Path) -> None:
    """The last line of a pipe; what has no volume knob passes over it, and refuses the option."""
    lines = "\n" * 10
    for last, wanted in (("", 0.0), ("capacitor\n", 470e-12)):
        run = sigsim("new", "board.toml", "--force", cwd=tmp_path, text=lines + last)
        assert run.status == 0
        assert read_board(tmp_path / "board.toml").instrument.treble_bleed_capacitor == wanted  # type: ignore[union-attr]
    options = (
        "new",
        "other.toml",
        "--yes",
        "--instrument",
        "bass-active",
        "--treble-bleed",
        "series",
    )
    run = sigsim(*options, cwd=tmp_path)
    assert run.status == 2
    assert "--treble-bleed: bass-active has no volume knob" in run.err
    run = sigsim("new", "other.toml", "--yes", "--treble-bleed", "serial", cwd=tmp_path)
    assert run.status == 2
    assert 'did you mean "series"?' in run.err
    assert not (tmp_path / "other.toml").exists()


def test_the_knobs_of_pickups_stand_in_the_file(tmp_path: Path) -> None:
    text = board_text(Plan(**PLAN | {"instrument": "guitar-two-pickup"}))
    pickups = tomllib.loads(text)["instrument"]["pickups"]
    assert pickups == [{"name": n, "volume": 10, "tone": 10} for n in ("neck", "bridge")]


def test_an_instrument_by_what_players_call_it(tmp_path: Path) -> None:
    run = sigsim("new", "board.toml", "--yes", "--instrument", "bass", cwd=tmp_path)
    assert run.status == 2
    assert "more than one of the answers may be meant" in run.err
    assert "bass-split-coil" in run.err
    assert "guitar" not in run.err
    assert "sigsim parts --kind instrument" in run.err
    run = sigsim("new", "board.toml", "--yes", "--instrument", "humbucker guitar", cwd=tmp_path)
    assert "accepted: guitar-two-coil" in run.err  # the likeliest first
    run = sigsim("new", "board.toml", "--yes", "--destination", "valve amp", cwd=tmp_path)
    assert "valve-amplifier-input" in run.err


@pytest.mark.parametrize(
    ("options", "near"),
    [
        (("--lead", "15 ft", "--patch", "1"), "1 ft"),
        (("--lead", "15 ft", "--patch", ".5"), ".5 ft"),
        (("--lead", "15'", "--patch", "8"), "8 in"),
        (("--lead", "180 in", "--to-amp", "20"), "20 ft"),
        (("--patch", "8 in", "--to-amp", "5"), "5 ft"),
    ],
)
def test_a_number_after_feet_is_asked_about(
    options: tuple[str, ...], near: str, tmp_path: Path
) -> None:
    run = sigsim("new", "board.toml", "--yes", *options, cwd=tmp_path)
    assert run.status == 2
    assert options[2] in run.err
    assert f'did you mean "{near}"?' in run.err
    assert not list(tmp_path.iterdir())


def test_a_number_after_feet_is_asked_again_at_a_terminal(terminal: Path) -> None:
    result = asked("\n15 ft\n2\n\n1\n1 ft\n\n20\n20 ft\n\n\n")
    assert result.exception is None
    assert result.stderr.count("did you mean") == 2
    board = read_board(terminal / "board.toml")
    # One foot is 0.3048 m exactly (international yard, 1959).
    assert [piece.length for piece in board.pieces()] == [
        pytest.approx(n * 0.3048) for n in (15, 1, 20)
    ]


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--lead", "18 in"), "--lead: 18 in is short for such a cable, 3.3 to 39 ft is usual"),
        (("--lead", "0.5"), "--lead: 0.5 m is short for such a cable, 1 to 12 m is usual"),
        (("--lead", "30 m"), "--lead: 30 m is long"),
        (("--patch", "5 m"), "--patch: 5 m is long"),
        (("--to-amp", "20 cm"), "--to-amp: 20 cm is short"),
    ],
)
def test_an_odd_length_is_asked_about(options: tuple[str, ...], said: str, tmp_path: Path) -> None:
    run = sigsim("new", "board.toml", "--yes", *options, cwd=tmp_path)
    assert run.status == 0
    assert said in run.err
    run = sigsim("new", "board.toml", "--yes", "--force", cwd=tmp_path)
    assert "usual" not in run.err


@pytest.mark.parametrize("pedals", ["0", "2"])
def test_an_output_that_feeds_two_ways_is_a_split(pedals: str, tmp_path: Path) -> None:
    file = tmp_path / "board.toml"
    args = ("--pedals", pedals, "--to-amp", "7 m") if pedals != "0" else ("--pedals", pedals)
    done = sigsim("new", file, "--yes", *args, "--also", "instrument-input", text="")
    assert done.status == 0, done.err
    board = read_board(file)
    assert board.ends == ("", "second output")
    assert board.heard_at("second output").end.input_resistance == 1e6  # the part's
    wrong = sigsim("new", tmp_path / "other.toml", "--yes", "--also", "buffer-opamp", text="")
    assert wrong.status == 2
    assert "--also: this is none of the answers" in wrong.err

"""Every kind of bad input: one clear message, status 2, no traceback, nothing written."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from helpers.in_process import sigsim_here as sigsim
from helpers.refusals import CHAIN, ENDS, LEAD, STAGE, assert_refused


def stage(extra: str) -> str:
    return ENDS + '[[chain]]\nstage = "fuzz"\n' + extra


FULL = 'input_resistance = "1M"\noutput_resistance = "1k"\n'

BAD: dict[str, tuple[str, list[str]]] = {
    "broken TOML": ("title = =\n", ["not valid TOML", "line 1"]),
    "unknown section": (ENDS + LEAD + "[cabels.x]\n", ['"cabels"', '"cables"']),
    "unknown key": (
        stage(FULL + 'input_capacitence = "1n"\n'),
        ['did you mean "input_capacitance"'],
    ),
    "wrong kind of quantity": (
        stage('input_resistance = "6 m"\noutput_resistance = 0\n'),
        ["this is a length; a resistance is wanted"],
    ),
    "negative": (stage("input_resistance = -3\noutput_resistance = 0\n"), ["negative", "-3"]),
    "not a number": (stage("input_resistance = nan\noutput_resistance = 0\n"), ["finite"]),
    "infinite": (stage('input_resistance = "inf"\noutput_resistance = 0\n'), ["finite"]),
    "infinite by size": (stage('input_resistance = "1e999"\noutput_resistance = 0\n'), ["finite"]),
    "comma": (stage('input_resistance = "2,2 k"\noutput_resistance = 0\n'), ["decimal point"]),
    "boolean": (
        stage("input_resistance = true\noutput_resistance = 0\n"),
        ["a resistance is wanted"],
    ),
    "too long a cable": (
        ENDS + '[[chain]]\ncable = "lead"\nlength = "1000000000 m"\n',
        ["more than the 1 km", "cannot be meant"],
    ),
    "empty chain": (ENDS, ["the chain is empty"]),
    "no destination": (
        ENDS.replace('[destination]\ninput_resistance = "1 MΩ"', "") + LEAD,
        ["[destination]"],
    ),
    "no instrument": ('[destination]\n[[chain]]\ncable="x"\nlength=1\n', ["[instrument]"]),
    "two stages of one name": (ENDS + STAGE + STAGE, ["used twice", '"fuzz"']),
    "scene with unknown name": (
        ENDS + STAGE + '[scenes]\nsolo = ["fuz"]\n',
        ['"solo"', 'did you mean "fuzz"'],
    ),
    "unknown part": (stage('part = "buffer-opam"\n'), ['did you mean "buffer-opamp"']),
    "part of another kind": (
        stage(FULL + 'part = "rg-58"\n'),
        ["1 problem", "cable tables", '"rg-58"'],
    ),
    "unknown cable": (
        ENDS + '[[chain]]\ncable = "leed"\nlength = 1\n',
        ['did you mean "lead"'],
    ),
    "unknown bypass": (stage(FULL + 'bypass = "bufered"\n'), ['did you mean "buffered"']),
    "unknown kind of stage": (stage('kind = "pat"\n'), ['did you mean "pad"']),
    "unclear item": (ENDS + '[[chain]]\nstge = "x"\n', ['did you mean "stage"']),
    "two things at once": (ENDS + '[[chain]]\nstage = "x"\nloop = "y"\n', ["one thing only"]),
    "knob past ten": (
        ENDS.replace("[dest", 'volume_track="250k"\nvolume = 11\n[dest') + LEAD,
        ["10"],
    ),
    "empty loop": (ENDS + '[[chain]]\nloop = "x"\n', ["nothing inside"]),
    "open and loaded tap": (
        ENDS + '[[chain]]\ntap = "t"\ncable = "lead"\nlength = 1\nopen = true\n'
        'input_resistance = "1M"\n',
        ["open end"],
    ),
    "inline nesting": ("x = " + "[" * 3000 + "]" * 3000, ["nested too deeply"]),
    "huge integer": (
        stage(f"input_resistance = {'9' * 400}\noutput_resistance = 0\n"),
        ["line 11", "100 characters", "400"],
    ),
    "infinite integer": (
        stage(f"input_resistance = {'9' * 99}\noutput_resistance = 0\n"),
        ["cannot be meant"],
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_board(name: str, tmp_path: Path) -> None:
    text, words = BAD[name]
    board = tmp_path / "board.toml"
    board.write_text(text, encoding="utf-8")
    run = sigsim("loss", board, "--plot", tmp_path / "plot.png")
    assert_refused(run, "board.toml", *words)
    assert os.listdir(tmp_path) == ["board.toml"]


def test_all_problems_are_reported_at_once(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    board.write_text(stage('input_resistance = -1\noutput_resistance = "6 m"\nbypas = "x"\n'))
    assert_refused(sigsim("check", board), "3 problems", "negative", "length", "bypass")


def test_loops_nested_a_thousand_deep(tmp_path: Path) -> None:
    headers = ["chain" + ".inside" * depth for depth in range(1000)]
    text = ENDS + "".join(f'[[{h}]]\nloop = "l{i}"\n' for i, h in enumerate(headers))
    board = tmp_path / "board.toml"
    board.write_text(text)
    run = sigsim("check", board)
    assert_refused(run)
    assert "16 parts" in run.err or "1 MB" in run.err


def test_ten_megabyte_title(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    board.write_text(f'title = "{"x" * 10_000_000}"\n{ENDS}{LEAD}')
    assert_refused(sigsim("loss", board), "1 MB")


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda _: None, ["there is no such file"]),
        (lambda p: p.mkdir(), ["this is a folder"]),
        (lambda p: p.write_bytes(bytes(range(128, 256)) * 9), ["not a text file"]),
    ],
    ids=["missing", "folder", "binary"],
)
def test_files_that_are_no_board(make: object, words: list[str], tmp_path: Path) -> None:
    path = tmp_path / "thing.toml"
    make(path)  # type: ignore[operator]
    assert_refused(sigsim("loss", path), "thing.toml", *words)


@pytest.fixture
def good(tmp_path: Path) -> Path:
    board = tmp_path / "board.toml"
    board.write_text(ENDS + LEAD + STAGE + '[scenes]\nsolo = ["fuzz"]\n', encoding="utf-8")
    return board


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["loss", "--on", "fuz"], ["--on", 'did you mean "fuzz"']),
        (["loss", "--scene", "sollo"], ['did you mean "solo"']),
        (["loss", "--band", "2200", "2300"], ["--band"]),
        (["loss", "--band", "x", "2001"], ["--band", "frequency"]),
        (["loss", "--reference", "idle"], ["ideal"]),
        (["loss", "--plot", "x.gif"], [".png .svg .pdf"]),
        (["loss", "--plot", "x"], [".png .svg .pdf"]),
        (["response", "--from", "0"], ["--from"]),
        (["response", "--from", "1 MHz"], ["1 Hz to 100 kHz"]),
        (["response", "--from", "200", "--to", "100"], ["--from is above --to"]),
        (["response", "--points", "0"], ["--points"]),
        (["response", "--points", "999999999"], ["--points"]),
        (["response", "--all-off", "--scene", "solo"], ["one combination"]),
    ],
    ids=lambda value: " ".join(value),
)
def test_bad_options(arguments: list[str], words: list[str], good: Path) -> None:
    command, *rest = arguments
    run = sigsim(command, good, *rest, cwd=good.parent)
    assert_refused(run, *words)
    assert os.listdir(good.parent) == ["board.toml"]


def test_an_unknown_command_names_the_nearest(good: Path) -> None:
    assert_refused(sigsim("los", good), '"loss"')


def test_existing_output_is_kept_without_force(good: Path) -> None:
    taken = good.parent / "taken.csv"
    taken.write_text("mine")
    assert_refused(sigsim("response", good, "--csv", taken), "--force")
    assert taken.read_text() == "mine"
    assert sigsim("response", good, "--csv", taken, "--force").status == 0
    assert taken.read_text().startswith("frequency_hz,")


def test_output_into_a_folder_that_is_not_there(good: Path) -> None:
    assert_refused(
        sigsim("response", good, "--csv", good.parent / "no" / "x.csv"), "no such folder"
    )


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_output_into_a_folder_that_is_closed(good: Path) -> None:
    good.parent.chmod(stat.S_IRUSR | stat.S_IXUSR)
    assert_refused(sigsim("response", good, "--csv", good.parent / "x.csv"), "cannot be written")


def test_a_disk_that_is_full(good: Path) -> None:
    """A limit on the size of files refuses bytes in the middle of a file, as a full disk does."""
    target = good.parent / "x.csv"
    command = f'ulimit -f 8; "{sys.executable}" -m sigsim response "{good}" --csv "{target}"'
    command += " --points 5000"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, timeout=60)
    assert done.returncode == 2, done.stderr
    assert "cannot be written" in done.stderr
    assert os.listdir(good.parent) == ["board.toml"]


def test_a_device_is_not_replaced_by_a_file(good: Path) -> None:
    assert_refused(sigsim("response", good, "--csv", "/dev/null", "--force"), "ordinary file")
    assert not Path("/dev/null").is_file()


def test_a_reader_that_leaves_early(good: Path) -> None:
    command = f'"{sys.executable}" -m sigsim response "{good}" --points 100000 | head -1'
    done = subprocess.run(command, shell=True, capture_output=True, text=True, timeout=60)
    assert done.stdout == "frequency_hz,gain_db,phase_deg,reference_gain_db,loss_db\n"
    assert done.stderr == ""


def test_milliohms_where_kilohms_are_usual_warn(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    board.write_text(stage('input_resistance = "1m"\noutput_resistance = "1k"\n'))
    run = sigsim("loss", board)
    assert run.status == 0
    assert "less than an ohm" in run.err
    board.write_text(stage('input_resistance = "1M"\noutput_resistance = "1k"\n'))
    assert sigsim("loss", board).err == ""


def test_hostile_names_stay_text(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    title = "[31m$x^2$ [bold]\\n</script>"
    text = f'title = "{title}"\n' + ENDS + STAGE.replace('"fuzz"', '"[red]$a_b$ \\\\u0007"')
    board.write_text(text, encoding="utf-8")
    for command in (["loss"], ["check"], ["loss", "--plot", "p.svg"]):
        run = sigsim(command[0], board, *command[1:], cwd=tmp_path)
        assert run.status == 0, run.err
    assert "[red]$a_b$ \\u005cu0007" in sigsim("check", board).out
    assert "$x^2$ [bold] </script>" in sigsim("check", board).out


@pytest.mark.parametrize(
    ("text", "wrong", "right"),
    [
        (f'[instrument]\ntyp = "active"\n[destination]\n{CHAIN}', "typ", "type"),
        (f'{ENDS}{CHAIN}knd = "pad"\n', "knd", "kind"),
        (f'{ENDS}{CHAIN}prt = "wah-hardwire"\n', "prt", "part"),
        (f'{ENDS}[cables.other]\nprt = "cable-low"\n{CHAIN}', "prt", "part"),
        (f'{ENDS}{CHAIN}[[chain]]\ntap = "t"\nlenght = "1 m"\n', "lenght", "length"),
        (f'{ENDS}[[chain]]\nloop = "l"\ninsid = []\n', "insid", "inside"),
    ],
)
def test_keys_that_are_read_first_are_named_too(
    tmp_path: Path, text: str, wrong: str, right: str
) -> None:
    board = tmp_path / "b.toml"
    board.write_text(text, encoding="utf-8")
    run = sigsim("check", board)
    assert run.status == 2
    line = next(line for line in run.err.splitlines() if f'no key "{wrong}"' in line)
    assert f'did you mean "{right}"?' in line
    assert right in line.split("accepted: ")[1].split(", ")


def test_a_wrong_stage_does_not_hide_what_is_wrong_with_a_scene(tmp_path: Path) -> None:
    board = tmp_path / "b.toml"
    board.write_text(
        f'{ENDS}{CHAIN}input_resistance = "12 bananas"\n[scenes]\na = ["pedall"]\n',
        encoding="utf-8",
    )
    run = sigsim("check", board)
    assert "12 bananas" in run.err
    assert 'did you mean "pedal"?' in run.err

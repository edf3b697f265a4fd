"""What is wrong stands beside its line."""

from __future__ import annotations

from pathlib import Path

import pytest
from helpers.program import EXAMPLES

from sigsim.board.reader import parse_board
from sigsim.errors import SigsimError
from sigsim.live.faults import faults_of

TEXT = (EXAMPLES / "ferry-bass.toml").read_text(encoding="utf-8")
PATH = Path("some, line 7, board.toml")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('length = "5 m"', 'length = "5 kg"'),
        ("[instrument]", "[instrument"),
        ("[instrument]", "[instrumnt]"),
        ("[destination]", "[[destinations]]"),
        ("title", "titel"),
        ("[scenes]", '[scenes]\n"no such" = ["nobody"]'),
        ("[wiring]", '[wiring]\n"colour" = "red"'),
        ("[wiring]", "[wiring]\n x ="),
        ('cable = "lead"', 'cable = "laed"'),
        ("[[chain]]", "[[chain]]\r\nbypas = 1"),
    ],
)
def test_a_fault_stands_beside_its_line(old: str, new: str) -> None:
    text = TEXT.replace(old, new, 1)
    with pytest.raises(SigsimError) as raised:
        parse_board(text, str(PATH), lacking=True)
    wrong = new.replace("\r", "").split("\n")[-1]
    lines = {fault.get("line") for fault in faults_of(raised.value, PATH, text)}
    wanted = next(i for i, line in enumerate(text.split("\n"), 1) if wrong in line)
    assert wanted in lines


@pytest.mark.parametrize("sign", ["\x00", "\x0c", "\x1b", "\x7f", "a\rb"])
@pytest.mark.parametrize("line", ["# {}", 'note = "{}"', 'note = ["{}"]'])
def test_a_sign_that_cannot_be_seen_is_told_at_its_own_line(sign: str, line: str) -> None:
    """What TOML 1.0 allows in no comment and no string: control characters but tab."""
    text = f"{TEXT}{line.format(sign)}\n"
    with pytest.raises(SigsimError, match="cannot be seen") as raised:
        parse_board(text, str(PATH), lacking=True)
    assert faults_of(raised.value, PATH, text)[0]["line"] == text.count("\n")


def test_a_place_without_a_line_has_none() -> None:
    error = SigsimError("this is wrong", where='--at, line 5, "from line 3, x"')
    assert "line" not in faults_of(error, PATH)[0]
    assert (
        faults_of(SigsimError("x", where="from line 3, y, z"), PATH, "a\nz = 1\n")[0]["line"] == 3
    )

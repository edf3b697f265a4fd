"""No warning, no traceback, no infinite number on boards at the ends of what a file may say."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from helpers.extreme import extreme_board, lossless_board
from helpers.in_process import sigsim_here

# More with the environment variable; a warning is an error in every test. Such boards are also
# among those of `fuzz/`, each through a few commands.
BOARDS = int(os.environ.get("SIGSIM_EXTREME", "3"))
TOLERANCE = "resistance=10,capacitance=10,inductance=10"
COMMANDS = (
    ("loss", "--json"),
    ("loss", "--explain", "--reference", "direct"),
    ("states", "--json", "--by", "corner"),
    ("states", "--csv", "-"),
    ("response", "--json"),
    ("check",),
    ("buffer", "--count", "2", "--json"),
    ("cables", "--limit", "6", "--json"),
    ("blame", "--json"),
    ("spread", "--draws", "70", "--corners", "2", "--json", "--tolerance", TOLERANCE),
    ("noise", "--json"),
    ("report", "-o", "page.html", "--force"),
    ("report", "-o", "page.html", "--force", "--only-scenes"),
    ("sheet",),
    ("netlist",),
)


@pytest.mark.parametrize("seed", range(BOARDS))
@pytest.mark.parametrize("make", [extreme_board, lossless_board])
def test_every_command_answers_or_says_why_not(
    make: object, seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert callable(make)
    monkeypatch.chdir(tmp_path)
    Path("board.toml").write_text(make(seed), encoding="utf-8")
    for command, *options in COMMANDS:
        run = sigsim_here(command, "board.toml", *options)
        # 1: `cables --limit` cannot be reached.
        assert run.status in ((0, 1, 2) if command == "cables" else (0, 2)), (command, run.err)
        assert run.status == 0 or "sigsim: " in run.err, (command, run.err)
        assert "Warning" not in run.err
        if "--json" in options:
            assert "NaN" not in run.out
            assert "Infinity" not in run.out

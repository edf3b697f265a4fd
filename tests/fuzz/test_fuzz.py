"""Boards that somebody got wrong, through every command: an answer or one message, never more.

A few hundred a run; `SIGSIM_FUZZ=100000 .venv/bin/pytest -n 0 tests/fuzz` tries as many. What one
run finds is kept in `found/` as a small board, and each of them goes through every command.
"""

from __future__ import annotations

import json
import os
import random
import resource
import time
import unicodedata
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Final

import pytest
from helpers.in_process import sigsim_here
from helpers.mutated_boards import good_boards, mutated
from helpers.program import Run

ROOT: Final = Path(__file__).parents[2]
FOUND: Final = Path(__file__).parent / "found"
BOARDS: Final = int(os.environ.get("SIGSIM_FUZZ", "300"))
SEED: Final = 12
PARTS: Final = 10

# What each board goes through first: a board that is refused is refused by all commands alike.
FIRST: Final = ("check",)
# Of these some are drawn for each board, with what follows it. A new command is one more line.
COMMANDS: Final[tuple[tuple[str, ...], ...]] = (
    ("check", "--json"),
    ("loss",),
    ("loss", "--json"),
    ("states",),
    ("states", "--json"),
    ("states", "--csv", "-"),
    ("buffer",),
    ("buffer", "--json"),
    ("netlist",),
    ("sheet",),
    ("sheet", "--json"),
    ("spread", "--draws", "50"),
    ("spread", "--draws", "50", "--json"),
    ("noise",),
    ("noise", "--json"),
    ("blame",),
    ("blame", "--json"),
    ("cables", "--json"),
    ("response", "--points", "20"),
    ("response", "--points", "20", "--json"),
)
DRAWN: Final = 2
# Direction marks, tags and invisible separators; Cc, Zl and Zp are asked of the character itself.
NEVER: Final = {*map(chr, (0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)))}
# The contract of the program: every command within 30 s and 500 MB on boards of this size.
MOST_SECONDS: Final = 30.0
MOST_MEGABYTES: Final = 500.0


def unseen(text: str) -> list[str]:
    """Return what must never stand in an output: all but line ends that is not seen."""
    return [f"U+{ord(c):04X}" for c in text if c != "\n" and _is_unseen(c)]


def _is_unseen(c: str) -> bool:
    tag = 0xE0000 <= ord(c) < 0xE0080
    return c in NEVER or tag or unicodedata.category(c) in ("Cc", "Zl", "Zp")


def assert_answered(arguments: tuple[object, ...], run: Run) -> None:
    """An answer or one message, all of it seen; JSON that is JSON."""
    assert run.status in (0, 1, 2), arguments
    assert "Traceback" not in run.err
    assert not unseen(run.out + run.err), arguments
    if run.status == 2:
        assert run.out == "", arguments
        assert run.err.startswith(("sigsim: ", "Usage: ", "warning: ")), run.err
    elif "--json" in arguments:
        json.loads(run.out, parse_constant=_no_constant)


def _no_constant(name: str) -> None:
    raise AssertionError(f"{name} is no JSON")


def try_commands(path: Path, commands: Iterable[tuple[str, ...]]) -> None:
    """Run commands on one board, and none but the first on one that is refused."""
    for name, *options in (FIRST, *commands):
        begun = time.process_time()  # a busy machine is no finding
        run = sigsim_here(name, path, *options)
        assert_answered((name, *options), run)
        assert time.process_time() - begun < MOST_SECONDS, name
        if (name, *options) == FIRST and run.status == 2:
            return
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    assert peak < MOST_MEGABYTES, f"{peak:.0f} MB"


@pytest.mark.parametrize("part", range(PARTS))
def test_mutated_boards(part: int, tmp_path: Path) -> None:
    boards, path = good_boards(ROOT), tmp_path / "board.toml"
    for seed in range(SEED * 10_000_000 + part, SEED * 10_000_000 + BOARDS, PARTS):
        draw = random.Random(seed)
        text = mutated(draw.choice(boards), draw)
        path.write_text(text, encoding="utf-8")
        try:
            try_commands(path, draw.sample(COMMANDS, DRAWN))
        except BaseException as error:
            (tmp_path / "found.toml").write_text(text, encoding="utf-8")
            error.add_note(f"seed {seed}, kept as {tmp_path / 'found.toml'}")
            raise


# Numbers that overflow on their way to an answer that is right; each goes when its cause does.
OVERFLOWING: Final = {"last-of-every-range"}


def kept() -> Iterator[Any]:
    for path in sorted(FOUND.glob("*.toml")):
        expected = pytest.mark.xfail(strict=True, raises=RuntimeWarning, reason="an overflow")
        marks = [expected] if path.stem in OVERFLOWING else []
        yield pytest.param(path, id=path.stem, marks=marks)


@pytest.mark.parametrize("path", list(kept()))
def test_what_was_found_once(path: Path) -> None:
    try_commands(path, COMMANDS)

"""Boards that somebody got wrong, through every command: an answer or one message, never more.

Some of them in every run; `SIGSIM_FUZZ=100000 .venv/bin/pytest -n 0 tests/fuzz` tries as many.
What one run finds is kept in `found/` as a small board, and all of them go through every command.
"""

from __future__ import annotations

import json
import os
import random
import resource
import time
import unicodedata
import wave
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Final
from xml.etree import ElementTree

import pytest
from helpers.extreme import extreme_board, lossless_board
from helpers.in_process import sigsim_here
from helpers.mutated_boards import good_boards, mutated, toml
from helpers.odd_boards import odd_board
from helpers.program import Run

ROOT: Final = Path(__file__).parents[2]
FOUND: Final = Path(__file__).parent / "found"
MORE: Final = "SIGSIM_FUZZ" in os.environ
BOARDS: Final = int(os.environ.get("SIGSIM_FUZZ", "120"))
SEED: Final = 12
PARTS: Final = 10
OTHER: Final = "ferry-bass-buffered.toml"
# What some of the boards have inside them.
INSIDE: Final = "ferry-plan-deck.toml"

# What each board goes through first: a board that is refused is refused by all commands alike.
FIRST: Final = ("check",)
# Of these some are drawn for each board, with what follows it. A new command is one more line.
# OUT stands for a file to be written, OTHER for a good board, TENTH for a tenth of a second, RATIO
# for a table of one.
COMMANDS: Final[tuple[tuple[str, ...], ...]] = (
    ("check", "--json"),
    ("loss",),
    ("loss", "--json"),
    ("loss", "--every", "--explain"),
    ("loss", "--reference", "bare", "--band", "1000", "4000"),
    ("loss", "--at", "upper deck"),
    ("loss", "--at", "amp", "--json"),
    ("states",),
    ("states", "--json"),
    ("states", "--every", "--explain"),
    ("states", "--reference", "bare", "--by", "8000"),
    ("states", "--by", "level", "--below", "2000"),
    ("states", "--csv", "-"),
    ("states", "--at", "upper deck", "--json"),
    ("buffer",),
    ("buffer", "--json"),
    ("buffer", "--every", "--count", "2"),
    ("buffer", "--at", "upper deck"),
    ("order", "--seconds", "1"),
    ("order", "--seconds", "1", "--top", "3", "--json"),
    ("order", "--seconds", "1", "--at", "upper deck"),
    ("order", "--seconds", "1", "--buffer", "--write", "OUT.toml", "--pick", "1"),
    ("order", "--seconds", "1", "--scenes", "--write", "OUT.toml"),
    ("power",),
    ("power", "--json"),
    ("power", "--guess"),
    ("netlist",),
    ("netlist", "--line", "sections", "--sections", "2", "--noise"),
    ("netlist", "--reference", "bare"),
    ("layout",),
    ("layout", "OTHER", "--json"),
    ("layout", "--try", "--seconds", "0.2", "--json"),
    ("sheet",),
    ("sheet", "--json"),
    ("sheet", "-o", "OUT.html"),
    ("sheet", "-o", "OUT.csv"),
    ("sheet", "-o", "OUT.md"),
    ("spread", "--draws", "50"),
    ("spread", "--draws", "50", "--json"),
    ("spread", "--draws", "20", "--worst-case", "--corners", "2", "--normal", "--explain"),
    ("noise",),
    ("noise", "--json"),
    ("noise", "--at", "upper deck", "--all-off"),
    ("noise", "--explain", "--temperature", "1 K"),
    ("blame",),
    ("blame", "--json"),
    ("blame", "--every", "--explain", "--reference", "direct"),
    ("blame", "--at", "upper deck", "--json"),
    ("cables", "--only", "cable-low", "--limit", "3"),
    ("compare", "OTHER"),
    ("compare", "OTHER", "--json", "--reference", "bare"),
    ("response", "--points", "20"),
    ("response", "--points", "20", "--json"),
    ("response", "--points", "20", "--reference", "bare", "--from", "1", "--to", "1e6"),
    ("verify", "--through", "RATIO.csv", "--json"),
    ("verify", "--through", "RATIO.csv", "--driven-by", "100 kΩ", "--input", "1 MΩ, 150 pF"),
    ("verify", "--through", "RATIO.csv", "--without-means", "ideal", "--limit", "60", "--json"),
    ("verify", "--through", "RATIO.csv", "--at", "upper deck"),
    ("crosscheck", "--all-off", "--timeout", "5", "--json"),
    # Nothing is ever played: the board is there already, and this is no sweep.
    ("record", "--play", "TENTH.wav"),
)
# These take a second or more: only some boards go through one.
SLOW: Final[tuple[tuple[str, ...], ...]] = (
    ("cables", "--json"),
    ("cables", "--every"),
    ("report", "-o", "OUT.html", "--only-scenes"),
    ("report", "-o", "OUT.html", "--compare", "OTHER"),
    ("listen", "TENTH.wav", "-o", "OUT.wav"),
    ("listen", "TENTH.wav", "-o", "OUT.wav", "--difference", "--match-level", "--json"),
    ("layout", "--plot", "OUT.svg"),
    ("loss", "--plot", "OUT.svg"),
    ("states", "--plot", "OUT.png"),
    ("buffer", "--plot", "OUT.svg"),
    ("order", "--seconds", "1", "--plot", "OUT.svg"),
    ("spread", "--draws", "20", "--plot", "OUT.png"),
    ("noise", "--plot", "OUT.svg"),
    ("blame", "--plot", "OUT.png"),
    ("cables", "--only", "cable-low", "--plot", "OUT.svg"),
    ("compare", "OTHER", "--plot", "OUT.png"),
    ("response", "--points", "20", "--csv", "OUT.csv", "--plot", "OUT.svg"),
    ("listen", "TENTH.wav", "-o", "OUT.wav", "--plot", "OUT.png"),
    ("verify", "--through", "RATIO.csv", "--plot", "OUT.svg"),
    ("verify", "--through", "TENTH.wav", "--without", "RATIO.csv"),
)
DRAWN: Final = 2
DRAWN_SLOW: Final = 0.05  # of the boards
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


def assert_written(folder: Path, run: Run) -> None:
    """What was written is whole and seen, and nothing is where the board was refused."""
    written = [path for path in folder.iterdir() if path.name.startswith(("OUT", "."))]
    assert not (written and run.status == 2), written
    for path in written:
        assert not path.name.startswith("."), path
        if path.suffix in (".html", ".md", ".csv", ".svg"):
            text = path.read_bytes().decode()
            assert not unseen(text.replace("\r\n", "\n") if path.suffix == ".csv" else text)
        if path.suffix == ".svg":
            ElementTree.parse(path)
        path.unlink()


def _no_constant(name: str) -> None:
    raise AssertionError(f"{name} is no JSON")


def prepared(folder: Path) -> Path:
    """Put what the commands need beside a board, and return where it is to stand."""
    rate = 8000
    with wave.open(str(folder / "TENTH.wav"), "wb") as file:
        file.setparams((1, 2, rate, 0, "NONE", ""))
        file.writeframes(random.Random(SEED).randbytes(2 * rate // 10))
    rows = (f"{100 * 1.05**i},{-0.1 * i},{-i}" for i in range(100))
    (folder / "RATIO.csv").write_text("frequency_hz,gain_db,phase_deg\n" + "\n".join(rows) + "\n")
    for name, called in ((OTHER, "OTHER"), (INSIDE, INSIDE)):
        (folder / called).write_bytes((ROOT / "examples" / name).read_bytes())
    return folder / "board.toml"


def try_commands(path: Path, commands: Iterable[tuple[str, ...]]) -> None:
    """Run commands on one board, and none but the first on one that is refused."""
    folder = path.parent
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    for name, *options in (FIRST, *commands):
        words = [
            folder / x if x.startswith(("OUT", "OTHER", "TENTH", "RATIO")) else x for x in options
        ]
        begun = time.process_time()  # a busy machine is no finding
        run = sigsim_here(name, path, *words)
        assert_answered((name, *options), run)
        assert_written(folder, run)
        assert time.process_time() - begun < MOST_SECONDS, name
        if (name, *options) == FIRST and run.status == 2:
            return
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    # What other tests of the same process took before is not theirs.
    assert peak < max(MOST_MEGABYTES, before + 1), f"{peak:.0f} MB"


def drawn_board(draw: random.Random, good: list[dict[str, Any]]) -> str:
    """Return the text of a board: one that somebody got wrong, or one that is allowed and odd."""
    kind = draw.random()
    if kind < 0.7:
        return mutated(draw.choice(good), draw)
    if kind < 0.9:
        return toml(odd_board(draw))
    return draw.choice((extreme_board, lossless_board))(draw.randrange(10**9))


def drawn_commands(draw: random.Random) -> list[tuple[str, ...]]:
    """Return some commands, and for some boards one that is slow."""
    slow = [draw.choice(SLOW)] if draw.random() < DRAWN_SLOW else []
    return [*draw.sample(COMMANDS, DRAWN), *slow]


@pytest.mark.parametrize("part", range(PARTS))
def test_odd_boards(part: int, tmp_path: Path) -> None:
    boards, path = good_boards(ROOT), prepared(tmp_path)
    for seed in range(SEED * 10_000_000 + part, SEED * 10_000_000 + BOARDS, PARTS):
        draw = random.Random(seed)
        text = drawn_board(draw, boards)
        path.write_text(text, encoding="utf-8")
        try:
            try_commands(path, drawn_commands(draw))
        except BaseException as error:
            (tmp_path / "found.toml").write_text(text, encoding="utf-8")
            error.add_note(f"seed {seed}, kept as {tmp_path / 'found.toml'}")
            raise


@pytest.mark.parametrize("kept", sorted(FOUND.glob("*.toml")), ids=lambda path: path.stem)
def test_what_was_found_once(kept: Path, tmp_path: Path) -> None:
    path = prepared(tmp_path)
    path.write_bytes(kept.read_bytes())
    try_commands(path, (*COMMANDS, *SLOW) if MORE else COMMANDS)

"""The fast writer of all states, to the byte against Python's own formatting and csv module."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
from helpers.all_states import many_stages
from helpers.plain_csv import plain_csv
from helpers.program import EXAMPLES
from hypothesis import given
from hypothesis import strategies as st

from sigsim.board.reader import parse_board, read_board
from sigsim.decide.states.question import StatesQuestion
from sigsim.decide.states.report import listing
from sigsim.show.render.digits import WIDTH, put_numbers
from sigsim.show.states_csv import csv_lines
from sigsim.states.every import StateBlock

ODD = (
    math.nan, -math.nan, math.inf, -math.inf, 0.0, -0.0, 5e-324, -2.5e-310, 1e-5, 9.999999e-5,
    1.7976931348623157e308, -1.23457e-308, 1e6, 999_999.5, -999_999.4999, 123_456_789.0,
)  # fmt: skip
# Words change here; what is printed with one digit decides, and none of them is a double.
EDGES = (-1.05, 0.95, 2.95, 5.95, -1.0, 1.0, 3.0, 6.0)
NAMES = (
    "wah", 'the "old" one', "a, b", "-loud", "=1+1", "@", "'", "+", '"', ",", "é ü", "弦", "a\nb",
    "\x1b[31m", "\\u001b", "b\\nc", "👍🏽", "a\u200bb", "'quoted', too", " leading",
)  # fmt: skip


def fast(switches: Sequence[str], blocks: Sequence[StateBlock]) -> str:
    pieces = list(csv_lines(switches, iter(blocks)))
    assert sum(states for states, _ in pieces) == sum(block.on.size for block in blocks)
    return "".join(text for _, text in pieces)


def beside(value: float) -> list[float]:
    """Return a value, its neighbours among the doubles, and the same with a minus."""
    near = (math.nextafter(value, -math.inf), value, math.nextafter(value, math.inf))
    return [*near, *(-v for v in near)]


def ties() -> list[float]:
    """Return values in or by the middle of two texts, and by a power of ten, at each magnitude."""
    found: list[float] = []
    for power in range(-8, 9):
        for digits in ("1.000005", "1.234565", "4.999995", "9.999995", "9.9999949999", "1", "2.5"):
            found += beside(float(f"{digits}e{power}"))
    # These are doubles themselves, so that the even digit decides.
    for whole in (1024, 4095, 32_768, 99_999, 100_000, 524_287):
        for part in (0.5, 0.25, 0.125, 0.375, 0.0625, 0.03125, 2**-7):
            found += beside(whole + part)
    return found


def random_blocks(switches: int, seed: int, sizes: Sequence[int]) -> list[StateBlock]:
    draw = np.random.default_rng(seed)
    odd = np.array([*ODD, *ties(), *(v for edge in EDGES for v in beside(edge))])

    def numbers(rows: int) -> np.ndarray:
        values = draw.choice((-1, 1), (9, rows)) * 10 ** draw.uniform(-6, 7, (9, rows))
        usual = draw.normal(0, 3, (9, rows))
        picks = draw.random((9, rows))
        values = np.where(picks < 0.6, usual, values)
        return np.where(picks > 0.8, draw.choice(odd, (9, rows)), values)

    blocks = []
    for rows in sizes:
        on = draw.integers(0, 1 << switches, rows, dtype=np.uint64)
        # Also few things on, so that any name may come first or be the only one.
        on &= np.where(draw.random(rows) < 0.5, on, np.uint64(1) << (on % np.uint64(64)))
        values = numbers(rows)
        blocks.append(StateBlock(on, values[:6], *values[6:]))
    return blocks


@pytest.mark.parametrize("switches", [0, 1, 2, 11, 12, 13, 20, 24, 25, 62, 63])
def test_random_blocks_are_written_as_the_plain_way_does(switches: int) -> None:
    names = [f"{NAMES[i % len(NAMES)]}{i or ''}" for i in range(switches)]
    blocks = random_blocks(switches, switches, (1, 0, 700, 5000))
    assert fast(names, blocks) == plain_csv(names, blocks)


@given(
    st.lists(st.text(max_size=8) | st.sampled_from(NAMES), max_size=63), st.integers(0, 2**32 - 1)
)
def test_any_names_are_written_as_the_plain_way_does(names: list[str], seed: int) -> None:
    blocks = random_blocks(len(names), seed, (40,))
    assert fast(names, blocks) == plain_csv(names, blocks)


def test_long_names_are_written_as_the_plain_way_does() -> None:
    names = [f"{i}" + "long, " * (300 * i) for i in range(24)]
    blocks = random_blocks(24, 1, (60,))
    assert fast(names, blocks) == plain_csv(names, blocks)


def test_names_come_back_from_the_csv_module() -> None:
    names = ["a, b", 'c "d"', "é", "弦"]
    on = np.arange(16, dtype=np.uint64)
    none = np.full(16, np.nan)
    text = fast(names, [StateBlock(on, np.full((6, 16), np.nan), none, none, none)])
    rows = list(csv.DictReader(io.StringIO(text)))
    for state, row in enumerate(rows):
        assert row["on"] == " + ".join(name for i, name in enumerate(names) if state >> i & 1)
        assert [value for key, value in row.items() if key not in ("on", "verdict")] == [""] * 9
    assert len(rows) == 16


def written(values: Sequence[float]) -> list[str]:
    place = np.empty((len(values), WIDTH), dtype=np.uint8)
    put_numbers(np.array([values]), place)
    return [row.tobytes().replace(b"\0", b"").decode() for row in place]


def formatted(values: Sequence[float]) -> list[str]:
    return [f",{v:.6g}" if math.isfinite(v) else "," for v in values]


@given(st.lists(st.floats() | st.floats(-100, 100) | st.floats(1e-5, 2e6), min_size=1))
def test_any_number_is_written_as_python_formats_it(values: list[float]) -> None:
    assert written(values) == formatted(values)


def test_ties_and_powers_are_written_as_python_formats_them() -> None:
    values = [*ODD, *ties()]
    assert written(values) == formatted(values)


def test_all_digits_are_written_as_python_formats_them() -> None:
    """Every text of six digits has its first and its last three in some of these."""
    middle = [first * 1000 + last for first in range(100, 1000) for last in (0, 1, 10, 100, 999)]
    middle += [first * 1000 + last for first in (100, 123, 990) for last in range(1000)]
    for power in range(-4, 6):
        values = [float(f"{digits}e{power - 5}") for digits in middle]
        assert written(values) == formatted(values)


def test_words_change_where_what_is_printed_does() -> None:
    values = sorted(v for edge in EDGES for v in beside(edge))
    values += [low + (high - low) / 2 for low, high in pairwise(values)]
    rows = len(values)
    on, measures = np.zeros(rows, dtype=np.uint64), np.tile(values, (6, 1))
    block = StateBlock(on, measures, *np.ones((3, rows)))
    assert fast([], [block]) == plain_csv([], [block])


@pytest.mark.parametrize("board", ["ferry-bass.toml", "ferry-guitar-big.toml"])
def test_states_of_a_board_are_written_as_the_plain_way_does(board: str) -> None:
    every, blocks = listing(StatesQuestion(read_board(EXAMPLES / board)))
    kept = list(blocks)
    assert fast(tuple(every.bit), kept) == plain_csv(tuple(every.bit), kept)


def test_memory_does_not_grow_with_the_rows() -> None:
    """A piece is a small part of many rows, however many come in one block."""
    every, blocks = listing(StatesQuestion(parse_board(many_stages(16))))
    longest = max(len(text) for _, text in csv_lines(every.bit, blocks))
    # What is kept for a piece is at most a mebibyte, and the text of it no longer.
    assert longest <= 1 << 20

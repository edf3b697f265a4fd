"""Corner and resonance from forms of rank 4 are those of the exact model.

The oracle is the one-state solution (`metrics` on `Response`), which the tests of `physics/` hold
against a nodal analysis. The forms come from chain matrices that are multiplied here.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import pytest
from helpers.boards import Table, boards, switches, to_toml
from helpers.extreme import extreme_board, lossless_board
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings

from sigsim import metrics
from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.states.circuit import Circuit
from sigsim.states.forms import GRID, LEVEL_POINT, Half, Scratch, left_forms, right_forms
from sigsim.states.path import path
from sigsim.states.product import Product
from sigsim.states.response import Response, Solver, grid
from sigsim.states.shape import Shapes

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray

MOST_SWITCHES = 6
# The promise of a list: 0.001 dB and 0.2 % in the corner. A broad peak is as flat as its top: where
# it is, is promised as little as the corner.
PEAK_DB, CORNER = 0.001, 0.002


class Cut:
    """A board cut in two behind some items of its chain: the halves, and what is on in each row."""

    def __init__(self, board: Board, at: int) -> None:
        self.board, self.circuit = board, Circuit(board, GRID)
        chain = board.chain
        E, Z = (np.broadcast_to(v, GRID.shape) for v in self.circuit.start)
        Y = np.broadcast_to(self.circuit.load.Y, GRID.shape)
        share = 1.0 if self.circuit.load.share is None else self.circuit.load.share
        with np.errstate(all="ignore"):
            self.before = dict(self._rows(chain[:at], np.array((1 / E, Z / E)), forward=True))
            end = np.array((np.ones(GRID.size, complex), Y)) / share
            self.behind = dict(self._rows(chain[at:], end, forward=False))
            self.left = Half(left_forms(*np.array(list(self.before.values())).swapaxes(0, 1)))
            self.right = Half(right_forms(*np.array(list(self.behind.values())).swapaxes(0, 1)))
            self.shapes = Shapes(self.left, self.right, Scratch())

    def _rows(
        self, items: tuple[object, ...], row: ComplexArray, *, forward: bool
    ) -> Iterator[tuple[frozenset[str], ComplexArray]]:
        own = {name for name in self.board.switches() if _has(items, name)}
        for on in (
            frozenset(c) for k in range(len(own) + 1) for c in itertools.combinations(own, k)
        ):
            if self.board.heard(on) != on:
                continue
            p, q = row
            met = list(path(items, on))  # type: ignore[arg-type]
            for item, is_on in met if forward else reversed(met):
                A, B, C, D = self.circuit.step(item, is_on).matrix
                p, q = (p * A + q * C, p * B + q * D) if forward else (A * p + B * q, C * p + D * q)
            yield on, np.array((p + 0 * row[0], q + 0 * row[0]))

    def states(self) -> list[frozenset[str]]:
        return [a | b for a in self.before for b in self.behind]


def _has(items: tuple[object, ...], name: str) -> bool:
    return any(
        name in (getattr(item, "switch", None), getattr(item, "loop", None))
        or _has(getattr(item, "inside", ()), name)
        for item in items
    )


def same(ours: float, theirs: float | None, tolerance: float) -> bool:
    """Whether two numbers agree; not a number and None are the same nothing."""
    if theirs is None or math.isnan(theirs):
        return math.isnan(ours)
    return abs(ours - theirs) <= tolerance


def assert_right(cut: Cut, share: float = 0.0) -> int:
    """Compare every state but those that go to the exact model; return how many these are.

    Parameters
    ----------
    cut : of a board
    share : of its height, by which a peak may be off besides
    """
    solver = Solver(cut.board)
    with np.errstate(all="ignore"):
        corners, bent = cut.shapes.corners()
        frequencies, heights, rough = cut.shapes.resonances()
    for row, on in enumerate(cut.states()):
        response = Response(solver, on, grid(points=2), "ideal")
        if row not in bent:
            exact = metrics.corner(response)
            assert same(corners[row], exact, CORNER * (exact or 0)), (on, corners[row], exact)
        if row not in rough:
            peak = metrics.resonance(response)
            within = max(PEAK_DB, share * abs(heights[row]))
            assert same(heights[row], peak and peak.height, within), (on, heights[row], peak)
            f = None if peak is None else peak.frequency
            assert same(frequencies[row], f, 2 * CORNER * (f or 0)), (on, frequencies[row], peak)
    return len({*bent.tolist(), *rough.tolist()})


def pads(seed: int, count: int) -> Board:
    """Return a board of passive boxes that switch, between two cables."""
    draw = random.Random(seed)
    boxes = []
    for number in range(count):
        boxes.append(f'[[chain]]\nstage = "p{number}"\nalways_on = false')
        boxes.append(
            draw.choice(
                (
                    f'kind = "pad"\nseries_resistance = {draw.uniform(1e3, 1e5)}\n'
                    f"shunt_resistance = {draw.uniform(1e4, 1e6)}",
                    f'kind = "volume pedal"\ntrack = 250e3\nposition = {draw.uniform(1, 10)}',
                    'kind = "transformer"\nratio = 0.5\nprimary_inductance = 50\n'
                    "primary_resistance = 300\nwinding_capacitance = 200e-12",
                )
            )
        )
    return parse_board(
        f"instrument = {{resistance = {draw.uniform(2e3, 1e4)}, "
        f"inductance = {draw.uniform(1, 6)}, capacitance = 1e-10}}\n"
        f"destination = {{input_resistance = {draw.choice((2e5, 1e6, 1e7))}}}\n"
        "cables.c = {capacitance = 1e-10, resistance = 0.1, inductance = 3e-7}\n"
        'wiring = {cable = "c", length = 0.5}\n[[chain]]\ncable = "c"\nlength = 4\n'
        + "\n".join(boxes)
        + "\n"
    )


@pytest.mark.parametrize("number", range(12))
def test_pads_cut_anywhere(number: int) -> None:
    board = pads(number, 6)
    for at in (0, 3, len(board.chain) // 2, len(board.chain)):
        cut = Cut(board, at)
        # Those that no curve through a grid can be sure of are few.
        assert assert_right(cut) <= len(cut.states()) / 4


@settings(max_examples=tries(40, 80))
@seed(14)
@given(boards())
def test_random_boards_of_all_kinds(table: Table) -> None:
    assume(0 < len(switches(table)) <= MOST_SWITCHES)
    board = parse_board(to_toml(table))
    assert_right(Cut(board, len(board.chain) // 2))


@pytest.mark.parametrize("write", [lossless_board, extreme_board])
@pytest.mark.parametrize("number", range(30))
def test_boards_at_the_ends_of_what_is_accepted(write: object, number: int) -> None:
    board = parse_board(write(number))  # type: ignore[operator]
    # What `test_one_grid` allows such boards as well.
    assert_right(Cut(board, len(board.chain) // 2), share=0.002)


def test_no_value_is_under_its_bound() -> None:
    """In single precision, whatever cancels: against the sums in double; 100 Hz is not counted."""
    for number in range(6):
        cut = Cut(parse_board(lossless_board(number)), 2)
        with np.errstate(all="ignore"):
            product = Product(cut.left, cut.right, Scratch())
            bounds = np.repeat(product.bounds(), 10, axis=0)
            rows = np.arange(product.rows)
            for point, bound in enumerate(bounds[:-1]):
                exact = product.powers(rows, np.full((1, rows.size), point + 3))[0]
                assert np.all((bound <= exact) | product.doubtful | ~np.isfinite(product.level))


def test_the_level_is_that_of_the_product() -> None:
    cut = Cut(pads(1, 4), 5)
    solver = Solver(cut.board)
    levels = [metrics.level(Response(solver, on, grid(points=2), "ideal")) for on in cut.states()]
    np.testing.assert_allclose(Product(cut.left, cut.right, Scratch()).level, levels, atol=1e-9)
    assert GRID[LEVEL_POINT] == metrics.LEVEL_HZ

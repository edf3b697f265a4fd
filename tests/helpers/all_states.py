"""Every state of a board, one after another: what fast searches must agree with."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np

from sigsim import metrics
from sigsim.board.model import Board
from sigsim.metrics import Basis, Reference
from sigsim.states.every import EveryState
from sigsim.states.measure import Measure, treble
from sigsim.states.response import Response, Solver, grid


def every_state(board: Board) -> set[frozenset[str]]:
    names = board.switches()
    subsets = itertools.chain.from_iterable(
        itertools.combinations(names, k) for k in range(len(names) + 1)
    )
    return {board.heard(frozenset(on)) for on in subsets}


def every_loss(board: Board, reference: Reference) -> dict[frozenset[str], float]:
    solver = Solver(board)
    losses = {
        on: metrics.treble_loss(Response(solver, on, grid(points=2), reference))
        for on in every_state(board)
    }
    return {on: loss for on, loss in losses.items() if not math.isnan(loss)}


def many_stages(count: int) -> str:
    parts = ("pedal-true-bypass", "pedal-buffered", "vintage-hardwire", "drive-high-impedance")
    stages = "".join(f'[[chain]]\nstage = "s{i}"\npart = "{parts[i % 4]}"\n' for i in range(count))
    return f"""
[instrument]
part = "bass-split-coil"
[destination]
part = "instrument-input"
[cables.lead]
part = "cable-standard"
[wiring]
cable = "lead"
length = "30 cm"
[[chain]]
cable = "lead"
length = "6 m"
{stages}"""


def two_ways(main: int, split: int) -> str:
    """Return a board of so many stages on its main way, and in a split half-way along it."""
    ends, *stages = many_stages(main).split("[[chain]]\nstage")
    _, *inside = many_stages(split).replace('"s', '"i').split("[[chain]]\nstage")
    half = main // 2
    return "".join(
        (
            ends,
            *(f"[[chain]]\nstage{stage}" for stage in stages[:half]),
            '[[chain]]\nsplit = "second"\ndestination = { part = "valve-amplifier-input" }\n',
            *(f"[[chain.inside]]\nstage{stage}" for stage in inside),
            *(f"[[chain]]\nstage{stage}" for stage in stages[half:]),
        )
    )


def measures(reference: Reference) -> list[Measure]:
    at = [Measure(np.array([f]), reference) for f in metrics.LOSS_HZ]
    return [Measure(np.array([metrics.LEVEL_HZ]), None), *at, treble(Basis(reference))]


def rows(states: EveryState) -> Iterator[tuple[frozenset[str], list[float], float, float, float]]:
    for block in states.blocks():
        columns = zip(
            block.on.tolist(), block.measures.T.tolist(), block.corner.tolist(),
            block.resonance.tolist(), block.resonance_height.tolist(), strict=True,
        )  # fmt: skip
        for on, values, corner, frequency, height in columns:
            yield states.names(on), values, corner, frequency, height

"""Lengths that follow from a layout count in every number as if they were typed in.

The typed board is made by `helpers/laid_boards.py` from plain data. All numbers are the same to the
last bit: what is computed is the same.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from helpers.in_process import sigsim_here
from helpers.laid_boards import laid_board, typed_board
from helpers.thinned import some, tries
from helpers.variants import text

from sigsim.board.reader import parse_board

SEEDS = range(tries(12, 300))
ASKED = (
    "loss",
    "noise",
    "states",
    "blame",
    "cables",
    "check",
    "spread --draws 200",
    "netlist",
    "sheet",
)


def written(folder: Path, board: dict[str, Any]) -> Path:
    folder.mkdir(exist_ok=True)
    path = folder / "board.toml"
    path.write_text(text(board), encoding="utf-8")
    return path


@pytest.mark.parametrize("seed", SEEDS)
def test_the_wired_chain_is_that_of_the_typed_board(seed: int) -> None:
    board = laid_board(seed)
    laid, typed = parse_board(text(board)), parse_board(text(typed_board(board)))
    found = [(piece.cable, float(piece.length)) for piece in laid.pieces()]
    assert found == [(piece.cable, float(piece.length)) for piece in typed.pieces()]
    assert [i.label for i in laid.items()] == [i.label for i in typed.items()]


@pytest.mark.parametrize("asked", ASKED)
@pytest.mark.parametrize("seed", some(SEEDS[:6], 5))
def test_every_number_is_that_of_the_typed_board(tmp_path: Path, seed: int, asked: str) -> None:
    board = laid_board(seed)
    command, *options = asked.split()
    if command != "netlist":
        options.append("--json")
    runs = [
        sigsim_here(command, path, *options)
        for path in (
            written(tmp_path / "laid", board),
            written(tmp_path / "typed", typed_board(board)),
        )
    ]
    assert runs[0].status == runs[1].status == 0, runs[0].err
    assert values(runs[0].out, tmp_path) == values(runs[1].out, tmp_path)


# What says where a length comes from.
WHENCE = {"exact_quantities", "by_layout", "cautions", "laid"}


def values(output: str, folder: Path) -> Any:
    """Return the values of an output without what says where a length comes from."""
    if not output.startswith("{"):
        return output.replace(f"{folder}/laid", "").replace(f"{folder}/typed", "")
    return without(json.loads(output))


def without(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: without(one) for key, one in value.items() if key not in WHENCE}
    return [without(one) for one in value] if isinstance(value, list) else value

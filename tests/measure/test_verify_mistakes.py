"""`verify` where the files are the wrong way round, or something was not said.

What would be measured comes from the nodal oracle (`helpers.nodal`), as in `test_verify.py`.
"""

from __future__ import annotations

import copy
from dataclasses import replace

import numpy as np
import pytest
from helpers.boards import Table, to_toml
from helpers.nodal import solve
from helpers.verify_boards import POINTS, SIGMA, drawn, measured

from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.measure.comparison import Compared, verify
from sigsim.measure.response import Ratio
from sigsim.measure.verdict import Suspect, Verified
from sigsim.show.document import Paragraph
from sigsim.show.verify import document, sentence

OFF: frozenset[str] = frozenset()


def plan_of(table: Table) -> Board:
    return parse_board(to_toml(table).replace(" ± 10 %", ""))


def compare(plan: Board, T: np.ndarray, keep: np.ndarray | None = None, **how: object) -> Verified:
    kept = np.full(POINTS.size, True) if keep is None else keep
    ratio = Ratio("through.wav", POINTS[kept], T[kept], np.full(kept.sum(), SIGMA))
    return verify(plan, [Compared(plan.state(()), ratio)], **how)  # type: ignore[arg-type]


def said(verified: Verified) -> str:
    blocks = [b for b in document(verified).blocks if isinstance(b, Paragraph)]
    return " ".join(line for block in blocks for line in block.lines)


def long_board(number: int) -> Table:
    """Return a board that loses some decibels, as one with metres of cable does."""
    table = copy.deepcopy(drawn(number))
    table["chain"][-1]["length"] += 8.0
    return table


@pytest.mark.parametrize("number", [3, 5, 7])
@pytest.mark.parametrize("longer", [0.0, 2.0])
def test_through_and_without_the_wrong_way_round(number: int, longer: float) -> None:
    """The ratio is one over itself then; the board may be a little off as well."""
    table = long_board(number)
    built = copy.deepcopy(table)
    built["chain"][-1]["length"] += longer
    found = compare(plan_of(table), 1 / measured(built, OFF, 1))
    assert sentence(found).startswith("Swapped?")
    assert found.notes[0].endswith("swap --through and --without")
    assert found.suspects == ()
    assert found.record_next is None
    assert "Check first" not in said(found)
    right = compare(plan_of(table), measured(built, OFF, 1))
    assert not right.is_swapped


def test_a_forgotten_resistor_is_suggested() -> None:
    table = long_board(5)
    source = {"type": "active", "output_resistance": 100e3}
    built = {**copy.deepcopy(table), "instrument": source}
    straight = solve({**built, "chain": []}, OFF, POINTS)
    T = solve(built, OFF, POINTS) / straight
    found = compare(plan_of(table), T)
    assert not found.within_limit
    assert '--driven-by "100 kΩ"' in found.notes[0]
    assert compare(plan_of(table), T, driven_by=100e3).within_limit


def test_a_forgotten_reference_is_suggested() -> None:
    table = long_board(5)
    T = solve(table, OFF, POINTS) / solve(table, OFF, POINTS, "bare")
    found = compare(plan_of(table), T)
    if found.within_limit or max((s.explains for s in found.suspects), default=0.0) >= 0.7:
        pytest.skip("something else explains it as well")
    assert "--without-means bare" in found.notes[0]


@pytest.mark.parametrize(("explains", "is_first"), [(0.13, False), (0.39, False), (0.41, True)])
def test_what_explains_little_is_not_the_first_to_check(explains: float, is_first: bool) -> None:
    table = long_board(5)
    built = copy.deepcopy(table)
    built["chain"][-1]["length"] += 8.0
    found = compare(plan_of(table), measured(built, OFF, 1))
    suspect = Suspect(("lead",), "length", 1.0, "m", explains, ("lead",))
    shown = said(replace(found, suspects=(suspect,)))
    assert is_first == ("Check first" in shown)
    assert is_first != ("No single figure" in shown)


def test_bands_that_are_left_out_are_named() -> None:
    """Third octaves of 1 kHz and 1.26 kHz lie between 891 Hz and 1413 Hz (IEC 61260-1)."""
    table = drawn(3)
    T = measured(table, OFF, 1)
    found = compare(plan_of(table), T, (POINTS < 880) | (POINTS > 1430))
    (note,) = [note for note in found.notes if note.startswith("left out of through.wav")]
    assert ": 1 kHz, 1.26 kHz (" in note
    assert not any(note.startswith("left out") for note in compare(plan_of(table), T).notes)


def test_agreement_is_said_with_what_can_be_read() -> None:
    """Losses are printed to 0.1 dB, and the last third octave is called 10 kHz."""
    table = drawn(3)
    text = sentence(compare(plan_of(table), measured(table, OFF, 1)))
    assert text == "Agrees with the plan within 0.1 dB up to 10 kHz."

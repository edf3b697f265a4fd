"""Random boards in random states: the netlist, solved by ngspice, against our own solution."""

from __future__ import annotations

from helpers.boards import Table, boards_in_a_state, ends
from helpers.simulator import BOARDS, DECIBELS, DEGREES, NEEDS_NGSPICE, ngspice
from hypothesis import given, seed, settings

from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.metrics import Reference
from sigsim.spice.compare import differences
from sigsim.spice.emit_line import LineStyle

pytestmark = NEEDS_NGSPICE


def assert_agrees(
    board: Board, on: frozenset[str], reference: Reference | None, style: LineStyle | None = None
) -> None:
    (found,) = differences(board, [board.state(on)], ngspice(), reference=reference, style=style)
    assert found.db <= DECIBELS, f"{found.db} dB at {found.frequency} Hz, {reference}"
    assert found.deg <= DEGREES, f"{found.deg}°, {reference}"


@settings(max_examples=BOARDS)
@seed(11)
@given(boards_in_a_state())
def test_netlist_agrees(case: tuple[Table, frozenset[str], str]) -> None:
    table, on, text = case
    for at in ends(table):
        assert_agrees(parse_board(text).heard_at(at), on, None)


@settings(max_examples=max(BOARDS // 8, 30))
@seed(12)
@given(boards_in_a_state())
def test_references_agree(case: tuple[Table, frozenset[str], str]) -> None:
    table, on, text = case
    for at in ends(table):
        board = parse_board(text).heard_at(at)
        assert_agrees(board, on, "ideal")
        assert_agrees(board, on, "direct")


# 60 sections of the longest and slowest cable drawn, |γl| = 0.6 at 40 kHz, are off by
# (0.6/60)²/24 = 4e-6 of its own phase and loss: far under 0.0001 dB.
@settings(max_examples=max(BOARDS // 8, 30))
@seed(13)
@given(boards_in_a_state())
def test_sections_agree(case: tuple[Table, frozenset[str], str]) -> None:
    _, on, text = case
    assert_agrees(parse_board(text), on, None, LineStyle("sections", 60))

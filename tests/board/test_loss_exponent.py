"""The exponent of a coil's loss in a file: what is refused, and how it varies."""

from __future__ import annotations

import numpy as np
import pytest

from sigsim.board.reader import parse_board
from sigsim.errors import BoardError
from sigsim.items.instrument import PassiveInstrument
from sigsim.states.varied import at_places, varied

WHOLE = "[instrument]\ninductance = 3\n{}\n"
ONE_OF_TWO = """
[[instrument.pickups]]
name = "neck"
inductance = 3
{}
[[instrument.pickups]]
name = "bridge"
inductance = 2
"""
REST = '[destination]\n[cables.none]\n[[chain]]\ncable = "none"\nlength = 0\n'
LOSS = 'loss_resistance = "100 kΩ"\n'
REFUSED = [
    (LOSS + "loss_exponent = 1.01", "more than the 1 that an exponent can be"),
    (LOSS + "loss_exponent = -0.1", "must not be negative"),
    (LOSS + 'loss_exponent = "0.5 Ω"', "an exponent is wanted here"),
    (LOSS + 'loss_exponent = "0,5"', "write a decimal point"),
    (LOSS + 'loss_exponent = "nan"', "must be finite"),
    ("loss_exponent = 0.5", "accepted: loss_resistance beside it, or the line left out"),
]


@pytest.mark.parametrize("instrument", [WHOLE, ONE_OF_TWO], ids=["one coil", "a pickup"])
@pytest.mark.parametrize(("keys", "said"), REFUSED)
def test_one_clear_message(instrument: str, keys: str, said: str) -> None:
    with pytest.raises(BoardError) as raised:
        parse_board(instrument.format(keys) + REST)
    (problem,) = raised.value.problems
    assert "loss_exponent" in str(problem)
    assert said in str(problem)


@pytest.mark.parametrize("written", ["0", "0.5", '"0.5 ± 40 %"', "1"])
def test_both_ends_and_a_tolerance_are_accepted(written: str) -> None:
    parse_board(WHOLE.format(f"{LOSS}loss_exponent = {written}") + REST)


def test_draws_are_cut_to_0_and_1_and_both_figures_are_drawn() -> None:
    loss = 'loss_resistance = "100 kΩ ± 50 %"\nloss_exponent = "0.8 ± 100 %"'
    board = parse_board(WHOLE.format(loss) + REST)
    quantities = varied(board)
    assert [q.key for q in quantities] == ["loss_resistance", "loss_exponent"]
    made = at_places(board, quantities, np.array([[-1.0, -1.0], [0.0, 0.0], [1.0, 1.0]]))
    assert isinstance(made.instrument, PassiveInstrument)
    assert np.ravel(made.instrument.loss_exponent) == pytest.approx([0.0, 0.8, 1.0])
    assert np.ravel(made.instrument.loss_resistance) == pytest.approx([50e3, 100e3, 150e3])


def test_a_tolerance_for_all_exponents_can_be_asked_for() -> None:
    board = parse_board(WHOLE.format(LOSS + "loss_exponent = 0.5") + REST)
    (found,) = varied(board, {"exponent": 0.1})
    assert (found.key, found.tolerance) == ("loss_exponent", 0.1)


@pytest.mark.parametrize("part", ["bass-split-coil", "guitar-two-coil", "bass-covered"])
def test_the_library_draws_both(part: str) -> None:
    board = parse_board(f'[instrument]\npart = "{part}"\n{REST}')
    assert {"loss_resistance", "loss_exponent"} <= {q.key for q in varied(board)}

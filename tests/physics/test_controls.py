"""What the controls of real instruments do, in size, on a bass with a split coil.

The sizes are those that are told of such instruments, rounded to a tenth of a decibel or to half of
one; each tolerance is that rounding, and what is told is over loads that are not. The board is one
whose loads are usual: a lead of 6 m with 100 pF/m into an amplifier's 1 MΩ with a little
capacitance. The bass cut alone is told into 500 kΩ, two such inputs on one line.
"""

from __future__ import annotations

import numpy as np
import pytest

from sigsim.board.reader import parse_board
from sigsim.metrics import LEVEL_HZ, third_octaves
from sigsim.states.response import response

TREBLE = third_octaves(2000.0, 8000.0)
COIL = """
resistance = "11 kΩ"
inductance = "6 H"
capacitance = "35 pF"
loss_resistance = "470 kΩ"
"""
VOLUME = 'volume_track = "250 kΩ"\n'
TONE = 'tone_track = "250 kΩ"\ntone_capacitor = "47 nF"\n'
BLEED = 'treble_bleed_capacitor = "1 nF"\ntreble_bleed_resistor = "150 kΩ"\n'
SERIES = 'treble_bleed = "series"\n'
ONE_PICKUP = f"[[instrument.pickups]]\n{COIL}"
TENTH, HALF = 0.05, 0.25  # half of the last digit that is told, as every rounding


def gain(keys: str, input_resistance: float, frequency: np.ndarray) -> np.ndarray:
    """Return the gain [dB] of the bass with some keys at frequencies [Hz]."""
    text = f"""
        [instrument]
        {keys}
        [destination]
        input_resistance = {input_resistance!r}
        input_capacitance = "47 pF"
        [cables.lead]
        capacitance = "100 pF/m"
        plug_capacitance = "6 pF"
        [[chain]]
        cable = "lead"
        length = "6 m"
        """
    return response(parse_board(text), (), frequency).gain_db


def treble(keys: str) -> float:
    """Return the mean gain [dB] from 2 to 8 kHz over that at 100 Hz."""
    low, *high = gain(keys, 1e6, np.array([LEVEL_HZ, *TREBLE]))
    return float(np.mean(high) - low)


def level(keys: str, frequency: float = LEVEL_HZ, input_resistance: float = 1e6) -> float:
    return float(gain(keys, input_resistance, np.array([frequency]))[0])


@pytest.mark.parametrize(
    ("volume", "bleed", "told", "tolerance"),
    [
        (8, BLEED + SERIES, 2.6, TENTH),
        (4, BLEED + SERIES, 4.5, 2 * TENTH),  # the level moves by 0.2 dB, which is not in it here
    ],
)
def test_treble_bleed(volume: int, bleed: str, told: float, tolerance: float) -> None:
    knob = COIL + VOLUME + TONE + f"volume = {volume}\n"
    assert treble(knob + bleed) - treble(knob) == pytest.approx(told, abs=tolerance)


@pytest.mark.parametrize(("volume", "told"), [(8, 3.0), (4, 7.0)])
def test_treble_bleed_with_its_resistor_in_parallel_raises_the_level(
    volume: int, told: float
) -> None:
    knob = COIL + VOLUME + TONE + f"volume = {volume}\n"
    assert level(knob + BLEED) - level(knob) == pytest.approx(told, abs=TENTH)


def test_tone_control_of_a_pickup() -> None:
    """All the way up it is 250 kΩ across the coil."""
    took = treble(VOLUME + ONE_PICKUP + TONE) - treble(VOLUME + ONE_PICKUP)
    assert took == pytest.approx(-1.4, abs=TENTH)


def test_screened_wiring() -> None:
    keys = COIL + VOLUME + TONE
    took = treble(keys + 'wiring_capacitance = "150 pF"') - treble(keys)
    assert took == pytest.approx(-1.0, abs=1.5 * TENTH)  # 1.05: the last digit told is a tenth


def test_passive_bass_cut() -> None:
    """Into two inputs of 1 MΩ; told is half a decibel."""
    keys = COIL + VOLUME + TONE
    cut = level(keys + 'bass_cut_capacitor = "2.2 nF"', 100.0, 500e3) - level(keys, 100.0, 500e3)
    assert cut == pytest.approx(-5.5, abs=HALF)


def test_a_pot_the_other_way_round_leaves_the_other_pickup() -> None:
    """The usual pot at 0 shorts both; with its output at the track it is 250 kΩ across the other.

    Of the other pickup alone a load of 250 kΩ takes under half a decibel at 100 Hz: 11 of 261 kΩ.
    """
    pickup = ONE_PICKUP + VOLUME + 'name = "{}"\n'
    one = pickup.format("neck")
    other = pickup.format("bridge") + "volume = 0\n"
    assert level(one + other) == -np.inf
    backward = 'volume_wiring = "output at track"\n'
    took = level(one) - level(one + other + backward)
    assert took == pytest.approx(20 * np.log10(261 / 250), abs=TENTH)


@pytest.mark.parametrize("wiring", ["series", "parallel"])
@pytest.mark.parametrize("several", [1, 2])
def test_equal_pickups_of_opposite_polarity_are_silent(wiring: str, several: int) -> None:
    """Exactly, at every frequency, however many there are and whatever order they come in."""
    names = [f"{polarity} {n}" for polarity in ("normal", "reversed") for n in range(several)]
    pickups = "".join(
        ONE_PICKUP.replace("11 kΩ", f"{11 + int(name[-1])} kΩ")
        + f'name = "{name}"\npolarity = "{name.split()[0]}"\n'
        for name in names
    )
    keys = f'{VOLUME}{TONE}pickups_wiring = "{wiring}"\n{pickups}'
    assert not np.isfinite(gain(keys, 1e6, np.geomspace(20, 20e3, 31))).any()

"""Pickups of opposite polarity and pots turned down: what `check` says, and who else agrees."""

from __future__ import annotations

import numpy as np
import pytest
from helpers.in_process import sigsim_here
from helpers.simulator import ngspice, with_ngspice

from sigsim.board.reader import parse_board
from sigsim.board.state import State
from sigsim.decide.check.cautions import cautions
from sigsim.decide.page.figures import figures
from sigsim.spice.compare import differences
from sigsim.states.response import response

ENDS = """
[destination]
input_resistance = "1 MΩ"
[cables.lead]
capacitance = "100 pF/m"
[[chain]]
cable = "lead"
length = "5 m"
[[chain]]
stage = "drive"
input_resistance = "1 MΩ"
output_resistance = "1 kΩ"
gain = 60
[[chain]]
cable = "lead"
length = "5 m"
"""
REVERSED = 'polarity = "reversed"'
DOWN = 'volume_track = "250 kΩ"\nvolume = 0'
AT_TRACK = 'volume_wiring = "output at track"'


def board(*pickups: str, wiring: str = "parallel") -> str:
    text = "[instrument]\n" + (f'pickups_wiring = "{wiring}"\n' if len(pickups) > 1 else "")
    for number, keys in enumerate(pickups):
        text += f'[[instrument.pickups]]\nname = "p{number}"\npart = "pickup-single-coil"\n{keys}\n'
    return text + ENDS


def kinds(text: str) -> list[tuple[str, str]]:
    wanted = ("polarity-unheard", "pickups-cancel", "knob-at-zero", "tone-without-pot")
    return [(c.code, c.subject) for c in cautions(parse_board(text)) if c.code in wanted]


@pytest.mark.parametrize(
    ("pickups", "wiring", "found"),
    [
        ((REVERSED,), "parallel", [("polarity-unheard", "p0")]),
        ((REVERSED, REVERSED), "series", [("polarity-unheard", "p0")]),
        (("", REVERSED), "series", [("pickups-cancel", "the pickups")]),
        (("", REVERSED), "parallel", [("pickups-cancel", "the pickups")]),
        (("", REVERSED, ""), "parallel", []),
        (("", REVERSED + "\ninductance = 3"), "series", []),
        (("", DOWN), "parallel", [("knob-at-zero", "the volume knob of pickup 'p1'")]),
        (("", f"{DOWN}\n{AT_TRACK}"), "parallel", []),
        (("", f"{DOWN}\n{AT_TRACK}\n{REVERSED}"), "parallel", []),
        (
            (f"{DOWN}\n{AT_TRACK}",),
            "parallel",
            [("knob-at-zero", "the volume knob of pickup 'p0'")],
        ),
        (
            ("", "tone_capacitor = 1e-8"),
            "series",
            [("tone-without-pot", "pickup 'p1': tone capacitor")],
        ),
    ],
)
def test_what_check_says_of_pickups(
    pickups: tuple[str, ...], wiring: str, found: list[tuple[str, str]]
) -> None:
    assert kinds(board(*pickups, wiring=wiring)) == found


@with_ngspice
@pytest.mark.parametrize("wiring", ["series", "parallel"])
@pytest.mark.parametrize("pickups", [("", REVERSED), ("", "inductance = 3", REVERSED)])
def test_a_simulator_agrees_that_nothing_is_left(pickups: tuple[str, ...], wiring: str) -> None:
    """Behind 60 dB of gain too, where its rounding is louder than what counts as silence."""
    made = parse_board(board(*pickups, wiring=wiring))
    for found in differences(made, [State("off"), State("on", ("drive",))], ngspice()):
        assert found.db < 1e-3
        assert found.deg < 1e-2


@pytest.mark.parametrize("command", ["loss", "states", "blame", "noise", "sheet", "netlist"])
def test_silence_is_no_error(command: str, tmp_path: object) -> None:
    file = tmp_path / "board.toml"  # type: ignore[operator]
    file.write_text(board("", REVERSED), encoding="utf-8")
    run = sigsim_here(command, file)
    assert run.status == 0
    # A netlist says of every coil of the library that its loss is a ladder there.
    assert all(line.startswith("note: the coil's loss") for line in run.err.splitlines())


def test_a_reversed_pickup_alone_turns_the_phase_and_nothing_else() -> None:
    f = np.geomspace(20, 20e3, 9)
    one, other = (response(parse_board(board(keys)), (), f).H for keys in ("", REVERSED))
    np.testing.assert_array_equal(one, -other)


def test_the_page_offers_the_knobs_that_there_are() -> None:
    """A tone knob of a pickup and a bass cut, and none of a control that is not there."""
    text = board("tone_capacitor = 1e-8\ntone_track = 250e3", "")
    text = text.replace("[instrument]\n", "[instrument]\nbass_cut_capacitor = 2e-9\n", 1)
    text = text.replace("[instrument]\n", "[instrument]\nbass_cut_track = 1e6\n", 1)
    shown = {
        thing: {figure.key for figure in found.figures}
        for found in figures(parse_board(text))
        for thing in found.things
    }
    assert {"bass_cut", "bass_cut_taper"} <= shown["instrument", ""]
    assert not {"volume", "tone", "treble_bleed"} & shown["instrument", ""]
    assert "tone" in shown["pickup", "p0"]
    assert not {"tone", "volume", "volume_wiring"} & shown["pickup", "p1"]

"""What the page promises: the numbers of a change are those of the board once it is made."""

from __future__ import annotations

import math
import random
import time
from pathlib import Path
from typing import Any

import pytest
from helpers.boards import boards, to_toml
from helpers.program import EXAMPLES
from helpers.thinned import some, tries
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from sigsim.board.model import Board
from sigsim.decide.loss.report import assess
from sigsim.errors import SigsimError
from sigsim.live.boards import board_of
from sigsim.live.edits import edited
from sigsim.live.questions import CancelledError, gaps, worth
from sigsim.metrics import USUAL_BASIS, Basis
from sigsim.states.response import Solver
from sigsim.states.search import worst_state

BARE = Basis("bare")
# Both are the same model, by segments and by states: they differ by rounding.
SAME_DB = 1e-6
# The search for the worst ends within this of it.
WORST_DB = 1e-3


SILENT = """
[destination]
part = "solid-state-amplifier-input"
[cables.lead]
part = "cable-standard"
[wiring]
cable = "lead"
length = "30 cm"
[[chain]]
cable = "lead"
length = "9 m"
[[chain]]
stage = "fuzz"
part = "pedal-true-bypass"
[[chain]]
stage = "echo"
part = "pedal-true-bypass"
"""


def never() -> bool:
    return False


def told(board: Board, on: Any, *, with_lead: bool = False) -> float:
    """Return the treble loss of a state as `sigsim loss` has it."""
    state = board.state(frozenset(on) & frozenset(board.switches()))
    found = assess(Solver(board), state)
    return found.treble_loss_with_lead if with_lead else found.treble_loss


def see_kept(text: str, path: Path, on: list[str], variant: str = "", at: str = "") -> int:
    """See that what is promised comes true; return how much was promised."""
    found = worth(text, path, on, never, variant, at)["list"]
    now = board_of(text, path, variant, at)
    assert len(found) <= 3
    for offer in found:
        lead = offer["withLead"]
        made = edited(text, offer["edit"], path, variant)
        board = board_of(made.text, path, variant, at)
        assert offer["now"] == pytest.approx(told(now, on, with_lead=lead), abs=SAME_DB)
        assert offer["then"] == pytest.approx(told(board, on, with_lead=lead), abs=SAME_DB)
        assert offer["now"] - offer["then"] >= 0.2 - SAME_DB
        basis = BARE if lead else USUAL_BASIS
        assert offer["worst"] == pytest.approx(worst_state(board, basis).value, abs=WORST_DB)
        assert offer["worst"] <= worst_state(now, basis).value + 2 * WORST_DB
        assert "\n" not in offer["words"]
    return len(found)


def see_gaps(text: str, path: Path, part: str, on: list[str], at: str = "") -> list[Any]:
    """See that each gap does what its pill says; return the offers."""
    offers: list[Any] = gaps(text, path, part, on, never, "", at)["gaps"]
    assert len({offer["key"] for offer in offers}) == len(offers)
    for offer in offers:
        if offer["refused"]:
            assert (offer["then"], offer["worst"]) == (None, None)
            continue
        board = board_of(edited(text, offer["edit"], path).text, path, "", at)
        if offer["says"]:
            continue
        if offer["then"] is not None:
            assert offer["then"] == pytest.approx(told(board, on), abs=SAME_DB)
        if offer["worst"] is not None:
            assert offer["worst"] == pytest.approx(worst_state(board).value, abs=WORST_DB)
    return offers


@pytest.mark.parametrize("path", some(sorted(EXAMPLES.glob("*.toml")), 3), ids=lambda p: p.stem)
def test_promises_on_the_examples_come_true(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    board = board_of(text, path)
    draw = random.Random(path.stem)
    for end in board.ends:
        on = [name for name in board.switches() if draw.random() < 0.3]
        see_kept(text, path, on, at=end)
        see_gaps(text, path, "buffer-opamp", on, end)
    for variant in board.variants[:1]:
        see_kept(text, path, [], variant)


@seed(2)
@settings(max_examples=tries(4, 150), deadline=None)
@given(boards(), st.integers(0, 10**6))
def test_promises_on_random_boards_come_true(table: Any, chance: int) -> None:
    text, draw, path = to_toml(table, chance), random.Random(chance), EXAMPLES / "none.toml"
    board = board_of(text, path)
    on = [name for name in board.switches() if draw.random() < 0.5]
    at = draw.choice(board.ends)
    see_kept(text, path, on, at=at)
    see_gaps(text, path, draw.choice(("buffer-opamp", "pedal-true-bypass")), on, at)


def test_a_buffer_behind_the_fuzz_is_the_best_of_the_bass_board() -> None:
    """Where `sigsim buffer` puts it too (examples/ferry-bass-buffered.toml)."""
    path = EXAMPLES / "ferry-bass.toml"
    found = worth(path.read_text(encoding="utf-8"), path, [], never)["list"]
    assert found[0]["words"] == "a buffer after bilge fuzz"
    assert len({offer["edit"]["do"] for offer in found}) == 3


def test_a_gap_before_a_fuzz_says_why_not() -> None:
    path = EXAMPLES / "ferry-bass.toml"
    offers = see_gaps(path.read_text(encoding="utf-8"), path, "buffer-opamp", [])
    assert "bilge fuzz wants to see the pickup" in offers[0]["refused"]
    assert [offer["key"] for offer in offers if offer["refused"]] == [
        offer["key"] for offer in offers[:2]
    ]


def test_gaps_in_loops_that_are_out_and_in_other_files_say_so() -> None:
    big = EXAMPLES / "ferry-guitar-big.toml"
    found = gaps(big.read_text("utf-8"), big, "buffer-opamp", [], never)["gaps"]
    says = {offer["says"] for offer in found}
    assert says == {"", "the loop is out"}
    plan = EXAMPLES / "ferry-plan.toml"
    offers = gaps(plan.read_text("utf-8"), plan, "buffer-opamp", [], never)["gaps"]
    assert any("ferry-plan-deck.toml" in offer["refused"] for offer in offers)


def test_nobody_waits_for_what_was_cancelled() -> None:
    path = EXAMPLES / "ferry-guitar-big.toml"
    text = path.read_text(encoding="utf-8")
    with pytest.raises(CancelledError):
        worth(text, path, [], lambda: True)
    with pytest.raises(CancelledError):
        gaps(text, path, "buffer-opamp", [], lambda: True)


def test_it_is_cancelled_between_two_candidates() -> None:
    path = EXAMPLES / "ferry-guitar-big.toml"
    text = path.read_text(encoding="utf-8")
    asked = 0

    def soon() -> bool:
        nonlocal asked
        asked += 1
        return asked > 3

    board_of(text, path)
    begin = time.process_time()
    with pytest.raises(CancelledError):
        gaps(text, path, "buffer-opamp", [], soon)
    # Room for a slow machine: what is left to do takes many times as long.
    assert time.process_time() - begin < 0.5


@pytest.mark.parametrize("part", ["", "nothing", "cable-low", "bass-active", "\x00", "../x"])
def test_a_part_that_is_no_stage_is_refused(part: str) -> None:
    path = EXAMPLES / "ferry-bass.toml"
    with pytest.raises(SigsimError):
        gaps(path.read_text(encoding="utf-8"), path, part, [], never)


@pytest.mark.parametrize(
    ("pickups", "knob"), [(("normal", "reversed"), ""), (("normal",), "volume = 0")]
)
@pytest.mark.parametrize("part", ["buffer-opamp", "pedal-true-bypass"])
def test_nothing_is_promised_where_nothing_is_heard(
    pickups: tuple[str, ...], knob: str, part: str
) -> None:
    """Two pickups that cancel one another, or the knob at 0, as `sigsim loss` says "silent"."""
    coil = 'resistance = "8 kΩ"\ninductance = "3 H"\npolarity = "{}"\n'
    coils = "".join(f"[[instrument.pickups]]\n{coil.format(way)}" for way in pickups)
    track = f'volume_track = "500 kΩ"\n{knob}\n' if knob else ""
    text = f"[instrument]\n{track}{coils}{SILENT}"
    path = EXAMPLES / "none.toml"
    assert math.isnan(told(board_of(text, path), []))
    assert worth(text, path, [], never)["list"] == []
    offers = gaps(text, path, part, [], never)["gaps"]
    assert len(offers) == 2
    assert {(offer["then"], offer["worst"]) for offer in offers} == {(None, None)}
    assert {offer["says"] for offer in offers} == {"nothing is heard with it here"}


@pytest.mark.parametrize("part", ["wah-hardwire", "volume-pedal-passive", "echo-buffered"])
def test_other_parts_can_be_held_too(part: str) -> None:
    path = EXAMPLES / "ferry-bass.toml"
    see_gaps(path.read_text(encoding="utf-8"), path, part, ["swell"])


def test_a_board_from_which_nothing_comes_promises_nothing() -> None:
    path = EXAMPLES / "ferry-bass.toml"
    text = path.read_text(encoding="utf-8").replace("volume = 10", "volume = 0")
    assert worth(text, path, [], never)["list"] == []
    for part in ("buffer-opamp", "pedal-true-bypass"):
        offers = see_gaps(text, path, part, [])
        assert all(offer["then"] is None for offer in offers)

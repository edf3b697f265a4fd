"""What the examples say about a whole plan: orders, boards inside boards, variants."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from helpers.program import EXAMPLES

from sigsim.board.changes import Changes
from sigsim.board.part_stage import powered_part
from sigsim.board.reader import read_board
from sigsim.board.state import ALL_OFF
from sigsim.decide.buffer.report import buffer_report
from sigsim.decide.loss.report import loss_report
from sigsim.decide.order.applied import ordered_board
from sigsim.decide.order.report import box_names
from sigsim.decide.order.rules import contradiction, question
from sigsim.decide.order.search import search

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.order.question import Found

PLAN, DECK, AMP = "ferry-plan", "ferry-plan-deck", "ferry-amp-loop"


def board(name: str, *variants: str, values: tuple[str, ...] = ()) -> Board:
    """Return an example with some of its variants, or with values set."""
    return read_board(EXAMPLES / f"{name}.toml", Changes(variants, values))


def with_text(folder: Path, before: str, after: str) -> Board:
    """Return the plan with a text changed, from a copy that has the other board beside it."""
    texts = {n: (EXAMPLES / f"{n}.toml").read_text(encoding="utf-8") for n in (PLAN, DECK)}
    assert texts[PLAN].count(before) == 1
    texts[PLAN] = texts[PLAN].replace(before, after)
    for name, text in texts.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return read_board(folder / f"{PLAN}.toml")


def losses(board: Board) -> dict[str, float]:
    """Return the treble loss of every stage off, each scene and the worst state."""
    found = loss_report(board, board.named_states())
    by_name = {state.state.name: state.treble_loss for state in found.states}
    return by_name | {"worst": found.worst.treble_loss}


def found(board: Board) -> Found:
    return search(question(board))


def test_one_box_moved_cures_most_of_the_plan() -> None:
    answer = found(board(PLAN))
    assert answer.proven
    assert answer.now.loss > answer.orders[0].loss + 5
    assert answer.orders[0].loss < 2.5
    assert answer.moved[1].order == answer.orders[0].order
    names = box_names(question(board(PLAN)), answer.orders[0].order)
    assert names.index("even keel") + 1 == names.index("send")
    kept = found(board(PLAN, values=("even keel.fixed=true",)))
    assert kept.orders[0].loss > answer.now.loss - 0.1


def test_in_a_good_order_two_boards_lose_no_more_than_one() -> None:
    two, one = question(board(PLAN)), question(board(PLAN, "one-board"))
    order = found(two.board).orders[0].order
    saved = losses(two.board)["worst"] - losses(one.board)["worst"]
    assert saved == pytest.approx(2.8, abs=0.2)
    apart, beside = (losses(ordered_board(asked, order))["worst"] for asked in (two, one))
    assert apart == pytest.approx(beside, abs=0.05)


def test_the_other_basses_have_less_to_lose() -> None:
    active, old = found(board(PLAN, "active-bass")), found(board(PLAN, "old-bass"))
    assert active.now.loss < 0.6
    assert active.orders[0].loss < 0.1
    assert old.now.loss < found(board(PLAN)).now.loss / 2


def test_on_the_harbour_stage_no_order_helps_but_a_buffer_does() -> None:
    harbour = board(PLAN, "harbour-stage")
    answer = found(harbour)
    assert answer.now.loss > 12
    assert answer.orders[0].loss > answer.now.loss - 0.1
    buffer = powered_part("buffer-opamp", "buffer")
    assert search(question(harbour, buffer=buffer)).orders[0].loss < 2.5


def test_what_the_plan_demands_costs_what_it_says(tmp_path: Path) -> None:
    freer = found(with_text(tmp_path, 'before = ["send"]\n', ""))
    assert freer.orders[0].loss == pytest.approx(found(board(PLAN)).orders[0].loss - 0.7, abs=0.1)
    shielding = with_text(tmp_path, '"tuner-true-bypass"', '"tuner-buffered"')
    rules = [one.rule for one in contradiction(question(shielding))]
    assert sorted(rules) == ["after", "needs_pickup"]


def test_the_deck_loses_only_behind_what_drives_it_badly() -> None:
    assert losses(board(DECK))["worst"] < 0.1
    assert losses(board(DECK, values=("instrument.part=bass-split-coil",)))["worst"] > 3


def test_leads_behind_the_send_of_an_amplifier_hardly_matter() -> None:
    transistor, valve = losses(board(AMP)), losses(board(AMP, "valve-amp"))
    assert transistor["deck in"] == pytest.approx(transistor[ALL_OFF], abs=0.05)
    assert valve[ALL_OFF] + 0.2 < valve["deck in"] < valve[ALL_OFF] + 0.5
    harbour = losses(board(PLAN, "harbour-stage"))
    assert harbour["deck in"] == pytest.approx(harbour[ALL_OFF] + 6, abs=0.5)


def test_a_buffer_on_the_small_board_cures_the_rest() -> None:
    bare = board(AMP)
    advice = buffer_report(bare, powered_part("buffer-opamp", "buffer"))
    assert advice.advised
    assert advice.advised.loss < losses(bare)["worst"] - 3

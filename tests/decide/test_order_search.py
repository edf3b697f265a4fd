"""The best order of boxes is the one that trying every order finds."""

from __future__ import annotations

import itertools
import math
import random
import time
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pytest
from helpers.boards import Table, boards, to_toml
from hypothesis import HealthCheck, assume, given, seed, settings
from hypothesis import strategies as st

from sigsim.board import edit
from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.decide.buffer.gaps import gaps, is_place
from sigsim.decide.buffer.views import ALL_STATES, View, scene_views
from sigsim.decide.order import search as searching
from sigsim.decide.order.applied import allowed_gaps, ordered_board
from sigsim.decide.order.losses import Together, losses_of
from sigsim.decide.order.question import Box, Constraint, Found, Order, Question
from sigsim.decide.order.ranking import loss_of
from sigsim.decide.order.search import search
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.stage import ActiveStage
from sigsim.items.tap import Tap
from sigsim.states.search import worst_state

# Sums over boxes against one walk over the whole chain: rounding.
ROUNDING_DB = 1e-7
BUFFER = ActiveStage(
    stage="put in", input_resistance=1e6, input_capacitance=20e-12, output_resistance=220.0,
    input_capacitor=47e-9, output_capacitor=10e-6, always_on=True,
)  # fmt: skip


def question(
    board: Board,
    level: tuple[int, ...] = (),
    *,
    rules: Sequence[tuple[str, int, int]] = (),
    ranks: Sequence[int | None] | None = None,
    **more: Any,
) -> Question:
    """Return what is asked of a level, its boxes found by hand."""
    found: list[tuple[Any, list[Any]]] = []
    hangs = False
    for item in edit.siblings(board, (*level, 0)):
        if isinstance(item, Tap | Split) and hangs:
            found[-1][1].append(item)
        else:
            hangs = not isinstance(item, Cable | Tap | Split)
            if hangs:
                found.append((item, []))
    made = tuple(
        Box(number, item, tuple(hanging), _ranks(ranks, number))
        for number, (item, hanging) in enumerate(found)
    )
    constraints = tuple(Constraint(rule, "", "", a, b) for rule, a, b in rules)  # type: ignore[arg-type]
    return Question(board, level, made, constraints, **{"views": (ALL_STATES,), **more})


def _ranks(ranks: Any, number: int) -> tuple[int, ...]:
    return () if ranks is None or ranks[number] is None else (ranks[number],)


def reordered(table: Table, order: Order) -> Table:
    """Return the plain table of a board with its boxes in another order."""
    boxes: list[list[Table]] = []
    places: list[Table | None] = []
    for item in table["chain"]:
        if "stage" in item or "loop" in item:
            boxes.append([item])
            places.append(None)
        elif "cable" not in item or "tap" in item:
            (boxes[-1] if places and places[-1] is None else places).append(item)
        else:
            places.append(item)
    numbers = iter(order)
    chain: list[Table] = []
    for place in places:
        chain += boxes[next(numbers)] if place is None else [place]
    return {**table, "chain": chain}


def permitted(asked: Question) -> Iterator[Order]:
    """Yield every order that obeys all constraints."""
    count = len(asked.boxes)
    for order in itertools.permutations(range(count + (asked.buffer is not None))):
        plain = [number for number in order if number < count]
        good = all(
            plain.index(rule.first) == rule.second
            if rule.rule == "fixed"
            else order.index(rule.first) < order.index(rule.second)
            for rule in asked.constraints
        )
        if good and (asked.buffer is None or allowed_gaps(asked, order)):
            yield order


def pairs(asked: Question, order: Order) -> tuple[int, int]:
    """Count the pairs against the custom, and those turned against the file."""
    ranks = [box.ranks for box in asked.boxes] + [()]
    placed = list(itertools.combinations(order, 2))
    count = len(asked.boxes)
    custom = sum(a > b for one, two in placed for a in ranks[one] for b in ranks[two])
    return custom, sum(a > b for a, b in placed if max(a, b) < count)


def tried(asked: Question) -> list[tuple[Any, ...]]:
    """Return all permitted orders by the ranking: its key, and the loss before it."""
    orders = list(permitted(asked))
    if not orders:
        return []
    losses = losses_of(asked).of(np.array(orders))
    limit = round(max(min(losses) + 0.1, 0.5), 7)
    found = []
    for order, loss in zip(orders, np.round(losses, 7).tolist(), strict=True):
        rest = pairs(asked, order)
        found.append((0, *rest, loss, order) if loss <= limit else (1, loss, *rest, order))
    return sorted(found)


def some_rules(draw: random.Random, count: int) -> list[tuple[str, int, int]]:
    """Draw constraints that some order obeys."""
    hidden = draw.sample(range(count), count)
    rules = []
    for _ in range(draw.choice([0, 0, 1, 2]) if count > 1 else 0):
        first, second = sorted(draw.sample(range(count), 2))
        rules.append(("before", hidden[first], hidden[second]))
    if draw.random() < 0.3:
        place = draw.randrange(count)
        rules.append(("fixed", hidden[place], place))
    return rules


def drawn(count: int, kind: str, number: int, *, scenes: bool = False) -> Board:
    """Return a board of boxes whose order matters, of one kind."""
    draw = random.Random(number)

    def stage(name: str) -> str:
        bypass = {"hard": ["true", "hardwire", "buffered"], "mixed": ["true", "true", "buffered"]}
        how = draw.choice(bypass.get(kind, ["true"]))
        lines = [
            f'stage = "{name}"', f'bypass = "{how}"',
            f'input_resistance = "{draw.choice([50, 220, 1000])} kΩ"',
            f'output_resistance = "{draw.choice([0.1, 1, 5, 25])} kΩ"',
        ]  # fmt: skip
        if how != "buffered":
            lines.append(f'wiring_capacitance = "{draw.choice([10, 50, 100])} pF"')
        return "\n".join(lines) + "\n"

    chain = ""
    for i in range(count):
        if kind == "loops" and i % 3 == 0:
            inside = "".join(f"[[chain.inside]]\n{stage(f's{i} {j}')}" for j in range(2))
            chain += f'[[chain]]\nloop = "l{i}"\n{inside}'
        elif kind == "passive" and i % 2 == 0:
            chain += (
                f'[[chain]]\nstage = "s{i}"\nkind = "pad"\nalways_on = false\n'
                f'series_resistance = "{draw.choice([1, 10, 47])} kΩ"\n'
            )
        else:
            chain += f"[[chain]]\n{stage(f's{i}')}"
    text = (
        '[instrument]\npart = "bass-split-coil"\n[destination]\npart = "instrument-input"\n'
        '[cables.lead]\npart = "cable-standard"\n[wiring]\ncable = "lead"\nlength = "30 cm"\n'
        f'[[chain]]\ncable = "lead"\nlength = "3 m"\n{chain}'
        '[[chain]]\ncable = "lead"\nlength = "6 m"\n'
    )
    if scenes:
        text += '[scenes]\none = ["s1"]\ntwo = ["s1", "s2"]\nnone = []\n'
    return parse_board(text)


@settings(max_examples=25, suppress_health_check=list(HealthCheck))
@seed(61)
@given(boards(), st.randoms(use_true_random=False))
def test_an_order_is_the_file_in_that_order(table: Table, draw: random.Random) -> None:
    """Any board: its plain table put in order, and every state of what that says."""
    asked = question(parse_board(to_toml(table)))
    assume(2 <= len(asked.boxes) <= 6)
    order = tuple(draw.sample(range(len(asked.boxes)), len(asked.boxes)))
    plain = parse_board(to_toml(reordered(table, order)))
    labels = [item.label for item in plain.listed]
    assert [item.label for item in ordered_board(asked, order).listed] == labels
    expected = worst_state(plain).value
    assert loss_of(asked, order) == pytest.approx(expected, rel=1e-9, abs=ROUNDING_DB, nan_ok=True)
    together = losses_of(asked)
    if isinstance(together, Together):
        found = together.of(np.array([order]))[0]
        assert found == pytest.approx(expected, rel=1e-9, abs=ROUNDING_DB)


@settings(max_examples=15, suppress_health_check=list(HealthCheck))
@seed(62)
@given(boards(), st.randoms(use_true_random=False))
def test_inside_loops_and_with_a_buffer(table: Table, draw: random.Random) -> None:
    """Any loop of any board: a search over every state of each ordered board."""
    board = parse_board(to_toml(table))
    levels = [place for place, item in edit.places(board) if isinstance(item, Loop)]
    asked = question(board, draw.choice([(), *levels]), buffer=BUFFER)
    assume(1 <= len(asked.boxes) <= 6)
    together = losses_of(asked)
    assume(isinstance(together, Together))
    count = len(asked.boxes) + 1
    order = tuple(draw.sample(range(count), count))
    assume(allowed_gaps(asked, order))
    found = together.of(np.array([order]))[0]
    assert found == pytest.approx(loss_of(asked, order), rel=1e-9, abs=ROUNDING_DB)


def compared(asked: Question, found: Found) -> None:
    """Compare what a search found with trying every order."""
    every = tried(asked)
    if not every:
        assert found.orders == ()
        return
    first = found.orders[0]
    losses = {key[-1]: key[3] if key[0] == 0 else key[1] for key in every}
    lowest = min(losses.values())
    assert found.proven
    assert found.ranking_proven
    assert lowest - 0.0101 <= found.bound <= lowest + ROUNDING_DB
    assert first.order == every[0][-1]
    assert (first.custom, first.turned) == pairs(asked, first.order)
    board = ordered_board(asked, first.order)
    if asked.views == (ALL_STATES,):
        assert first.loss == worst_state(board).value
    keeping = [key for key in every if pairs(asked, key[-1])[0] <= found.now.custom]
    assert (found.customary is None) == (not keeping)
    if found.customary is not None:
        assert found.customary.loss == pytest.approx(losses[keeping[0][-1]], abs=ROUNDING_DB)
    for group in found.groups:
        start = first.order.index(group[0])
        assert first.order[start : start + len(group)] == group
        swapped = [
            (*first.order[:start], *run, *first.order[start + len(group) :])
            for run in itertools.permutations(group)
        ]
        kept = [losses[order] for order in swapped if order in losses]
        assert len(kept) > 1
        assert max(kept) <= first.loss + 0.1 + ROUNDING_DB


@pytest.mark.parametrize("looked_at", [6000, 0])
@pytest.mark.parametrize("kind", ["true", "mixed", "hard", "passive", "loops"])
def test_the_first_is_the_best_of_all(
    kind: str, looked_at: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With all orders looked at, and with those left out that cannot be the best."""
    monkeypatch.setattr(searching, "_MOST_LOOKED_AT", looked_at)
    for number in range(3):
        draw = random.Random(number)
        count = draw.choice([4, 5])
        ranks = [draw.choice([None, 0, 1, 2, 3]) for _ in range(count)]
        buffer = BUFFER if number == 0 and count == 4 else None
        rules = some_rules(draw, count)
        asked = question(drawn(count, kind, number), rules=rules, ranks=ranks, buffer=buffer)
        compared(asked, search(asked))


@pytest.mark.parametrize("mean", [False, True])
def test_over_scenes(mean: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(searching, "_MOST_LOOKED_AT", 0)
    board = drawn(5, "mixed", 7, scenes=True)
    views: tuple[View, ...] = scene_views(board, {"one": 3.0})
    asked = question(board, views=views, mean=mean, ranks=[4, 3, 2, 1, 0])
    compared(asked, search(asked))
    values = [worst_state_in(asked, view) for view in views]
    weights = [view.weight for view in views]
    expected = np.average(values, weights=weights) if mean else max(values)
    assert search(asked).now.loss == pytest.approx(expected)


def worst_state_in(asked: Question, view: View) -> float:
    return loss_of(question(asked.board, views=(view,)), tuple(range(len(asked.boxes))))


def test_seven_boxes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(searching, "_MOST_LOOKED_AT", 0)
    rules = [("before", 6, 0), ("before", 2, 5), ("fixed", 3, 4)]
    asked = question(drawn(7, "mixed", 3), rules=rules, ranks=[0, 3, 1, 2, 2, 1, None])
    compared(asked, search(asked))


def test_the_best_with_one_box_moved_and_two() -> None:
    asked = question(drawn(5, "mixed", 4), ranks=[0, 3, 1, 2, 2], rules=[("before", 0, 4)])
    found = search(asked)
    every = tried(asked)
    one = {order for order in permitted(asked) if rising(order) == 4}
    two = {order for order in permitted(asked) if rising(order) == 3}
    for moves, orders in ((1, one), (2, two)):
        assert found.moved[moves].order == next(key[-1] for key in every if key[-1] in orders)


def rising(order: Order) -> int:
    """Return how many boxes at most stand in the order of the file: those that need no move."""
    sizes = range(len(order), 0, -1)
    return next(
        n for n in sizes if any(list(c) == sorted(c) for c in itertools.combinations(order, n))
    )


def test_several_orders_come_by_the_ranking() -> None:
    asked = question(drawn(5, "mixed", 4), ranks=[0, 3, 1, 2, 2])
    assert [one.order for one in search(asked, top=4).orders] == [k[-1] for k in tried(asked)[:4]]


def test_no_order_obeys_what_contradicts() -> None:
    asked = question(drawn(3, "true", 1), rules=[("before", 0, 1), ("before", 1, 0)])
    found = search(asked)
    assert found.orders == ()
    assert found.now.order == (0, 1, 2)


def test_where_a_buffer_may_stand() -> None:
    """The places that `buffer` knows, of all between two boxes."""
    board = drawn(3, "true", 1)
    asked = question(board, buffer=BUFFER)
    known = sum(is_place(board, gap) for gap in gaps(board))
    assert known == 4
    orders = [(*range(k), 3, *range(k, 3)) for k in range(4)]
    assert [list(allowed_gaps(asked, order)) for order in orders] == [[1], [0], [0], [0]]


def test_it_ends_when_it_is_told_to() -> None:
    asked = question(drawn(12, "mixed", 1))
    begin = time.monotonic()
    found = search(asked, stop=lambda: time.monotonic() > begin + 0.5)
    assert found.orders
    assert not found.ranking_proven
    assert not math.isnan(found.orders[0].loss)
    said = []
    found = search(asked, seconds=1.0, progress=said.append)
    assert said
    assert all(one.bound <= found.orders[0].loss + 1e-6 for one in said)

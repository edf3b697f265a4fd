"""Bounds on the losses of orders hold, against a search over every state of each ordered board."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from test_order_search import BUFFER, drawn, permitted, question

from sigsim.decide.order.bounded import Bounded
from sigsim.decide.order.clock import Clock
from sigsim.decide.order.losses import Together, losses_of
from sigsim.decide.order.permitted import Permitted
from sigsim.decide.order.proof import Proof
from sigsim.decide.order.question import Question
from sigsim.decide.order.quick import Quick
from sigsim.decide.order.ranking import Pairs, loss_of, told
from sigsim.decide.order.search import search
from sigsim.decide.order.trial import Trial
from sigsim.states.options import UnfitError

# Sums over runs against a walk over the whole chain: rounding.
ROUNDING_DB = 1e-7
# What bounds on the boards drawn here may be apart: a proof to 0.01 dB needs far less than that.
APART_DB = 1e-3


def bounds(asked: Question) -> tuple[Together, Bounded]:
    losses = losses_of(asked)
    assert isinstance(losses, Together)
    return losses, Bounded(losses, len(asked.boxes) + (asked.buffer is not None), lambda: None)


@pytest.mark.parametrize("buffer", [False, True])
@pytest.mark.parametrize("kind", ["true", "mixed", "hard", "loops"])
def test_losses_lie_within_their_bounds(kind: str, buffer: bool) -> None:
    asked = question(drawn(4, kind, 1), buffer=BUFFER if buffer else None)
    _, bounded = bounds(asked)
    orders = list(permitted(asked))[:: 5 if buffer else 1]
    low, high = bounded.of(np.array(orders))
    exact = np.array([loss_of(asked, order) for order in orders])
    assert (low <= exact + ROUNDING_DB).all()
    assert (exact <= high + ROUNDING_DB).all()
    assert (high - low).max() < APART_DB


def test_boxes_whose_place_in_a_run_counts_have_no_bounds() -> None:
    """A series resistance before a capacitance is not one behind it."""
    with pytest.raises(UnfitError):
        bounds(question(drawn(4, "passive", 0)))


@pytest.mark.parametrize("buffer", [False, True])
@pytest.mark.parametrize("kind", ["true", "mixed", "hard", "loops"])
def test_what_no_order_is_below(kind: str, buffer: bool) -> None:
    for number in range(4):
        asked = question(drawn(4, kind, number), buffer=BUFFER if buffer else None)
        losses, bounded = bounds(asked)
        trial = Trial(asked, Permitted(asked), losses, Clock(60.0, lambda: False, None))
        quick = Quick.of(trial, bounded)
        assert quick is not None
        lowest = losses.of(np.array(list(permitted(asked)))).min()
        with np.errstate(all="ignore"):
            assert quick.root() <= lowest + ROUNDING_DB


@pytest.mark.parametrize("buffer", [False, True])
@pytest.mark.parametrize("kind", ["true", "mixed", "hard", "loops"])
def test_what_no_order_is_above(kind: str, buffer: bool) -> None:
    for number in range(4):
        asked = question(drawn(4, kind, number), buffer=BUFFER if buffer else None)
        losses, bounded = bounds(asked)
        highest = losses.of(np.array(list(permitted(asked)))).max()
        assert bounded.most() >= highest - ROUNDING_DB
        if kind == "true" and not buffer:  # the worst is all off, which is the same in any order
            assert bounded.most() <= highest + APART_DB


@pytest.mark.parametrize("kind", ["true", "mixed", "hard", "loops"])
def test_the_lowest_is_found_from_any_order(kind: str) -> None:
    """From good ones and from the worst: what stands for others is no worse than they may be."""
    for number, first in itertools.product((2, 5, 7), (5, 20, 60, 119)):
        asked = question(drawn(5, kind, number))
        losses, bounded = bounds(asked)
        orders = np.array(list(permitted(asked)))
        found = losses.of(orders)
        trial = Trial(asked, Permitted(asked), losses, Clock(60.0, lambda: False, None))
        trial.bounded = bounded
        trial.look(orders[[np.argsort(found)[first]]])
        now = told(asked, tuple(range(5)), Pairs.of(asked))
        proof = Proof(trial, losses, now)
        with np.errstate(all="ignore"):
            proof.lowest()
        assert proof.proven
        assert trial.lowest <= found.min() + 0.01
        assert found.min() - 0.0101 <= proof.bound <= found.min() + ROUNDING_DB


def test_a_long_run_is_free_where_no_order_loses_more() -> None:
    found = search(question(drawn(9, "true", 0)))
    assert found.groups == (found.orders[0].order,)

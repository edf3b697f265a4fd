"""What `order` answers: what was found, what of it is worth doing, and why."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal, TypeAlias

from sigsim.board import edit
from sigsim.decide.buffer.views import loss_over
from sigsim.decide.noise import NOMINAL_LEVEL, a_weighted_noise, dbv, verdict
from sigsim.decide.order.applied import ordered_board
from sigsim.decide.order.laid_out import laid_out_loss
from sigsim.decide.order.question import Found
from sigsim.decide.order.ranking import EQUAL_DB, LITTLE_DB, Pairs, told
from sigsim.decide.order.reasons import Reason, box_names, reason
from sigsim.decide.order.rules import Stuck, broken, contradiction, stuck
from sigsim.decide.pickup import has_pickup, wanting
from sigsim.errors import SigsimError
from sigsim.items.loop import Loop
from sigsim.metrics import USUAL_BASIS
from sigsim.states.measure import treble
from sigsim.states.search import ranked

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.order.question import Constraint, Order, Ordered, Question

# What an order is among those found: by the ranking, by the custom, by how few boxes move.
Kind: TypeAlias = Literal["best", "custom", "one", "two", "listed"]
# Where less is gained, the order counts as equal.
LEAST_GAIN_DB: Final = EQUAL_DB
FEWEST_BOXES: Final = 2
MOST_BOXES: Final = 64


@dataclass(frozen=True)
class Proposed:
    """One order with what there is to say of it.

    Attributes
    ----------
    number : for `--pick`
    kinds : what it is; "listed" for one that is only among the first of the ranking
    ordered : the order
    names : of its boxes
    reason : why it does what it does
    noise : the change of the A-weighted noise with everything off [dB]
    told : whether it is worth telling beside those before it
    laid_out : the treble loss with the boxes where they stand [dB]; None without a layout, and
        where that cannot give all lengths
    """

    number: int
    kinds: tuple[Kind, ...]
    ordered: Ordered
    names: tuple[str, ...]
    reason: Reason
    noise: float
    told: bool
    laid_out: float | None = None


@dataclass(frozen=True)
class OrderReport:
    """What `order` answers.

    Attributes
    ----------
    question : what was asked
    found : by the search; None where there are too few boxes to have another order
    breaks : what the order of the file breaks
    contradiction : the smallest set of demands that no order obeys, empty if there is one
    stuck : what cannot see the pickup in any order, with what would cure it
    proposed : the best, the one that keeps the custom, those that move one box and two, each
        order once; then those that do no more than one of these, and the others of the ranking
    noise : how far the noise lies under the nominal level now [dB]
    noise_word : for that
    dropped : what wants to see the pickup of an instrument that has none
    interrupted : whether the search was ended from the keyboard
    laid_out : the treble loss of the file's order with the boxes where they stand [dB]; None
        without a layout
    """

    question: Question
    found: Found | None
    breaks: tuple[Constraint, ...]
    contradiction: tuple[Constraint, ...]
    stuck: tuple[Stuck, ...]
    proposed: tuple[Proposed, ...]
    noise: float
    noise_word: str
    dropped: tuple[str, ...]
    interrupted: bool = False
    laid_out: float | None = None

    @property
    def board(self) -> Board:
        """The board as the file has it."""
        return self.question.laid or self.question.board

    @property
    def has_layout(self) -> bool:
        """Whether the board says where its boxes stand, and so how long its cables are."""
        return self.question.laid is not None

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the boxes in the order of the file."""
        return tuple(box.name for box in self.question.boxes)

    @property
    def loop(self) -> str:
        """The loop whose inside is ordered, empty for the chain itself."""
        level = self.question.level
        return edit.item_at(self.question.board, level).label if level else ""

    def board_of(self, one: Proposed) -> Board:
        """Return the board in an order."""
        return ordered_board(self.question, one.ordered.order)

    @property
    def without_place(self) -> bool:
        """Whether the buffer has no place that obeys what is asked: nothing follows the last box.

        What is to come before it can then be all that could come behind it.
        """
        return self.found is not None and self.found.proven and not self.found.orders

    @property
    def advised(self) -> Proposed | None:
        """The best order, if it is worth doing or the file's order is none; else None."""
        if self.found is None or not self.proposed:
            return None
        best = self.proposed[0]
        return best if self.breaks or gains(self.found, best.ordered) else None

    @property
    def has_custom(self) -> bool:
        """Whether there is a custom for any two of the boxes."""
        return sum(bool(box.ranks) for box in self.question.boxes) > 1

    def of_kind(self, kind: Kind) -> Proposed | None:
        """Return what was proposed as something, None for nothing."""
        return next((one for one in self.proposed if kind in one.kinds), None)

    @property
    def ranking(self) -> tuple[Proposed, ...]:
        """The first orders of the ranking."""
        by_order = {one.ordered.order: one for one in self.proposed}
        return tuple(by_order[o.order] for o in self.found.orders) if self.found else ()


def order_report(
    question: Question, find: Callable[[], Found], interrupted: Callable[[], bool]
) -> OrderReport:
    """Return what there is to say of the orders of one level.

    Parameters
    ----------
    question : from `question` in `rules`
    find : searches for the best orders
    interrupted : whether the search was ended from the keyboard

    Raises
    ------
    SigsimError : there are too many boxes
    """
    _refuse_many(question)
    against = contradiction(question)
    found = _now_alone(question) if against else _searched(question, find)
    was = interrupted()
    on = _around(question)
    noise = a_weighted_noise(question.board, on)
    under = dbv(NOMINAL_LEVEL) - noise
    wants = wanting(question.board)
    breaks = broken(question, tuple(range(len(question.boxes))))
    proposed = _proposed(question, found, on, noise, breaks=bool(breaks)) if found else ()
    return OrderReport(
        question,
        found,
        breaks,
        against,
        stuck(question),
        tuple(proposed),
        under,
        verdict(under),
        () if has_pickup(question.board) else wants,
        was,
        laid_out_loss(question, tuple(range(len(question.boxes)))) if found else None,
    )


def _refuse_many(question: Question) -> None:
    if len(question.boxes) > MOST_BOXES:
        raise SigsimError(
            "so many boxes of one level are not ordered",
            where=question.board.file,
            found=f"{len(question.boxes):,}",
            accepted=f"at most {MOST_BOXES}; put some into a loop, or into a file of their own",
        )


def _searched(question: Question, find: Callable[[], Found]) -> Found | None:
    boxes = len(question.boxes) + (question.buffer is not None)
    return find() if boxes >= FEWEST_BOXES else None


def _now_alone(question: Question) -> Found:
    """Return the order of the file where none obeys what is asked."""
    now = told(question, tuple(range(len(question.boxes))), Pairs.of(question))
    return Found(now, (), None, {}, False, False, math.nan, 0, ())


def loss_in(question: Question, board: Board) -> float:
    """Return the treble loss [dB] of a board by what orders are ranked by.

    Parameters
    ----------
    question : that says by what
    board : its boxes in some order
    """
    if question.mean:
        return loss_over(board, question.views)
    measure = treble(USUAL_BASIS)
    found = [ranked(board, measure, fixed=view.fixed)[0].value for view in question.views]
    return max((loss for loss in found if not math.isnan(loss)), default=math.nan)


def _around(question: Question) -> frozenset[str]:
    """Return the loops that must be in for the level to be heard."""
    level = question.level
    groups = (edit.item_at(question.board, level[:depth]) for depth in range(1, len(level) + 1))
    return frozenset(group.loop for group in groups if isinstance(group, Loop))


def _proposed(
    question: Question, found: Found, on: frozenset[str], noise: float, *, breaks: bool
) -> Iterator[Proposed]:
    """Yield every order that was found, by the ranking and then those that are told."""
    kinds: dict[Order, list[Kind]] = {}
    ordered: dict[Order, Ordered] = {}
    named: list[tuple[Kind, Ordered | None]] = [
        *(("best", one) for one in found.orders[:1]),
        ("custom", found.customary),
        ("one", found.moved.get(1)),
        ("two", found.moved.get(2)),
        *(("listed", one) for one in found.orders[1:]),
    ]
    for kind, one in named:
        if one is not None:
            ordered.setdefault(one.order, one)
            kinds.setdefault(one.order, []).append(kind)
    boards = {order: ordered_board(question, order) for order in kinds}
    reasons = {o: reason(question, found.now, ordered[o], boards[o]) for o in kinds}
    told: list[Order] = []
    for order, of in kinds.items():
        worth = breaks or gains(found, ordered[order])
        if of != ["listed"] and not any(
            _does(ordered[shown], reasons[shown], ordered[order], reasons[order], found)
            for shown in told
        ):
            told += [order] * (worth or not told)
    ranked = [one.order for one in found.orders]
    listed = [*ranked, *(order for order in (*told, *kinds) if order not in ranked)]
    for number, order in enumerate(dict.fromkeys(listed), 1):
        of = kinds[order]
        yield Proposed(
            number,
            tuple(kind for kind in of if kind != "listed" or len(of) == 1),
            ordered[order],
            box_names(question, order),
            reasons[order],
            a_weighted_noise(boards[order], on) - noise,
            order in told,
            laid_out_loss(question, order),
        )


def _does(shown: Ordered, why: Reason, other: Ordered, its: Reason, found: Found) -> bool:
    """Whether an order does all that another one could be chosen for."""
    fewer = len(why.moved) <= len(its.moved)
    custom = shown.custom <= max(other.custom, found.now.custom)
    return fewer and custom and shown.loss < other.loss + LEAST_GAIN_DB


def gains(found: Found, ordered: Ordered) -> bool:
    """Whether an order loses enough less than that of the file."""
    now = found.now.loss
    return not now <= LITTLE_DB and ordered.loss <= now - LEAST_GAIN_DB

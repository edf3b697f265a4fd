"""Over what a loss is taken: all states, or scenes with weights."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim import metrics
from sigsim.errors import SigsimError
from sigsim.states.measure import treble
from sigsim.states.search import ranked

if TYPE_CHECKING:
    from sigsim.board.model import Board


@dataclass(frozen=True)
class View:
    """One way to look at a board: over all states, or in one scene, with a weight.

    Attributes
    ----------
    name : of the scene, empty for all states
    weight : in the mean over views
    fixed : what is held on or off
    """

    name: str
    weight: float
    fixed: Mapping[str, bool]


ALL_STATES: Final = View("", 1.0, {})


def scene_views(
    board: Board, weights: Mapping[str, float], others: float = 1.0
) -> tuple[View, ...]:
    """Return a view of each scene.

    Parameters
    ----------
    board : with the scenes
    weights : of scenes by name
    others : the weight of all other scenes

    Raises
    ------
    SigsimError : the board has no scenes, or no scene has a weight
    """
    if not board.scenes:
        raise SigsimError("this board has no scenes to rank by", where=board.file)
    views = []
    for name in board.scenes:
        on = board.scene(name).on
        held = {switch: switch in on for switch in board.switches()}
        views.append(View(name, weights.get(name, others), held))
    if not sum(view.weight for view in views) > 0:
        raise SigsimError("every scene has the weight 0", where="--weight")
    return tuple(views)


def mean(weighted: Sequence[tuple[float, float]]) -> float:
    """Return a weighted mean; what has no weight does not count even if it has no value."""
    counted = [(w, value) for w, value in weighted if w > 0]
    return math.fsum(w * value for w, value in counted) / math.fsum(w for w, _ in counted)


def loss_over(board: Board, views: Sequence[View]) -> float:
    """Return the treble loss [dB] of a board, the mean over views of the worst each leaves open."""
    measure = treble(metrics.USUAL_BASIS)
    return mean([(v.weight, ranked(board, measure, fixed=v.fixed)[0].value) for v in views])

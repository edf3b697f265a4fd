"""`--scenes` and `--weight`: over what a loss is taken."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.cli import options
from sigsim.errors import UnknownNameError

if TYPE_CHECKING:
    from sigsim.board.model import Board


def scene_weights(board: Board, given: tuple[str, ...]) -> dict[str, float]:
    """Return the weights of scenes by name.

    Parameters
    ----------
    board : with the scenes
    given : as `SCENE=N`

    Raises
    ------
    SigsimError : this is no weight
    UnknownNameError : the board has no such scene
    """
    weights = {}
    for text in given:
        name, equals, number = text.rpartition("=")
        if not equals:
            what = "a weight is a scene's name and a number"
            raise options.unfit("--weight", text, what, f"{text}=3")
        if name not in board.scenes:
            raise UnknownNameError("scene", name or text, tuple(board.scenes), where="--weight")
        weights[name] = options.number(number)
        if not 0 <= weights[name] < 1e6:
            what = "a weight is a number from 0"
            raise options.unfit("--weight", text, what, f"{name}=3")
    return weights

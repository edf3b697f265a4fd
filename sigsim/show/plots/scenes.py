"""The look of a state: the same colour and dash in every plot of one board."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.show.plots.style import look

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.show.plots.style import Look


class SceneLooks:
    """Looks by the place of a state in the board's list: all off, the scenes, the worst of all.

    Parameters
    ----------
    board : the board
    """

    def __init__(self, board: Board) -> None:
        self._board = board
        self._places: dict[frozenset[str], int] = {}
        for place, state in enumerate(board.named_states()):
            self._places.setdefault(board.heard(state.on), place)
        # Always kept for a worst state that has no name.
        self._worst = len(board.named_states())
        self._next = self._worst + 1

    def of(self, on: On, *, worst: bool = False) -> Look:
        """Return the look of the state in which these are on, and which may be the worst."""
        key = self._board.heard(on)
        if worst:
            return look(self._places.get(key, self._worst))
        if key not in self._places:
            self._places[key] = self._next
            self._next += 1
        return look(self._places[key])

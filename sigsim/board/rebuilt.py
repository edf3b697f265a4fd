"""Copies of a board with other values in any of its things, what was one thing staying one."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

from sigsim.items.cable import Cable
from sigsim.items.fields import Declared

if TYPE_CHECKING:
    from sigsim.board.model import Board

_T = TypeVar("_T")


class Rebuilt:
    """Copies of a board's things with some fields changed; what was one thing stays one.

    Pieces of one cable with one length, which is a single number, become one item: they are the
    same step on every grid, and the line's exponentials are most of the work.

    Parameters
    ----------
    changes : the new values of fields, by the identity of the thing
    """

    def __init__(self, changes: Mapping[int, Mapping[str, Any]]) -> None:
        self.changes = changes
        self.made: dict[int, Any] = {}
        self.pieces: dict[tuple[object, ...], Cable] = {}

    def board(self, board: Board) -> Board:
        """Return the board of the copies."""
        return replace(
            board,
            instrument=self.of(board.instrument),
            destination=self.of(board.destination),
            listed=tuple(self.of(item) for item in board.listed),
            wiring=None if board.wiring is None else self._copy(board.wiring),
            cables={name: self.of(spec) for name, spec in board.cables.items()},
        )

    def of(self, thing: _T) -> _T:
        """Return the copy of a thing, or the thing itself where nothing in it changes."""
        if id(thing) not in self.made:
            made = self._copy(thing)
            self.made[id(thing)] = self._piece(made) if isinstance(made, Cable) else made
        copy: _T = self.made[id(thing)]
        return copy

    def _copy(self, thing: _T) -> _T:
        changed = {**self.changes.get(id(thing), {}), **self._inner(thing)}
        return replace(thing, **changed) if changed else thing  # type: ignore[type-var]

    def _piece(self, cable: Cable) -> Cable:
        """Return the one item that stands for all pieces like this one."""
        if not isinstance(cable.length, float):
            return cable
        return self.pieces.setdefault((id(cable.spec), cable.length, id(cable.lays)), cable)

    def _inner(self, thing: Any) -> dict[str, Any]:
        """Return the fields that hold things which change."""
        changed: dict[str, Any] = {}
        for field in dataclasses.fields(thing):
            inner = getattr(thing, field.name)
            if isinstance(inner, Declared):
                # A wiring stays apart from listed pieces like it: it is known by its identity.
                made = self._copy(inner) if field.name == "wiring" else self.of(inner)
                if made is not inner:
                    changed[field.name] = made
            elif isinstance(inner, tuple) and inner and isinstance(inner[0], Declared):
                copies = tuple(self.of(one) for one in inner)
                if any(copy is not one for copy, one in zip(copies, inner, strict=True)):
                    changed[field.name] = copies
        return changed

"""The cables that are tried: the library's and the file's, and what each is bought for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sigsim.board.cable_parts import sale_of
from sigsim.errors import UnknownNameError

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.cables.limit import Role
    from sigsim.items.cable import CableSpec


@dataclass(frozen=True)
class Candidate:
    """A cable that could be used.

    Attributes
    ----------
    name : in the library or, for a cable that only the file has, under `[cables]`
    spec : its figures
    in_library : whether the name is the library's
    in_file : the names under `[cables]` that have just these figures
    asked : whether it is tried in every role, or only where it is used now
    named : whether it was asked for by name
    bought_as, sold : what it is bought for, and how; empty where no part of the library says so
    """

    name: str
    spec: CableSpec
    in_library: bool
    in_file: tuple[str, ...] = ()
    asked: bool = True
    named: bool = False
    bought_as: tuple[str, ...] = ()
    sold: tuple[str, ...] = ()

    def sold_for(self, role: Role) -> bool:
        """Whether the library says that it is bought for all that a role does."""
        return role.bought_as <= {*self.bought_as}

    def fits(self, role: Role) -> bool:
        """Whether it can be advised in a role: sold for it, one's own, or asked for by name."""
        return self.named or not self.bought_as or self.sold_for(role)


def candidates(
    board: Board, library: Mapping[str, CableSpec], only: Sequence[str] = ()
) -> tuple[Candidate, ...]:
    """Return the cables to try: the library's and the file's, each different one once.

    Parameters
    ----------
    board : the board
    library : cables by name
    only : names to keep, all without; the cables now used always stay

    Raises
    ------
    UnknownNameError : a name that neither the library nor the file has
    """
    known = (*board.cables, *library)
    for name in only:
        if name not in known:
            raise UnknownNameError("cable", name, tuple(dict.fromkeys(known)), where="--only")
    used = [cable.spec for cable in board.pieces()]
    found: list[Candidate] = []
    for in_library, cables in ((True, library), (False, board.cables)):
        for name, spec in cables.items():
            if not in_library and any(candidate.spec == spec for candidate in found):
                continue
            same = tuple(n for n, own in board.cables.items() if own == spec)
            asked = not only or not {name, *same}.isdisjoint(only)
            if asked or spec in used:
                named = not {name, *same}.isdisjoint(only)
                sale = sale_of(name if in_library else spec.part, board.library)
                found.append(Candidate(name, spec, in_library, same, asked, named, *sale))
    return tuple(found)


def tried_as(role: Role, tried: Sequence[Candidate]) -> list[Candidate]:
    """Return the cables to try in a role."""
    return [candidate for candidate in tried if candidate.asked or candidate.spec == role.spec]

"""`--at`: at which end of its boards a command listens."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from sigsim.errors import SigsimError, shown_path

if TYPE_CHECKING:
    from sigsim.board.model import Board

_F = TypeVar("_F", bound=Callable[..., Any])

_AT: Final = "the end listened at"


def at_option(command: _F) -> _F:
    """Add --at: all boards that the command reads are listened at the end of this name."""
    return click.option(
        "--at",
        metavar="NAME",
        is_eager=True,  # known before BOARD is read
        expose_value=False,
        callback=_at,
        help="Listen at the end of this split instead of the amp.",
    )(command)


def _at(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
    ctx.meta[_AT] = value


def listened(board: Board, *, needs_end: bool = True) -> Board:
    """Return a board listened at the end that `--at` names, if the command was given it.

    Parameters
    ----------
    board : as it was read
    needs_end : whether it must have that end; without, it is listened at its destination

    Raises
    ------
    SigsimError : the board has no end of this name
    """
    at: str | None = click.get_current_context().meta.get(_AT)
    try:
        return board if at is None else board.heard_at(at)
    except SigsimError as error:
        if not needs_end:
            return board
        raise error.at(f"{shown_path(board.file)}, --at") from None

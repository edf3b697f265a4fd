"""`--variant` and `--set`: a board file read with changes, without being written."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, TypeVar

import click

from sigsim.board.changes import Changes
from sigsim.errors import SigsimError

_F = TypeVar("_F", bound=Callable[..., Any])

_VARIANTS: Final = "the variants applied"
_VALUES: Final = "the values set"


def change_options(command: _F) -> _F:
    """Add --variant and --set: the boards of the command are read with these changes."""

    def option(name: str, meta: str, metavar: str, help: str) -> Callable[[_F], _F]:
        def noted(ctx: click.Context, param: click.Parameter, value: tuple[str, ...]) -> None:
            ctx.meta[meta] = value

        return click.option(
            name,
            multiple=True,
            metavar=metavar,
            is_eager=True,  # known before BOARD is read
            expose_value=False,
            callback=noted,
            help=help,
        )

    values = option("--set", _VALUES, "NAME.KEY=VALUE", "Change one value. Repeatable.")
    variants = option("--variant", _VARIANTS, "NAME", "A variant of the file. Repeatable, in turn.")
    return variants(values(command))


def changes() -> Changes:
    """Return the changes that the command being run was asked for."""
    meta = click.get_current_context().meta
    return Changes(tuple(meta.get(_VARIANTS, ())), tuple(meta.get(_VALUES, ())))


def refuse_changed(what: str = "--write") -> None:
    """Refuse to write a board file that is not the one that was computed with.

    Parameters
    ----------
    what : the option that writes

    Raises
    ------
    SigsimError : the board was read with changes
    """
    if changes():
        raise SigsimError(
            "a file is written as it is, without --variant and --set",
            where=what,
            accepted="the change named in the file first, and the command without these options",
        )

"""Options that say nothing, or that cannot stand together: refused in one place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import click

from sigsim.errors import SigsimError, quote

if TYPE_CHECKING:
    from sigsim.board.model import Board

ONE_TO_OUTPUT = "standard output can take one of these only"


def refuse_what_says_nothing(group: click.Context, command: click.Command, args: list[str]) -> None:
    """Refuse an empty value of any option or argument, before anything is read.

    Parameters
    ----------
    group : the context of the program
    command : the command that was asked for
    args : what follows its name

    Raises
    ------
    SigsimError : a value is empty
    """
    context = click.Context(command, group, command.name, resilient_parsing=True)
    try:
        given, _, _ = command.make_parser(context).parse_args(list(args))
    except click.UsageError:
        return  # said when the command itself reads them
    for parameter in command.get_params(context):
        for value in _texts(given.get(parameter.name or "")):
            if not value.strip():
                raise nothing_said(_name(parameter), value, _accepted(parameter))


def nothing_said(where: str, value: str, accepted: str) -> SigsimError:
    """Return the error of a value that says nothing."""
    return SigsimError("this says nothing", where=where, found=quote(value), accepted=accepted)


def listed(text: str, where: str, accepted: str) -> list[str]:
    """Split `A,B` at commas.

    Parameters
    ----------
    text : the names
    where : the option
    accepted : what would be right

    Raises
    ------
    SigsimError : there is no name in it
    """
    names = [name.strip() for name in text.split(",") if name.strip()]
    if not names:
        raise nothing_said(where, text, accepted)
    return names


def split_names(text: str, board: Board, where: str) -> set[str]:
    """Split `A,B` at commas; a name that itself holds commas may stand alone."""
    if text in board.stage_names():
        return {text}
    return set(listed(text, where, "names of pedals and loops, A,B"))


def split_names_or_scene(text: str, board: Board, where: str) -> set[str]:
    """Split `A,B` at commas; the name of a scene stands for what is on in it."""
    if text in board.scenes and text not in board.stage_names():
        return set(board.scene(text).on)
    return split_names(text, board, where)


def refuse_together(chosen: Mapping[str, bool], why: str) -> None:
    """Refuse options that cannot stand together.

    Parameters
    ----------
    chosen : by option as it is written, whether it was given
    why : they cannot

    Raises
    ------
    SigsimError : more than one was given
    """
    given = [option for option, is_given in chosen.items() if is_given]
    if len(given) > 1:
        raise SigsimError(why, found=" and ".join(given), accepted=f"one of {', '.join(chosen)}")


def refuse_idle(name: str, needed: str, *, has_needed: bool) -> None:
    """Refuse an option of the command being run that does nothing without another.

    Parameters
    ----------
    name : of the parameter
    needed : the option that it belongs to, as it is written
    has_needed : whether that was given

    Raises
    ------
    SigsimError : it was given without
    """
    context = click.get_current_context()
    if has_needed or not was_given(name):
        return
    parameter = next(p for p in context.command.params if p.name == name)
    raise SigsimError(f"this does nothing without {needed}", where=_name(parameter))


def was_given(name: str) -> bool:
    """Whether a parameter of the command being run stands on the command line."""
    source = click.get_current_context().get_parameter_source(name)
    return source is click.core.ParameterSource.COMMANDLINE


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, (list, tuple)):
        for each in value:
            yield from _texts(each)


def _name(parameter: click.Parameter) -> str:
    """Return an option as it is written, or what stands for an argument in the usage."""
    if isinstance(parameter, click.Option):
        return parameter.opts[0]
    return parameter.human_readable_name


def _accepted(parameter: click.Parameter) -> str:
    kind = parameter.type
    if isinstance(kind, click.Choice):
        return ", ".join(map(str, kind.choices))
    if isinstance(kind, click.types.IntParamType):
        return "a whole number"
    return parameter.metavar or kind.name.upper()

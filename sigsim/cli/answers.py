"""What most commands end with: a document or JSON to print, and a plot to save."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from importlib import import_module
from typing import TYPE_CHECKING, Any, TypeVar, cast

import click

from sigsim.cli import options
from sigsim.cli.streams import echo_json
from sigsim.text import escaped

if TYPE_CHECKING:
    from sigsim.show.document import Document

_F = TypeVar("_F", bound=Callable[..., Any])


@dataclass(frozen=True)
class Answer:
    """An answer in each form that can be asked for, made only if it is.

    Attributes
    ----------
    document : what a terminal prints
    json : the one JSON document instead
    drawn : what the command's plot takes: `drawing` in the module of its name in `show.plots`;
        None where nothing is drawn after all
    last : a line behind the document, empty for none
    status : of the program, 1 where a check that was asked for did not hold
    """

    document: Callable[[], Document]
    json: Callable[[], str]
    drawn: Callable[[], tuple[Any, ...]] | None
    last: str = ""
    status: int = 0


def say(as_json: bool, json: Callable[[], str], document: Callable[[], Document]) -> None:
    """Print an answer as JSON or as a document; only the one that is printed is made."""
    from sigsim.show.render.terminal import print_document

    if as_json:
        echo_json(json())
    else:
        print_document(document())


def answered(command: _F) -> _F:
    """Add --json, --plot, --plot-size and --force to a command that returns an `Answer`.

    A plot's file is looked at before anything is computed. A command that has them as parameters
    is told whether a plot is wanted (`plotted`), whether files may be overwritten (`force`), and
    whether it is JSON that is printed (`as_json`).
    """
    wanted = inspect.signature(command).parameters

    @wraps(command)
    def with_answer(*, as_json: bool, plot: str | None, force: bool, **given: Any) -> int:
        from sigsim.cli.drawing import save_plot

        save = save_plot(plot, force)
        told = {"plotted": save is not None, "force": force, "as_json": as_json}
        answer: Answer = command(**given, **{k: v for k, v in told.items() if k in wanted})
        if save is not None and answer.drawn is not None:
            name = click.get_current_context().command.name
            save(import_module(f"sigsim.show.plots.{name}").drawing(*answer.drawn()))
        say(as_json, answer.json, answer.document)
        if answer.last and not as_json:
            click.echo(escaped(answer.last))
        return answer.status

    made = options.json_option(options.plot_option(options.force_option(with_answer)))
    return cast("_F", made)

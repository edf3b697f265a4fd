"""What is said about arguments that click refuses, and letters that a terminal cannot write."""

from __future__ import annotations

import codecs
import re
from typing import Final

import click

from sigsim.errors import nearest, quote
from sigsim.text import escape, escaped, shown

_PYTHON_ESCAPE: Final = re.compile(
    r"\\(?:(?P<letter>[\\'nrt])|x(?P<x>[0-9a-f]{2})|u(?P<u>[0-9a-f]{4})|U(?P<U>[0-9a-f]{8}))"
)
_LETTERS: Final = {"n": "\n", "r": "\r", "t": "\t"}

# What a terminal without these letters reads instead of escapes.
_INSTEAD: Final = str.maketrans(
    {"Ω": "ohm", "µ": "u", "…": "...", "→": "->", "±": "+-", "×": "x", "−": "-", "°": " deg"}
)
ESCAPES: Final = "sigsim.escapes"


def reworded(error: click.ClickException) -> click.ClickException:
    """Return the error with all of its message seen, and with what would have been accepted."""
    if not isinstance(error, click.UsageError) or isinstance(error, click.MissingParameter):
        return error
    if isinstance(error, click.NoSuchOption):
        text = _no_such_option(error)
    elif isinstance(error, click.BadParameter):  # quotes a value as Python writes it
        text = shown(_PYTHON_ESCAPE.sub(_meant, error.format_message()))
    else:
        text = escaped(error.format_message())
    return click.UsageError(text, error.ctx)


def no_command(name: str, commands: list[str]) -> str:
    """Return what is said of a command that does not exist."""
    return f"There is no command {quote(name)}.{_hint(name, commands)}"


def _no_such_option(error: click.NoSuchOption) -> str:
    params = error.ctx.command.get_params(error.ctx) if error.ctx else []
    options = [o for p in params if isinstance(p, click.Option) for o in p.opts if o[:2] == "--"]
    return f"There is no option {quote(error.option_name)} here.{_hint(error.option_name, options)}"


def _hint(word: str, accepted: list[str]) -> str:
    bare = {name.lstrip("-"): name for name in accepted}
    near = nearest(word.lstrip("-"), bare)
    return f' Did you mean "{bare[near]}"?' if near else f" Accepted: {', '.join(accepted)}."


def _meant(found: re.Match[str]) -> str:
    """Return the character that stands behind an escape of Python's own form."""
    if letter := found["letter"]:
        return _LETTERS.get(letter, letter)
    return chr(int(found["x"] or found["u"] or found["U"], 16))


def _written(error: UnicodeError) -> tuple[str, int]:
    assert isinstance(error, UnicodeEncodeError)
    lacking = error.object[error.start : error.end].translate(_INSTEAD)
    return "".join(c if c.isascii() else escape(c) for c in lacking), error.end


codecs.register_error(ESCAPES, _written)

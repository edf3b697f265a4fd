"""Questions in plain words: answered by an option, at the terminal, from a pipe, or by default."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

import click

from sigsim.errors import SigsimError, nearest, quote

_PATIENCE: Final = 0.3  # seconds for a pipe to show that there is something in it
_LONGEST_LINE: Final = 1000

Read: TypeAlias = Callable[[str], Any]
Menu: TypeAlias = Callable[[], Sequence[tuple[str, str]]]


@dataclass(frozen=True, kw_only=True)
class Question:
    """One question: how it is asked, as an option or at the terminal.

    Attributes
    ----------
    option : that answers it
    text : the question, without its question mark
    default : the answer that holds without one
    read : turns an answer into a value, or raises SigsimError
    metavar, help : of the option
    note : the options that say the default, where that is not `option` with `default`
    menu : the answers to choose from and what each means
    """

    option: str
    text: str
    default: str
    read: Read
    metavar: str = "NAME"
    help: str = ""
    note: str = ""
    menu: Menu | None = None


def one_of(menu: Menu) -> Read:
    """Return what reads one word of a menu, or its number there."""

    def read(text: str) -> str:
        words = [word for word, _ in menu()]
        if text in words:
            return text
        numbered = {str(number): word for number, word in enumerate(words, 1)}
        if text in numbered:
            return numbered[text]
        raise SigsimError(
            "this is none of the answers",
            found=quote(text),
            accepted=", ".join(words),
            nearest=nearest(text, words),
        )

    return read


def count(most: int, fault: str = "this number cannot be") -> Read:
    """Return what reads a whole number, 0 to `most`."""

    def read(text: str) -> int:
        if text.isascii() and text.isdecimal() and len(text) < 10 and int(text) <= most:
            return int(text)
        raise SigsimError(fault, found=quote(text), accepted=f"a whole number, 0 to {most}")

    return read


def length(most: float) -> Read:
    """Return what reads a length up to `most` [m] and gives it back as written, with a unit."""

    def read(text: str) -> str:
        from sigsim.units import parse

        if parse(text, "length").value > most:
            raise SigsimError(
                "this length cannot be meant", found=quote(text), accepted=f"0 to {most:g} m"
            )
        return f"{text} m" if text.replace(".", "").isdecimal() else text

    return read


class Interview:
    """Finds the answer to each question: from an option, the terminal, a pipe, or the default.

    Parameters
    ----------
    given : answers by option
    at_terminal : whether somebody can be asked
    lines : answers one a line, where nobody can be asked

    Attributes
    ----------
    defaults : what holds because nobody said otherwise, as options
    """

    def __init__(self, given: Mapping[str, str], at_terminal: bool, lines: Iterator[str]) -> None:
        self.given = dict(given)
        self.at_terminal = at_terminal
        self.lines = lines
        self.defaults: list[str] = []
        self._line = 0

    def answer(self, question: Question) -> Any:
        """Return the value that answers a question.

        Raises
        ------
        SigsimError : the option or the line cannot be read
        """
        if question.option in self.given:
            return read_answer(question, self.given[question.option], question.option)
        if self.at_terminal:
            return _prompt(question)
        self._line += 1
        text = next(self.lines, "").strip()
        if text:
            where = f'standard input, line {self._line}, "{question.text}?"'
            return read_answer(question, text, where)
        self.defaults.append(question.note or f"{question.option} {shlex.quote(question.default)}")
        return question.read(question.default)


def read_answer(question: Question, text: str, where: str) -> Any:
    """Return the value of an answer; an error says where it was given.

    Raises
    ------
    SigsimError : it cannot be read
    """
    try:
        return question.read(text.strip())
    except SigsimError as error:
        raise error.at(where) from None


def _prompt(question: Question) -> Any:
    """Ask at the terminal until the answer can be read; standard output stays free."""

    def read(text: str) -> Any:
        try:
            return question.read(text.strip())
        except SigsimError as error:
            raise click.UsageError(str(error)) from None

    for number, (word, meaning) in enumerate(question.menu() if question.menu else (), 1):
        line = click.wrap_text(meaning, 78, f"  {number}  {word}: ", " " * 5)
        click.echo(line, err=True)
    return click.prompt(
        question.text, default=question.default, value_proc=read, err=True, prompt_suffix="? "
    )


def is_terminal() -> bool:
    """Whether somebody sits at standard input."""
    return sys.stdin is not None and sys.stdin.isatty()


def piped_lines() -> Iterator[str]:
    """Yield the lines of standard input; none if it is a pipe that nobody writes into.

    Raises
    ------
    SigsimError : it is no text
    """
    if sys.stdin is None or not _has_content():
        return
    try:
        while line := sys.stdin.readline(_LONGEST_LINE):
            yield line
    except (OSError, ValueError):
        raise SigsimError("standard input cannot be read as text") from None


def _has_content() -> bool:
    """Whether something, or the end, can be read from standard input without a long wait.

    A program started by another often has a pipe there that stays open and silent for ever.
    """
    import select

    try:
        return bool(select.select([sys.stdin], [], [], _PATIENCE)[0])
    except (OSError, ValueError):  # not a thing to wait for: just read it
        return True

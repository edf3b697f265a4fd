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
_NONE: Final = "this is none of the answers"

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
    why : explains the question in a sentence or two
    unnamed : what holds where the default is no answer that can be written
    """

    option: str
    text: str
    default: str
    read: Read
    metavar: str = "NAME"
    help: str = ""
    note: str = ""
    menu: Menu | None = None
    why: str = ""
    unnamed: str = ""


def one_of(menu: Menu, like: Callable[[str], list[str]] | None = None, explained: str = "") -> Read:
    """Return what reads one word of a menu, or its number there.

    Parameters
    ----------
    menu : the answers
    like : finds those that players call by other words
    explained : the command that says what each answer is, empty for none
    """

    def read(text: str) -> str:
        words = [word for word, _ in menu()]
        if text in words:
            return text
        numbered = {str(number): word for number, word in enumerate(words, 1)}
        if text in numbered:
            return numbered[text]
        meant = like(text) if like else []
        more = f'; "{explained}" says what each is' if explained else ""
        near = nearest(text, words) or (meant[0] if len(meant) == 1 else None)
        raise SigsimError(
            "more than one of the answers may be meant" if meant and not near else _NONE,
            found=quote(text),
            accepted=", ".join(words if near or not meant else meant) + more,
            nearest=near,
        )

    return read


def count(most: int, fault: str = "this number cannot be") -> Read:
    """Return what reads a whole number, 0 to `most`."""

    def read(text: str) -> int:
        if text.isascii() and text.isdecimal() and len(text) < 10 and int(text) <= most:
            return int(text)
        raise SigsimError(fault, found=quote(text), accepted=f"a whole number, 0 to {most}")

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
        if (value := self._piped(question)) is not None:
            return value
        if question.default:
            default = f"{question.option} {shlex.quote(question.default)}"
            self.defaults.append(question.note or default)
        return question.read(question.default)

    def pass_over(self, *questions: Question) -> None:
        """Leave out questions that do not arise; a pipe still has a line for each of them."""
        for question in questions:
            if not self.at_terminal and question.option not in self.given:
                self._piped(question)

    def _piped(self, question: Question) -> Any:
        """Return what the next line of a pipe answers, None for an empty one."""
        self._line += 1
        text = next(self.lines, "").strip()
        where = f'standard input, line {self._line}, "{question.text}?"'
        return read_answer(question, text, where) if text else None


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
    """Ask at the terminal until the answer can be read; standard output stays free.

    A question mark as the answer asks what the question means.
    """
    _show_menu(question)
    while True:
        text = click.prompt(
            question.text + (f" (Enter for {question.unnamed})" if question.unnamed else ""),
            default=question.default,
            show_default=bool(question.default),
            value_proc=str,
            err=True,
            prompt_suffix="? ",
        ).strip()
        if text == "?":
            _explain(question)
            continue
        try:
            return question.read(text)
        except SigsimError as error:
            click.echo(f"Error: {error}", err=True)


def _explain(question: Question) -> None:
    """Say again, and more, what is asked."""
    meaning = f"{question.why} Enter alone takes {question.default or question.unnamed}."
    click.echo(click.wrap_text(meaning, 78, "  ", "  "), err=True)
    _show_menu(question)


def _show_menu(question: Question) -> None:
    """List the answers to choose from."""
    for number, (word, meaning) in enumerate(question.menu() if question.menu else (), 1):
        line = click.wrap_text(meaning, 78, f"  {number}  {word}: ", " " * 5)
        click.echo(line, err=True)


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

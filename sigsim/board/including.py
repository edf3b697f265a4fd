"""Boards inside boards: the files that a board names are found, read in safety and parsed."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from sigsim.board.chain_reader import DEEPEST, MOST_ITEMS
from sigsim.board.included import Included
from sigsim.board.source import ALREADY_OPEN, check_sizes, read_text
from sigsim.errors import Problem, SigsimError, quote, shown_path
from sigsim.text import first_refused

MOST_BOARDS: Final = 64
# Of all boards inside, each as often as it is there [characters].
MOST_TEXT: Final = 2_000_000
_ACCEPTED: Final = 'a path relative to this file, such as "deck.toml"'


class Inclusions:
    """The files that one board is read from, each read once.

    Parameters
    ----------
    file : the path of the board; what was read from a pipe or given as text is taken to lie in
        the current folder

    Attributes
    ----------
    files : those that were read besides, as messages call them
    """

    def __init__(self, file: str) -> None:
        self.file = "" if file.startswith(ALREADY_OPEN) else file
        self.files: dict[str, None] = {}
        self._root = os.path.realpath(os.path.dirname(self.file))
        self._read: dict[str, str | Problem] = {}
        self._parsed: dict[str, dict[str, Any] | Problem] = {}
        self._named = {_real(self.file)}
        self._boards = self._items = self._characters = 0

    def expanded(self, data: dict[str, Any]) -> dict[str, Any]:
        """Put the boards themselves into the loops of a board that name them by their path.

        Parameters
        ----------
        data : the parsed file of the board; boards that are in it already stay

        Returns
        -------
        the same, with an `Included` for each path; a `Problem` where none could be had, which
        has a place only where that is in the other file

        Raises
        ------
        SigsimError : there are more boards or more in them than can be meant
        """
        self._boards = self._items = self._characters = 0
        self._expand(data, self.file, (_real(self.file),))
        return data

    def _expand(self, data: dict[str, Any], file: str, around: tuple[str, ...]) -> None:
        for table in _tables(data.get("chain"), 0):
            self._items += 1
            held = table.get("board") if "loop" in table else None
            if isinstance(held, str):
                held = table["board"] = self._included(held, file, around)
            if isinstance(held, Included):
                prefix = table.get("prefix")
                held.prefix = prefix if isinstance(prefix, str) else ""
                self._count(held)
                self._expand(held.data, held.file, (*around, _real(held.file)))

    def _count(self, held: Included) -> None:
        """Note one more board.

        Raises
        ------
        SigsimError : there are too many, or too much is in them
        """
        self._boards += 1
        self._characters += len(held.text)
        for found, most, what in (
            (self._boards, MOST_BOARDS, "boards"),
            (self._items, MOST_ITEMS, "items"),
            (self._characters, MOST_TEXT, "characters"),
        ):
            if found > most:
                raise SigsimError(
                    f"the boards inside this one are too many: at most {most:,} {what} in all",
                    where=shown_path(self.file or "board"),
                    accepted="a board that holds each other board once",
                )

    def _included(self, path: str, file: str, around: tuple[str, ...]) -> Included | Problem:
        """Return the board at a path that a file gives."""
        found = self.found(path, file)
        if isinstance(found, Problem):
            return found
        real = _real(found)
        if real in around:
            circle = (*around[around.index(real) :], real)
            return Problem(
                "these boards are inside one another in a circle",
                found=" → ".join(shown_path(self._shown(one)) for one in circle),
                accepted="a board that is not in itself",
            )
        text = self.text(found, path)
        if isinstance(text, Problem):
            return text
        if real not in self._parsed:
            self._parsed[real] = _parsed(text, found)
        data = self._parsed[real]
        return data if isinstance(data, Problem) else Included(path, found, text, _copied(data))

    def _shown(self, real: str) -> str:
        """Return what the circle calls a file: its path from the folder of the board."""
        return os.path.relpath(real, self._root)

    def found(self, path: str, file: str, accepted: str = _ACCEPTED) -> str | Problem:
        """Return where a file lies that another one names, or what is wrong with the path.

        Parameters
        ----------
        path : as the other file gives it
        file : that names it
        accepted : what a message offers
        """
        if not path.strip():
            return Problem("a path must not be empty", found=quote(path), accepted=accepted)
        if refused := first_refused(path):
            what = f"{refused} is a character that is not seen"
            return Problem(what, found=quote(path), accepted=accepted)
        if os.path.isabs(path):
            what = "a path begins in the folder of the file that names it"
            return Problem(what, found=quote(path), accepted=accepted)
        joined = os.path.join(os.path.dirname(file), path)
        real, plain = _real(joined), os.path.normpath(joined)
        if os.path.commonpath((self._root, real)) != self._root:
            what = "this file does not lie in the folder of the board, or in one inside it"
            return Problem(what, found=quote(path), accepted=accepted)
        return plain if _real(plain) == real else joined  # ".." behind a link leads elsewhere

    def text(self, found: str, path: str, kind: str = "a board file") -> str | Problem:
        """Return the text of a file, read once, or what is wrong with it.

        Parameters
        ----------
        found : where it lies
        path : as another file gives it
        kind : what is wanted
        """
        real = _real(found)
        if real not in self._read:
            try:
                self._read[real] = read_text(Path(found), kind)
            except SigsimError as error:
                self._read[real] = error.problem
            else:
                self.files[found] = None
        text = self._read[real]
        if not isinstance(text, Problem):
            return text
        near = text.nearest and os.path.join(os.path.dirname(path), text.nearest)
        if near and _real(os.path.join(os.path.dirname(found), text.nearest or "")) in self._named:
            near = None
        return replace(text, where="", found=quote(path), nearest=near)


def _real(file: str) -> str:
    return os.path.realpath(file) if file else ""


def _tables(items: object, depth: int) -> Iterator[dict[str, Any]]:
    """Yield the tables of a chain, those inside loops and splits as well."""
    if isinstance(items, list) and depth <= DEEPEST:
        for table in items:
            if isinstance(table, dict):
                yield table
                yield from _tables(table.get("inside"), depth + 1)


def _parsed(text: str, file: str) -> dict[str, Any] | Problem:
    try:
        return parsed(text, file)
    except SigsimError as error:
        return error.problem


def parsed(text: str, file: str) -> dict[str, Any]:
    """Return the data of a TOML file.

    Parameters
    ----------
    text : of the file
    file : what messages call it

    Raises
    ------
    SigsimError : it is not TOML, or holds more than can be meant
    """
    where = shown_path(file)
    check_sizes(text, where)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        from sigsim.board.syntax import not_toml

        raise not_toml(text, error, where) from None
    except RecursionError:
        raise SigsimError("this is nested too deeply", where=where) from None
    except ValueError as error:
        raise SigsimError(f"a number cannot be read: {error}", where=where) from None


def _copied(value: Any) -> Any:
    """Return a copy of parsed data down to its values."""
    if isinstance(value, dict):
        return {key: _copied(entry) for key, entry in value.items()}
    return [_copied(entry) for entry in value] if isinstance(value, list) else value

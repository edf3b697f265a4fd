"""Files are written whole or not at all, and nothing is overwritten unasked."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from sigsim.cli.books import Books
from sigsim.errors import OutputError, nearest, quote, shown_path
from sigsim.files import Output, check_place, reason, told

# Of the command that is being run.
_books: Books | None = None


@contextmanager
def together() -> Iterator[None]:
    """Keep the books of one command: its files appear together, as soon as the last is whole.

    What is written when it ends well appears too, also where the reader of its results left early.
    """
    global _books
    before, _books = _books, Books()
    books = _books
    try:
        yield
        books.settle()
    except (BrokenPipeError, click.exceptions.Exit):
        books.settle()
        raise
    finally:
        books.drop()
        _books = before


def note_input(path: str | Path) -> None:
    """Note a file that the command reads, so that it is not written.

    Raises
    ------
    OutputError : it is to be written as well
    """
    if _books is not None:
        _books.note_input(os.fspath(path))


def check_writable(path: str | Path, force: bool, *, onto_input: bool = False) -> Path:
    """Return the path if it may be written, before any work is done for it.

    Parameters
    ----------
    path : where to
    force : whether an existing file may be overwritten
    onto_input : whether the file may be one that the command reads

    Raises
    ------
    OutputError : it exists and `force` is not set, its folder is not there, it is no ordinary
        file, or the command reads it or writes it already
    """
    books = _books or Books()
    books.add(_checked(books, path, force, onto_input))
    return Path(path)


def checked_name(path: str | Path) -> str:
    """Return the name of an output as text.

    Raises
    ------
    OutputError : it cannot be the name of a file
    """
    text = os.fspath(path)
    if not text.strip():
        raise OutputError("this is no file's name", found=quote(text), accepted="a file's name")
    if text == "-":
        raise OutputError(
            "- is standard output, which cannot be written here",
            where="-",
            accepted="a file's name; ./- for a file that is called -",
        )
    if os.path.basename(text) in ("", os.curdir, os.pardir):
        raise OutputError("this is a folder; a file name is wanted", where=shown_path(text))
    return text


def _checked(books: Books, path: str | Path, force: bool, onto_input: bool) -> Output:
    text = checked_name(path)
    where = shown_path(text)
    try:
        output = books.claim(text, force, onto_input)
        check_place(text, output)
    except (OSError, ValueError, RuntimeError) as error:
        if isinstance(error, OutputError):
            raise
        raise OutputError(f"this name cannot be used: {reason(error)}", where=where) from None
    return output


def checked_ending(path: str, endings: Iterable[str], what: str, where: str) -> str:
    """Return the ending of a file's name, in small letters.

    Parameters
    ----------
    path : the file
    endings : that are accepted
    what, where : the fault if it has none of them, and the option that it was given to

    Raises
    ------
    OutputError : it has none of them
    """
    ending = Path(path).suffix.lower()
    if ending not in endings:
        raise OutputError(
            what,
            where=where,
            found=quote(path),
            accepted=" ".join(endings),
            nearest=nearest(ending, endings) if ending else None,
        )
    return ending


def write_file(path: str | Path, content: str | bytes, force: bool) -> None:
    """Write a file whole or not at all.

    Parameters
    ----------
    path : where to
    content : text (UTF-8) or bytes
    force : whether an existing file may be overwritten

    Raises
    ------
    OutputError : it exists and `force` is not set, or it cannot be written
    """
    with whole_file(path, force) as part:
        part.write_bytes(content.encode() if isinstance(content, str) else content)


@contextmanager
def whole_file(path: str | Path, force: bool) -> Iterator[Path]:
    """Give a temporary file beside `path` that takes its place when the block ends well.

    Where the command writes other files too, they take their places together.

    Parameters
    ----------
    path : where to
    force : whether an existing file may be overwritten

    Raises
    ------
    OutputError : it exists and `force` is not set, or it cannot be written
    """
    books = _books or Books()
    output = books.known(os.fspath(path))
    if output is None:
        output = _checked(books, path, force, onto_input=False)
        books.add(output)
    try:
        with told(output.where):
            yield output.begin()
        output.ready = True
    finally:
        if not output.ready:
            output.clear()
    books.settle(whole=True)

"""Files are written whole or not at all, and nothing is overwritten unasked."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from sigsim.errors import OutputError, nearest, quote, shown_path

_EXISTS = "this file exists; --force overwrites it"


def check_writable(path: str | Path, force: bool) -> Path:
    """Return the path if it may be written, before any work is done for it.

    Raises
    ------
    OutputError : it exists and `force` is not set, or its folder is not there
    """
    target = Path(path)
    where = shown_path(path)
    try:
        if target.is_dir():
            raise OutputError("this is a folder; a file name is wanted", where=where)
        if target.exists() and not target.is_file():
            raise OutputError("this is no ordinary file and is left alone", where=where)
        if target.exists() and not force:
            raise OutputError(_EXISTS, where=where)
        if not target.parent.is_dir():
            raise OutputError("there is no such folder to write into", where=where)
    except (OSError, ValueError) as error:
        if isinstance(error, OutputError):
            raise
        raise OutputError(f"this name cannot be used: {_reason(error)}", where=where) from None
    return target


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

    Parameters
    ----------
    path : where to
    force : whether an existing file may be overwritten

    Raises
    ------
    OutputError : it exists and `force` is not set, or it cannot be written
    """
    import tempfile

    target = check_writable(path, force)
    where = shown_path(path)
    temporary: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=".sigsim-", suffix=target.suffix, dir=target.parent)
        os.close(handle)
        temporary = Path(name)
        yield temporary
        _publish(temporary, target, force)
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(f"the file cannot be written: {_reason(error)}", where=where) from None
    finally:
        if temporary is not None:
            temporary.unlink(missing_ok=True)


def _publish(temporary: Path, target: Path, force: bool) -> None:
    """Move the finished file into place; a file that came to be meanwhile is not overwritten."""
    umask = os.umask(0)
    os.umask(umask)
    temporary.chmod(0o666 & ~umask)
    if force:
        temporary.replace(target)
        return
    try:
        os.link(temporary, target)
    except OSError as error:  # also a file system without hard links
        if isinstance(error, FileExistsError) or target.exists():
            raise OutputError(_EXISTS, where=shown_path(target)) from None
        temporary.rename(target)


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)

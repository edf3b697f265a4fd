"""Keys of any one table of a board file set in its text; comments and layout stay."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, MutableMapping, Sequence
from contextlib import contextmanager
from typing import Any, Final, TypeAlias

from sigsim.board.edit_file import New, changed, cut, ended_as, paste
from sigsim.errors import SigsimError

# From the top of a file to a table: names of keys, and numbers in lists of tables.
Way: TypeAlias = tuple[str | int, ...]

_ACCEPTED: Final = "a table with a [header] of its own"


def with_keys(text: str, way: Way, keys: Mapping[str, Any]) -> str:
    """Return a file's text with other values of some keys of one table, which may be a new one.

    Parameters
    ----------
    text : of the file, a valid board
    way : to the table; one that is not there yet is made, by its name or as the next of a list
    keys : new values by key; None takes a key out

    Raises
    ------
    SigsimError : the text would say something else as well
    """
    given = {key: value for key, value in keys.items() if value is not None}

    def change(data: Any, new: New) -> None:
        *before, last = way
        if table_at(data, way) is not None:
            new.set(_found(data, way), keys)
        elif isinstance(last, int):
            _append(_found(data, before[:-1]), str(before[-1]), given)
        else:
            _add(_found(data, before), last, given)

    try:
        return changed(text, change, _ACCEPTED)
    except SigsimError:
        wanted = tomllib.loads(text)
        change(wanted, New())
        made = ended_as(f"{_ended(text)}\n{_written(way, given)}", text)
        if _says(made) != wanted:
            raise
        return made


def table_at(data: Any, way: Way) -> Mapping[str, Any] | None:
    """Return a table of a file that was read, None where there is none."""
    for step in way:
        there = step in data if isinstance(data, Mapping) else int(step) < len(data)
        if not there:
            return None
        data = data[step]
    return data if isinstance(data, Mapping) else None


def _found(data: Any, way: Sequence[str | int]) -> Any:
    """Return what is at the end of a way; a table of tables is made where it is not there yet."""
    for step in way:
        if isinstance(data, MutableMapping) and step not in data:
            data[str(step)] = {} if _is_plain(data) else _empty()
        data = data[step]
    return data


def _is_plain(data: Any) -> bool:
    return type(data) in (dict, list)


def _empty() -> Any:
    import tomlkit

    return tomlkit.table(is_super_table=True)


def _table(keys: Mapping[str, Any], *, inline: bool) -> Any:
    import tomlkit

    made: Any = tomlkit.inline_table() if inline else tomlkit.table()
    made.update(keys)
    return made


def _add(holder: MutableMapping[str, Any], name: str, keys: Mapping[str, Any]) -> None:
    """Add a table to a table of tables."""
    if _is_plain(holder):
        holder[name] = dict(keys)
    elif _is_inline(holder):
        holder[name] = _table(keys, inline=True)
    else:
        with _room(holder):
            holder[name] = _table(keys, inline=False)


def _append(owner: MutableMapping[str, Any], key: str, keys: Mapping[str, Any]) -> None:
    """Add a table to a list of tables, which is made if its owner has none."""
    if _is_plain(owner):
        owner.setdefault(key, []).append(dict(keys))
    elif _is_inline(owner) or not _has_headers(owner, key):
        owner.setdefault(key, []).append(_table(keys, inline=True))
    else:
        import tomlkit

        with _room(owner):
            owner.setdefault(key, tomlkit.aot()).append(_table(keys, inline=False))


def _is_inline(table: Any) -> bool:
    from tomlkit.items import InlineTable

    return isinstance(table, InlineTable)


def _has_headers(owner: Mapping[str, Any], key: str) -> bool:
    from tomlkit.items import AoT

    return isinstance(owner.get(key, AoT([])), AoT)


@contextmanager
def _room(holder: Any) -> Iterator[None]:
    """Leave an empty line above a table that is put to the end of a table, and keep what follows.

    The parser counts a comment above a header to the table before it.
    """
    import tomlkit

    below = cut(holder)
    if len(holder):
        paste(holder, [(None, tomlkit.nl())])
    yield
    paste(holder, below)


def _ended(text: str) -> str:
    return text if text.endswith("\n") else f"{text}\n"


def _written(way: Way, keys: Mapping[str, Any]) -> str:
    """Return a table as lines of its own, the header with all the names that lead to it."""
    import tomlkit

    names = [_quoted(str(step)) for step in way if isinstance(step, str)]
    header = f"[[{'.'.join(names)}]]" if isinstance(way[-1], int) else f"[{'.'.join(names)}]"
    lines = [f"{_quoted(key)} = {tomlkit.item(value).as_string()}" for key, value in keys.items()]
    return "\n".join([header, *lines, ""])


def _quoted(key: str) -> str:
    import tomlkit

    return tomlkit.key(key).as_string()


def _says(text: str) -> Any:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None

"""The same changes as in `edit`, made to the text of a board file; comments and layout stay.

Keys and values are as a file has them. What comes out is compared with the same change of the
plain data before it is returned, so that nothing else can have changed.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import (
    Callable,
    Collection,
    Iterator,
    Mapping,
    MutableMapping,
    MutableSequence,
    Sequence,
)
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeAlias

from sigsim.board.edit import refuse_last
from sigsim.board.edit_inside import forget, refuse_other_cable, refuse_other_file, rename
from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from tomlkit.items import Item as Node

    from sigsim.board.edit import Place

_Keys: TypeAlias = Mapping[str, Any]
_NAMING = ("stage", "loop", "tap", "split")
# A line that ends without a carriage return; a file of both kinds of lines keeps them.
_BARE_END = re.compile(r"(?<!\r)\n")


def inserted(text: str, place: Place, keys: _Keys, remark: str = "") -> str:
    """Return a file's text with an item put into its chain.

    Parameters
    ----------
    text : of the file, a valid board
    place : of the new item, as `edit` has it
    keys : of its table
    remark : a comment for the reader, behind the table's header

    Raises
    ------
    SigsimError : the text would not say the same with the item in it
    """

    def change(data: Any, new: New) -> None:
        items = _items(data, place, new)
        with new.around(items, place[-1]):
            items.insert(place[-1], new.table(items, keys, remark))

    return changed(text, change)


def taken_out(text: str, place: Place, also: Collection[str] = ()) -> str:
    """Return a file's text without the item at a place; scenes and stages no longer name it.

    Parameters
    ----------
    text, place : as for `inserted`
    also : names of what is in boards inside it, which this text does not know

    Raises
    ------
    SigsimError : nothing would be left in the chain or in the loop, or as `inserted`
    """

    def change(data: Any, new: New) -> None:
        items = _items(data, place, new)
        if not (len(place) > 1 and "split" in _items(data, place[:-1], new)[place[-2]]):
            refuse_last(len(items), inside=len(place) > 1)
        forget(data, items[place[-1]], also)
        with new.left_out(items, place[-1]):
            del items[place[-1]]

    return changed(text, change)


def with_values(text: str, place: Place, keys: _Keys) -> str:
    """Return a file's text with other values of the item at a place; what names it follows.

    Parameters
    ----------
    text, place : as for `inserted`
    keys : new values by key; None takes a key out
    """

    def change(data: Any, new: New) -> None:
        table = _items(data, place, new)[place[-1]]
        renamed = {table[k]: keys[k] for k in _NAMING if k in table and keys.get(k) is not None}
        # Before the new values, which may be of any kind.
        rename(data, renamed, holds_board="board" in table)
        new.set(table, keys)
        end = table.get("destination")
        if isinstance(end, MutableMapping) and end.get("name") in renamed:
            end["name"] = renamed[end["name"]]

    return changed(text, change)


def with_cable(text: str, role: str, keys: _Keys) -> str:
    """Return a file's text with another cable under one of its cable names.

    Parameters
    ----------
    text : as for `inserted`
    role : the name under `[cables]`
    keys : all keys of its table, such as `{"part": "cable-low"}`
    """

    def change(data: Any, new: New) -> None:
        refuse_other_cable(data, role)
        table = data["cables"][role]
        new.set(table, {**dict.fromkeys(table), **keys})

    return changed(text, change)


def titled(text: str, title: str) -> str:
    """Return a file's text with another title, or with one if it has none."""
    if "title" in tomllib.loads(text):
        return changed(text, lambda data, _: data.update(title=title))
    import tomlkit

    end = "\r\n" if "\r\n" in text else "\n"
    return f"title = {tomlkit.item(title).as_string()}{end}{text}"


class New:
    """What a change makes of plain data: dictionaries, and no comments to look after."""

    def table(self, items: Any, keys: _Keys, remark: str) -> Any:
        """Return a new table for a list."""
        return dict(keys)

    def items(self, table: Any) -> Any:
        """Return an empty list for what is inside a table."""
        return []

    def set(self, table: MutableMapping[str, Any], keys: _Keys) -> None:
        """Set some keys of a table, and take out those that are None."""
        for key, value in keys.items():
            if value is not None:
                table[key] = value
            elif key in table:
                del table[key]

    @contextmanager
    def around(self, items: Any, index: int) -> Iterator[None]:
        """Keep what stands above the item at an index with it while another is put before it."""
        yield

    @contextmanager
    def left_out(self, items: Any, index: int) -> Iterator[None]:
        """Keep what stands below the item at an index while it is taken out."""
        yield


class _NewInFile(New):
    """What a change makes of a parsed file.

    The parser counts a comment above a header to the table before it.
    """

    def table(self, items: Any, keys: _Keys, remark: str) -> Any:
        import tomlkit
        from tomlkit.items import AoT

        made: Any = tomlkit.table() if isinstance(items, AoT) else tomlkit.inline_table()
        made.update(keys)
        if isinstance(items, AoT) and remark:
            made.comment(remark)
            made.trivia.comment_ws = "  "
        return made

    def items(self, table: Any) -> Any:
        import tomlkit
        from tomlkit.items import InlineTable

        return tomlkit.array() if isinstance(table, InlineTable) else tomlkit.aot()

    def set(self, table: MutableMapping[str, Any], keys: _Keys) -> None:
        below = cut(table)
        super().set(table, keys)
        paste(table, below)

    @contextmanager
    def around(self, items: Any, index: int) -> Iterator[None]:
        import tomlkit

        if not _tables(items):
            yield
            return
        empty: list[tuple[Any, Node]] = [(None, tomlkit.nl())]
        below = cut(items[index - 1]) if index else empty
        if index:
            paste(items[index - 1], empty)
        yield
        paste(items[index], below)

    @contextmanager
    def left_out(self, items: Any, index: int) -> Iterator[None]:
        if not _tables(items):
            yield
            return
        below = cut(items[index])
        yield
        if index:
            paste(items[index - 1], _one_blank(items[index - 1], below))


def _tables(items: Any) -> bool:
    from tomlkit.items import AoT

    return isinstance(items, AoT)


def _body(table: Any) -> list[tuple[Any, Node]]:
    """Return what a table ends with: its own entries, or those of the last table in it."""
    from tomlkit.items import AoT, Table

    body: list[tuple[Any, Node]] = table.value.body
    last = body[-1][1] if body else None
    if isinstance(last, AoT) and len(last):
        return _body(last[len(last) - 1])
    return _body(last) if isinstance(last, Table) else body


def cut(table: Any) -> list[tuple[Any, Node]]:
    """Take the empty lines and comments off the end of a table that belong to what follows."""
    from tomlkit.items import Comment, Whitespace

    if not hasattr(table.value, "body"):
        return []
    body, cut = _body(table), len(_body(table))
    while cut and isinstance(body[cut - 1][1], Comment | Whitespace):
        cut -= 1
    below = body[cut:]
    del body[cut:]
    return below


def paste(table: Any, below: Sequence[tuple[Any, Node]]) -> None:
    """Put empty lines and comments to the end of a table, or of the last table in it."""
    if below:  # an inline table has no body
        _body(table).extend(below)


def _one_blank(table: Any, below: list[tuple[Any, Node]]) -> list[tuple[Any, Node]]:
    """Return what is to stand below a table without a second empty line above it."""
    from tomlkit.items import Whitespace

    body = _body(table)
    both = body and below and isinstance(body[-1][1], Whitespace)
    return below[1:] if both and isinstance(below[0][1], Whitespace) else below


def _items(data: Any, place: Place, new: New) -> MutableSequence[Any]:
    items: MutableSequence[Any] = data["chain"]
    for index in place[:-1]:
        refuse_other_file(items[index])
        if "inside" not in items[index]:  # a split with nothing in it yet
            items[index]["inside"] = new.items(items[index])
        items = items[index]["inside"]
    return items


def changed(
    text: str,
    change: Callable[[Any, New], None],
    accepted: str = "a chain written as [[chain]] tables",
) -> str:
    """Return the text after a change, if it says what the plain data says after it.

    Parameters
    ----------
    text : of the file, a valid board
    change : makes the change, to the plain data and to the parsed file
    accepted : what a file is told to have in which it cannot be made

    Raises
    ------
    SigsimError : the text would say something else as well
    """
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    if not text.endswith("\n"):
        text += "\n"
    wanted = tomllib.loads(text)
    change(wanted, New())
    try:
        document = tomlkit.parse(text)
        change(document, _NewInFile())
        made = ended_as(tomlkit.dumps(document), text)
        if tomllib.loads(made) == wanted:
            return made
    except (TOMLKitError, tomllib.TOMLDecodeError, AttributeError, KeyError, TypeError):
        pass
    raise SigsimError(
        "this change could not be made in the file's text without changing something else",
        accepted=accepted,
    )


def ended_as(made: str, text: str) -> str:
    """Return a file's new text with the line ends of the old one, if that has one kind of them."""
    if "\r\n" in text and not _BARE_END.search(text.removesuffix("\n")):
        return _BARE_END.sub("\r\n", made)
    return made

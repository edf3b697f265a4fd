"""The boxes of one level in another order, in the text of a board file.

The text itself is cut and put together anew, so that nothing in it is written differently: each
table moves with the comment directly above its header and what hangs on it. Empty lines, and
comments with an empty line on both sides, stay between the k-th and the next table.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from sigsim.board.headers import HIDDEN, bared, headers
from sigsim.board.reorder import permuted
from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.headers import Header
    from sigsim.board.reorder import Sort

# Beginning and end of each piece of text that goes with one table; a piece may be empty.
_Slot: TypeAlias = tuple[tuple[int, int], ...]

_OPEN, _SHUT = "[{", "]}"
_KEY: Final = r"""(?:{0}|"{0}"|'{0}')[ \t]*=[ \t]*\["""
_BEFORE_KEY: Final = " \t\n,{"
_TAIL: Final = re.compile(r"[ \t]*#[^\r\n]*")
_COMMA: Final = re.compile(r"[ \t]*,")


def reordered(text: str, level: Place, order: Sequence[int]) -> str:
    """Return a file's text with the boxes of one level in another order.

    Parameters
    ----------
    text : of the file, a valid board
    level : the place of the loop in which they stand, empty for the chain itself
    order : the numbers of the boxes, from 0 as the file has them

    Raises
    ------
    SigsimError : the text would not say the same in another order
    """
    if not text.endswith("\n"):
        text += "\r\n" if "\r\n" in text else "\n"
    wanted = tomllib.loads(text)
    items = _items(wanted, level)
    places = permuted([_sort(table) for table in items], order)
    items[:] = [items[i] for i in places]
    made = _moved(text, level, places)
    if made is None or not _says(made, wanted):
        raise SigsimError(
            "the boxes could not be moved in the file's text without changing something else",
            accepted="a chain written as [[chain]] tables",
        )
    return made


def _says(text: str, wanted: Mapping[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == wanted
    except tomllib.TOMLDecodeError:
        return False


def _items(data: Mapping[str, Any], level: Place) -> list[Any]:
    items: list[Any] = data["chain"]
    for index in level:
        items = items[index]["inside"]
    return items


def _sort(table: Mapping[str, Any]) -> Sort:
    if "tap" in table or "split" in table:
        return "branch"
    return "box" if "stage" in table or "loop" in table else "cable"


def _moved(text: str, level: Place, places: Sequence[int]) -> str | None:
    """Return the text with other tables in the slots of a level, None if these are not found."""
    slots = _Text(text).slots(level)
    if slots is None or len(slots) != len(places):
        return None
    new: list[tuple[int, int, str]] = []
    for slot, place in zip(slots, places, strict=True):
        pieces = [text[begin:end] for begin, end in slots[place]]
        new += [(*span, piece) for span, piece in zip(slot, pieces, strict=True)]
    made: list[str] = []
    done, line_end = 0, "\r\n" if "\r\n" in text else "\n"
    for begin, end, piece in sorted(new, key=lambda found: found[:2]):
        if _TAIL.fullmatch(piece) and text[end : end + 1] not in "\r\n":
            piece += line_end  # what follows on the line would be in the comment
        elif piece.endswith("\n") and text[begin - 1] != "\n":
            piece = line_end + piece  # it would be about what it follows on the line
        made += [text[done:begin], piece]
        done = end
    return "".join([*made, text[done:]])


class _Text:
    """The text of a board file, with what stands where.

    Parameters
    ----------
    text : of a valid file that ends with a new line
    """

    def __init__(self, text: str) -> None:
        self.text, self.bare = text, bared(text)
        self.lines = text.split("\n")
        self.starts = [0]
        for line in self.lines:
            self.starts.append(self.starts[-1] + len(line) + 1)
        self.headers = list(counted(headers(text)))
        self.continued = self._continued()

    def _continued(self) -> set[int]:
        """Return the numbers of the lines, from 0, that begin within a string."""
        found: set[int] = set()
        for hidden in HIDDEN.finditer(self.text):
            first = self.text.count("\n", 0, hidden.start()) if "\n" in hidden[0] else 0
            found.update(range(first + 1, first + 1 + hidden[0].count("\n")))
        return found

    def slots(self, level: Place) -> list[_Slot] | None:
        """Return where the tables of a level stand, None if they are not found."""
        if any(begins and place[:-1] == level for _, place, begins in self.headers):
            return self._tables(level)
        array = self._array(level)
        return None if array is None else self._inline(array)

    def _tables(self, level: Place) -> list[_Slot]:
        """Return the slots of tables with headers."""
        parts: dict[int, list[tuple[int, int]]] = {}
        depth = len(level)
        before: Place | None = None
        for number, (header, place, _) in enumerate(self.headers):
            end = self._first_line(number + 1)
            mine = place[: depth + 1] if place[:depth] == level and len(place) > depth else None
            if mine is not None:
                begin = self._first_line(number)
                found = parts.setdefault(mine[-1], [])
                if mine == before:
                    begin = found.pop()[0]
                found.append((begin, self._last_line(header.line, end)))
            before = mine
        starts = self.starts
        spans = [[(starts[a], starts[b]) for a, b in parts[i]] for i in sorted(parts)]
        most = max(map(len, spans))
        # All alike, so that any of them fits into any slot.
        return [(*s, *[(s[-1][1], s[-1][1])] * (most - len(s))) for s in spans]

    def _first_line(self, number: int) -> int:
        """Return the first line, from 0, of the comment directly above a header, or its own."""
        if number >= len(self.headers):
            return len(self.lines) - 1
        line = self.headers[number][0].line - 1
        above = self.headers[number - 1][0].line if number else 0
        while line > above and self._is_comment(line - 1):
            line -= 1
        return line

    def _last_line(self, begin: int, end: int) -> int:
        """Return the line behind the last of a table's lines that is more than a free comment."""
        last = end
        while last > begin and (self._is_blank(last - 1) or self._is_comment(last - 1)):
            last -= 1
        below = last
        while below < end and self._is_comment(below):
            below += 1
        return below

    def _is_comment(self, line: int) -> bool:
        return line not in self.continued and self.lines[line].lstrip().startswith("#")

    def _is_blank(self, line: int) -> bool:
        return line not in self.continued and not self.lines[line].strip()

    def _array(self, level: Place) -> tuple[int, int] | None:
        """Return where the inline array of a level stands, with its brackets."""
        if not level:
            return self._value("chain", 0, self.starts[self._first_line(0)])
        for number, (header, place, begins) in enumerate(self.headers):
            if begins and place == level:
                end = self.starts[self._first_line(number + 1)]
                return self._value("inside", self.starts[header.line], end)
        around = self._array(level[:-1])
        if around is None:
            return None
        tables = self._elements(around)
        if level[-1] >= len(tables):
            return None
        begin, end = tables[level[-1]]
        return self._value("inside", begin + 1, end - 1)

    def _value(self, key: str, begin: int, end: int) -> tuple[int, int] | None:
        """Return where the array under a key stands among the keys between two points."""
        key_of = re.compile(_KEY.format(key))
        depth = 0
        for at in range(begin, end):
            letter = self.bare[at]
            depth += (letter in _OPEN) - (letter in _SHUT)
            if depth or (at > begin and self.text[at - 1] not in _BEFORE_KEY):
                continue
            found = key_of.match(self.text, at, end)
            if found and self.bare[found.end() - 1] == "[":
                return found.end() - 1, self._shut(found.end() - 1)
        return None

    def _shut(self, begin: int) -> int:
        """Return the point behind the bracket that closes the one at a point."""
        depth = 0
        for at in range(begin, len(self.bare)):
            depth += (self.bare[at] in _OPEN) - (self.bare[at] in _SHUT)
            if depth == 0:
                return at + 1
        return len(self.bare)

    def _elements(self, array: tuple[int, int]) -> list[tuple[int, int]]:
        """Return where the inline tables of an array stand."""
        found, at = [], array[0] + 1
        while (begin := self.bare.find("{", at, array[1])) >= 0:
            at = self._shut(begin)
            found.append((begin, at))
        return found

    def _inline(self, array: tuple[int, int]) -> list[_Slot]:
        """Return the slots of inline tables: each with the comments above and behind it."""
        slots: list[_Slot] = []
        done = array[0] + 1
        for begin, end in self._elements(array):
            above = self._above(begin, done)
            comma = _COMMA.match(self.bare, end)
            behind = comma.end() if comma else end
            tail = _TAIL.match(self.text, behind)
            done = tail.end() if tail else behind
            slots.append((above, (begin, end), (behind, done)))
        return slots

    def _above(self, begin: int, least: int) -> tuple[int, int]:
        """Return where the comment directly above what begins a line stands."""
        line = self.text.count("\n", 0, begin)
        top = line
        if self.text[self.starts[line] : begin].strip():
            return begin, begin
        while top and self.starts[top - 1] >= least and self._is_comment(top - 1):
            top -= 1
        return self.starts[top], self.starts[line]


def counted(found: Iterator[Header]) -> Iterator[tuple[Header, Place, bool]]:
    """Yield each header with the place of the table it is in and whether it begins it.

    The place is empty outside the chain.
    """
    counts: list[int] = []
    for header in found:
        if header.path[0] != "chain":
            yield header, (), False
            continue
        depth = 1
        while depth < len(header.path) and header.path[depth] == "inside":
            depth += 1
        begins = header.doubled and depth == len(header.path)
        counts = counts[:depth]
        if begins:
            counts = (counts + [-1] * depth)[:depth]
            counts[-1] += 1
        yield header, tuple(counts), begins

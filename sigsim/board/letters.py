"""The letters of a board file: what no text and what no name in it may hold."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from sigsim.errors import Problem, quote
from sigsim.text import first_refused, looks, name_fault

_ACCEPTED: Final = "letters, digits, marks and blanks"
_DEEPEST: Final = 64
NOT_SEEN: Final = "is a character that is not seen"


def refused_letters(data: object) -> Iterator[Problem]:
    """Yield a problem for each key and text of a parsed file with a character that is not seen.

    Parameters
    ----------
    data : the parsed file
    """
    yield from _in_table(data, "", 0)


def _in_table(value: object, place: str, depth: int) -> Iterator[Problem]:
    if depth > _DEEPEST:
        return
    if isinstance(value, str):
        yield from _in_text(value, place)
    elif isinstance(value, list):
        of = {"": "", "chain": "chain "}.get(place, f"{place}, ")
        for number, entry in enumerate(value, 1):
            yield from _in_table(entry, f"{of}item {number}", depth + 1)
    elif isinstance(value, dict):
        for key, entry in value.items():
            inner = _place(place, key, entry)
            yield from _in_text(key, f"a key of {place or 'the file'}")
            if (place, key) == ("", "title") and isinstance(entry, str):
                entry = one_line(entry)
            yield from _in_table(entry, inner, depth + 1)


def _place(place: str, key: str, entry: object) -> str:
    name = quote(key).strip('"')
    if not place:
        return f"[{name}]" if isinstance(entry, dict) else name
    if isinstance(entry, dict) and place.startswith("[") and place.endswith("]"):
        return f"{place[:-1]}.{name}]"
    return f"{place}, {name}"


def _in_text(text: str, place: str) -> Iterator[Problem]:
    if found := first_refused(text):
        yield Problem(
            f"{found} {NOT_SEEN}",
            place,
            quote(text),
            f"{_ACCEPTED} (of titles also line feeds and tabs, which become blanks)"
            if place == "title"
            else _ACCEPTED,
        )


def one_line(title: str) -> str:
    """Return a title with a blank for every line feed and tab."""
    return title.replace("\n", " ").replace("\t", " ")


def name_problem(name: str, place: str) -> Problem | None:
    """Return what is wrong with a name, None if nothing is; `refused_letters` is not repeated."""
    if fault := name_fault(name):
        return Problem(fault, place, quote(name), "a name of its own without it")
    if not first_refused(name) and (found := first_refused(name, name=True)):
        what = f"{found} is not seen, and no name may hold it"
        return Problem(what, place, quote(name), _ACCEPTED)
    return None


class Names:
    """Names that have to be told apart by whoever reads them.

    Two that differ only in what is not seen, or in how an accent is spelt, count as the same.
    """

    def __init__(self) -> None:
        self._by_looks: dict[str, str] = {}

    def claimed(self, name: str, place: str) -> Problem | None:
        """Keep a name; return the problem if there is one already that looks like it."""
        other = self._by_looks.get(looks(name))
        if other is None:
            self._by_looks[looks(name)] = name
            return None
        accepted = "a name of its own"
        if other == name:
            return Problem("this name is used twice", place, accepted=accepted)
        return Problem(
            f"this name looks like another, {quote(other)}", place, quote(name), accepted
        )

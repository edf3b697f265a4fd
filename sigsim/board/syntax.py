"""What is probably meant where a board file is not TOML: the slips of a beginner in plain words.

A guess is only made where the line, mended so, can be read.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import Final

from sigsim.board.headers import Header, headers
from sigsim.board.homes import belongs
from sigsim.board.syntax_lists import Mended, as_list, quoted
from sigsim.errors import LONGEST_QUOTE, SigsimError
from sigsim.text import shown

_PLACE: Final = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
_LONGEST: Final = 500
# Signs that word processors and pages put where plain ones are meant.
_QUOTES: Final = dict.fromkeys(map(ord, "“”„‟«»″‶＂"), '"') | dict.fromkeys(
    map(ord, "‘’‚‛‹›′‵`´＇"), "'"
)
_BLANKS: Final = dict.fromkeys(map(ord, "\u00a0\u2002\u2003\u2007\u2009\u202f\u3000"), " ")
_NOTHING: Final = dict.fromkeys(map(ord, "\u200b\u2060\ufeff\u00ad"), "")
_OTHERS: Final = {ord("＝"): "=", ord("［"): "[", ord("］"): "]"}
_LISTS: Final = re.compile(r"chain(\.inside)*|instrument\.pickups")
_SECTIONS: Final = [
    "instrument", "destination", "cables", "wiring", "layout", "boxes", "chain", "scenes",
    "variants",
]  # fmt: skip
_KEY_VALUE: Final = re.compile(
    r"""\s*(?P<key>"[^"]*"|'[^']*'|[^=:"'\#\[\]{}]*?)\s*(?P<sign>=>|:=|[=:]{1,2})\s*(?P<value>.*)"""
)
_UNSIGNED: Final = re.compile(r"""\s*(?P<key>"[^"]*"|'[^']*'|[\w-]+)\s+(?P<value>\S.*)""")
_REMARKED: Final = re.compile(r"(?P<value>.*?)\s*(?P<sign>#|//|--|;)(?P<remark>.*)")
_BOOLEANS: Final = {"yes": "true", "on": "true", "true": "true"} | dict.fromkeys(
    ("no", "off", "false"), "false"
)
_CONTROL: Final = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
_STRAIGHT: Final = "text needs straight quotes"


def not_toml(text: str, error: tomllib.TOMLDecodeError, where: str) -> SigsimError:
    """Return the error for a text that is not TOML, with what is probably meant.

    Parameters
    ----------
    text : of the file
    error : of the parser
    where : what messages call the file
    """
    lines = text.split("\n")
    place = _PLACE.search(str(error))
    number = int(place[1]) if place and place[1] else len(text.rstrip().split("\n"))
    said = _PLACE.sub("", str(error))
    number, why = _explained(lines, number, said)
    what = f"this is not valid TOML: {why or said}"
    found = _short(lines[number - 1]) or "an empty line"
    return SigsimError(what, where=f"{where}, line {number}", found=found)


def _short(line: str) -> str:
    text = shown(line.strip()[:_LONGEST])
    return text if len(text) <= LONGEST_QUOTE else text[: LONGEST_QUOTE - 1] + "…"


def _explained(lines: list[str], number: int, said: str) -> tuple[int, str]:
    """Return the line that is wrong and why; no words where nothing can be guessed."""
    line = lines[number - 1]
    if "character" in said and (control := _CONTROL.search(line.removesuffix("\r"))):
        code = f"U+{ord(control[0]):04X}"
        return number, f"a sign that cannot be seen ({code}) stands here; delete it"
    if said.startswith("Cannot ") and _reads(line):
        return _twice(lines, number)
    if said == "Unterminated string" or said.startswith("Expected \"'"):
        number = _quoted_last(lines, '"' if said[0] == "U" else "'") or number
        line = lines[number - 1]
    if not _reads(line) and (why := _words(line)):
        return number, why
    if (opened := _opened(lines, number, said)) is not None:
        return opened
    return number, "" if _reads(line) else _fallback(line)


def _quoted_last(lines: list[str], mark: str) -> int | None:
    """Return the last line with a quote that has no other, None if that is a threefold one."""
    odd = [i for i, line in enumerate(lines, 1) if line.count(mark) % 2 and not _reads(line)]
    return odd[-1] if odd and mark * 3 not in lines[odd[-1] - 1] else None


def _words(line: str) -> str:
    mended = next(_mendings(line), None) if len(line) <= _LONGEST else None
    if mended is None:
        return ""
    return f"{mended.why}: {_short(mended.text)}" if mended.text else mended.why


def _fallback(line: str) -> str:
    if re.match(r"\s*=", line):
        return "there is no key before ="
    if len(line) > _LONGEST or re.match(r"\s*[\[\"']", line) or "=" in line:
        return ""
    return "a line is a key, = and a value; or a table in brackets; or a remark behind #"


def _reads(line: str) -> bool:
    try:
        tomllib.loads(line[:_LONGEST])
    except (ValueError, RecursionError):
        return False
    return True


def _mendings(line: str) -> Iterator[Mended]:
    """Yield the ways to mend a line, the least change first."""
    plain = line.translate(_BLANKS | _NOTHING | _OTHERS)
    straight = plain.translate(_QUOTES)
    if plain != line and _reads(plain):
        yield Mended("a letter here only looks like a blank or a plain sign; type it anew", plain)
    for marked in (plain.translate(dict.fromkeys(_QUOTES, '"')), straight):
        if marked != plain and _reads(marked):
            yield Mended(_STRAIGHT, marked)
    if re.match(r"\s*(//|;|--|/\*|%)", line):
        yield Mended("a remark begins with #", f"# {line.strip().lstrip('/;-*% ')}")
    for base in dict.fromkeys((plain, straight)):
        yield from _as_header(base)
        yield from _as_value(base)


def _as_header(line: str) -> Iterator[Mended]:
    """Take a line for one in brackets."""
    begun = line.strip().startswith(("[", "(", "{", "<"))
    behind = re.match(r"\s*(\[\[?[^\[\]]+\]\]?)\s*([^#\s\]:].*)", line)
    if behind and _reads(behind[1]):
        yield Mended("what belongs to a table begins on the next line, under", behind[1])
    whole = re.fullmatch(r"\s*[\[({<\s]*([^\[\](){}<>=]*?)[\])}>\s]*:?\s*(#.*)?", line)
    if whole is None:
        return
    names = [name.strip() for name in whole[1].split(".")]
    if not (begun or names[0].casefold() in _SECTIONS or re.search(r"[\])]\s*$", line)):
        return
    if names[0].casefold() in _SECTIONS:
        names[0] = names[0].casefold()
    made = _header(".".join(_key_of(name) for name in names))
    if _reads(made):
        yield Mended(_brackets(made), "")


def _header(path: str) -> str:
    return f"[[{path}]]" if _LISTS.fullmatch(path) else f"[{path}]"


def _brackets(made: str) -> str:
    if made.startswith("[["):
        return f"write {_short(made)} with two brackets on each side for every item"
    return f"write {_short(made)} with one bracket on each side"


def _key_of(name: str) -> str:
    """Return a name as a key: bare where it can be, else in quotes."""
    if re.fullmatch(r"[A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*'", name):
        return name
    return quoted(name.strip("\"'"))


def _as_value(line: str) -> Iterator[Mended]:
    """Take a line for a key with its value."""
    found = _KEY_VALUE.fullmatch(line)
    signed = found is not None
    found = found or _UNSIGNED.fullmatch(line)
    if found is None or not found["key"].strip():
        return
    key = _mended_key(found["key"])
    if not signed and not (_is_key(found["key"]) or re.match(r"[\"'\[\d]", found["value"])):
        return
    value = found["value"].lstrip("= ").strip()
    sign = "" if signed and found["sign"] == "=" else "write = between a key and its value"
    if not value or value.startswith("#"):
        yield Mended(f"nothing stands behind {_short(key.text)} =", "")
        return
    for mended in _values(value, found["key"].strip()):
        whole = f"{key.text} = {mended.text}"
        if _reads(whole):
            why = dict.fromkeys(filter(None, (key.why, sign, mended.why)))
            yield Mended("; ".join(why) or "write = once", whole)


def _is_key(word: str) -> bool:
    return bool(belongs(word)) or word in ("part", "kind", "type", "title")


def _mended_key(key: str) -> Mended:
    key = key.strip()
    joined = re.sub(r"\W+", "_", key).strip("_").lower()
    if _key_of(key) == key:
        return Mended("", key)
    if _is_key(joined):
        return Mended("a key has no blanks", joined)
    return Mended(
        "a name with blanks or other letters than a to z needs straight quotes", _key_of(key)
    )


def _values(value: str, key: str) -> Iterator[Mended]:
    """Yield a value as it may be meant, the least change first."""
    yield Mended("", value)
    remarked = _REMARKED.fullmatch(value)
    if remarked and remarked["sign"] != "#" and remarked["remark"].strip():
        behind = f"{remarked['value']}  # {remarked['remark'].strip()}"
        yield Mended("a remark begins with #", behind)
    remark = ""
    if remarked and remarked["sign"] == "#":
        value, remark = remarked["value"], f"  #{remarked['remark']}"
    for mended in _bare_values(value, key):
        yield mended._replace(text=mended.text + remark)


def _bare_values(value: str, key: str) -> Iterator[Mended]:
    if parted := re.fullmatch(r"(\"[^\"]*\"|'[^']*')\s+([^\"']+)", value):
        yield Mended("a remark begins with #", f"{parted[1]}  # {parted[2]}")
    if re.fullmatch(r'"[^"]*"(\s*,\s*"[^"]*")+', value):
        yield Mended("a list stands in brackets", f"[{value}]")
    if value[-1] in ",;":
        value = value.rstrip(",; ")
        yield Mended("nothing stands behind a value", value)
    if word := _BOOLEANS.get(value.casefold()):
        yield Mended("yes is true and no is false, in small letters", word)
    if re.fullmatch(r"[+-]?\d+,\d+", value):
        yield Mended("write a decimal point, not a comma", value.replace(",", "."))
    if re.fullmatch(r"[+-]?(\.\d+|\d+\.|0\d+(\.\d*)?)", value):
        yield Mended("a number needs a figure on both sides of its point, and no 0 before",
                      f"{float(value):g}")  # fmt: skip
    if value.startswith("["):
        yield from as_list(value)
        return
    if value.startswith("{"):
        inner = re.sub(r"=\s*([^\"'=,{}\[\]]+?)\s*(?=[,}])", r'= "\1"', value)
        yield Mended(_STRAIGHT, inner)
        return
    sign = re.fullmatch(r"""["']?([\d.]+)\s*(''|"|')["']?""", value)
    if sign and key == "length":
        unit = "ft" if sign[2] == "'" else "in"
        yield Mended(f"{_STRAIGHT}, and {unit} for the sign", f'"{sign[1]} {unit}"')
    yield _as_text(value)


def _as_text(value: str) -> Mended:
    core = value.strip("\"'").strip()
    if re.match(r"[+-]?\d+,\d", core):
        core = core.replace(",", ".", 1)
    open, closed = value[0] in "\"'", value[-1] in "\"'" and len(value) > 1
    why = _STRAIGHT
    if open and not closed:
        why = "the quote at the end of the text is missing"
    elif closed and not open:
        why = "the quote at the beginning of the text is missing"
    elif open and "\\" in core:
        why = "text with \\ in it stands in single quotes"
    return Mended(why, quoted(core))


def _opened(lines: list[str], number: int, said: str) -> tuple[int, str] | None:
    """Return the line before, in which what goes on until here was opened, and what is missing."""
    for back in range(number, max(number - 200, 0), -1):
        line = lines[back - 1]
        if "ntermin" in said or said.startswith("Expected"):
            if any(line.count(quotes) % 2 for quotes in ('"""', "'''")):
                return back, "three quotes begin a text of several lines, which has no end here"
        elif re.match(r"[^#\"'=]*(\"[^\"]*\"|'[^']*')?\s*=\s*[\[{]", line):
            return (
                back,
                "in the list that begins here a comma, a quote or the ] at its end is missing",
            )
    return None


def _twice(lines: list[str], number: int) -> tuple[int, str]:
    """Explain a table or a key that stands in a file twice."""
    listed = list(headers("\n".join(lines[:number])))
    here = next((header for header in listed if header.line == number), None)
    if here is None:
        return number, _key_twice(lines[number - 1], number, listed)
    path = ".".join(map(_key_of, here.path))
    if _LISTS.fullmatch(path):
        same = (h for h in listed if h.path == here.path and not h.doubled)
        return next(same, here).line, _brackets(_header(path))
    first = next((h for h in listed if h.path == here.path), here)
    if here.doubled or first.doubled:
        return (here if here.doubled else first).line, _brackets(_header(path))
    if first is here:
        return number, f"{_short(path)} has a value already, and cannot be a table as well"
    return number, (
        f"[{_short(path)}] begins on line {first.line} already; a table stands in a file once"
    )


def _key_twice(line: str, number: int, listed: list[Header]) -> str:
    key = _short(line.partition("=")[0])
    table = next((header for header in reversed(listed) if header.line < number), None)
    if table is not None and table.doubled:
        name = _short(".".join(map(_key_of, table.path)))
        return f"{key} is written twice under one [[{name}]]; a new item begins with [[{name}]]"
    return f"{key} is written twice in one table"

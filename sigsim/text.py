r"""Text from outside on its way to a reader: what cannot be seen is written as an escape.

There is one form, that of JSON: an escape character is `\\u001b`, and what lies beyond U+FFFF is a
pair of them. A name that already holds such letters has its backslash written as an escape too, so
that what is shown always leads back to one name only.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final, Literal

# Marks that turn the direction of what follows them, and tags, which are shown as nothing at all.
_TURNING: Final = frozenset(
    "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
)
_TAGS: Final = range(0xE0000, 0xE0080)
# Letters that leave no mark although Python counts them as printable: fillers, selectors.
_UNSEEN: Final = frozenset(
    map(chr, (0x034F, 0x115F, 0x1160, 0x17B4, 0x17B5, 0x2800, 0x3164, 0xFFA0))
) | frozenset(map(chr, (*range(0x180B, 0x1810), *range(0xFE00, 0xFE10), *range(0xE0100, 0xE01F0))))
# What scripts and emoji are joined and parted with, and what chooses between two looks of a sign.
_JOINERS: Final = frozenset("\u200c\u200d")
_LOOKS: Final = frozenset("\ufe0e\ufe0f")
# Scripts whose letters change their look at a joiner: Arabic to Sinhala, Burmese, Khmer, Mongolian.
_JOINING: Final = (range(0x0600, 0x0E00), range(0x1000, 0x10A0), range(0x1780, 0x18B0))
_WRITTEN_ESCAPE: Final = re.compile(r"\\(?=u[0-9a-fA-F]{4})")
_BLANKS: Final = re.compile(r"\s+")


def escape(character: str) -> str:
    r"""Return one character as an escape: `\u001b`, `\udb40\udc41`."""
    code = ord(character)
    if code < 0x10000:
        return f"\\u{code:04x}"
    high, low = divmod(code - 0x10000, 0x400)
    return f"\\u{0xD800 + high:04x}\\u{0xDC00 + low:04x}"


def is_refused(character: str) -> bool:
    """Whether no text of a board file may hold a character: controls, line ends, turns, tags."""
    return (
        unicodedata.category(character) in ("Cc", "Zl", "Zp")
        or character in _TURNING
        or ord(character) in _TAGS
    )


def is_refused_in_names(character: str) -> bool:
    """Whether no name may hold a character: also all that is not seen but what scripts need."""
    hidden = unicodedata.category(character) == "Cf" and character not in _JOINERS
    return hidden or is_refused(character)


def escaped(text: str) -> str:
    """Return text on one line in which everything is seen; done twice it changes no more."""
    if text.isascii() and text.isprintable():
        return text
    unified = unicodedata.is_normalized("NFC", text)
    return "".join(
        c if _is_seen(text, i) and (unified or _is_unified(text, i)) else escape(c)
        for i, c in enumerate(text)
    )


def shown(text: str) -> str:
    """Return a name so that no other name is shown alike: `escaped`, and so are its escapes."""
    return escaped(_WRITTEN_ESCAPE.sub(r"\\u005c", text))


def escaped_json(document: str) -> str:
    """Return a JSON document that holds no character which cannot be seen but its line ends."""
    if document.isascii() and "\x7f" not in document:
        return document
    # A document of a megabyte has few different characters.
    unseen = {ord(c): escape(c) for c in set(document) if c != "\n" and not _is_plain(c)}
    return document.translate(unseen)


def looks(name: str) -> str:
    """Return what is equal for two names which a reader could not tell apart."""
    kept = (c for c in name if c not in _UNSEEN and unicodedata.category(c) != "Cf")
    return unicodedata.normalize("NFC", _BLANKS.sub(" ", "".join(kept)).strip())


def name_fault(name: str) -> str | None:
    """Return why this can be no name, None if it can."""
    if not looks(name):
        return "a name must not be empty"
    if " + " in f" {name} ":
        return 'a name may not hold " + ", which joins the names of a list'
    return None


def first_refused(text: str, *, name: bool = False) -> str | None:
    """Return the first character that a board file may not hold, as `U+001B`; None for none."""
    if text.isascii() and text.isprintable():
        return None
    refused = is_refused_in_names if name else is_refused
    return next((f"U+{ord(c):04X}" for c in text if refused(c)), None)


def _is_plain(character: str) -> bool:
    return character.isprintable() and character not in _UNSEEN


def _is_seen(text: str, place: int) -> bool:
    """Whether a character leaves a mark where it stands."""
    c = text[place]
    before, behind = text[place - 1 : place], text[place + 1 : place + 2]
    if c in _LOOKS:
        return not before.isascii() and unicodedata.category(before)[0] == "S"
    if c in _JOINERS:
        return _is_joined(before, "before") and _is_joined(behind, "behind")
    return _is_plain(c)


def _is_joined(neighbour: str, side: Literal["before", "behind"]) -> bool:
    """Whether a joiner beside this character changes how the two look."""
    if not neighbour or neighbour.isascii():
        return False
    if side == "before" and neighbour in _LOOKS:
        return True
    joins = any(ord(neighbour) in script for script in _JOINING)
    return (joins and _is_plain(neighbour)) or unicodedata.category(neighbour) in ("So", "Sk")


def _is_unified(text: str, place: int) -> bool:
    """Whether another spelling of the same letters does not look the same from here on."""
    c = text[place]
    if unicodedata.combining(c):
        return False
    pair = text[place - 1 : place] + c if place else c
    return unicodedata.is_normalized("NFC", pair) and unicodedata.is_normalized("NFC", c)

"""What a value that is refused may have been meant for: a list, another word.

Loaded only where something is wrong: the start of the program counts.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import suppress
from typing import TYPE_CHECKING, Any, Final

from sigsim.errors import QuantityError, nearest, quote
from sigsim.quantities import ALTERNATING, KINDS, is_alternating
from sigsim.units import Written, parse

if TYPE_CHECKING:
    from sigsim.items.fields import Spec

_WORDS: Final = r"\s*(?:[;|]|,(?=\s)|\band\b|\bor\b"
_BETWEEN: Final = {
    # Between two voltages a stroke is "to"; a length may be a fraction of an inch.
    "supply voltage": re.compile(_WORDS + r"|[-–—/]|\bto\b)\s*"),
    "length": re.compile(_WORDS + r"|[x×*]|\bby\b|(?<!\d)/|/(?!(?:2|4|8|16|32|64)\b))\s*"),
}
_DECIMAL: Final = re.compile(r"(?<=\d),(?=\d)")
_UNIT: Final = re.compile(r"[^\d\s.+-]+$")
_SIGNS: Final = {'"': " in", "'": " ft"}
_MOST_VALUES: Final = 40
_JACKS: Final = re.compile(r"\b(?:top|back|rear|far|behind|upper|north|up)\b", re.IGNORECASE)


def as_list(value: object, spec: Spec) -> str:
    """Return the list, as a file has it, that is meant by several values in one text.

    Parameters
    ----------
    value : as found
    spec : of the key

    Returns
    -------
    such as `["24 in", "12.5 in"]`; empty where no such list can be told
    """
    between = _BETWEEN.get("length" if spec.kind == "edge" else spec.kind)
    if between is None or not isinstance(value, str):
        return ""
    parts = [_DECIMAL.sub(".", part) for part in between.split(value.strip().strip("[]"))]
    count = len(parts)
    if not 2 <= count <= _MOST_VALUES or (spec.several in ("pair", "range") and count != 2):
        return ""
    unit = _UNIT.search(parts[-1])
    own = unit[0] if unit else "V" if spec.kind == "supply voltage" else "cm"
    parts = [part if _UNIT.search(part) else f"{part} {own}" for part in parts]
    kind = "length" if spec.kind == "edge" else spec.kind
    with suppress(QuantityError):
        found = [parse(part, kind).value for part in parts]
        if all(isinstance(one, Written) for one in found):
            if spec.several == "rising":
                found.sort()
            return listed([_plain(one.text) for one in found if isinstance(one, Written)])
    return ""


def _plain(text: str) -> str:
    """Return a length without a sign for its unit, which would end the text it stands in."""
    return text[:-1].strip() + _SIGNS[text[-1]] if text[-1] in _SIGNS else text


def listed(values: Sequence[object]) -> str:
    """Return values as a list in a file."""
    return f"[{', '.join(map(quote, values))}]"


def no_list(value: object, given: Sequence[object], spec: Spec, meant: str) -> QuantityError:
    """Return what is said of what is no list of as many values as are wanted.

    Parameters
    ----------
    value, given : as found, and the values in it
    spec : of the key
    meant : the list that was probably meant, empty where it cannot be told
    """
    two_wanted = spec.several in ("pair", "range")
    example = "12 cm" if spec.kind == "length" else KINDS[spec.kind].example
    two = "two" if two_wanted else "one or more"
    what = f"a list of {two} is wanted here" if given else "this list is empty"
    if meant and not two_wanted:
        what = "several values are a list"
    more = "30 cm" if spec.several == "rising" else example
    accepted = meant or f'such as ["{example}", "{more}"]'
    return QuantityError(what, found=quote(value), accepted=accepted)


def unsorted(found: Sequence[float], given: Sequence[object], value: object) -> QuantityError:
    """Return what is said of values that do not grow.

    Parameters
    ----------
    found : what was read of each
    given, value : each as found, and all of them
    """
    number = next(n for n in range(1, len(found)) if found[n] <= found[n - 1])
    how = "stands here twice" if found[number] in found[:number] else "comes behind a larger one"
    order = rising(given, found)
    accepted = "each once, the smallest first" + (order and f": {order}")
    return QuantityError(f"{quote(given[number])} {how}", found=quote(value), accepted=accepted)


def rising(given: Sequence[object], found: Sequence[float]) -> str:
    """Return a list as a file has it in order, each once; empty where it is too long to be shown.

    Parameters
    ----------
    given : the values as found
    found : what was read of each
    """
    if len(given) > _MOST_VALUES:
        return ""
    each: dict[float, Any] = {}
    for value, written in zip(found, given, strict=True):
        each.setdefault(float(value), written)
    return listed([each[value] for value in sorted(each)])


def another(key: str, value: object, spec: Spec) -> QuantityError | None:
    """Return what is said of a word that is not accepted but means something, None for no such.

    Parameters
    ----------
    key, value : as found
    spec : of the key
    """
    words = ", ".join(map(quote, spec.choices))
    if key == "polarity" and is_alternating(str(value)):
        return QuantityError(ALTERNATING, found=quote(value), accepted=words)
    if key != "jacks":
        return None
    accepted = (
        f"{words} (both on the far side); elsewhere: no jacks, but input_at and output_at, each "
        'from the near left corner, such as ["1 cm", "6 cm"]'
    )
    meant = "back" if _JACKS.search(str(value)) else nearest(str(value), spec.choices)
    what = "this word is not accepted"
    return QuantityError(what, found=quote(value), accepted=accepted, nearest=meant)

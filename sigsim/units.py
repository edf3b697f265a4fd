"""Quantities with units, read once at the edge; everything inside is SI."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

from sigsim.errors import QuantityError, quote
from sigsim.quantities import KINDS, WITHOUT_PREFIX, Kind, left_out, nearest_units, unread

_TOLERANCE = re.compile(r"^(?P<value>.*?)\s*(?:±|\+-|\+/-)\s*(?P<percent>[^%]*?)\s*%$", re.S)
# A tolerance without its percent sign, in another unit, or without the sign before it.
_HALF_TOLERANCE = re.compile(
    r"^(?P<value>[^±]*?)\s*(?:(?P<sign>±|\+\s*/?\s*-|-\s*/?\s*\+|~)|[\s,(]\s*\(?(?=[\d.]+\s*(?:%|per)))"
    r"\s*(?P<percent>\d+\.?\d*|\.\d+)\s*(?P<unit>.*)$",
    re.S | re.ASCII,
)
_PREFIXES = {"": 0, "R": 0, "T": 12, "G": 9, "M": 6, "k": 3, "K": 3}
_PREFIXES |= {"c": -2, "m": -3, "u": -6, "µ": -6, "n": -9, "p": -12, "f": -15}
_NUMBER = re.compile(r"^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,4})?\s*[TGMKkcmuµnpf]?$", re.ASCII)
_IEC_60062 = re.compile(r"^(\d*[RKkMGTmuµnpf]\d+|\d+R)$", re.ASCII)
_LENGTH_LIMIT = 80


class Written(float):
    """A number in SI units that knows how it was written; reckoned with, it is a plain float.

    Attributes
    ----------
    text : the words of the file without tolerance, such as "15 ft" where the number is 4.572
    """

    __slots__ = ("text",)
    text: str

    def __new__(cls, value: float, text: str) -> Written:
        """Make the number `value` [SI unit] that was written as `text`."""
        made = super().__new__(cls, value)
        made.text = text
        return made

    def __reduce__(self) -> tuple[type[Written], tuple[float, str]]:
        """Return what a copy is made from."""
        return Written, (float(self), self.text)


@dataclass(frozen=True)
class Quantity:
    """A value in SI units with its tolerance.

    Attributes
    ----------
    value : the value [SI unit of its kind], `Written` unless it was a number without a unit
    tolerance : half the width of its range as a fraction of the value (0.1 for ± 10 %)
    """

    value: float
    tolerance: float = 0.0


def parse(
    found: object, kind: str, *, above_zero: bool = False, most: float | None = None
) -> Quantity:
    """Read a quantity as a person writes it: `"4k7"`, `"33 pF/ft"`, `"250 kΩ ± 20 %"`, `0.04`.

    Parameters
    ----------
    found : the value in the file or option; a bare number is in the base unit
    kind : a key of `KINDS`
    above_zero : whether zero is refused as well
    most : the largest value that can be meant in this place, if less than of its kind

    Returns
    -------
    Quantity in SI units

    Raises
    ------
    QuantityError : not a quantity, of another kind, not finite, or out of range

    IEC 60062 gives the letter codes (`4k7`, `R47`, `1M0`). `M` is mega and `m` is milli.
    """
    spec = KINDS[kind]
    tolerance = 0.0
    if isinstance(found, bool) or not isinstance(found, int | float | str):
        raise _error(spec, f"{spec.name} is wanted here", found)
    if isinstance(found, str):
        text = _normalise(found)
        if len(text) > _LENGTH_LIMIT:
            raise _error(spec, f"this is too long for {spec.name}", found)
        if match := _TOLERANCE.match(text):
            text = match["value"]
            tolerance = _tolerance(match["percent"], spec, found)
        elif match := _HALF_TOLERANCE.match(text):
            raise _half_tolerance(match, spec, found)
        value = _parse_text(text, spec, found)
    else:
        value = _float(found)
    _check_range(value, spec, found, above_zero)
    _check_most(value, spec, found, spec.ceiling if most is None else most)
    return Quantity(value, tolerance)


def carries_tolerance(found: object) -> bool:
    """Whether a value as a person writes it says how sure it is, `± 0 %` included."""
    return isinstance(found, str) and _TOLERANCE.match(_normalise(found)) is not None


def render(value: float, unit: str, digits: int = 3) -> str:
    """Write a value with an SI prefix and its unit (`2.93 kHz`, `47 nF`).

    Parameters
    ----------
    value : the value [`unit`]
    unit : the unit without prefix
    digits : significant digits

    Returns
    -------
    text such as `"250 kΩ"`
    """
    from quantiphy import Quantity as Rendered

    return str(Rendered(value, unit).render(prec=digits - 1)).replace("u", "µ")


def _normalise(text: str) -> str:
    return text.strip().replace("\u2126", "Ω").replace("\u03bc", "µ").replace("\u2212", "-")


def _error(spec: Kind, what: str, found: object, nearest: str | None = None) -> QuantityError:
    return QuantityError(what, found=quote(found), accepted=spec.accepted, nearest=nearest)


def _half_tolerance(match: re.Match[str], spec: Kind, found: object) -> QuantityError:
    """Return the error for a tolerance that is no percentage."""
    if match["sign"] == "~" and not match["value"].strip():
        return _error(spec, unread(match[0], spec), found)
    percent = match["percent"]
    is_percent = re.fullmatch(r"\)?|%\)?|per\s?cent\)?", match["unit"])
    value = match["value"]
    reads = _split_unit(value, spec) or (spec.units and _reads(value))
    shown = f"{value} ± {percent} %" if is_percent and reads and float(percent) <= 100 else None
    what = f"a tolerance is a percentage: ± {percent if is_percent else 10} %"
    return _error(spec, what, found, shown)


def _float(number: float) -> float:
    try:
        return float(number)
    except OverflowError:
        return math.inf


def _tolerance(percent: str, spec: Kind, found: object) -> float:
    try:
        value = float(percent)
    except ValueError:
        value = math.nan
    if not 0 <= value <= 100:
        raise _error(spec, "a tolerance lies between 0 and 100 %", found)
    return value / 100


def _split_unit(text: str, spec: Kind) -> tuple[str, str] | None:
    """Take a unit of this kind off the end; the longest that leaves a number wins."""
    for unit in sorted(spec.units, key=len, reverse=True):
        number = text.removesuffix(unit).strip()
        if text.endswith(unit) and _reads(number) and _takes_prefix(unit, number):
            return number, unit
    return None


def _takes_prefix(unit: str, number: str) -> bool:
    """Whether the number may stand before the unit."""
    return unit not in WITHOUT_PREFIX or _is_plain(number)


def _is_plain(number: str) -> bool:
    """Whether a number has neither a prefix nor a letter code."""
    return not number.strip("0123456789.+-eE")


def _is_metres(text: str, spec: Kind) -> bool:
    """Whether this is a length where none is wanted: `6 m`, unlike the milli of `6m`."""
    return spec.symbol != "m" and bool(re.match(r"^[+-]?[\d.]+\s+m$", text))


def _reads(text: str) -> bool:
    return bool(_NUMBER.match(text) or _IEC_60062.match(text))


def _parse_text(text: str, spec: Kind, found: object) -> float:
    bare_is_prefixed = bool(spec.units) and spec.symbol not in ("m", "dB")
    if _is_metres(text, spec):
        raise _error(spec, f"this is {KINDS['length'].name}; {spec.name} is wanted here", found)
    split = _split_unit(text, spec)
    if split is None and _reads(text) and (bare_is_prefixed or not text[-1:].isalpha()):
        split = text, ""
    if split is None:
        raise _error(spec, _why_not(text, spec), found, _meant(text, spec))
    number, unit = split
    value = _number(number) * spec.units.get(unit, 1.0)
    return Written(value, _tidy(number, unit)) if unit or not _is_plain(number) else value


def _tidy(number: str, unit: str) -> str:
    """Return a number and its unit with one space between; a lone prefix or a sign has none."""
    prefix = number[-1] if number[-1].isalpha() and not _IEC_60062.match(number) else ""
    figures = number.removesuffix(prefix).strip()
    gap = " " if unit.strip("'\"") else ""
    return f"{figures}{gap}{prefix}{unit}"


def _number(text: str) -> float:
    if _IEC_60062.match(text):
        # The letter stands where the point is. Behind the pattern, which the schema needs as well,
        # the package rkm_codes 1.0 saves no line, takes 11 ms to import and reads 7f5 as 7.5.
        letter = text.strip("0123456789")
        text = text.replace(letter, ".") + letter
    prefix = text[-1] if text[-1].isalpha() else ""
    mantissa, _, exponent = text.removesuffix(prefix).strip().lower().partition("e")
    return float(f"{mantissa}e{int(exponent or 0) + _PREFIXES[prefix]}")


def _why_not(text: str, spec: Kind) -> str:
    if re.match(r"^[+-]?\d+,\d", text):
        return "write a decimal point, not a comma"
    if text.strip("+-").lower() in ("inf", "infinity", "nan", "∞"):
        return "the value must be finite"
    for other in KINDS.values():
        if other is not spec and _split_unit(text, other):
            return f"this is {other.name}; {spec.name} is wanted here"
    if (sums := _sums(text, spec)) is not None:
        return f"this has two units; write {sums}"
    return unread(text, spec)


def _meant(text: str, spec: Kind) -> str | None:
    """Return what a text that cannot be read may mean, None where that is anyone's guess."""
    number = re.match(r"[+-]?(?:\d+\.?\d*|\.\d+)", text, re.ASCII)
    if re.match(r"[+-]?\d+,(?!\d{3}\b)\d", text):
        pointed = text.replace(",", ".", 1)
        return pointed if _split_unit(pointed, spec) else None
    if number is None or re.search(r"\d", rest := text[number.end() :].removesuffix("DC")):
        return None
    for other in KINDS.values():
        if other is not spec and _split_unit(text, other):
            return f"{number[0]} {rest.strip()}/m" if f"{other.symbol}/m" == spec.symbol else None
    for unit in nearest_units(rest, spec):
        guess = f"{number[0]} {unit}"
        if (split := _split_unit(guess, spec)) is not None:
            value = _number(split[0]) * spec.units[split[1]]
            if value == 0 or spec.floor <= abs(value) <= spec.ceiling:
                return guess
    return None


# Signs that stand for a unit, as words.
_SIGNS: Final = {"'": "ft", '"': "in", "′": "ft", "″": "in"}


def _sums(text: str, spec: Kind) -> str | None:
    """Return `1 ft 6 in` as `"1.5 ft" or "18 in"`; None for what is not of this form."""
    parts = re.findall(r"(\d+(?:\.\d+)?)\s*([^\d\s.]+)", text)
    written = re.sub(r"\s", "", text) == "".join(map("".join, parts))
    units = [unit for _, unit in parts]
    if len(parts) < 2 or not written or not spec.units:
        return None
    try:
        sizes = {unit: float(_parse_text(f"1 {unit}", spec, unit)) for unit in units}
    except QuantityError:
        return None
    total = sum(float(number) * sizes[unit] for number, unit in parts)
    shown = (f'"{total / size:.6g} {_SIGNS.get(unit, unit)}"' for unit, size in sizes.items())
    return " or ".join(shown)


def _check_range(value: float, spec: Kind, found: object, above_zero: bool) -> None:
    if not math.isfinite(value):
        raise _error(spec, "the value must be finite", found)
    if value < 0 and not spec.signed:
        raise _error(spec, "the value must not be negative", found)
    if value == 0 and above_zero:
        raise _error(spec, f"the value must be more than 0{left_out(spec)}", found)
    if 0 < abs(value) < spec.floor:
        limit = limit_text(spec.floor, spec)
        raise _error(spec, f"this cannot be meant: it is less than {limit}, but not 0", found)


def _check_most(value: float, spec: Kind, found: object, most: float) -> None:
    if abs(value) > most:
        limit = limit_text(most, spec)
        what = f"this cannot be meant: it is more than the {limit} that {spec.name} can be here"
        raise _error(spec, what, found, _in_usual_unit(value, spec, most))


# What a number without a unit is most often meant in, where the bare SI unit is never meant.
_USUAL: Final = {"F/m": "p", "H/m": "µ", "V/rtHz": "n", "A/rtHz": "p", "A": "m"}


def _in_usual_unit(value: float, spec: Kind, most: float) -> str | None:
    """Return a bare number with the unit that is probably meant: strays in pF, capacitors in nF."""
    prefix = _USUAL.get(spec.symbol)
    if spec.symbol == "F":
        prefix = "µ" if value < 1 else "p" if most < spec.ceiling else "n"
    if isinstance(value, Written) or prefix is None:
        return None
    fits = abs(value) * 10.0 ** _PREFIXES[prefix] <= most
    return f"{value:g} {prefix}{spec.symbol}" if fits else None


def limit_text(value: float, spec: Kind) -> str:
    """Return the end of a range with its unit: `10 nF/m`, `120 dB`."""
    plain = not spec.symbol or spec.signed
    return f"{value:g} {spec.symbol}".strip() if plain else render(value, spec.symbol)

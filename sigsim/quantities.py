"""The kinds of quantity there are: their units, and the range that no real part leaves."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Final

FOOT: Final = 0.3048
INCH: Final = 0.0254


# A plain number that may be larger has no end worth telling.
_LONG_RANGE: Final = 1e3


@dataclass(frozen=True)
class Kind:
    """One kind of quantity.

    Attributes
    ----------
    name : what a message calls it
    symbol : the SI unit in which it is kept and shown
    units : every accepted unit with its size in the SI unit
    example : a value a message can offer
    ceiling : the largest magnitude that can be meant: no real part is beyond it
    floor : the smallest one besides 0: less is a slip of the prefix
    signed : whether a negative value makes sense
    """

    name: str
    symbol: str
    units: dict[str, float]
    example: str
    ceiling: float
    floor: float
    signed: bool = False

    @property
    def accepted(self) -> str:
        """What a message offers: an example, and the range of a plain number with a short one."""
        if self.units:
            return f'such as "{self.example}"'
        short = self.ceiling < _LONG_RANGE
        return f"{f'0 to {self.ceiling:g}, ' if short else ''}such as {self.example}"


def _per_length(units: list[str]) -> dict[str, float]:
    lengths = {"m": 1.0, "ft": 1 / FOOT, "foot": 1 / FOOT, "metre": 1.0, "meter": 1.0}
    lengths |= {"km": 1e-3, "cm": 1e2}
    return {f"{unit}/{length}": size for unit in units for length, size in lengths.items()}


def _per_root_hertz(unit: str) -> dict[str, float]:
    return {f"{unit}/{root}": 1.0 for root in ("rtHz", "√Hz", "sqrtHz")}


_OHM = ["Ω", "ohms", "ohm", "Ohm", "Ohms", "OHM"]
_LENGTHS = {
    **dict.fromkeys(["m", "metres", "metre", "meters", "meter"], 1.0),
    **dict.fromkeys(["ft", "feet", "foot", "'"], FOOT),
    **dict.fromkeys(["in", "inches", "inch", '"'], INCH),
}

# Feet and inches take no prefix: "5 min" is not five milli-inches.
WITHOUT_PREFIX: Final = tuple(unit for unit, size in _LENGTHS.items() if size != 1.0)
# Under this a tape is read in inches alone, but for whole and half feet [ft].
FEW_FEET: Final = 3.0


def is_imperial(length: float) -> bool:
    """Whether a length was written in feet or inches."""
    return str(getattr(length, "text", "")).rstrip().endswith(WITHOUT_PREFIX)


def on_a_tape(length: float) -> str:
    """Return a length [m] as `47 ft 8 in`, to a tenth of an inch; a short one in inches alone."""
    inches = round(length / INCH, 1)
    feet, left = divmod(inches, 12)
    if not feet or (feet < FEW_FEET and left not in (0, 6)):
        return f"{inches:.3g} in"
    return f"{feet:.0f} ft" + (f" {left:.3g} in" if left else "")


def length_text(length: Any) -> str:
    """Return a length [m] as it was written, `15 ft`, or else as `20 cm` or `6 m`."""
    written: str = getattr(length, "text", "")
    if written:
        return written
    return f"{length * 100:.3g} cm" if 0 < length < 0.995 else f"{length:.4g} m"


KINDS: Final[dict[str, Kind]] = {
    "resistance": Kind("a resistance", "Ω", dict.fromkeys(_OHM, 1.0), "250 kΩ", 1e12, 1e-6),
    "capacitance": Kind("a capacitance", "F", {"F": 1.0, "farad": 1.0}, "47 nF", 0.01, 1e-18),
    "inductance": Kind("an inductance", "H", {"H": 1.0, "henry": 1.0}, "6.1 H", 1e4, 1e-12),
    "length": Kind("a length", "m", _LENGTHS, "6 m", 1e3, 1e-9),
    "frequency": Kind("a frequency", "Hz", {"Hz": 1.0, "hz": 1.0}, "9 kHz", 1e8, 1e-6),
    "gain": Kind("a gain", "dB", {"dB": 1.0, "db": 1.0}, "9 dB", 120.0, 0.0, signed=True),
    "ratio": Kind("a plain number", "", {}, "10", 1e4, 1e-9),
    "exponent": Kind("an exponent", "", {}, "0.5", 1.0, 1e-9),
    "knob": Kind("a knob position", "", {}, "7.5", 10.0, 1e-9),
    "capacitance per length": Kind(
        "a capacitance per length", "F/m", _per_length(["F"]), "110 pF/m", 1e-8, 1e-18
    ),
    "resistance per length": Kind(
        "a resistance per length", "Ω/m", _per_length(_OHM), "0.1 Ω/m", 1e4, 1e-12
    ),
    "inductance per length": Kind(
        "an inductance per length", "H/m", _per_length(["H"]), "0.3 µH/m", 1e-4, 1e-15
    ),
    "voltage": Kind("a voltage", "V", {"V": 1.0, "volts": 1.0, "volt": 1.0}, "100 mV", 1e3, 1e-9),
    "supply voltage": Kind(
        "a voltage", "V", {"V": 1.0, "volts": 1.0, "volt": 1.0}, "9 V", 100.0, 1e-4
    ),
    "current": Kind(
        "a current", "A", {"A": 1.0, "amps": 1.0, "amp": 1.0, "ampere": 1.0}, "100 mA", 20.0, 1e-6
    ),
    "share": Kind("a share", "", {}, "0.85", 1.0, 0.01),
    "energy": Kind("an energy", "Wh", {"Wh": 1.0, "wh": 1.0}, "37 Wh", 1e5, 1e-3),
    "charge": Kind("a charge", "Ah", {"Ah": 1.0, "ah": 1.0, "AH": 1.0}, "10 Ah", 1e4, 1e-3),
    "noise voltage": Kind(
        "a noise voltage density", "V/rtHz", _per_root_hertz("V"), "18 nV/rtHz", 1e-3, 1e-15
    ),
    "noise current": Kind(
        "a noise current density", "A/rtHz", _per_root_hertz("A"), "0.01 pA/rtHz", 1e-6, 1e-21
    ),
}

_PREFIX_WORDS: Final = {"pico": "p", "nano": "n", "micro": "µ", "milli": "m", "kilo": "k"} | {
    "centi": "c", "mega": "M", "giga": "G"
}  # fmt: skip
_UNIT_WORDS: Final = {"hertz": "Hz", "decibel": "dB", "henries": "H", "henrys": "H"}
# From here on a unit is like another: "fts", "feets" and "mtrs" are, "mins" and "in" are not.
_LIKENESS: Final = 0.7


def nearest_units(word: str, kind: Kind) -> tuple[str, ...]:
    """Return units of a kind, prefix included, that may be meant by a word, the likeliest first.

    Parameters
    ----------
    word : as written behind a number
    kind : of the quantity that is wanted
    """
    from difflib import get_close_matches

    plain = re.sub(r"\s*\bper\b\s*", "/", word)
    for long, short in (_PREFIX_WORDS | _UNIT_WORDS).items():
        plain = re.sub(rf"^{long}|(?<=^[a-zµ]){long}", short, plain.strip(), flags=re.I)
    plain = re.sub(r"[\s.]", "", plain)
    usual: dict[float, str] = {}
    for unit, size in kind.units.items():
        usual.setdefault(size, unit)
    meant = {
        prefix + unit: prefix.replace("u", "µ") + usual[size]
        for prefix in ("", "p", "n", "µ", "u", "m", "c", "k", "M", "G")
        for unit, size in kind.units.items()
        if not prefix or unit not in WITHOUT_PREFIX
    }
    folded: dict[str, list[str]] = {}
    for unit in meant:
        folded.setdefault(unit.casefold(), []).append(unit)
    near = get_close_matches(plain.casefold(), folded, n=3, cutoff=_LIKENESS)
    # Of two that differ in their letters' size only, the one written more like it comes first.
    found = [
        unit
        for key in near
        for unit in sorted(folded[key], key=lambda u: sum(map(str.__ne__, u, plain)))
    ]
    return tuple(dict.fromkeys(meant[unit] for unit in found))


ALTERNATING: Final = (
    "alternating current (AC) is not handled, only direct voltage is reckoned with: what is fed "
    "with AC must not be fed from a direct-current output, and needs an output of its own kind; "
    "battery_inside = true leaves such a pedal out here"
)
_AC: Final = r"[~∼⏦]|a\.?c\b|(?<![a-z])ac(?![a-z])|altern"


def is_alternating(text: str) -> bool:
    """Whether a text that is to say how something is fed speaks of alternating current."""
    return re.search(_AC, text, re.IGNORECASE) is not None


def unread(text: str, kind: Kind) -> str:
    """Return what a message says of a text that is no value of a kind."""
    if kind is KINDS["supply voltage"] and is_alternating(text):
        return ALTERNATING
    return f"this cannot be read as {kind.name}"


def left_out(kind: Kind) -> str:
    """Return what a message about a value of 0 says of leaving the key out."""
    if kind is KINDS["supply voltage"]:
        return ""  # without the key it is the usual voltage
    if kind is KINDS["current"]:
        return "; leave the key out where it is not known"
    return "; leave the key out for none"

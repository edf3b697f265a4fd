"""How each kind of value is written: the one place for its digits, its unit, its word for none."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from sigsim.quantities import length_text
from sigsim.show.lengths import rounded_down
from sigsim.show.render.text import decibel, difference, hertz, peak, plain, short_hertz, signed
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    Plain: TypeAlias = str | float | int | None


class _Blank:
    """A cell with nothing in it, whatever its column holds."""


BLANK: Final = _Blank()


@dataclass(frozen=True)
class Unsaid:
    """A value that a person can do without in this place; data keep it."""

    value: Any


@dataclass(frozen=True)
class Named:
    """A name from a file with words of our own around it."""

    name: str
    before: str = ""
    after: str = ""


@dataclass(frozen=True)
class Kind:
    """How one kind of value is written.

    Attributes
    ----------
    write : a value as a person reads it
    unit : of all cells, for a wide heading; empty where every cell has its own
    right : whether cells stand to the right, as numbers do
    wraps : whether a long cell may go on in a new line
    wide : a value where there is room, if not as `write` has it
    data : a number in SI units or a word for data, None for none; if not the value itself
    lines : whether a cell may have several lines where there is little room
    """

    write: Callable[[Any], str]
    unit: str = ""
    right: bool = True
    wraps: bool = False
    wide: Callable[[Any], str] | None = None
    data: Callable[[Any], Plain] | None = None
    lines: bool = False

    def text(self, value: Any, *, wide: bool = False) -> str:
        """Return a cell as a person reads it."""
        if value is BLANK or isinstance(value, Unsaid):
            return ""
        return (self.wide if wide and self.wide else self.write)(value)

    def plain(self, value: Any) -> Plain:
        """Return a cell of data."""
        inner = value.value if isinstance(value, Unsaid) else value
        found: Plain = self.data(inner) if self.data and inner is not BLANK else inner
        return None if inner is BLANK else found


def names(narrow: int = 40, wide: int = 80, *, quoted: bool = False, none: str = "") -> Kind:
    """Return the kind of names from a file: a str, a `Named`, or None; on one line, no longer than.

    Parameters
    ----------
    narrow, wide : how many characters are shown of one, with little room and with much
    quoted : whether quotation marks go around it
    none : where there is none
    """
    mark = "'" if quoted else ""

    def write(longest: int, value: str | Named | None) -> str:
        if value is None:
            return none
        named = value if isinstance(value, Named) else Named(value)
        return f"{named.before}{mark}{plain(named.name, longest)}{mark}{named.after}"

    def data(value: str | Named | None) -> str | None:
        return value.before + value.name + value.after if isinstance(value, Named) else value

    short, long = partial(write, narrow), partial(write, wide)
    return Kind(short, wide=long, data=data, right=False, wraps=True)


def choices(words: Mapping[Any, tuple[str, str]]) -> Kind:
    """Return a kind of few values, each with what a person reads and what data hold."""
    return Kind(lambda v: words[v][0], data=lambda v: words[v][1], right=False, wraps=True)


def frequencies(none: str) -> Kind:
    """Return the kind of frequencies as `2.93 kHz`, with a word for none."""
    return Kind(lambda value: none if value is None else hertz(value))


LOSS: Final = Kind(decibel, "dB")
CHANGE: Final = Kind(signed, "dB")
SHORT_HERTZ: Final = Kind(short_hertz, "Hz")
HERTZ_CHANGE: Final = Kind(
    lambda v: "-" if v is None else f"{'-' if v < 0 else '+'}{short_hertz(abs(v))}", "Hz"
)
# Data have the frequency.
PEAK: Final = Kind(peak, data=lambda resonance: resonance and resonance.frequency)
RESISTANCE: Final = Kind(lambda value: render(value, "Ω"))
CAPACITANCE: Final = Kind(lambda value: render(value, "F"))
LENGTH: Final = Kind(length_text, data=float)
COUNT: Final = Kind(str)
NAME: Final = names()
# Words of our own, which do not wrap; and text in which the names are shortened already.
WORD: Final = Kind(str, right=False)
PHRASE: Final = Kind(str, right=False, wraps=True)
# Numbers as bars beside one another, which the page draws; the largest is the longest.
BAR: Final = Kind(decibel)
# Parts of a whole: of a loss, of a noise power, of boards that were drawn.
SHARE: Final = Kind(lambda p: "" if p is None else f"{round(100 * p, 0) + 0.0:.0f} %")  # no -0
PERCENT: Final = Kind(lambda part: f"{100 * part + 0.0:.1f}", "%")
TOLERANCE: Final = Kind(lambda part: f"± {100 * part:.3g} %")
# Text of our own files, line by line.
LINES: Final = Kind(str, right=False, wraps=True, lines=True)
PER_METRE: Final = Kind(lambda farads: f"{1e12 * farads:.3g}", "pF/m")
# How long something may be: a number that keeps the limit as it is printed, or a word.
AT_MOST: Final = Kind(lambda v: v if isinstance(v, str) else length_text(rounded_down(v)))
FACTOR: Final = Kind(lambda value: "-" if value is None else f"{rounded_down(value):.3g}")
# How far two programs are apart.
DIFFERENCE: Final = Kind(difference)
MILLISECONDS: Final = Kind(lambda seconds: f"{1000 * seconds:.0f} ms")

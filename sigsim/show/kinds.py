"""How each kind of value is written: the one place for its digits, its unit, its word for none.

A kind writes a cell for a person, narrow or wide, and gives the plain value that a CSV holds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar, Final

from sigsim.show.lengths import length_text
from sigsim.show.render.text import decibel, hertz, peak, plain, short_hertz, signed
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sigsim.metrics import Resonance

    Plain = str | float | int | None


class _Blank:
    """A cell with nothing in it, whatever its column holds."""


BLANK: Final = _Blank()


@dataclass(frozen=True)
class Unsaid:
    """A value that a person can do without, here; data keep it."""

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
    unit : of the cells, where it stands in a wide heading; empty where every cell has its own
    right : whether cells stand to the right, as numbers do
    wraps : whether a long cell may go on in a new line
    """

    unit: ClassVar[str] = ""
    right: ClassVar[bool] = True
    wraps: ClassVar[bool] = False

    def text(self, value: Any, *, wide: bool = False) -> str:
        """Return a cell as a person reads it."""
        return "" if value is BLANK or isinstance(value, Unsaid) else self._text(value, wide)

    def plain(self, value: Any) -> Plain:
        """Return a cell of data: a number in SI units or a word, None for none."""
        if isinstance(value, Unsaid):
            value = value.value
        return None if value is BLANK else self._plain(value)

    def _text(self, value: Any, wide: bool) -> str:
        raise NotImplementedError

    def _plain(self, value: Any) -> Plain:
        found: Plain = value
        return found


@dataclass(frozen=True)
class Decibels(Kind):
    """Levels, losses and, with a sign, their changes [dB]."""

    sign: bool = False
    digits: int = 1
    unit: ClassVar[str] = "dB"

    def _text(self, value: float, wide: bool) -> str:  # noqa: ARG002
        return (signed if self.sign else decibel)(value, self.digits)


@dataclass(frozen=True)
class Hertz(Kind):
    """Frequencies as `2.93 kHz`."""

    none: str = "none"

    def _text(self, value: float | None, wide: bool) -> str:  # noqa: ARG002
        return self.none if value is None else hertz(value)


@dataclass(frozen=True)
class ShortHertz(Kind):
    """Frequencies as `2.93k`."""

    unit: ClassVar[str] = "Hz"

    def _text(self, value: float | None, wide: bool) -> str:  # noqa: ARG002
        return short_hertz(value)


@dataclass(frozen=True)
class Peaks(Kind):
    """Resonances as `2.93k +6.2`; data have the frequency."""

    def _text(self, value: Resonance | None, wide: bool) -> str:  # noqa: ARG002
        return peak(value)

    def _plain(self, value: Resonance | None) -> Plain:
        return None if value is None else value.frequency


@dataclass(frozen=True)
class Measures(Kind):
    """Quantities with their unit and its prefix, as `47 nF`."""

    symbol: str

    def _text(self, value: float, wide: bool) -> str:  # noqa: ARG002
        return render(value, self.symbol)


@dataclass(frozen=True)
class Lengths(Kind):
    """Lengths [m] as they were written, or as `20 cm` and `6 m`."""

    def _text(self, value: float, wide: bool) -> str:  # noqa: ARG002
        return length_text(value)

    def _plain(self, value: float) -> Plain:
        return float(value)


@dataclass(frozen=True)
class Counts(Kind):
    """How many, or which."""

    def _text(self, value: int, wide: bool) -> str:  # noqa: ARG002
        return f"{value}"


@dataclass(frozen=True)
class Names(Kind):
    """Names from a file, on one line and shortened if long; a str, a `Named`, or None.

    Attributes
    ----------
    narrow, longest : how many characters are shown of one, with little room and with much
    quoted : whether quotation marks go around it
    none : where there is none
    """

    narrow: int = 40
    longest: int = 80
    quoted: bool = False
    none: str = ""
    right: ClassVar[bool] = False
    wraps: ClassVar[bool] = True

    def _text(self, value: str | Named | None, wide: bool) -> str:
        if value is None:
            return self.none
        named = value if isinstance(value, Named) else Named(value)
        name = plain(named.name, self.longest if wide else self.narrow)
        mark = "'" if self.quoted else ""
        return f"{named.before}{mark}{name}{mark}{named.after}"

    def _plain(self, value: str | Named | None) -> Plain:
        return f"{value.before}{value.name}{value.after}" if isinstance(value, Named) else value


@dataclass(frozen=True)
class Words(Kind):
    """Single words of our own, which do not wrap."""

    right: ClassVar[bool] = False

    def _text(self, value: str, wide: bool) -> str:  # noqa: ARG002
        return value


@dataclass(frozen=True)
class Phrases(Words):
    """Text that is put together already, the names in it shortened."""

    wraps: ClassVar[bool] = True


@dataclass(frozen=True)
class Choices(Kind):
    """One of a few values, each with what a person reads and with what data hold."""

    words: Mapping[Any, tuple[str, str]]
    right: ClassVar[bool] = False
    wraps: ClassVar[bool] = True

    def _text(self, value: Any, wide: bool) -> str:  # noqa: ARG002
        return self.words[value][0]

    def _plain(self, value: Any) -> Plain:
        return self.words[value][1]


@dataclass(frozen=True)
class Bars(Kind):
    """Numbers as bars beside one another, drawn by the page; the largest is the longest."""

    right: ClassVar[bool] = False

    def _text(self, value: float, wide: bool) -> str:  # noqa: ARG002
        return decibel(value)


LOSS: Final = Decibels()
CHANGE: Final = Decibels(sign=True)
HERTZ: Final = Hertz()
SHORT_HERTZ: Final = ShortHertz()
PEAK: Final = Peaks()
RESISTANCE: Final = Measures("Ω")
CAPACITANCE: Final = Measures("F")
LENGTH: Final = Lengths()
COUNT: Final = Counts()
NAME: Final = Names()
WORD: Final = Words()
PHRASE: Final = Phrases()
BAR: Final = Bars()

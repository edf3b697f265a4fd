"""Lengths that a cable is usually bought in."""

from __future__ import annotations

from typing import Final

from sigsim.quantities import FOOT, INCH, is_imperial

# Common practice, no source.
_METRIC: Final = (
    "5 cm", "10 cm", "15 cm", "20 cm", "30 cm", "45 cm", "60 cm", "1 m", "1.5 m", "2 m", "3 m",
    "4 m", "5 m", "6 m", "8 m", "10 m", "12 m", "15 m", "20 m", "30 m", "50 m",
)  # fmt: skip
_INCHES: Final = (2, 4, 6, 8, 12, 18, 24)
_FEET: Final = (3, 5, 8, 10, 12, 15, 18, 20, 25, 30, 40, 50, 75, 100)
# What is hardly shorter is not worth a new cable.
_SHORTER: Final = 0.7


def shorter(length: float, sold: tuple[float, ...] = ()) -> tuple[str, float] | None:
    """Return a length to try instead of another, None for one that is as short as they come.

    Parameters
    ----------
    length : now [m]; one written in feet or inches is answered in them
    sold : the lengths [m] in which the cable is bought, none for any

    Returns
    -------
    as a person writes it, and in [m]
    """
    if sold:
        less = [one for one in sold if one < 0.999 * length]
        return (f"{100 * max(less):.6g} cm", max(less)) if less else None
    usual = _imperial() if is_imperial(length) else _metric()
    fitting = [(text, metres) for text, metres in usual if metres <= _SHORTER * length]
    return fitting[-1] if fitting else None


def _metric() -> list[tuple[str, float]]:
    units = {"cm": 0.01, "m": 1.0}
    return [(t, float(t.split()[0]) * units[t.split()[1]]) for t in _METRIC]


def _imperial() -> list[tuple[str, float]]:
    inches = [(f"{number} in", number * INCH) for number in _INCHES]
    return inches + [(f"{number} ft", number * FOOT) for number in _FEET]

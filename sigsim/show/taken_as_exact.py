"""Which figures of a file are taken as exact, in a line or two."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.show.render.text import count, plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.decide.spread.report import SpreadReport

_BEGIN: Final = "Taken as exact, because no ± is written: "
# Two lines of a terminal, the words before and behind included.
_MOST: Final = 150
# What is told by its number alone, last: there are many, and a tape or an eye reads them well.
_COUNTED: Final = {"length": "length", "knob": "knob"}


def taken_as_exact(report: SpreadReport) -> Iterator[str]:
    """Yield a sentence on the figures without a tolerance, if there are any.

    Parameters
    ----------
    report : from `spread_report`
    """
    entries = list(_entries(report))
    if not entries:
        return
    left = sum(number for _, number in entries)
    told: list[str] = []
    room = _MOST - len(_BEGIN) - len(f" and {left} more.")
    for entry, number in entries:
        if told and len(", ".join((*told, entry))) > room:
            break
        told.append(entry)
        left -= number
    if left:
        yield f"{_BEGIN}{', '.join(told)} and {left} more."
    else:
        yield f"{_BEGIN}{' and '.join(filter(None, (', '.join(told[:-1]), told[-1])))}."


def _entries(report: SpreadReport) -> Iterator[tuple[str, int]]:
    """Yield what is told of and for how many figures it stands; what counts most comes first."""
    named = [figure for figure in report.exact if figure.kind not in _COUNTED]
    # The capacitance of a cable is the figure that matters most, so it is never cut off.
    for figure in sorted(named, key=lambda f: f.kind != "capacitance per length"):
        place = plain(figure.place.removeprefix("cable "), 30)
        yield f"'{place}' {figure.key.replace('_', ' ')}", 1
    for kind, word in _COUNTED.items():
        if number := sum(figure.kind == kind for figure in report.exact):
            yield count(number, word), number

"""A response as a table of text: frequency, gain and phase, as analysers write it."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

import numpy as np

from sigsim.board.source import nearest_file
from sigsim.errors import SigsimError, nearest, quote, shown_path
from sigsim.measure.response import Heard

COLUMNS: Final = ("frequency_hz", "gain_db", "phase_deg")
_FORM: Final = "a first line frequency_hz,gain_db,phase_deg and below it numbers, 1000.0,-3.2,41.5"
FEWEST_ROWS: Final = 10
_MOST_ROWS: Final = 1_000_000
_MOST_BYTES: Final = 100_000_000
_LONGEST_LINE: Final = 2000
# What a number of each column lies between; more is a slip or no response of a circuit.
_RANGES: Final = {
    "frequency_hz": (1e-3, 1e7, "0.001 to 10000000 Hz"),
    "gain_db": (-300.0, 300.0, "-300 to 300 dB"),
    "phase_deg": (-1e7, 1e7, "degrees"),
}


def read_table(path: str | Path) -> Heard:
    """Return the response that a table holds.

    Parameters
    ----------
    path : of the file: `frequency_hz,gain_db,phase_deg` in any order, more columns are passed over

    Raises
    ------
    SigsimError : it cannot be read, or a line of it is wrong
    """
    where = shown_path(path)
    lines = _lines(Path(path), where)
    first = next(lines, None)
    if first is None:
        raise SigsimError("this table is empty", where=where, accepted=_FORM)
    header = _cells(first[1], f"{where}, line {first[0]}")
    columns, others = _columns(header, first[1], where, first[0])
    values: list[list[float]] = []
    for number, line in lines:
        if len(values) == _MOST_ROWS:
            raise SigsimError("too many rows", where=where, accepted=f"at most {_MOST_ROWS:,}")
        values.append(_row(line, header, columns, f"{where}, line {number}"))
        if len(values) > 1 and values[-1][0] <= values[-2][0]:
            raise SigsimError(
                "the frequencies of a table rise from row to row",
                where=f"{where}, line {number}",
                found=f"{values[-1][0]:g} Hz behind {values[-2][0]:g} Hz",
                accepted="each frequency once, the lowest first",
            )
    if len(values) < FEWEST_ROWS:
        raise SigsimError(
            "this table has too few rows to tell anything",
            where=where,
            found=str(len(values)),
            accepted=f"at least {FEWEST_ROWS}",
        )
    frequency, gain, phase = np.array(values).T.copy()
    H = 10 ** (gain / 20) * np.exp(1j * np.radians(phase))
    unused = ", ".join(quote(name) for name in others)
    notes = (f"Columns that are not used: {unused}.",) if others else ()
    return Heard(str(path), frequency, H, notes=notes)


def _lines(path: Path, where: str) -> Iterator[tuple[int, str]]:
    """Yield the lines of a table that are not blank, with their numbers."""
    if not path.exists():
        near = nearest_file(path, (".csv",))
        raise SigsimError("there is no such file", where=where, nearest=near)
    if not path.is_file():
        raise SigsimError("this is no ordinary file", where=where)
    if (size := path.stat().st_size) > _MOST_BYTES:
        found = f"{size / 1e6:.0f} MB"
        raise SigsimError("this table is too large", where=where, found=found, accepted="100 MB")
    number = 0
    try:
        with path.open(encoding="utf-8-sig", newline=None) as file:
            while line := file.readline(_LONGEST_LINE + 1):
                number += 1
                if len(line) > _LONGEST_LINE:
                    raise SigsimError(
                        "this line is too long for a table",
                        where=f"{where}, line {number}",
                        accepted=f"at most {_LONGEST_LINE} characters",
                    )
                if line.strip():
                    yield number, line.strip()
    except (OSError, UnicodeDecodeError):
        what = "this is no table of text that can be read"
        raise SigsimError(what, where=where, accepted=_FORM) from None


def _cells(line: str, here: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line], strict=True))]
    except csv.Error:
        raise SigsimError(
            "this line cannot be taken apart",
            where=here,
            found=quote(line),
            accepted="numbers with commas between them",
        ) from None


def _columns(
    header: Sequence[str], line: str, where: str, number: int
) -> tuple[list[int], list[str]]:
    """Return the places of the three columns, and the names of others."""
    here = f"{where}, line {number}"
    names = [cell.casefold() for cell in header]
    if ";" in line or "\t" in line:
        raise SigsimError(
            "the columns of a table are parted by commas, and its decimals by points",
            where=here,
            found=quote(line),
            accepted=_FORM,
        )
    if all(_is_number(cell) for cell in names):
        what = "the first line of a table names its columns"
        raise SigsimError(what, where=here, found=quote(line), accepted=_FORM)
    for name in COLUMNS:
        if names.count(name) != 1:
            others = [cell for cell in names if cell not in COLUMNS]
            near = nearest(name, others, 0.4)
            twice = names.count(name) > 1
            what = f"the column {name} is there twice" if twice else f"there is no column {name}"
            found = near or line
            raise SigsimError(
                what, where=here, found=quote(found), accepted=_FORM, nearest=name if near else None
            )
    others = [cell for cell, name in zip(header, names, strict=True) if name not in COLUMNS]
    return [names.index(name) for name in COLUMNS], others


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _row(line: str, header: Sequence[str], columns: Sequence[int], here: str) -> list[float]:
    cells = line.split(",") if '"' not in line else _cells(line, here)
    if len(cells) != len(header):
        comma = ";" in line or len(cells) == 2 * len(header)
        raise SigsimError(
            "this line has a decimal comma or semicolons" if comma else "this line is not whole",
            where=here,
            found=quote(line),
            accepted=f"{len(header)} numbers with commas between them, decimals with a point",
        )
    return [
        _number(cells[place].strip(), name, here)
        for place, name in zip(columns, COLUMNS, strict=True)
    ]


def _number(text: str, name: str, here: str) -> float:
    low, high, accepted = _RANGES[name]
    try:
        # Python also reads 1_000, which no table has.
        value = float(text) if "_" not in text else math.nan
    except ValueError:
        raise SigsimError(
            f"{name} is no number", where=here, found=quote(text), accepted=accepted
        ) from None
    if not math.isfinite(value):
        raise SigsimError(
            f"{name} is not a finite number", where=here, found=quote(text), accepted=accepted
        )
    if not low <= value <= high:
        raise SigsimError(
            f"{name} is out of its range", where=here, found=quote(text), accepted=accepted
        )
    return value

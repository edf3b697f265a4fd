"""What the machine can play and record with, and what was recorded."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.show import kinds
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from collections.abc import Sequence

TITLE: Final = "Audio interfaces"
_NOTHING: Final = (
    "This machine has nothing to play or record with: plug the interface in and switch it on."
)
_COLUMNS: Final = (
    Column("No.", kinds.COUNT),
    Column("Name", kinds.NAME),
    Column("By way of", kinds.PHRASE),
    Column("In", kinds.COUNT),
    Column("Out", kinds.COUNT),
    Column("Rates (kHz)", kinds.PHRASE),
)

# Number, name, system, inputs, outputs, rates [Hz] and whether it is taken where none is named.
Listed = tuple[int, str, str, int, int, tuple[int, ...], bool]


def devices_document(devices: Sequence[Listed]) -> Document:
    """Return what there is as a table.

    Parameters
    ----------
    devices : in the order of the sound system
    """
    if not devices:
        return Document(TITLE, (Paragraph((_NOTHING,)),))
    rows = [
        (number, name, plain(system), inputs, outputs, _rates(rates))
        for number, name, system, inputs, outputs, rates, _ in devices
    ]
    usual = [str(device[0]) for device in devices if device[-1]]
    taken = f" Without it: number {' and '.join(usual)}." if usual else ""
    after = f"--device takes a name, a part of it that no other has, or the number.{taken}"
    return Document(TITLE, (Table("", _COLUMNS, rows), Paragraph((after,))))


def recorded_document(path: str, seconds: float, rate: int, level: str) -> Document:
    """Return what was written.

    Parameters
    ----------
    path : of the file
    seconds : its length [s]
    rate : [Hz]
    level : its peak, in words
    """
    written = (
        f"{plain(path)}: {seconds:.3g} s, {rate / 1000:g} kHz, 24 bits, mono; peak {level}.",
    )
    return Document("Recorded", (Paragraph(written),))


def _rates(rates: tuple[int, ...]) -> str:
    return ", ".join(f"{rate / 1000:g}" for rate in rates) or "none of the usual"

"""What a buffer does to the noise: it adds its own, and the wiring takes less of the signal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sigsim.decide.buffer.report import with_buffers
from sigsim.decide.noise import NOMINAL_LEVEL, a_weighted_noise, dbv, verdict

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sigsim.decide.buffer.report import BufferReport, Placement


@dataclass(frozen=True)
class BufferNoise:
    """A-weighted noise at the destination, every stage off.

    Attributes
    ----------
    now : how far it lies under the nominal level on the board as it is [dB]
    word : for that
    changes : with each of some placements [dB]; more than 0 is more noise
    """

    now: float
    word: str
    changes: tuple[float, ...]


def buffer_noise(report: BufferReport, placements: Sequence[Placement]) -> BufferNoise:
    """Return what some placements do to the noise.

    Parameters
    ----------
    report : from `buffer_report`
    placements : some of its placements
    """
    now = a_weighted_noise(report.board, ())
    boxed = (with_buffers(report, placement) for placement in placements)
    changes = tuple(a_weighted_noise(b, ()) - now for b in boxed)
    under = dbv(NOMINAL_LEVEL) - now
    return BufferNoise(under, verdict(under), changes)

"""What a buffer does to the noise: it adds its own, and the wiring takes less of the signal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.decide.buffer import with_buffers
from sigsim.decide.noise import a_weighted_noise

if TYPE_CHECKING:
    from sigsim.decide.buffer import BufferReport


def noise_changes(report: BufferReport, count: int) -> tuple[float, ...]:
    """Return how the noise changes with the first placements, every stage off.

    Parameters
    ----------
    report : from `buffer_report`
    count : of how many placements

    Returns
    -------
    A-weighted noise referred to the instrument, against the board as it is [dB]; not a number
    where no signal gets through
    """
    now = a_weighted_noise(report.board, frozenset()).instrument
    boxed = (with_buffers(report, placement) for placement in report.placements[:count])
    return tuple(a_weighted_noise(b, frozenset()).instrument - now for b in boxed)

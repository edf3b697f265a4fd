"""Recordings that do not show their own clock: what the others say of it, and what stays open.

A sweep reaches the frequency f after L·ln(f/f_low). By a clock that runs faster by ε it arrives
later by ε times that: a delay that grows with ln f, and would be taken for picofarads.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.physics.source import angular

if TYPE_CHECKING:
    from sigsim.measure.response import Heard

# Two crystals of a player and a recorder are usually this far apart [ppm].
_USUAL: Final = 30.0
# One interface keeps its clock to this from one recording to the next [ppm].
_KEPT: Final = 1.0


def with_clocks(heard: Mapping[str, Sequence[Heard]]) -> dict[str, list[Heard]]:
    """Return recordings of which each knows how far its clock may be off.

    Parameters
    ----------
    heard : by role, all of one measurement
    """
    known = [h.clock_ppm for found in heard.values() for h in found if h.clock_ppm is not None]
    middle = float(np.mean(known)) if known else 0.0
    kept = len(known) > 1 and max(known) - min(known) < _KEPT
    within = _KEPT if kept else _USUAL
    return {role: [_with(h, middle, within) for h in found] for role, found in heard.items()}


def _with(heard: Heard, ppm: float, within: float) -> Heard:
    if heard.clock_ppm is not None or heard.rate is None or heard.growth is None:
        return heard
    late = 1e-6 * ppm * heard.growth * np.log(heard.frequency / heard.frequency[0])
    straight = heard.H * np.exp(angular(heard.frequency) * late)
    return replace(heard, H=straight, drift=1e-6 * within * heard.growth)

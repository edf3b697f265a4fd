"""How a measure spreads over all states of a board, however it was counted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Losses:
    """How a measure spreads over the states of a board.

    Attributes
    ----------
    states : how many were counted, silent ones among them
    silent : of how many of them nothing can be told, because the board or its reference is silent
    below : how many lie below each limit asked for
    quantiles : what each share asked for does not exceed [dB]; not a number where all are silent
    medians : of every switch that varies, with it off and with it on [dB]
    error : by how much quantiles and medians may be off, and limits moved [dB]; 0 for exact
    drawn : whether the states counted were drawn at random
    """

    states: int
    silent: int
    below: tuple[int, ...]
    quantiles: tuple[float, ...]
    medians: Mapping[str, tuple[float, float]]
    error: float = 0.0
    drawn: bool = False

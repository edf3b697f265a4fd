"""The plot of all states: the band of all curves, and how the treble losses spread."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import WORDS
from sigsim.show.plots.style import (
    GRID_COLOUR,
    PALETTE,
    REFERENCE_COLOUR,
    TEXT_SIZE,
    frequency_axis,
    legend_below,
    limit_gain,
    literal,
    seen,
    styles,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.states.band import StatesBand

_OUTER, _INNER = "#dfe6ee", "#b9c9da"
_BINS: Final = 60
_MOST_NAMED: Final = 7


def draw_states(figure: Figure, title: str, band: StatesBand) -> Sequence[Axes]:
    """Draw the band of all states with some curves on top, and the distribution of losses.

    Parameters
    ----------
    figure : an empty figure
    title : of the board
    band : from `states_band`

    Returns
    -------
    the two axes
    """
    upper, lower = figure.subplots(2, 1, height_ratios=(3, 2))
    f = band.frequency
    upper.fill_between(f, seen(band.least), seen(band.largest), color=_OUTER,
                       label=f"all {band.total:,} states", linewidth=0)  # fmt: skip
    upper.fill_between(f, seen(band.low), seen(band.high), color=_INNER, linewidth=0,
                       label=_inner_label(band))  # fmt: skip
    for style, (name, gain) in zip(styles(), list(band.named.items())[:_MOST_NAMED], strict=False):
        upper.plot(f, seen(gain), label=literal(name), **style)
    frequency_axis(upper, 100.0, 20_000.0)
    limit_gain(upper, [band.largest[f <= 20_000], band.least[f <= 20_000]])
    upper.set_ylabel("gain (dB)", fontsize=TEXT_SIZE)
    _distribution(lower, band)
    figure.suptitle(literal(title, 60), fontsize=TEXT_SIZE + 2, x=0.02, ha="left")
    legend_below(figure)
    return upper, lower


def _inner_label(band: StatesBand) -> str:
    if band.drawn == band.total:
        return "5 to 95 % of them"
    return f"5 to 95 % of {band.drawn:,} drawn at random"


def _distribution(axes: Axes, band: StatesBand) -> None:
    losses = band.losses[np.isfinite(band.losses)]
    if losses.size:
        axes.hist(losses, bins=_BINS, weights=np.full(losses.size, 100 / losses.size),
                  color=PALETTE[2], linewidth=0)  # fmt: skip
        axes.set_ylim(0, 1.2 * axes.get_ylim()[1])
    low, high = axes.get_xlim()
    for limit, _ in WORDS:
        if low < limit < high:
            axes.axvline(limit, color=REFERENCE_COLOUR, linewidth=0.9)
    begins = [-np.inf, *(limit for limit, _ in WORDS)]
    for begin, (limit, word) in zip(begins, WORDS, strict=False):
        left, right = max(begin, low), min(limit, high)
        if right - left > 0.12 * (high - low):
            axes.text((left + right) / 2, 0.97, word, transform=axes.get_xaxis_transform(),
                      ha="center", va="top", fontsize=TEXT_SIZE - 1, color="#444444")  # fmt: skip
    axes.set_xlim(low, high)
    axes.set_xlabel("treble loss (dB)", fontsize=TEXT_SIZE)
    axes.set_ylabel("states (%)", fontsize=TEXT_SIZE)
    axes.grid(True, axis="y", color=GRID_COLOUR, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=TEXT_SIZE - 0.5, length=2)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)

"""The plot of all states: the band of all curves, and how the treble losses spread."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import AUDIBLE_HZ, WORDS
from sigsim.show.document import Drawing
from sigsim.show.plots.style import (
    PALE_COLOUR,
    PALETTE,
    REFERENCE_COLOUR,
    TEXT_SIZE,
    Look,
    frequency_axis,
    headline,
    legend_below,
    limit_gain,
    literal,
    name_axes,
    quiet_axes,
    seen,
    styles,
    two_axes,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.states.band import StatesBand

_OUTER: Final = "#dfe6ee"
_LOW_HZ: Final = 100.0
_BINS: Final = 60
_MOST_NAMED: Final = 7


def drawing(title: str, band: StatesBand) -> Drawing:
    """Return the plot of all states of a board with a title."""
    said = f"The gain of all {band.total:,} states over frequency, and how their losses spread."
    return Drawing(lambda figure: draw_states(figure, title, band), said)


def draw_states(figure: Figure, title: str, band: StatesBand) -> tuple[Axes, Axes]:
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
    upper, lower = two_axes(figure)
    f = band.frequency
    outer: Look = {"color": _OUTER, "linewidth": 0, "label": f"all {band.total:,} states"}
    inner: Look = {"color": PALE_COLOUR, "linewidth": 0, "label": _inner_label(band)}
    upper.fill_between(f, seen(band.least), seen(band.largest), **outer)
    upper.fill_between(f, seen(band.low), seen(band.high), **inner)
    for style, (name, gain) in zip(styles(), list(band.named.items())[:_MOST_NAMED], strict=False):
        upper.plot(f, seen(gain), label=literal(name), **style)
    frequency_axis(upper, "gain (dB)", _LOW_HZ)
    inside = f <= AUDIBLE_HZ[1]
    limit_gain(upper, [band.largest[inside], band.least[inside]])
    _distribution(lower, band)
    headline(figure, literal(title, 60))
    legend_below(figure)
    return upper, lower


def _inner_label(band: StatesBand) -> str:
    if band.drawn == band.total:
        return "5 to 95 % of them"
    return f"5 to 95 % of {band.drawn:,} drawn at random"


def _distribution(axes: Axes, band: StatesBand) -> None:
    losses = band.losses[np.isfinite(band.losses)]
    if losses.size:
        percent = np.full(losses.size, 100 / losses.size)
        axes.hist(losses, bins=_BINS, weights=percent, color=PALETTE[2], linewidth=0)
        axes.set_ylim(0, 1.2 * axes.get_ylim()[1])
    low, high = axes.get_xlim()
    for limit, _ in WORDS:
        if low < limit < high:
            axes.axvline(limit, color=REFERENCE_COLOUR, linewidth=0.9)
    text: Look = {"ha": "center", "va": "top", "fontsize": TEXT_SIZE - 1, "color": "#444444"}
    above = axes.get_xaxis_transform()
    begins = [-np.inf, *(limit for limit, _ in WORDS)]
    for begin, (limit, word) in zip(begins, WORDS, strict=False):
        left, right = max(begin, low), min(limit, high)
        if right - left > 0.12 * (high - low):
            axes.text((left + right) / 2, 0.97, word, transform=above, **text)
    axes.set_xlim(low, high)
    name_axes(axes, "treble loss (dB)", "states (%)")
    quiet_axes(axes, "y")

"""The plot of all states: the band of all curves, and how the treble losses spread."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import AUDIBLE_HZ, WORDS
from sigsim.show.document import Drawing
from sigsim.show.plots import style

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
    return Drawing(lambda figure: _draw(figure, title, band), said)


def _draw(figure: Figure, title: str, band: StatesBand) -> None:
    upper, lower = style.two_axes(figure)
    f = band.frequency
    of = "them" if band.drawn == band.total else f"{band.drawn:,} drawn at random"
    for low, high, colour, label in (
        (band.least, band.largest, _OUTER, f"all {band.total:,} states"),
        (band.low, band.high, style.PALE_COLOUR, f"5 to 95 % of {of}"),
    ):
        low, high = style.seen(low), style.seen(high)
        upper.fill_between(f, low, high, color=colour, linewidth=0, label=label)
    named = list(band.named.items())[:_MOST_NAMED]
    for look, (name, gain) in zip(style.looks(), named, strict=False):
        upper.plot(f, style.seen(gain), label=style.literal(name), **look)
    style.frequency_axis(upper, "gain (dB)", _LOW_HZ)
    inside = f <= AUDIBLE_HZ[1]
    style.limit_gain(upper, [band.largest[inside], band.least[inside]])
    _distribution(lower, band)
    style.finish(figure, style.literal(title, 60))


def _distribution(axes: Axes, band: StatesBand) -> None:
    losses = band.losses[np.isfinite(band.losses)]
    if losses.size:
        percent = np.full(losses.size, 100 / losses.size)
        axes.hist(losses, bins=_BINS, weights=percent, color=style.PALETTE[2], linewidth=0)
        axes.set_ylim(0, 1.2 * axes.get_ylim()[1])
    low, high = axes.get_xlim()
    for limit, _ in WORDS:
        if low < limit < high:
            axes.axvline(limit, color=style.REFERENCE_COLOUR, linewidth=0.9)
    text: style.Look = {"ha": "center", "va": "top", "fontsize": style.TEXT_SIZE - 1}
    above = axes.get_xaxis_transform()
    begins = [-np.inf, *(limit for limit, _ in WORDS)]
    for begin, (limit, word) in zip(begins, WORDS, strict=False):
        left, right = max(begin, low), min(limit, high)
        if right - left > 0.12 * (high - low):
            axes.text((left + right) / 2, 0.97, word, transform=above, color="#444444", **text)
    axes.set_xlim(low, high)
    style.quiet_axes(axes, "treble loss (dB)", "states (%)", grid="y")

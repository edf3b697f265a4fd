"""The plot of a measurement: what was measured, and what the circuit that was found would do."""

from __future__ import annotations

from pathlib import PurePath
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import AUDIBLE_HZ, decibels
from sigsim.show.document import Drawing
from sigsim.show.measure import sentence
from sigsim.show.plots import style
from sigsim.show.plots.finish import Entry, finish

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from sigsim.measure.result import Curve, Measured
    from sigsim.physics.arrays import ComplexArray, FloatArray

# Of measured points, so many an octave are drawn as dots: more would be a band.
_DOTS_PER_OCTAVE: Final = 4
_ROOM: Final = 0.08
_LEAST_DB: Final = 1.0
_LEAST_DEG: Final = 10.0


def drawing(measured: Measured) -> Drawing:
    """Return the plot of a measurement."""
    answer = sentence(measured)
    said = (
        "Level and phase of each recording over the one before it: dots as measured, lines as the "
        f"circuit has them that was found. {answer}"
    )
    return Drawing(lambda figure: draw_measure(figure, measured), said, answer)


def draw_measure(figure: Figure, measured: Measured) -> tuple[Axes, Axes]:
    """Draw level and phase, measured and fitted, into an empty figure; return both axes."""
    upper, lower = style.two_axes(figure, one_x=True)
    ends = _ends(measured)
    style.frequency_axis(upper, "level (dB)", *ends)
    style.frequency_axis(lower, "phase (degrees)", *ends)
    upper.set_xlabel("")
    legend: list[Entry] = []
    levels: list[FloatArray] = []
    phases: list[FloatArray] = []
    for number, curve in enumerate(measured.curves):
        look = style.look(number)
        for axes, of, drawn in ((upper, decibels, levels), (lower, _degrees, phases)):
            line = _draw(axes, curve, of(curve.ratio.T), of(curve.fitted), look)
            drawn += [of(curve.ratio.T), of(curve.fitted)]
            if axes is upper:
                legend.append(Entry(line, PurePath(curve.ratio.name).name, ""))
    _room(upper, levels, _LEAST_DB)
    _room(lower, phases, _LEAST_DEG)
    finish(figure, sentence(measured), "dots: measured; lines: the circuit found", legend=legend)
    return upper, lower


def _draw(
    axes: Axes, curve: Curve, measured: FloatArray, fitted: FloatArray, look: style.Look
) -> Artist:
    """Draw one curve as dots and a line, and return the line."""
    f = curve.ratio.frequency
    (line,) = axes.plot(f, style.seen(fitted), label="found", **look | {"linewidth": 1.3})
    few = _few(f)
    dots: style.Look = {"marker": "o", "linestyle": "none", "markersize": 3.5}
    axes.plot(
        f[few],
        style.seen(measured[few]),
        label="measured",
        color=look["color"],
        markerfacecolor="white",
        markeredgewidth=0.9,
        **dots,
    )
    return line


def _few(frequency: FloatArray) -> NDArray[np.intp]:
    """Return the places of some frequencies, evenly apart by octaves."""
    octave = np.floor(_DOTS_PER_OCTAVE * np.log2(frequency))
    return np.unique(octave, return_index=True)[1]


def _degrees(ratio: ComplexArray) -> FloatArray:
    """Return the phase [degrees] without jumps of a whole turn."""
    unwrapped: FloatArray = np.degrees(np.unwrap(np.angle(ratio)))
    return unwrapped


def _ends(measured: Measured) -> tuple[float, float]:
    """Return the frequencies [Hz] between which anything was measured."""
    f = np.concatenate([curve.ratio.frequency for curve in measured.curves] or [np.empty(0)])
    return (float(f.min()), float(f.max())) if f.size > 1 else AUDIBLE_HZ


def _room(axes: Axes, drawn: list[FloatArray], least: float) -> None:
    """Show all curves with some room, and never less than so much between top and bottom."""
    values = np.concatenate([*drawn, np.zeros(1)])
    values = values[np.isfinite(values)]
    low, high = float(values.min()), float(values.max())
    more = max(_ROOM * (high - low), (least - (high - low)) / 2)
    axes.set_ylim(low - more, high + more)

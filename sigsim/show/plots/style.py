"""Plots: results in, axes out. One look for all; nothing global is touched."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, NullFormatter

from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from sigsim.decide.loss.curves import NamedCurve
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.response import Response

WIDTH_CM, HEIGHT_CM = 16.0, 13.0
_CM: Final = 1 / 2.54
TEXT_SIZE: Final = 9.0
NARROW_CM: Final = 12.0

# Our own palette: hues that the common forms of colour blindness keep apart, in steps of
# lightness that stay apart in grey; the line style repeats the difference.
PALETTE: Final = ("#12355b", "#c8553d", "#3d8b8b", "#8a5a9e", "#b08a1e", "#5c5c5c")
STYLES: Final = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (7, 2, 2, 2)), (0, (1, 1)), (0, (9, 3)))
REFERENCE_COLOUR: Final = "#8c8c8c"
GRID_COLOUR: Final = "#dddddd"

# What lies further down than this is silence beside the loudest curve.
MOST_DB: Final = 54.0

_REFERENCES: Final = {
    "ideal": "reference: the same without wiring",
    "direct": "reference: the lead alone",
}

_TICKS: Final = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000)
LOW_HZ, HIGH_HZ = 20.0, 20_000.0


def new_figure(width_cm: float = WIDTH_CM, height_cm: float = HEIGHT_CM) -> Figure:
    """Return an empty figure of a size [cm] with the canvas that files need."""
    figure = Figure(figsize=(width_cm * _CM, height_cm * _CM), dpi=200, layout="constrained")
    FigureCanvasAgg(figure)
    return figure


def legend_below(figure: Figure) -> None:
    """Put one legend under all axes, in two columns where the figure is wide enough."""
    columns = 2 if figure.get_figwidth() >= NARROW_CM * _CM else 1
    figure.legend(loc="outside lower left", fontsize=TEXT_SIZE - 0.5, frameon=False, ncols=columns)


def literal(text: str, longest: int = 34) -> str:
    """Return a name from a file so that a plot shows it letter by letter, not as mathematics."""
    return plain(text, longest).replace("$", r"\$")


def styles() -> Iterator[dict[str, object]]:
    """Yield colour and line style for one curve after another, without end."""
    number = 0
    while True:
        colour = PALETTE[number % len(PALETTE)]
        style = STYLES[(number + number // len(PALETTE)) % len(STYLES)]
        yield {"color": colour, "linestyle": style, "linewidth": 1.6}
        number += 1


def frequency_axis(axes: Axes, low: float = LOW_HZ, high: float = HIGH_HZ) -> Axes:
    """Give axes the frequency axis that all plots share: logarithmic, in Hz and kHz."""
    axes.set_xscale("log")
    axes.set_xlim(low, high)
    axes.xaxis.set_major_locator(FixedLocator([t for t in _TICKS if low <= t <= high]))
    axes.xaxis.set_major_formatter(FuncFormatter(_tick))
    axes.xaxis.set_minor_formatter(NullFormatter())
    axes.set_xlabel("frequency (Hz)", fontsize=TEXT_SIZE)
    axes.grid(True, which="major", color=GRID_COLOUR, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=TEXT_SIZE - 0.5, length=2)
    axes.tick_params(which="minor", length=0)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return axes


def _tick(value: float, _position: int) -> str:
    return f"{value / 1000:g}k" if value >= 1000 else f"{value:g}"


def draw_loss(
    figure: Figure, title: str, curves: Sequence[NamedCurve], reference: str
) -> Sequence[Axes]:
    """Draw the gain and the loss of some states, one above the other.

    Parameters
    ----------
    figure : an empty figure
    title : of the board
    curves : from `loss_curves`
    reference : the kind of reference the loss is measured against

    Returns
    -------
    the two axes
    """
    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
    label: str | None = _REFERENCES[reference]
    for style, curve in zip(styles(), curves, strict=False):
        upper.plot(curve.frequency, seen(curve.gain), label=literal(curve.name, 44), **style)
        lower.plot(curve.frequency, seen(curve.loss), **style)
        if curve.reference is not None:
            gain = seen(curve.reference)
            upper.plot(curve.frequency, gain, color=REFERENCE_COLOUR, lw=1.0, label=label, zorder=1)
            label = None
    _finish(figure, title, upper, lower, "loss (dB)")
    lower.axhline(0, color=REFERENCE_COLOUR, linewidth=0.8, zorder=1)
    limit_gain(upper, [g for c in curves for g in (c.gain, c.reference) if g is not None])
    return upper, lower


def _finish(figure: Figure, title: str, upper: Axes, lower: Axes, below: str) -> None:
    for axes in (upper, lower):
        frequency_axis(axes)
    upper.set_xlabel("")
    upper.set_ylabel("gain (dB)", fontsize=TEXT_SIZE)
    lower.set_ylabel(below, fontsize=TEXT_SIZE)
    figure.suptitle(literal(title, 60), fontsize=TEXT_SIZE + 2, x=0.02, ha="left")
    legend_below(figure)


def limit_gain(axes: Axes, gains: Sequence[FloatArray]) -> None:
    """Show the curves from the loudest down to where silence begins beside it."""
    finite = np.concatenate([np.ravel(gain)[np.isfinite(np.ravel(gain))] for gain in gains])
    if finite.size:
        top, bottom = float(finite.max()), float(finite.min())
        axes.set_ylim(max(bottom, top - MOST_DB) - 2, top + 3)


def seen(values: FloatArray) -> FloatArray:
    """Return values with what cannot be drawn left out."""
    drawn: FloatArray = np.where(np.isfinite(values), values, np.nan)
    return drawn


def draw_response(figure: Figure, response: Response, name: str) -> Sequence[Axes]:
    """Draw one state's gain with its reference, and its phase.

    Parameters
    ----------
    figure : an empty figure
    response : of the state
    name : of the state

    Returns
    -------
    the two axes
    """
    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
    f = response.frequency
    one = f.size == 1
    style = next(styles()) | ({"marker": "o"} if one else {})
    upper.plot(f, seen(response.gain_db), label=literal(name, 44), **style)
    upper.plot(
        f, seen(response.reference.gain_db), color=REFERENCE_COLOUR, label="reference",
        marker="o" if one else None,
    )  # fmt: skip
    lower.plot(f, response.phase_deg, **style)
    _finish(figure, response.board.name, upper, lower, "phase (degrees)")
    for axes in (upper, lower):
        axes.set_xlim(*((f[0], f[-1]) if not one else (f[0] / 2, f[0] * 2)))
    return upper, lower

"""What all plots share: one look, one axis of frequencies; nothing global is touched."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, Literal, TypeAlias

import numpy as np

from sigsim.metrics import AUDIBLE_HZ
from sigsim.show.render.text import plain

# Colour, line and text as matplotlib takes them.
Look: TypeAlias = dict[str, Any]

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.physics.arrays import FloatArray

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
# A bar or a band behind what matters more.
PALE_COLOUR: Final = "#b9c9da"

# What lies further down than this is silence beside the loudest curve.
MOST_DB: Final = 54.0

_TICKS: Final = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000)


def new_figure(width_cm: float = WIDTH_CM, height_cm: float = HEIGHT_CM) -> Figure:
    """Return an empty figure of a size [cm] with the canvas that files need."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width_cm * _CM, height_cm * _CM), dpi=200, layout="constrained")
    FigureCanvasAgg(figure)
    return figure


def two_axes(figure: Figure, *, one_x: bool = False) -> tuple[Axes, Axes]:
    """Return two axes of an empty figure, the upper one higher; on demand with one axis below."""
    upper, lower = figure.subplots(2, 1, sharex=one_x, height_ratios=(3, 2))
    return upper, lower


def over_frequency(
    figure: Figure, above: str, below: str, ends: tuple[float, float] = AUDIBLE_HZ
) -> tuple[Axes, Axes]:
    """Return two axes of an empty figure with one axis of frequencies.

    Parameters
    ----------
    figure : an empty figure
    above, below : what they show, with its unit
    ends : of the frequencies [Hz]
    """
    upper, lower = two_axes(figure, one_x=True)
    frequency_axis(upper, above, *ends)
    frequency_axis(lower, below, *ends)
    upper.set_xlabel("")
    return upper, lower


def finish(
    figure: Figure,
    title: str,
    columns: int | None = None,
    *,
    lines: Mapping[str, Artist] | None = None,
    sizes: tuple[float, float] = (TEXT_SIZE + 2, TEXT_SIZE - 0.5),
) -> None:
    """Put a heading over all axes and one legend under them.

    Parameters
    ----------
    figure : the figure
    title : the heading, from `literal`
    columns : of the legend; two where the figure is wide enough, if it does not matter
    lines : what is in the legend by name, else all that has a label
    sizes : of the heading's text and the legend's
    """
    if columns is None:
        columns = 2 if figure.get_figwidth() >= NARROW_CM * _CM else 1
    figure.suptitle(title, fontsize=sizes[0], x=0.02, ha="left")
    shown = () if lines is None else (lines.values(), lines.keys())
    figure.legend(*shown, loc="outside lower left", fontsize=sizes[1], frameon=False, ncols=columns)


def literal(text: str, longest: int = 34) -> str:
    """Return a name from a file so that a plot shows it letter by letter, not as mathematics."""
    return plain(text, longest).replace("$", r"\$")


def looks() -> Iterator[Look]:
    """Yield colour and line style for one curve after another, without end."""
    number = 0
    while True:
        colour = PALETTE[number % len(PALETTE)]
        style = STYLES[(number + number // len(PALETTE)) % len(STYLES)]
        yield {"color": colour, "linestyle": style, "linewidth": 1.6}
        number += 1


def quiet_axes(
    axes: Axes,
    x: str | None = None,
    y: str | None = None,
    *,
    grid: Literal["both", "x", "y"] = "both",
    size: float = TEXT_SIZE - 0.5,
) -> None:
    """Give axes thin lines behind what is drawn, short ticks and no frame.

    Parameters
    ----------
    axes : the axes
    x, y : what they show, with its unit
    grid : where lines go
    size : of the text at the ticks
    """
    for text, name in ((x, axes.set_xlabel), (y, axes.set_ylabel)):
        if text is not None:
            name(text, fontsize=TEXT_SIZE)
    axes.grid(True, axis=grid, color=GRID_COLOUR, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=size, length=2)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def frequency_axis(
    axes: Axes, y: str, low: float = AUDIBLE_HZ[0], high: float = AUDIBLE_HZ[1]
) -> None:
    """Give axes the frequency axis that all plots share: logarithmic, in Hz and kHz.

    Parameters
    ----------
    axes : the axes
    y : what the other axis shows, with its unit
    low, high : its ends [Hz]
    """
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullFormatter

    axes.set_xscale("log")
    axes.set_xlim(low, high)
    axes.xaxis.set_major_locator(FixedLocator([t for t in _TICKS if low <= t <= high]))
    axes.xaxis.set_major_formatter(FuncFormatter(_tick))
    axes.xaxis.set_minor_formatter(NullFormatter())
    quiet_axes(axes, "frequency (Hz)", y)
    axes.tick_params(which="minor", length=0)


def _tick(value: float, _position: int) -> str:
    return f"{value / 1000:g}k" if value >= 1000 else f"{value:g}"


def labelled(axes: Axes) -> dict[str, Artist]:
    """Return what a legend names of one pair of axes, for figures in which others repeat it."""
    artists, names = axes.get_legend_handles_labels()
    return dict(zip(names, artists, strict=True))


def zero_line(axes: Axes) -> None:
    """Mark where nothing is lost."""
    axes.axhline(0, color=REFERENCE_COLOUR, linewidth=0.8, zorder=1)


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

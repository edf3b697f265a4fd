"""What all plots share: colours, sizes and axes; nothing global is touched."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, Literal, TypeAlias

import numpy as np

from sigsim.metrics import AUDIBLE_HZ

# Colour, line and text as matplotlib takes them.
Look: TypeAlias = dict[str, Any]

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.physics.arrays import FloatArray

WIDTH_CM, HEIGHT_CM = 16.0, 13.0
CM: Final = 1 / 2.54
TEXT_SIZE: Final = 9.0
# Narrower than this there is no room beside the axes.
NARROW_CM: Final = 11.0

# Our own palette: colours that protanopes, deuteranopes and tritanopes tell apart from one another
# and from the reference, none of the same lightness for those it is near; lines repeat it.
PALETTE: Final = ("#001933", "#ca5e49", "#3e9ec7", "#72307b", "#b08c00", "#4f4f4f")
STYLES: Final = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (7, 2, 2, 2)), (0, (1, 1)), (0, (9, 3)))
REFERENCE_COLOUR: Final = "#929292"
GRID_COLOUR: Final = "#dddddd"
INK, QUIET = "#1b1f24", "#555555"
# Between a number and its unit.
NO_BREAK: Final = "\u00a0"
# A bar or a band behind what matters more; the tint of the treble.
PALE_COLOUR: Final = "#b9c9da"
TINT: Final = "#faf1d4"

# What lies further down than this is silence beside the loudest curve.
MOST_DB: Final = 54.0
# A loss is never drawn larger than on an axis of so many decibels to either side.
LEAST_DB: Final = 3.0

_TICKS: Final = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000)
_FEW_TICKS: Final = (20, 100, 500, 2000, 10_000)
_SMALL: Final = 0.8
_LOW_CM: Final = 9.5
_KILO: Final = 1000
_STEPS: Final = (1, 2, 5, 10)


def new_figure(width_cm: float = WIDTH_CM, height_cm: float = HEIGHT_CM) -> Figure:
    """Return an empty figure of a size [cm] with the canvas that files need."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width_cm * CM, height_cm * CM), dpi=200, layout="constrained")
    FigureCanvasAgg(figure)
    return figure


def figure_of(axes: Axes) -> Figure:
    """Return the figure that axes are in."""
    from matplotlib.figure import Figure

    found = axes.get_figure(root=True)
    if not isinstance(found, Figure):
        raise TypeError("these axes are in no figure")
    return found


def scale(figure: Figure) -> float:
    """Return how much larger lines and letters are than on a plot of the usual size [-]."""
    width, height = figure.get_size_inches() / CM
    return float(np.clip(min(width / WIDTH_CM, height / HEIGHT_CM), 0.8, 3.0))


def size(where: Figure | Axes, step: float = 0.0) -> float:
    """Return the size of text [points], `step` larger than usual before it is scaled."""
    from matplotlib.figure import Figure

    figure = where if isinstance(where, Figure) else figure_of(where)
    return (TEXT_SIZE + step) * scale(figure)


def width_cm(figure: Figure) -> float:
    """Return the width of a figure [cm]."""
    return float(figure.get_figwidth() / CM)


def is_low(figure: Figure) -> bool:
    """Return whether a figure is so low that two axes have hardly room."""
    return bool(figure.get_figheight() / CM < _LOW_CM)


def rows_that_fit(figure: Figure, taken: float = 0.45) -> int:
    """Return how many rows with names stand one above the other, beside what else takes room.

    Parameters
    ----------
    figure : the figure
    taken : part of its height that heading, axes and legend take [-]
    """
    points = 72 * figure.get_figheight() * (1 - taken)
    return max(3, int(points / (1.35 * size(figure, -1))))


def most_named(figure: Figure) -> int:
    """Return how many curves of a figure have names of their own."""
    if is_low(figure):
        return 3
    return 8 if width_cm(figure) >= NARROW_CM and scale(figure) > _SMALL else 5


def two_axes(
    figure: Figure, *, one_x: bool = False, heights: tuple[float, float] = (3, 2)
) -> tuple[Axes, Axes]:
    """Return two axes of an empty figure by their heights; on demand with one axis below."""
    upper, lower = figure.subplots(2, 1, sharex=one_x, height_ratios=heights)
    return upper, lower


def over_frequency(
    figure: Figure,
    above: str,
    below: str,
    band: tuple[float, float],
    ends: tuple[float, float] = AUDIBLE_HZ,
    heights: tuple[float, float] = (1, 1),
) -> tuple[Axes, Axes]:
    """Return two axes of an empty figure with one axis of frequencies.

    Parameters
    ----------
    figure : an empty figure
    above, below : what they show, with its unit
    band : of the treble, which is tinted [Hz]
    ends : of the frequencies [Hz]
    heights : of the two, in any unit
    """
    upper, lower = two_axes(figure, one_x=True, heights=heights)
    frequency_axis(upper, above, *ends)
    frequency_axis(lower, below, *ends)
    upper.set_xlabel("")
    tint_treble(upper, band)
    tint_treble(lower, band, named=False)
    return upper, lower


def tint_treble(axes: Axes, band: tuple[float, float], *, named: bool = True) -> None:
    """Tint the band [Hz] over which the treble loss is the mean, and say so above the axes."""
    low, high = axes.get_xlim()
    left, right = max(low, band[0]), min(high, band[1])
    if left >= right:
        return
    axes.axvspan(left, right, color=TINT, linewidth=0, zorder=0, label="_treble")
    if named:
        axes.annotate(
            "treble",
            (float(np.sqrt(left * right)), 1.0),
            (0, 2),
            xycoords=axes.get_xaxis_transform(),
            textcoords="offset points",
            ha="center",
            va="bottom",
            color="#6b5510",
            fontsize=size(axes, -1),
        )


def look(number: int) -> Look:
    """Return colour and line style of the curve with a number, from 0."""
    style = STYLES[(number + number // len(PALETTE)) % len(STYLES)]
    return {"color": PALETTE[number % len(PALETTE)], "linestyle": style, "linewidth": 1.7}


def quiet_axes(
    axes: Axes,
    x: str | None = None,
    y: str | None = None,
    *,
    grid: Literal["both", "x", "y"] = "both",
) -> None:
    """Give axes thin lines behind what is drawn, short ticks and no frame.

    Parameters
    ----------
    axes : the axes
    x, y : what they show, with its unit
    grid : where lines go
    """
    for text, name in ((x, axes.set_xlabel), (y, axes.set_ylabel)):
        if text is not None:
            name(text, fontsize=size(axes))
    axes.grid(True, axis=grid, color=GRID_COLOUR, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=size(axes, -0.5), length=2)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def decibel_axis(axes: Axes, most: int = 7) -> None:
    """Give a horizontal axis of decibels no more ticks than have room."""
    from matplotlib.ticker import MaxNLocator

    narrow = width_cm(figure_of(axes)) < NARROW_CM
    axes.xaxis.set_major_locator(MaxNLocator(4 if narrow else most, steps=_STEPS))


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
    from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, NullFormatter

    axes.set_xscale("log")
    axes.set_xlim(low, high)
    wanted = _FEW_TICKS if width_cm(figure_of(axes)) < NARROW_CM else _TICKS
    axes.xaxis.set_major_locator(FixedLocator(_inside(wanted, low, high)))
    axes.xaxis.set_major_formatter(FuncFormatter(_tick))
    axes.xaxis.set_minor_formatter(NullFormatter())
    ticks = 3 if is_low(figure_of(axes)) else 6
    axes.yaxis.set_major_locator(MaxNLocator(ticks, steps=_STEPS))
    quiet_axes(axes, "frequency (Hz)", y)
    axes.tick_params(which="minor", length=0)


def _inside(ticks: Iterable[float], low: float, high: float) -> list[float]:
    """Return the ticks on an axis, its ends where it is too short for two of them."""
    found = [tick for tick in ticks if low <= tick <= high]
    return found if len(found) > 1 else [low, high]


def _tick(value: float, _position: int) -> str:
    return f"{value / _KILO:.4g}k" if value >= _KILO else f"{value:.4g}"


def zero_line(axes: Axes) -> None:
    """Mark where nothing is lost."""
    axes.axhline(0, color=REFERENCE_COLOUR, linewidth=0.8, zorder=1, label="_zero")


def limit_gain(axes: Axes, gains: Sequence[FloatArray]) -> None:
    """Show the curves from the loudest down to where silence begins beside it."""
    finite = _finite(gains)
    top, bottom = (float(finite.max()), float(finite.min())) if finite.size else (0.0, -MOST_DB)
    axes.set_ylim(max(bottom, top - MOST_DB) - 2, top + 3)


def hang(axes: Axes, losses: Sequence[FloatArray]) -> None:
    """Let losses hang down from the line where nothing is lost, as the gain that is missing."""
    finite = _finite(losses)
    least, most = (finite.min(), finite.max()) if finite.size else (0.0, 0.0)
    top = min(1.1 * float(least), -LEAST_DB)
    axes.set_ylim(max(LEAST_DB, min(1.05 * float(most), top + MOST_DB)), top)
    zero_line(axes)


def _finite(curves: Sequence[FloatArray]) -> FloatArray:
    flat = [np.ravel(curve) for curve in curves]
    found: FloatArray = np.concatenate([c[np.isfinite(c)] for c in flat] or [np.zeros(0)])
    return found


def seen(values: FloatArray) -> FloatArray:
    """Return values with what cannot be drawn left out."""
    drawn: FloatArray = np.where(np.isfinite(values), values, np.nan)
    return drawn

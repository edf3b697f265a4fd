"""The plot of all states: the band of all curves, and how the treble losses spread."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import AUDIBLE_HZ, WORDS
from sigsim.show.document import Drawing
from sigsim.show.plots import style
from sigsim.show.plots.ends import End
from sigsim.show.plots.finish import Entry, finish
from sigsim.show.plots.letters import joined
from sigsim.show.plots.scenes import SceneLooks
from sigsim.show.render.text import count, decibel
from sigsim.show.states import sentence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.states.band import NamedState, StatesBand
    from sigsim.decide.states.report import StatesReport

_OUTER: Final = "#e4e8ec"
_BARS: Final = "#9fb4c8"
_LOW_HZ: Final = 100.0
_BINS: Final = 50
# Less than this from the one to the other end, losses are drawn as one bar [dB].
_LEAST_SPAN: Final = 2.0


def drawing(report: StatesReport, band: StatesBand) -> Drawing:
    """Return the plot of all states of a board."""
    answer = sentence(report)
    said = (
        f"The gain of all {band.total:,} combinations over frequency, and how their losses spread. "
    )
    return Drawing(lambda figure: draw_states(figure, report, band, answer), said + answer, answer)


def draw_states(
    figure: Figure, report: StatesReport, band: StatesBand, answer: str
) -> tuple[Axes, Axes]:
    """Draw the band of all curves and the distribution of losses; return both axes."""
    from matplotlib.lines import Line2D

    board = report.question.board
    upper, lower = style.two_axes(figure, heights=(1, 1))
    f = band.frequency
    of = "them" if band.drawn == band.total else f"{band.drawn:,} drawn at random"
    everything = f"{'all ' if band.total > 1 else ''}{count(band.total, 'combination')}"
    legend = []
    for low, high, colour, words in (
        (band.least, band.largest, _OUTER, everything),
        (band.low, band.high, style.PALE_COLOUR, f"5 to 95 % of {of}"),
    ):
        edges = style.seen(low), style.seen(high)
        legend.append(Entry(upper.fill_between(f, *edges, color=colour, linewidth=0), "", words))
    looks, ends, marks = SceneLooks(board), [], []
    named = _different(report, band)
    most = style.most_named(figure)
    for names, state in named[:most]:
        look = looks.of(state.state.on)
        (line,) = upper.plot(f, style.seen(state.gain), **look)
        name, more = joined(names)
        ends.append(End(upper, line, look, name, more + _value(state)))
        marks.append((state.loss, look))
    style.frequency_axis(upper, "gain (dB)", _LOW_HZ)
    style.tint_treble(upper, report.question.basis.band)
    inside = f <= AUDIBLE_HZ[1]
    style.limit_gain(upper, [band.largest[inside], band.least[inside]])
    _distribution(lower, band.losses, marks, report.summary.worst)
    if (left := len(named) - most) > 0:
        nothing = Line2D([], [], linestyle="none")
        legend.append(Entry(nothing, "", f"{count(left, 'more scene')} in the file"))
    finish(figure, answer, board.name, ends=ends, legend=legend)
    return upper, lower


def _different(report: StatesReport, band: StatesBand) -> list[tuple[list[str], NamedState]]:
    """Return each different named state once, with all its names."""
    heard = report.question.board.heard
    found: dict[frozenset[str], tuple[list[str], NamedState]] = {}
    for state in band.named:
        found.setdefault(heard(state.state.on), ([], state))[0].append(state.state.title)
    return list(found.values())


def _value(state: NamedState) -> str:
    return f": {decibel(state.loss)}{style.NO_BREAK}dB" if math.isfinite(state.loss) else ": silent"


def _distribution(
    axes: Axes, losses: np.ndarray, marks: Sequence[tuple[float, style.Look]], worst: float
) -> None:
    """Draw how many states lose how much, the worst and the scenes as lines."""
    losses = losses[np.isfinite(losses)]
    shown = [value for value, _ in marks if math.isfinite(value)]
    ends = np.array([*losses, *shown, *([worst] if math.isfinite(worst) else [])] or [0.0])
    low, high = float(ends.min()), float(ends.max())
    if high - low < _LEAST_SPAN:
        middle = (low + high) / 2
        low, high = middle - _LEAST_SPAN / 2, middle + _LEAST_SPAN / 2
    edge = 0.04 * (high - low)
    axes.set_xlim(low - edge, high + edge)
    if losses.size:
        percent = np.full(losses.size, 100 / losses.size)
        axes.hist(losses, bins=_BINS, range=(low, high), weights=percent, color=_BARS, linewidth=0)
    # Room for the words over the bars.
    axes.set_ylim(0, 1.3 * axes.get_ylim()[1])
    for value, look in marks:
        if math.isfinite(value):
            axes.axvline(value, ymax=0.78, label="scene", **look)
    _words(axes)
    if math.isfinite(worst):
        _mark_worst(axes, worst)
    # Two axes with hardly room have none for a long word on its side.
    share = "%" if style.is_low(style.figure_of(axes)) else "combinations (%)"
    style.quiet_axes(axes, "treble loss (dB)", share, grid="y")
    style.decibel_axis(axes)


def _words(axes: Axes) -> None:
    """Say which losses are slight, clear or heavy, where there is room."""
    low, high = axes.get_xlim()
    text: style.Look = {"ha": "center", "va": "bottom", "fontsize": style.size(axes, -1)}
    begins = [-np.inf, *(limit for limit, _ in WORDS)]
    figure = style.figure_of(axes)
    if style.is_low(figure):
        return
    narrow = style.width_cm(figure) < style.NARROW_CM
    for begin, (limit, word) in zip(begins, WORDS, strict=False):
        if low < limit < high:
            axes.axvline(limit, color=style.REFERENCE_COLOUR, linewidth=0.7, label="_word")
        left, right = max(begin, low), min(limit, high)
        if right - left > (0.3 if narrow else 0.17) * (high - low):
            place = (left + right) / 2, 1.01
            above = axes.get_xaxis_transform()
            axes.text(*place, word, transform=above, color=style.QUIET, gid="word", **text)


def _mark_worst(axes: Axes, worst: float) -> None:
    low, high = axes.get_xlim()
    right = (worst - low) / (high - low) > 0.5
    axes.annotate(
        f"worst: {decibel(worst)} dB",
        (worst, 0.89 * axes.get_ylim()[1]),
        (-4 if right else 4, 0),
        xycoords="data",
        textcoords="offset points",
        fontsize=style.size(axes, -0.5),
        weight="bold",
        color=style.INK,
        ha="right" if right else "left",
        va="center",
        gid="worst",
    )
    axes.axvline(worst, ymax=0.97, color=style.INK, linewidth=2.4, label="worst", zorder=1.5)

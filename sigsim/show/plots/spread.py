"""The plot of the spread: an interval of treble loss for each state, and the curves of one."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import AUDIBLE_HZ
from sigsim.show.document import Drawing
from sigsim.show.plots import style
from sigsim.show.plots.finish import Entry, finish
from sigsim.show.plots.letters import joined
from sigsim.show.plots.scenes import SceneLooks
from sigsim.show.plots.wrap import panel_title, row_names
from sigsim.show.render.text import decibel
from sigsim.show.spread import sentence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.spread.report import Curves, SpreadReport, StateSpread

_LOW_HZ: Final = 100.0
# The curves are drawn where this many rows have room besides them.
_ROWS_OF_CURVES: Final = 8


def drawing(report: SpreadReport) -> Drawing:
    """Return the plot of a report, with curves."""
    answer = sentence(report)
    said = (
        f"The treble loss of boards within their tolerances, combination by combination. {answer}"
    )
    return Drawing(lambda figure: draw_spread(figure, report), said, answer)


def draw_spread(figure: Figure, report: SpreadReport) -> Sequence[Axes]:
    """Draw an interval for each state, and where there is room the curves of the one told of."""
    states = _drawn(report, style.rows_that_fit(figure) // 2)
    curves = report.told.curves
    free = style.rows_that_fit(figure) - 2 * len(states)
    legend: list[Entry] = []
    if curves is None or free < _ROWS_OF_CURVES or not np.isfinite(curves.middle).any():
        panels: list[Axes] = [figure.subplots()]
    else:
        panels = list(style.two_axes(figure, heights=(max(2, len(states)), 5)))
        _curves(panels[1], report, curves)
    _intervals(panels[0], report, states, legend)
    finish(figure, sentence(report), report.question.board.name, legend=legend)
    return panels


def _different(report: SpreadReport) -> list[tuple[StateSpread, str]]:
    """Return each different state once, with all its names."""
    heard = report.question.board.heard
    found: dict[frozenset[str], tuple[StateSpread, list[str]]] = {}
    for state in report.states:
        found.setdefault(heard(state.state.on), (state, []))[1].append(state.state.title)
    if report.worst is not None:
        _, names = found.setdefault(heard(report.worst.state.on), (report.worst, []))
        names[-1:] = [f"{names[-1]} (worst)" if names else "worst of all"]
    return [(state, "".join(joined(names))) for state, names in found.values()]


def _drawn(report: SpreadReport, most: int) -> list[tuple[StateSpread, str]]:
    """Return what is drawn: all states if few enough, else those that lose most."""
    states = _different(report)
    if len(states) <= most:
        return states
    losses = [np.nan_to_num(state.loss.middle, nan=-np.inf) for state, _ in states]
    kept = sorted(np.argsort(losses, kind="stable")[::-1][:most].tolist())
    return [states[i] for i in kept]


def _intervals(
    axes: Axes,
    report: SpreadReport,
    states: Sequence[tuple[StateSpread, str]],
    legend: list[Entry],
) -> None:
    looks = SceneLooks(report.question.board)
    # Solid in the colour of its scene: a dash would look like an interval with gaps.
    thick = {"linewidth": 4.0, "linestyle": "-", "solid_capstyle": "butt"}
    for row, (state, _) in enumerate(states):
        loss, is_worst = state.loss, state is report.worst
        look = looks.of(state.state.on, worst=is_worst)
        if not math.isfinite(loss.middle):
            beside = axes.get_yaxis_transform()
            text: style.Look = {"va": "center", "fontsize": style.size(axes, -1)}
            axes.text(0.02, row, "nothing comes out", transform=beside, color=style.QUIET, **text)
            continue
        axes.plot([loss.low, loss.high], [row, row], label="interval", **look | thick)
        mark: style.Look = {"linestyle": "none", "color": look["color"], "markersize": 8}
        (middle,) = axes.plot(loss.middle, row, "o", **mark | {"markerfacecolor": "white"})
        (written,) = axes.plot(
            loss.written, row, "x", **mark | {"color": style.INK, "markersize": 6}
        )
        axes.annotate(
            f"{decibel(loss.low)} to {decibel(loss.high)}",
            (loss.high, row),
            (7 * style.scale(style.figure_of(axes)), 0),
            textcoords="offset points",
            va="center",
            fontsize=style.size(axes, -1),
            gid="value",
        )
        if not legend:
            legend += [
                Entry(axes.lines[-3], "", "9 of 10 boards"),
                Entry(middle, "", "half of them lose more"),
                Entry(written, "", "as written"),
            ]
    _scale(axes, report, [state for state, _ in states], legend)
    row_names(axes, [name for _, name in states], len(states))
    axes.set_ylim(len(states) - 0.4, -0.6)
    if left := len(_different(report)) - len(states):
        panel_title(axes, f"the {len(states)} that lose most; {left} more are left out")


def _scale(
    axes: Axes, report: SpreadReport, states: Sequence[StateSpread], legend: list[Entry]
) -> None:
    """Give the intervals an axis with room for what is written beside them, and the limit."""
    values = [v for s in states for v in (s.loss.low, s.loss.high, s.loss.written)]
    finite = [v for v in values if math.isfinite(v)] or [0.0]
    low, high = min(0.0, *finite), max(2 * style.LEAST_DB, *finite)
    right = 0.5 if style.width_cm(style.figure_of(axes)) < style.NARROW_CM else 0.22
    axes.set_xlim(low - 0.03 * (high - low), high + right * (high - low))
    limit = report.question.limit
    if low <= limit <= high:
        dashed: style.Look = {"color": style.QUIET, "linewidth": 1.0, "linestyle": (0, (4, 2))}
        line = axes.axvline(limit, label="limit", zorder=1, **dashed)
        legend.append(Entry(line, "", f"limit: {limit:g} dB"))
    style.quiet_axes(axes, "treble loss (dB)", grid="x")
    style.decibel_axis(axes)


def _curves(axes: Axes, report: SpreadReport, curves: Curves) -> None:
    """Draw the band of the curves of the state that the answer tells of."""
    f, told = curves.frequency, report.told
    look = SceneLooks(report.question.board).of(told.state.on, worst=told is report.worst)
    band = style.seen(curves.low), style.seen(curves.high)
    axes.fill_between(f, *band, color=look["color"], alpha=0.25, linewidth=0, label="5 to 95 %")
    axes.plot(f, style.seen(curves.middle), label="median", **look)
    style.frequency_axis(axes, "gain (dB)", _LOW_HZ)
    style.tint_treble(axes, report.question.basis.band)
    inside = f <= AUDIBLE_HZ[1]
    style.limit_gain(axes, [curves.low[inside], curves.high[inside]])

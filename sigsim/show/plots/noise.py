"""The plot of the noise: how far it lies under the signal, and who makes it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.decide.noise import WORDS
from sigsim.show.document import Drawing
from sigsim.show.noise import sentence
from sigsim.show.plots import style
from sigsim.show.plots.finish import finish
from sigsim.show.plots.letters import joined
from sigsim.show.plots.scenes import SceneLooks
from sigsim.show.plots.wrap import panel_title, row_names, x_label
from sigsim.show.render.text import decibel
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.folding import Fold
    from sigsim.decide.noise import NoiseReport, StateNoise

# Who hisses less than this under the loudest of them is not worth a bar [dB].
_LEAST_DB: Final = 40.0
_MOST_BARS: Final = 8
_STEP_DB: Final = 10.0
# Of the axis, for a word [-].
_ROOM: Final = 0.18


def drawing(report: NoiseReport) -> Drawing:
    """Return the plot of a report."""
    answer = sentence(report)
    said = f"How far each combination's hiss lies under the signal, and who makes it. {answer}"
    return Drawing(lambda figure: draw_noise(figure, report), said, answer)


def draw_noise(figure: Figure, report: NoiseReport) -> Sequence[Axes]:
    """Draw a bar for each state, and one for each that hisses in the noisiest; return all axes."""
    most = style.rows_that_fit(figure, 0.55)
    makers = _makers(report, max(2, min(_MOST_BARS, most // 2)))
    folds = _folds(report, max(1, most - len(makers) - 2))
    states = [fold.first for fold in folds]
    heights = [len(states) + 1, len(makers) + 1]
    rows = sum(heights) + 1
    if not makers:
        panels = [figure.subplots()]
    else:
        panels = list(figure.subplots(2, 1, sharex=True, height_ratios=heights))
    looks = SceneLooks(report.board)
    values = [report.below(state.destination.a_weighted) for state in states]
    faces = [looks.of(state.state.on) for state in states]
    _axis(panels[0], [*values, *(below for _, below in makers)])
    _bars(panels[0], values, faces)
    _words(panels[0])
    row_names(panels[0], [_name(fold) for fold in folds], rows)
    left = len(report.merged) - len(states)
    more = f" ({left} quieter ones are left out)" if left else ""
    panel_title(panels[0], f"the hiss of each combination{more}")
    if makers:
        look = looks.of(report.noisiest.state.on) | {"linestyle": "-"}
        _bars(panels[1], [below for _, below in makers], [look] * len(makers))
        row_names(panels[1], [name for name, _ in makers], rows)
        panel_title(panels[1], "who hisses in the noisiest of them")
    under = render(report.level, "V")
    x_label(panels[-1], f"dB under {under}, A-weighted; a longer bar is more hiss")
    finish(figure, sentence(report), report.board.name)
    return panels


def _folds(report: NoiseReport, most: int) -> list[Fold[StateNoise]]:
    """Return each different state, the noisiest of them if they are many, in the board's order."""
    folds = report.merged
    if len(folds) <= most:
        return folds
    loud = [-np.nan_to_num(fold.first.destination.a_weighted) for fold in folds]
    return [folds[i] for i in sorted(np.argsort(loud, kind="stable")[:most].tolist())]


def _name(fold: Fold[StateNoise]) -> str:
    """Return the names of states that hiss the same, on one row."""
    return "".join(joined(list(dict.fromkeys(row.state.title for row in fold.rows))))


def _makers(report: NoiseReport, most: int) -> list[tuple[str, float]]:
    """Return who hisses in the noisiest state and how far under the signal [dB], loudest first."""
    state = report.noisiest
    whole = report.below(state.destination.a_weighted)
    if not math.isfinite(whole):
        return []
    found = [
        (share.who.name, whole - 10 * math.log10(share.a_weighted))
        for share in state.shares
        if share.a_weighted > 0
    ]
    return [(name, below) for name, below in found if below < whole + _LEAST_DB][:most]


def _axis(axes: Axes, values: Sequence[float]) -> None:
    """Let the axis run down to the signal, with the words for how much hiss that is."""
    finite = [value for value in values if math.isfinite(value)] or [WORDS[-2][0]]
    quietest = math.ceil(max(finite) / _STEP_DB + 0.5) * _STEP_DB
    loudest = math.floor(min(finite) / _STEP_DB - 1.5) * _STEP_DB
    axes.set_xlim(quietest, min(loudest, WORDS[0][0] - _STEP_DB))
    style.decibel_axis(axes)


def _bars(axes: Axes, values: Sequence[float], looks: Sequence[style.Look]) -> None:
    start, end = axes.get_xlim()
    for row, (value, look) in enumerate(zip(values, looks, strict=True)):
        text: style.Look = {"va": "center", "fontsize": style.size(axes, -1)}
        if not math.isfinite(value):
            axes.text(start, row, " no noise", color=style.QUIET, **text)
            continue
        axes.barh(
            row,
            value - start,
            left=start,
            height=0.62,
            facecolor=_pale(look["color"]),
            edgecolor=look["color"],
            linestyle=look["linestyle"],
            linewidth=1.3 * style.scale(style.figure_of(axes)),
        )
        axes.text(value, row, f" {decibel(value)}", gid="value", **text)
    axes.set_ylim(max(len(values), 1) - 0.4, -0.6)
    for limit, _ in WORDS:
        if end < limit < start:
            axes.axvline(limit, color=style.REFERENCE_COLOUR, linewidth=0.8, zorder=0)
    style.quiet_axes(axes, grid="x")
    axes.set_xlim(start, end)


def _words(axes: Axes) -> None:
    """Say over the bars how much hiss that is, where there is room."""
    start, end = axes.get_xlim()
    axes.set_ylim(axes.get_ylim()[0], -1.3)
    least = 0.0
    for limit, word in WORDS:
        left, right = min(limit, start), max(least, end)
        if left - right > _ROOM * (start - end):
            text: style.Look = {"ha": "center", "va": "center", "color": style.QUIET}
            size = style.size(axes, -1.5)
            axes.text((left + right) / 2, -0.9, word, fontsize=size, gid="word", **text)
        least = limit


def _pale(colour: str) -> tuple[float, float, float, float]:
    from matplotlib.colors import to_rgba

    red, green, blue, _ = to_rgba(colour)
    return red, green, blue, 0.45

"""The plot of the noise: density at the destination, and who makes it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.show.document import Drawing
from sigsim.show.plots import style
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.noise import NoiseReport, StateNoise
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.noise import Contributor

MOST_STATES: Final = 2
_NANO: Final = 1e9
# Contributors often make the same noise: each next one is thinner and lies on top.
_WIDTHS: Final = (3.4, 3.0, 2.6, 2.2, 1.8, 1.5, 1.2, 1.0)
_TOTAL: Final = {"color": "#000000", "linewidth": 1.0, "zorder": 4}
# Who makes less than this part of the noise in every state drawn is left out.
_LEAST_SHARE: Final = 0.003
_DECADES: Final = 2.2
# The top of the axis [nV/√Hz] where nothing is to be seen.
_SILENT_TOP: Final = 100.0


def drawing(report: NoiseReport) -> Drawing:
    """Return the plot of a report."""
    names = " and ".join(f"'{plain(s.state.title, 60)}'" for s in drawn_states(report))
    said = f"The noise at the destination over frequency, and who makes it, in {names}."
    return Drawing(lambda figure: draw_noise(figure, report), said)


def draw_noise(figure: Figure, report: NoiseReport) -> Sequence[Axes]:
    """Draw the noise of each state and who makes it into an empty figure; return all axes."""
    states = drawn_states(report)
    panels = list(figure.subplots(len(states), 1, sharex=True, sharey=True, squeeze=False)[:, 0])
    look = _looks(states)
    for axes, state in zip(panels, states, strict=True):
        axes.plot(state.frequency, _visible(state.density), label="all together", **_TOTAL)
        densities = {share.who: share.density for share in state.shares}
        for who in (who for who in look if who in densities):
            label = style.literal(who.name, 24)
            axes.plot(state.frequency, _visible(densities[who]), label=label, **look[who])
        _finish(axes, state.state.title)
    panels[-1].set_xlabel("frequency (Hz)", fontsize=style.TEXT_SIZE)
    _limits(panels[0], states)
    lines = {str(line.get_label()): line for axes in panels for line in axes.get_lines()}
    style.finish(figure, style.literal(report.board.name, 60), 2, lines=lines)
    return panels


def drawn_states(report: NoiseReport) -> list[StateNoise]:
    """Return the states that are drawn: all if they are few, else the noisiest and the quietest."""
    different = list({state.state.on: state for state in reversed(report.states)}.values())[::-1]
    if len(different) <= MOST_STATES:
        return different
    by_noise = sorted(different, key=lambda s: np.nan_to_num(s.destination.a_weighted))
    return [by_noise[-1], by_noise[0]]


def _looks(states: Sequence[StateNoise]) -> dict[Contributor, style.Look]:
    """Return colour and line style of the contributors that matter most in any state."""
    largest: dict[Contributor, float] = {}
    for state in states:
        for share in state.shares:
            largest[share.who] = max(largest.get(share.who, 0.0), share.flat, share.a_weighted)
    ranked = sorted((w for w in largest if largest[w] > _LEAST_SHARE), key=lambda w: -largest[w])
    looks = zip(ranked, style.looks(), enumerate(_WIDTHS), strict=False)
    return {
        who: look | {"linewidth": width, "zorder": 2 + rank / 10}
        for who, look, (rank, width) in looks
    }


def _visible(density: FloatArray) -> FloatArray:
    """Return a density in nV/√Hz, nothing where it is 0."""
    nano: FloatArray = np.where(np.isfinite(density) & (density > 0), density * _NANO, np.nan)
    return nano


def _finish(axes: Axes, name: str) -> None:
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    style.frequency_axis(axes, "noise (nV/√Hz)")
    axes.set_xlabel("")
    axes.set_yscale("log")
    axes.yaxis.set_major_locator(LogLocator(10, subs=(1.0, 3.0), numticks=12))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.yaxis.set_minor_formatter(NullFormatter())
    axes.set_title(style.literal(name, 60), fontsize=style.TEXT_SIZE, loc="left")


def _limits(axes: Axes, states: Sequence[StateNoise]) -> None:
    """Show two decades and a bit under the largest density."""
    tops = [np.nanmax(_visible(s.density)) for s in states if np.any(_visible(s.density) > 0)]
    top = max(tops, default=_SILENT_TOP)
    axes.set_ylim(top / 10**_DECADES, top * 1.6)

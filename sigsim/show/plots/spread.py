"""The plot of the spread: median curve and 5 to 95 % band of two states on one page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import AUDIBLE_HZ
from sigsim.show.document import Drawing
from sigsim.show.plots import style
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.spread.report import Curves, SpreadReport, StateSpread

MOST_STATES: Final = 2
_LOW_HZ: Final = 100.0


def drawing(report: SpreadReport) -> Drawing:
    """Return the plot of a report, with curves."""
    names = " and ".join(f"'{plain(s.state.title, 60)}'" for s in drawn_states(report))
    said = f"The gain over frequency of boards within their tolerances, in {names}."
    return Drawing(lambda figure: draw_spread(figure, report), said)


def draw_spread(figure: Figure, report: SpreadReport) -> Sequence[Axes]:
    """Draw the band of each state's curves into an empty figure; return all axes."""
    states = drawn_states(report)
    panels = list(figure.subplots(len(states), 1, sharex=True, sharey=True, squeeze=False)[:, 0])
    shown = [state.curves for state in states if state.curves is not None]
    for axes, state, curves in zip(panels, states, shown, strict=True):
        _draw(axes, curves)
        axes.set_title(style.literal(state.state.title, 60), fontsize=style.TEXT_SIZE, loc="left")
    for axes in panels[:-1]:
        axes.set_xlabel("")
    inside = [curves.frequency <= AUDIBLE_HZ[1] for curves in shown]
    gains = [g[f] for c, f in zip(shown, inside, strict=True) for g in (c.low, c.high)]
    style.limit_gain(panels[0], gains)
    title = style.literal(report.question.board.name, 60)
    style.finish(figure, title, 3, lines=style.labelled(panels[0]))
    return panels


def drawn_states(report: SpreadReport) -> list[StateSpread]:
    """Return the states that are drawn: all if few, else the worst and the best by their median."""
    shown = [*report.states, *([report.worst] if report.worst else [])]
    different = list({state.state.on: state for state in reversed(shown)}.values())[::-1]
    if len(different) <= MOST_STATES:
        return different
    by_loss = sorted(different, key=lambda s: np.nan_to_num(s.metrics["treble_loss"].middle))
    return [by_loss[-1], by_loss[0]]


def _draw(axes: Axes, curves: Curves) -> None:
    f = curves.frequency
    band, label = (style.seen(curves.low), style.seen(curves.high)), "5 to 95 % of the boards drawn"
    axes.fill_between(f, *band, color=style.PALE_COLOUR, linewidth=0, label=label)
    blue, red = style.PALETTE[:2]
    axes.plot(f, style.seen(curves.middle), color=blue, linewidth=1.8, label="median")
    dashed: style.Look = {"color": red, "linewidth": 1.2, "linestyle": (0, (4, 2))}
    axes.plot(f, style.seen(curves.written), label="as written", **dashed)
    style.frequency_axis(axes, "gain (dB)", _LOW_HZ)

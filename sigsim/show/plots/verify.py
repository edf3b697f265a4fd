"""The plot of a comparison with the plan: the loss of third octaves, measured and planned."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import USUAL_BASIS
from sigsim.show.document import Drawing
from sigsim.show.loss import what_is_on
from sigsim.show.plots import style
from sigsim.show.plots.finish import Entry, finish
from sigsim.show.plots.scenes import SceneLooks
from sigsim.show.plots.wrap import panel_title
from sigsim.show.verify import sentence

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.measure.verdict import Between, StateVerdict, Verified
    from sigsim.physics.arrays import FloatArray

# More are not told apart on one page; JSON and terminal have all.
_MOST_STATES: Final = 4
_EDGE: Final = 10 ** (1 / 20)


def drawing(verified: Verified) -> Drawing:
    """Return the plot of a comparison."""
    answer = sentence(verified)
    said = (
        "Loss by third octaves, one panel for each combination: as measured, as dots with their "
        f"uncertainty, and as planned, as a line in the band of the tolerances. {answer}"
    )
    return Drawing(lambda figure: draw_verify(figure, verified), said, answer)


def draw_verify(figure: Figure, verified: Verified) -> list[Axes]:
    """Draw a panel for each state into an empty figure, and return the panels."""
    states = _drawn(verified, min(_MOST_STATES, max(1, style.rows_that_fit(figure) // 6)))
    panels = list(np.atleast_1d(figure.subplots(max(1, len(states)), 1, sharex=True, sharey=True)))
    legend: list[Entry] = []
    looks = SceneLooks(verified.board)
    for axes, state in zip(panels, states, strict=False):
        look = looks.of(state.state.on, worst=False)
        entries = _panel(axes, state, look)
        legend = legend or entries
    _axes(panels, states, verified)
    finish(figure, sentence(verified), verified.board.name, legend=legend)
    return panels


def _drawn(verified: Verified, most: int) -> tuple[StateVerdict, ...]:
    """Return what is drawn: all states if few enough, else those that are furthest off."""

    def off(state: StateVerdict) -> float:
        return max((band.surely for band in state.bands), default=0.0)

    kept = sorted(verified.states, key=off, reverse=True)[:most]
    return tuple(state for state in verified.states if state in kept)


def _panel(axes: Axes, state: StateVerdict, look: style.Look) -> list[Entry]:
    """Draw one state, and return what is to be named of it."""
    f = np.array([band.frequency for band in state.bands])
    measured = _columns([band.measured for band in state.bands])
    planned = _columns([band.predicted for band in state.bands])
    colour = look["color"]
    band = axes.fill_between(
        f, planned[1], planned[2], color=colour, alpha=0.2, linewidth=0, label="tolerances"
    )
    (line,) = axes.plot(f, planned[0], label="planned", **look)
    reach = np.maximum(0, [measured[0] - measured[1], measured[2] - measured[0]])
    dots = axes.errorbar(
        f,
        measured[0],
        yerr=reach,
        fmt="o",
        color=style.INK,
        markersize=4.5,
        markerfacecolor="white",
        elinewidth=1.1,
        capsize=2,
        clip_on=False,
        label="measured",
    )
    return [
        Entry(dots.lines[0], "", "measured, with its uncertainty"),
        Entry(line, "", "planned"),
        Entry(band, "", "planned, with the tolerances of the file"),
    ]


def _columns(values: list[Between]) -> FloatArray:
    """Return values and the ends of their intervals [dB], shape (3, values)."""
    rows = np.array([[v.value, v.low, v.high] for v in values]).reshape(-1, 3)
    return style.seen(rows.T)


def _axes(panels: list[Axes], states: tuple[StateVerdict, ...], verified: Verified) -> None:
    """Give the panels one scale, the treble band and their titles."""
    f = [band.frequency for state in states for band in state.bands] or [100.0, 10_000.0]
    drawn = [_columns([b.measured, b.predicted]) for state in states for b in state.bands]
    for number, axes in enumerate(panels):
        style.frequency_axis(axes, "loss (dB)", min(f) / _EDGE, max(f) * _EDGE)
        style.tint_treble(axes, USUAL_BASIS.band, named=number == 0)
        if number < len(panels) - 1:
            axes.set_xlabel("")
    style.hang(panels[0], drawn)
    for axes in panels[1:]:
        style.zero_line(axes)
    if len(verified.states) > 1:
        for axes, state in zip(panels, states, strict=False):
            panel_title(axes, what_is_on(state.state.on))
    if left := len(verified.states) - len(states):
        panel_title(panels[0], f"{what_is_on(states[0].state.on)}; {left} more are left out")

"""The plot of what costs: things and groups as bars."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.show.blame import GROUP_NAMES, most_felt, sentence
from sigsim.show.document import Drawing
from sigsim.show.plots.style import (
    PALETTE,
    REFERENCE_COLOUR,
    TEXT_SIZE,
    Look,
    headline,
    legend_below,
    literal,
    name_axes,
    quiet_axes,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.blame.report import Blame, BlameReport

_SAVED: Final[Look] = {
    "label": "saved when it alone is taken out",
    "color": PALETTE[0],
    "edgecolor": PALETTE[0],
}
_COSTS: Final[Look] = {
    "label": "lost when nothing else is real (* not counted in the loss)",
    "color": "#f0c4bb",
    "edgecolor": PALETTE[1],
    "hatch": "////",
}


def drawing(report: BlameReport) -> Drawing:
    """Return the plot of a report."""
    said = f"What each thing and each group costs, taken out and alone. {sentence(report)}"
    return Drawing(lambda figure: draw_blame(figure, report), said)


def draw_blame(figure: Figure, report: BlameReport) -> tuple[Axes, Axes]:
    """Draw what each thing and each group costs, taken out and alone, as horizontal bars.

    Parameters
    ----------
    figure : an empty figure
    report : from `blame_report`

    Returns
    -------
    the axes of the things and of the groups
    """
    things = most_felt([blame for blame in report.items if not blame.in_reference])
    rows = max(len(things), 1), max(len(report.groups), 1)
    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=rows)
    _bars(upper, [(literal(blame.name, 40), blame) for blame in things])
    _bars(lower, [(_group_name(blame), blame) for blame in report.groups])
    name_axes(lower, "treble loss (dB)")
    state = f"{report.state.state.title}: {report.state.treble_loss:.1f} dB"
    title = f"{literal(report.board.name, 60)}\n{literal(state, 70)}"
    headline(figure, title, TEXT_SIZE + 1)
    handles, names = upper.get_legend_handles_labels()
    legend_below(figure, 1, lines=dict(zip(names, handles, strict=True)))
    return upper, lower


def _group_name(blame: Blame) -> str:
    return f"{GROUP_NAMES[blame.group]}{' *' if blame.in_reference else ''}"


def _bars(axes: Axes, blames: Sequence[tuple[str, Blame]]) -> None:
    places = [float(i) for i in range(len(blames))]
    saved, costs = [blame.saved for _, blame in blames], [blame.costs for _, blame in blames]
    for shift, values, look in ((-0.19, saved, _SAVED), (0.19, costs, _COSTS)):
        shifted = [place + shift for place in places]
        axes.barh(shifted, values, height=0.36, linewidth=0.6, **look)
    axes.set_yticks(places, [name for name, _ in blames])
    axes.set_ylim(max(len(blames), 1) - 0.4, -0.6)
    quiet_axes(axes, "x")
    axes.tick_params(axis="y", labelsize=TEXT_SIZE - 1.5)
    axes.axvline(0, color=REFERENCE_COLOUR, linewidth=0.8)

"""The plot of what costs: things and groups as bars."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.decide.blame.report import most_felt
from sigsim.show.blame import GROUP_NAMES, sentence
from sigsim.show.document import Drawing
from sigsim.show.plots import style

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.blame.report import Blame, BlameReport

_BLUE, _RED = style.PALETTE[:2]
_SAVED: Final[style.Look] = {"color": _BLUE, "edgecolor": _BLUE}
_COSTS: Final[style.Look] = {"color": "#f0c4bb", "edgecolor": _RED, "hatch": "////"}


def drawing(report: BlameReport) -> Drawing:
    """Return the plot of a report."""
    said = f"What each thing and each group costs, taken out and alone. {sentence(report)}"
    return Drawing(lambda figure: draw_blame(figure, report), said)


def draw_blame(figure: Figure, report: BlameReport) -> tuple[Axes, Axes]:
    """Draw what things and groups cost into an empty figure; return the axes of both."""
    things = most_felt([blame for blame in report.items if not blame.in_reference])
    rows = max(len(things), 1), max(len(report.groups), 1)
    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=rows)
    _bars(upper, [(style.literal(blame.name, 40), blame) for blame in things])
    _bars(lower, [(_group_name(blame), blame) for blame in report.groups])
    lower.set_xlabel("treble loss (dB)", fontsize=style.TEXT_SIZE)
    state = f"{report.state.state.title}: {report.state.treble_loss:.1f} dB"
    title = f"{style.literal(report.board.name, 60)}\n{style.literal(state, 70)}"
    sizes = style.TEXT_SIZE + 1, style.TEXT_SIZE - 0.5
    style.finish(figure, title, 1, lines=style.labelled(upper), sizes=sizes)
    return upper, lower


def _group_name(blame: Blame) -> str:
    return f"{GROUP_NAMES[blame.group]}{' *' if blame.in_reference else ''}"


def _bars(axes: Axes, blames: Sequence[tuple[str, Blame]]) -> None:
    places = [float(i) for i in range(len(blames))]
    saved, costs = [blame.saved for _, blame in blames], [blame.costs for _, blame in blames]
    upper, lower = ([place + shift for place in places] for shift in (-0.19, 0.19))
    bar: style.Look = {"height": 0.36, "linewidth": 0.6}
    axes.barh(upper, saved, label="saved when it alone is taken out", **bar, **_SAVED)
    label = "lost when nothing else is real (* not counted in the loss)"
    axes.barh(lower, costs, label=label, **bar, **_COSTS)
    axes.set_yticks(places, [name for name, _ in blames])
    axes.set_ylim(max(len(blames), 1) - 0.4, -0.6)
    style.quiet_axes(axes, grid="x")
    axes.tick_params(axis="y", labelsize=style.TEXT_SIZE - 1.5)
    axes.axvline(0, color=style.REFERENCE_COLOUR, linewidth=0.8)

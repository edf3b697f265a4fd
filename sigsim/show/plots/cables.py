"""The plot of the cables: every cable in every role on one scale, and over length with a limit."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from sigsim.show.cables import sentence
from sigsim.show.document import Drawing
from sigsim.show.plots import style
from sigsim.show.plots.ends import End
from sigsim.show.plots.finish import Entry, finish
from sigsim.show.plots.wrap import row_names

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

    from sigsim.decide.cables.curves import CableCurves, RoleCurves
    from sigsim.decide.cables.report import CablesReport

_MOST_ROLES: Final = 6
_MARKERS: Final = ("o", "s", "^", "D", "v", "P")


def drawing(report: CablesReport, curves: CableCurves) -> Drawing:
    """Return the plot of a report, with its curves from `cable_curves`."""
    answer = sentence(report)
    said = f"The worst treble loss with every cable in every role. {answer}"
    return Drawing(lambda figure: draw_cables(figure, report, curves), said, answer)


def draw_cables(figure: Figure, report: CablesReport, curves: CableCurves) -> list[Axes]:
    """Draw a dot for each cable in each role; with a limit the loss over length as well.

    Parameters
    ----------
    figure : an empty figure
    report : the cables are sorted by the role in which another cable saves most
    curves : from `cable_curves`

    Returns
    -------
    the axes of the dots, and those of the lengths where there are any
    """
    roles = curves.roles[:_MOST_ROLES]
    first = next(role for role in curves.roles if role.name == report.best.role.name)
    names = _sorted(first)[: style.rows_that_fit(figure, 0.35)]
    if curves.question.limit is None:
        axes = [figure.subplots()]
    else:
        axes = list(style.two_axes(figure, heights=(max(3, len(names)), max(4, len(names)))))
    legend = _dots(axes[0], roles, names)
    if left := len(curves.roles) - len(roles):
        axes[0].set_title(f"{left} more roles are left out", fontsize=style.size(figure, -1))
    ends = _lengths(axes[1], curves) if len(axes) > 1 else []
    finish(figure, sentence(report), curves.question.board.name, ends=ends, legend=legend)
    return axes


def _sorted(role: RoleCurves) -> list[str]:
    """Return the names of the cables, the one that loses least first."""
    return [m.name for m in sorted(role.marks, key=lambda m: (m.loss, m.capacitance))]


def _dots(axes: Axes, roles: tuple[RoleCurves, ...], names: list[str]) -> list[Entry]:
    legend = []
    losses = [m.loss for role in roles for m in role.marks if math.isfinite(m.loss)]
    for number, (marker, role) in enumerate(zip(_MARKERS, roles, strict=False)):
        colour = style.look(number)["color"]
        shown = [m for m in role.marks if m.name in names]
        mark: style.Look = {"linestyle": "none", "marker": marker, "color": colour}
        for now, face in ((False, "white"), (True, colour)):
            some = [m for m in shown if m.now is now]
            rows = [names.index(m.name) for m in some]
            (drawn,) = axes.plot(
                [m.loss for m in some],
                rows,
                **mark | {"markerfacecolor": face, "markersize": 9 if now else 6.5},
                label=f"_{role.name}",
                zorder=4 if now else 3,
            )
            if now:
                legend.append(Entry(drawn, role.name, _counted(role)))
    low, high = min(0.0, *losses, 0.0), max(2 * style.LEAST_DB, *losses, 0.0)
    axes.set_xlim(low, 1.04 * high)
    row_names(axes, names, 2 * len(names))
    axes.set_ylim(len(names) - 0.4, -0.6)
    style.quiet_axes(axes, "worst treble loss with it (dB)")
    style.decibel_axis(axes)
    return legend


def _counted(role: RoleCurves) -> str:
    return f" (filled: now in use{'; counting the lead' if role.counts_lead else ''})"


def _lengths(axes: Axes, curves: CableCurves) -> list[End]:
    """Draw the worst loss over the length of each role, with the limit."""
    ends = []
    for number, (marker, role) in enumerate(zip(_MARKERS, curves.roles, strict=False)):
        look = style.look(number)
        (line,) = axes.plot(role.length, style.seen(role.loss_over_length), **look)
        _now(axes, marker, role, look)
        ends.append(End(axes, line, look, role.name))
    grey: style.Look = {"color": style.REFERENCE_COLOUR, "linewidth": 1.2, "zorder": 1}
    limit = curves.question.limit or 0.0
    line = axes.axhline(limit, label="limit", **grey)
    ends.append(End(axes, line, grey, "", f"limit: {limit:g} dB"))
    axes.set_xlim(0, curves.roles[0].length[-1])
    style.quiet_axes(axes, "all its pieces that vary, together (m)", "worst loss (dB)")
    axes.invert_yaxis()
    style.decibel_axis(axes)
    return ends


def _now(axes: Axes, marker: str, role: RoleCurves, look: style.Look) -> Line2D:
    mark: style.Look = {"marker": marker, "color": look["color"], "markersize": 7}
    (drawn,) = axes.plot(role.length_now, role.loss_now, linestyle="none", **mark)
    return drawn

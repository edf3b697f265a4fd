"""The plot of the cables: the worst loss over picofarads per metre, and over length."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.show.cables import sentence
from sigsim.show.document import Drawing
from sigsim.show.plots.style import (
    REFERENCE_COLOUR,
    TEXT_SIZE,
    Look,
    headline,
    legend_below,
    literal,
    name_axes,
    quiet_axes,
    seen,
    styles,
    two_axes,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.cables.curves import CableCurves, Mark, RoleCurves
    from sigsim.decide.cables.report import CablesReport

_MOST_ROLES: Final = 6
_MARKERS: Final = ("o", "s", "^", "D", "v", "P")
_PICO: Final = 1e12
# Cables closer than this share of the axis have one name tag.
_SAME_PLACE: Final = 0.035


def drawing(report: CablesReport, curves: CableCurves) -> Drawing:
    """Return the plot of a report and its curves."""
    said = f"The worst loss over capacitance per metre, and over length. {sentence(report)}"
    return Drawing(lambda figure: draw_cables(figure, curves), said)


def draw_cables(figure: Figure, curves: CableCurves) -> tuple[Axes, Axes]:
    """Draw the worst loss over picofarads per metre, with the cables as marks, and over length.

    Parameters
    ----------
    figure : an empty figure
    curves : from `cable_curves`

    Returns
    -------
    the two axes
    """
    upper, lower = two_axes(figure)
    roles = curves.roles[:_MOST_ROLES]
    for style, marker, role in zip(styles(), _MARKERS, roles, strict=False):
        look: Look = {"marker": marker, "color": style["color"]}
        upper.plot(_PICO * role.capacitance, seen(role.loss), label=_label(role), **style)
        for mark in role.marks:
            filled: Look = {"markerfacecolor": style["color"] if mark.now else "white"}
            look_now: Look = {**look, **filled, "markersize": 5.5, "zorder": 4 if mark.now else 3}
            upper.plot(_PICO * mark.capacitance, mark.loss, **look_now)
        lower.plot(role.length, seen(role.loss_over_length), **style)
        lower.plot(role.length_now, role.loss_now, **look)
    _tags(upper, roles[0].marks)
    upper.set_xlim(0, _PICO * roles[0].capacitance[-1])
    lower.set_xlim(0, roles[0].length[-1])
    if (limit := curves.question.limit) is not None:
        lower.axhline(limit, color=REFERENCE_COLOUR, linewidth=1.2, zorder=1, label="the limit")
    for axes, x in (
        (upper, "capacitance of the cable (pF/m); filled: now used"),
        (lower, "length of all its pieces that vary, together (m); mark: now"),
    ):
        quiet_axes(axes)
        name_axes(axes, x, "worst loss (dB)")
    headline(figure, literal(curves.question.board.name, 60))
    legend_below(figure, 2)
    return upper, lower


def _label(role: RoleCurves) -> str:
    return f"{literal(role.name, 30)}{' (above: counting the lead)' if role.counts_lead else ''}"


def _tags(axes: Axes, marks: Sequence[Mark]) -> None:
    """Write the cables' names above their places, one tag for those that stand together."""
    places: list[tuple[float, list[str]]] = []
    width = 1.08 * max(mark.capacitance for mark in marks)
    for mark in sorted(marks, key=lambda m: (m.capacitance, not m.now)):
        if places and mark.capacitance - places[-1][0] < _SAME_PLACE * width:
            places[-1][1].insert(0 if mark.now else len(places[-1][1]), mark.name)
        else:
            places.append((mark.capacitance, [mark.name]))
    look: Look = {"fontsize": TEXT_SIZE - 2, "ha": "left", "va": "bottom", "color": "#444444"}
    above = axes.get_xaxis_transform()
    for place, names in places:
        tag = literal(names[0], 18) + (f" +{len(names) - 1}" if len(names) > 1 else "")
        axes.text(_PICO * place, 1.02, tag, rotation=38, transform=above, **look)

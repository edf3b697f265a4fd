"""The plot of the cables: the worst loss over picofarads per metre, and over length."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.show.cables import sentence
from sigsim.show.document import Drawing
from sigsim.show.plots import style

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
    """Return the plot of a report, with its curves from `cable_curves`."""
    said = f"The worst loss over capacitance per metre, and over length. {sentence(report)}"
    return Drawing(lambda figure: draw_cables(figure, curves), said)


def draw_cables(figure: Figure, curves: CableCurves) -> tuple[Axes, Axes]:
    """Draw both losses into an empty figure, with the cables as marks; return both axes."""
    upper, lower = style.two_axes(figure)
    roles = curves.roles[:_MOST_ROLES]
    for look, marker, role in zip(style.looks(), _MARKERS, roles, strict=False):
        mark: style.Look = {"marker": marker, "color": look["color"]}
        upper.plot(_PICO * role.capacitance, style.seen(role.loss), label=_label(role), **look)
        for m in role.marks:
            mark_m = mark | {"zorder": 4 if m.now else 3, "markersize": 5.5}
            mark_m["markerfacecolor"] = look["color"] if m.now else "white"
            upper.plot(_PICO * m.capacitance, m.loss, **mark_m)
        lower.plot(role.length, style.seen(role.loss_over_length), **look)
        lower.plot(role.length_now, role.loss_now, **mark)
    _tags(upper, roles[0].marks)
    upper.set_xlim(0, _PICO * roles[0].capacitance[-1])
    lower.set_xlim(0, roles[0].length[-1])
    if (limit := curves.question.limit) is not None:
        grey: style.Look = {"color": style.REFERENCE_COLOUR, "linewidth": 1.2, "zorder": 1}
        lower.axhline(limit, label="the limit", **grey)
    over = "capacitance of the cable (pF/m); filled: now used"
    style.quiet_axes(upper, over, "worst loss (dB)")
    over = "length of all its pieces that vary, together (m); mark: now"
    style.quiet_axes(lower, over, "worst loss (dB)")
    style.finish(figure, style.literal(curves.question.board.name, 60), 2)
    return upper, lower


def _label(role: RoleCurves) -> str:
    counted = " (above: counting the lead)" if role.counts_lead else ""
    return style.literal(role.name, 30) + counted


def _tags(axes: Axes, marks: Sequence[Mark]) -> None:
    """Write the cables' names above their places, one tag for those that stand together."""
    places: list[tuple[float, list[str]]] = []
    width = 1.08 * max(mark.capacitance for mark in marks)
    for mark in sorted(marks, key=lambda m: (m.capacitance, not m.now)):
        if places and mark.capacitance - places[-1][0] < _SAME_PLACE * width:
            places[-1][1].insert(0 if mark.now else len(places[-1][1]), mark.name)
        else:
            places.append((mark.capacitance, [mark.name]))
    text: style.Look = {"fontsize": style.TEXT_SIZE - 2, "ha": "left", "va": "bottom"}
    above = axes.get_xaxis_transform()
    for place, names in places:
        tag = style.literal(names[0], 18) + (f" +{len(names) - 1}" if len(names) > 1 else "")
        axes.text(_PICO * place, 1.02, tag, rotation=38, transform=above, color="#444444", **text)

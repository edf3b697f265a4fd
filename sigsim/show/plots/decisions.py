"""The plots of decisions: which cable, which board, what to blame."""

from __future__ import annotations

from collections.abc import Sequence
from string import ascii_uppercase
from typing import TYPE_CHECKING, Any, Final

from sigsim.decide.blame.report import most_felt
from sigsim.show.blame import GROUP_NAMES
from sigsim.show.plots.style import (
    GRID_COLOUR,
    PALETTE,
    REFERENCE_COLOUR,
    STYLES,
    TEXT_SIZE,
    frequency_axis,
    limit_gain,
    literal,
    seen,
    styles,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.blame.report import Blame, BlameReport
    from sigsim.decide.cables.curves import CableCurves, Mark, RoleCurves
    from sigsim.decide.loss.curves import NamedCurve

_MOST_ROLES: Final = 6
_MARKERS: Final = ("o", "s", "^", "D", "v", "P")
_PICO: Final = 1e12
_MOST_BOARDS: Final = 8
# With more boards than this only the worst state of each is drawn.
_MOST_WITH_OFF: Final = 3
# Cables closer than this share of the axis have one name tag.
_SAME_PLACE: Final = 0.035


def draw_cables(figure: Figure, curves: CableCurves) -> Sequence[Axes]:
    """Draw the worst loss over picofarads per metre, with the cables as marks, and over length.

    Parameters
    ----------
    figure : an empty figure
    curves : from `cable_curves`

    Returns
    -------
    the two axes
    """
    upper, lower = figure.subplots(2, 1, height_ratios=(3, 2))
    roles = curves.roles[:_MOST_ROLES]
    for style, marker, role in zip(styles(), _MARKERS, roles, strict=False):
        upper.plot(_PICO * role.capacitance, seen(role.loss), label=_label(role), **style)
        for mark in role.marks:
            upper.plot(
                _PICO * mark.capacitance, mark.loss, marker=marker, color=style["color"],
                markersize=5.5, markerfacecolor=style["color"] if mark.now else "white",
                zorder=4 if mark.now else 3,
            )  # fmt: skip
        lower.plot(role.length, seen(role.loss_over_length), **style)
        lower.plot(role.length_now, role.loss_now, marker=marker, color=style["color"])
    _tags(upper, roles[0].marks)
    upper.set_xlim(0, _PICO * roles[0].capacitance[-1])
    lower.set_xlim(0, roles[0].length[-1])
    for axes in (upper, lower):
        _look(axes)
        axes.set_ylabel("worst loss (dB)", fontsize=TEXT_SIZE)
    if curves.question.limit is not None:
        lower.axhline(curves.question.limit, color=REFERENCE_COLOUR, linewidth=1.2, zorder=1,
                      label="the limit")  # fmt: skip
    upper.set_xlabel("capacitance of the cable (pF/m); filled: now used",
                     fontsize=TEXT_SIZE)  # fmt: skip
    lower.set_xlabel("length of all its pieces that vary, together (m); mark: now",
                     fontsize=TEXT_SIZE)  # fmt: skip
    figure.suptitle(literal(curves.question.board.name, 60), fontsize=TEXT_SIZE + 2, x=0.02,
                    ha="left")  # fmt: skip
    figure.legend(loc="outside lower left", fontsize=TEXT_SIZE - 0.5, frameon=False, ncols=2)
    return upper, lower


def _label(role: RoleCurves) -> str:
    return f"{literal(role.name, 30)}{' (above: counting the lead)' if role.counts_lead else ''}"


def _look(axes: Axes) -> None:
    axes.grid(True, color=GRID_COLOUR, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=TEXT_SIZE - 0.5, length=2)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _tags(axes: Axes, marks: Sequence[Mark]) -> None:
    """Write the cables' names above their places, one tag for those that stand together."""
    places: list[tuple[float, list[str]]] = []
    width = 1.08 * max(mark.capacitance for mark in marks)
    for mark in sorted(marks, key=lambda m: (m.capacitance, not m.now)):
        if places and mark.capacitance - places[-1][0] < _SAME_PLACE * width:
            places[-1][1].insert(0 if mark.now else len(places[-1][1]), mark.name)
        else:
            places.append((mark.capacitance, [mark.name]))
    for place, names in places:
        more = f" +{len(names) - 1}" if len(names) > 1 else ""
        axes.text(_PICO * place, 1.02, literal(names[0], 18) + more, rotation=38,
                  transform=axes.get_xaxis_transform(), fontsize=TEXT_SIZE - 2,
                  ha="left", va="bottom", color="#444444")  # fmt: skip


def draw_compare(
    figure: Figure, names: Sequence[str], boards: Sequence[Sequence[NamedCurve]]
) -> Sequence[Axes]:
    """Draw the gain and the loss of several boards over one another.

    Parameters
    ----------
    figure : an empty figure
    names : of the boards
    boards : the curves of each; a board keeps its colour and a state its line

    Returns
    -------
    the two axes
    """
    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
    drawn = [curves if len(boards) <= _MOST_WITH_OFF else curves[-1:] for curves in boards]
    for number, (name, curves) in enumerate(zip(names, drawn[:_MOST_BOARDS], strict=False)):
        # Boards differ in colour and in thickness, so that they stay apart in grey.
        looks: dict[str, Any] = {
            "color": PALETTE[number % len(PALETTE)],
            "linewidth": (1.3, 2.8)[number % 2],
            "zorder": 3 - number % 2,
        }
        # A state keeps its line; where each board has but one, the line tells boards apart as well.
        lines = STYLES if len(boards) <= _MOST_WITH_OFF else STYLES[number % len(STYLES) :]
        for looks["linestyle"], curve in zip(lines, curves, strict=False):
            label = f"{ascii_uppercase[number]} {literal(name, 40)}: {literal(curve.name, 24)}"
            upper.plot(curve.frequency, seen(curve.gain), label=label, **looks)
            lower.plot(curve.frequency, seen(curve.loss), **looks)
    for axes in (upper, lower):
        frequency_axis(axes)
    upper.set_xlabel("")
    upper.set_ylabel("gain (dB)", fontsize=TEXT_SIZE)
    lower.set_ylabel("loss (dB)", fontsize=TEXT_SIZE)
    lower.axhline(0, color=REFERENCE_COLOUR, linewidth=0.8, zorder=1)
    limit_gain(upper, [curve.gain for curves in boards for curve in curves])
    figure.suptitle("Boards compared", fontsize=TEXT_SIZE + 2, x=0.02, ha="left")
    figure.legend(loc="outside lower left", fontsize=TEXT_SIZE - 1, frameon=False, ncols=1)
    return upper, lower


def draw_blame(figure: Figure, report: BlameReport) -> Sequence[Axes]:
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
    lower.set_xlabel("treble loss (dB)", fontsize=TEXT_SIZE)
    state = f"{report.state.state.title}: {report.state.treble_loss:.1f} dB"
    title = f"{literal(report.board.name, 60)}\n{literal(state, 70)}"
    figure.suptitle(title, fontsize=TEXT_SIZE + 1, x=0.02, ha="left")
    handles, names = upper.get_legend_handles_labels()
    figure.legend(handles, names, loc="outside lower left", fontsize=TEXT_SIZE - 0.5,
                  frameon=False, ncols=1)  # fmt: skip
    return upper, lower


def _group_name(blame: Blame) -> str:
    return f"{GROUP_NAMES[blame.group]}{' *' if blame.in_reference else ''}"


def _bars(axes: Axes, blames: Sequence[tuple[str, Blame]]) -> None:
    places = [float(i) for i in range(len(blames))]
    for shift, label, colour, hatch, values in (
        (-0.19, "saved when it alone is taken out", PALETTE[0], "",
         [blame.saved for _, blame in blames]),
        (0.19, "lost when nothing else is real (* not counted in the loss)", "#f0c4bb", "////",
         [blame.costs for _, blame in blames]),
    ):  # fmt: skip
        axes.barh([place + shift for place in places], values, height=0.36, label=label,
                  color=colour, hatch=hatch, edgecolor=PALETTE[1] if hatch else colour,
                  linewidth=0.6)  # fmt: skip
    axes.set_yticks(places, [name for name, _ in blames])
    axes.set_ylim(max(len(blames), 1) - 0.4, -0.6)
    _look(axes)
    axes.grid(False, axis="y")
    axes.tick_params(axis="y", labelsize=TEXT_SIZE - 1.5)
    axes.axvline(0, color=REFERENCE_COLOUR, linewidth=0.8)

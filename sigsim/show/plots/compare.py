"""The plot of a comparison: gain and loss of several boards over one another."""

from __future__ import annotations

from string import ascii_uppercase
from typing import TYPE_CHECKING, Final

from sigsim.show.compare import sentence
from sigsim.show.document import Drawing
from sigsim.show.plots import style
from sigsim.show.plots.ends import End
from sigsim.show.plots.finish import Entry, finish
from sigsim.show.render.text import count

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.compare import BoardCurves, CompareReport
    from sigsim.decide.loss.curves import NamedCurve

_MOST_BOARDS: Final = 6
# With more boards than this only the worst state of each is drawn.
_MOST_WITH_OFF: Final = 3


def drawing(report: CompareReport, curves: Sequence[BoardCurves]) -> Drawing:
    """Return the plot of a report, with its curves from `compare_curves`."""
    lines = [one.curves for one in curves]
    names = [one.board.name for one in curves]
    labels = report.labels if report.names else ()
    answer = sentence(report)
    band = report.basis.band
    return Drawing(
        lambda figure: draw_compare(figure, names, lines, band, answer, labels),
        f"Gain and loss of each board over frequency. {answer}",
        answer,
    )


def draw_compare(
    figure: Figure,
    names: Sequence[str],
    boards: Sequence[Sequence[NamedCurve]],
    band: tuple[float, float],
    answer: str,
    labels: Sequence[str] = (),
) -> tuple[Axes, Axes]:
    """Draw the curves of boards into an empty figure; return both axes.

    Parameters
    ----------
    figure : an empty figure
    names : of the boards
    boards : their curves, the worst state last
    band : of the treble [Hz]
    answer : the heading
    labels : of the variants of one board, of which the first is as it is written; none for
        several boards
    """
    upper, lower = style.over_frequency(figure, "gain (dB)", "loss (dB)", band)
    few = len(boards) <= _MOST_WITH_OFF
    drawn = [curves if few else curves[-1:] for curves in boards][:_MOST_BOARDS]
    ends = []
    called = labels or ascii_uppercase
    for number, curves in enumerate(drawn):
        # Boards differ in colour and in thickness, so that they stay apart in grey.
        look: style.Look = {"linewidth": (1.4, 2.8)[number % 2], "zorder": 3 - number % 2}
        look["color"] = style.PALETTE[number]
        # A state keeps its line; where each board has but one, the line tells boards apart as well.
        lines = style.STYLES if few else style.STYLES[number:]
        for dashes, curve in zip(lines, curves, strict=False):
            dashed = look | {"linestyle": dashes}
            upper.plot(curve.frequency, style.seen(curve.gain), **dashed)
            (line,) = lower.plot(curve.frequency, style.seen(curve.loss), **dashed)
            ends.append(End(lower, line, dashed, "", f"{called[number]}: {curve.name}"))
    shown = [curve for curves in drawn for curve in curves]
    style.limit_gain(upper, [curve.gain for curve in shown])
    style.hang(lower, [curve.loss for curve in shown])
    more = _left_out(len(boards) - len(drawn))
    name = names[0] if labels else _subtitle(names)
    finish(figure, answer, name, ends=ends, legend=more)
    return upper, lower


def _left_out(number: int) -> list[Entry]:
    from matplotlib.lines import Line2D

    if not number:
        return []
    nothing = Line2D([], [], linestyle="none")
    return [Entry(nothing, "", f"{count(number, 'more board')} not drawn")]


def _subtitle(names: Sequence[str]) -> str:
    return "; ".join(
        f"{letter} {name}" for letter, name in zip(ascii_uppercase, names, strict=False)
    )

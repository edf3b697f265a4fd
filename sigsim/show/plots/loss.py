"""The plot of a loss report: gain and loss of some states."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.show.document import Drawing
from sigsim.show.loss import headline
from sigsim.show.plots import style
from sigsim.show.plots.ends import End
from sigsim.show.plots.finish import Entry, finish
from sigsim.show.plots.letters import joined
from sigsim.show.plots.scenes import SceneLooks
from sigsim.show.render.text import count, decibel

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.loss.curves import NamedCurve
    from sigsim.decide.loss.report import LossReport

_REFERENCES: Final = {
    "ideal": "without wiring",
    "direct": "the lead alone",
    "bare": "without any cable",
}


def drawing(report: LossReport, curves: Sequence[NamedCurve], with_worst: bool = True) -> Drawing:
    """Return the plot of a report.

    Parameters
    ----------
    report : from `loss_report`
    curves : from `loss_curves`
    with_worst : whether the worst of all states was asked for as well
    """
    answer = headline(report, with_worst=with_worst)
    return Drawing(
        lambda figure: draw_loss(figure, report, curves, answer),
        f"Gain and loss over frequency. {answer}",
        answer,
    )


def draw_loss(
    figure: Figure, report: LossReport, curves: Sequence[NamedCurve], answer: str
) -> tuple[Axes, Axes]:
    """Draw gain and loss of each state into an empty figure; return both axes."""
    upper, lower = style.over_frequency(figure, "gain (dB)", "loss (dB)", report.basis.band)
    looks, ends, more = SceneLooks(report.board), [], []
    grey: style.Look = {"color": style.REFERENCE_COLOUR, "linewidth": 1.1, "zorder": 1}
    pale: style.Look = {"color": style.PALE_COLOUR, "linewidth": 0.8, "zorder": 1}
    worst = report.board.heard(report.worst.state.on)
    # Where there are more curves than names, the others are a bundle behind them.
    named = _named(report, curves, style.most_named(figure))
    for curve in curves:
        on = report.board.heard(curve.on)
        look = looks.of(curve.on, worst=on == worst) if curve in named else pale
        upper.plot(curve.frequency, style.seen(curve.gain), **look)
        (line,) = lower.plot(curve.frequency, style.seen(curve.loss), **look)
        if curve in named:
            ends.append(End(lower, line, look, *_words(report, curve)))
        else:
            more.append(line)
        if curve.reference is not None:
            (line,) = upper.plot(curve.frequency, style.seen(curve.reference), **grey)
            if not any(end.axes is upper for end in ends):
                ends.append(End(upper, line, grey, _REFERENCES[report.basis.reference]))
    style.limit_gain(upper, [g for c in curves for g in (c.gain, c.reference) if g is not None])
    style.hang(lower, [c.loss for c in curves])
    bundle = [Entry(more[0], "", count(len(more), "more combination"))] if more else []
    finish(figure, answer, report.board.name, ends=ends, legend=bundle)
    return upper, lower


def _named(report: LossReport, curves: Sequence[NamedCurve], most: int) -> list[NamedCurve]:
    """Return the curves that have names: all if few, else the first and the worst."""
    if len(curves) <= most:
        return list(curves)
    heard = report.board.heard
    worst = [c for c in curves if heard(c.on) == heard(report.worst.state.on)]
    first = [c for c in curves if c not in worst]
    return [*first[: most - len(worst)], *worst]


def _words(report: LossReport, curve: NamedCurve) -> tuple[str, str]:
    """Return the names of a curve's states and its treble loss."""
    heard = report.board.heard
    on = heard(curve.on)
    states = [s for s in report.states if heard(s.state.on) == on]
    is_worst = heard(report.worst.state.on) == on
    measured = states[0] if states else report.worst
    name, more = joined([s.state.title for s in states] or ["worst of all"])
    worst = " (worst)" if is_worst and states else ""
    value = "silent" if measured.silent else f"{decibel(measured.treble_loss)}{style.NO_BREAK}dB"
    return name, f"{more}{worst}: {value}"

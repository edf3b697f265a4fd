"""The plot of a loss report: gain and loss of some states."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.show.document import Drawing
from sigsim.show.loss import sentence
from sigsim.show.plots import style

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure

    from sigsim.decide.loss.curves import NamedCurve
    from sigsim.decide.loss.report import LossReport

_REFERENCES: Final = {
    "ideal": "reference: the same without wiring",
    "direct": "reference: the lead alone",
    "bare": "reference: the same without any cable",
}


def drawing(report: LossReport, curves: Sequence[NamedCurve]) -> Drawing:
    """Return the plot of a report, with its curves from `loss_curves`."""
    said = f"Gain and loss over frequency. {sentence(report.worst, report.basis)}"
    return Drawing(lambda figure: _draw(figure, report, curves), said)


def _draw(figure: Figure, report: LossReport, curves: Sequence[NamedCurve]) -> None:
    upper, lower = style.over_frequency(figure, "gain (dB)", "loss (dB)")
    grey: style.Look = {"color": style.REFERENCE_COLOUR, "lw": 1.0, "zorder": 1}
    grey["label"] = _REFERENCES[report.basis.reference]
    for look, c in zip(style.looks(), curves, strict=False):
        upper.plot(c.frequency, style.seen(c.gain), label=style.literal(c.name, 44), **look)
        lower.plot(c.frequency, style.seen(c.loss), **look)
        if c.reference is not None:
            upper.plot(c.frequency, style.seen(c.reference), **grey)
            grey["label"] = None
    style.zero_line(lower)
    style.limit_gain(upper, [g for c in curves for g in (c.gain, c.reference) if g is not None])
    style.finish(figure, style.literal(report.board.name, 60))

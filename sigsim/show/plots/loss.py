"""The plot of a loss report: gain and loss of some states."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.show.document import Drawing
from sigsim.show.loss import sentence
from sigsim.show.plots.style import (
    REFERENCE_COLOUR,
    frequency_axis,
    headline,
    legend_below,
    limit_gain,
    literal,
    seen,
    styles,
    two_axes,
    zero_line,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.loss.curves import NamedCurve
    from sigsim.decide.loss.report import LossReport

_REFERENCES: Final = {
    "ideal": "reference: the same without wiring",
    "direct": "reference: the lead alone",
}


def drawing(report: LossReport, curves: Sequence[NamedCurve]) -> Drawing:
    """Return the plot of a report and its curves."""
    said = f"Gain and loss over frequency. {sentence(report.worst)}"
    return Drawing(lambda figure: draw_loss(figure, report, curves), said)


def draw_loss(
    figure: Figure, report: LossReport, curves: Sequence[NamedCurve]
) -> tuple[Axes, Axes]:
    """Draw the gain and the loss of some states, one above the other.

    Parameters
    ----------
    figure : an empty figure
    report : from `loss_report`
    curves : from `loss_curves`

    Returns
    -------
    the two axes
    """
    upper, lower = two_axes(figure, one_x=True)
    label: str | None = _REFERENCES[report.basis.reference]
    for style, curve in zip(styles(), curves, strict=False):
        upper.plot(curve.frequency, seen(curve.gain), label=literal(curve.name, 44), **style)
        lower.plot(curve.frequency, seen(curve.loss), **style)
        if curve.reference is not None:
            gain = seen(curve.reference)
            upper.plot(curve.frequency, gain, color=REFERENCE_COLOUR, lw=1.0, label=label, zorder=1)
            label = None
    frequency_axis(upper, "gain (dB)")
    frequency_axis(lower, "loss (dB)")
    upper.set_xlabel("")
    zero_line(lower)
    limit_gain(upper, [g for c in curves for g in (c.gain, c.reference) if g is not None])
    headline(figure, literal(report.board.name, 60))
    legend_below(figure)
    return upper, lower

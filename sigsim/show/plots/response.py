"""The plot of a response: gain and phase of one state."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sigsim.show.document import Drawing
from sigsim.show.ends import at_end, why_silent
from sigsim.show.loss import told
from sigsim.show.plots import style
from sigsim.show.plots.ends import End
from sigsim.show.plots.finish import finish
from sigsim.show.plots.scenes import SceneLooks

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.decide.loss.report import StateReport
    from sigsim.metrics import Basis
    from sigsim.states.response import Response


def drawing(response: Response, report: StateReport, basis: Basis) -> Drawing:
    """Return the plot of one state's response with its reference, and its phase.

    Parameters
    ----------
    response : of the state
    report : all numbers of the state
    basis : what they are measured against and over
    """
    board = response.board
    silent = why_silent(board, report.state.on)
    answer = at_end(board, told(report, basis, why_silent=silent))
    said = f"Gain and phase over frequency, and the reference's gain. {answer}"
    return Drawing(
        lambda figure: draw_response(figure, response, report, basis, answer), said, answer
    )


def draw_response(
    figure: Figure, response: Response, report: StateReport, basis: Basis, answer: str
) -> tuple[Axes, Axes]:
    """Draw gain and phase of one state into an empty figure; return both axes."""
    f = response.frequency
    one = f.size == 1
    span = (float(f[0]) / 2, float(f[0]) * 2) if one else (float(f[0]), float(f[-1]))
    upper, lower = style.over_frequency(
        figure, "gain (dB)", "phase (degrees)", basis.band, span, heights=(3, 2)
    )
    mark: style.Look = {"marker": "o"} if one else {}
    look = SceneLooks(response.board).of(report.state.on)
    grey: style.Look = {"color": style.REFERENCE_COLOUR, "linewidth": 1.1, "zorder": 1}
    gains = response.gain_db, response.reference.gain_db
    (gain,) = upper.plot(f, style.seen(gains[0]), **look, **mark)
    (reference,) = upper.plot(f, style.seen(gains[1]), **grey, **mark)
    # A phase that goes on past half a turn goes on; the table turns it round there.
    phase = np.unwrap(response.phase_deg, period=360.0)
    lower.plot(f, style.seen(phase), **look, **mark)
    style.limit_gain(upper, gains)
    ends = [
        End(upper, gain, look, report.state.title),
        End(upper, reference, grey, "", "the reference"),
    ]
    finish(figure, answer, response.board.name, ends=ends)
    return upper, lower

"""The plot of a response: gain and phase of one state."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.show.document import Drawing
from sigsim.show.plots.style import (
    REFERENCE_COLOUR,
    Look,
    frequency_axis,
    headline,
    legend_below,
    literal,
    seen,
    styles,
    two_axes,
)
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.board.state import State
    from sigsim.states.response import Response


def drawing(response: Response, state: State) -> Drawing:
    """Return the plot of one state's response."""
    said = f"Gain and phase of '{plain(state.title, 44)}' over frequency, and the reference's gain."
    return Drawing(lambda figure: draw_response(figure, response, state), said)


def draw_response(figure: Figure, response: Response, state: State) -> tuple[Axes, Axes]:
    """Draw one state's gain with its reference, and its phase.

    Parameters
    ----------
    figure : an empty figure
    response : of the state
    state : which it is

    Returns
    -------
    the two axes
    """
    upper, lower = two_axes(figure, one_x=True)
    f = response.frequency
    one = f.size == 1
    style = next(styles()) | ({"marker": "o"} if one else {})
    grey: Look = {"color": REFERENCE_COLOUR, "marker": "o" if one else None}
    upper.plot(f, seen(response.gain_db), label=literal(state.title, 44), **style)
    upper.plot(f, seen(response.reference.gain_db), label="reference", **grey)
    lower.plot(f, response.phase_deg, **style)
    low, high = (f[0] / 2, f[0] * 2) if one else (f[0], f[-1])
    frequency_axis(upper, "gain (dB)")
    frequency_axis(lower, "phase (degrees)")
    upper.set_xlabel("")
    lower.set_xlim(low, high)
    headline(figure, literal(response.board.name, 60))
    legend_below(figure)
    return upper, lower

"""The plot of a response: gain and phase of one state."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.show.document import Drawing
from sigsim.show.plots import style
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sigsim.board.state import State
    from sigsim.states.response import Response


def drawing(response: Response, state: State) -> Drawing:
    """Return the plot of one state's response with its reference, and its phase."""
    said = f"Gain and phase of '{plain(state.title, 44)}' over frequency, and the reference's gain."
    return Drawing(lambda figure: _draw(figure, response, state), said)


def _draw(figure: Figure, response: Response, state: State) -> None:
    upper, lower = style.over_frequency(figure, "gain (dB)", "phase (degrees)")
    f = response.frequency
    one = f.size == 1
    look = next(style.looks()) | ({"marker": "o"} if one else {})
    grey: style.Look = {"color": style.REFERENCE_COLOUR, "marker": "o" if one else None}
    upper.plot(f, style.seen(response.gain_db), label=style.literal(state.title, 44), **look)
    upper.plot(f, style.seen(response.reference.gain_db), label="reference", **grey)
    lower.plot(f, response.phase_deg, **look)
    lower.set_xlim((f[0] / 2, f[0] * 2) if one else (f[0], f[-1]))
    style.finish(figure, style.literal(response.board.name, 60))

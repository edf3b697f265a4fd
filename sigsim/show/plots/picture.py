"""A drawing as the content of a file."""

from __future__ import annotations

import io
import warnings
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from sigsim.show.plots.letters import Alphabet, alphabet_for, lettered
from sigsim.show.plots.style import new_figure
from sigsim.show.render.text import clean

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sigsim.show.document import Drawing


# The smallest plots with the longest names: what is drawn stands where it would without names.
_TOO_SMALL: Final = "constrained_layout not applied"


class Picture(NamedTuple):
    """What a file is to hold, and the letters of which it shows but the numbers."""

    content: bytes
    missing: frozenset[str]


def picture(
    drawing: Drawing, form: str, description: str = "Description", size: tuple[float, ...] = ()
) -> Picture:
    """Return a drawing as a file.

    Parameters
    ----------
    drawing : what is drawn
    form : "png", "svg" or "pdf"
    description : what such a file calls the place for a text about it
    size : width and height [cm], the usual if empty
    """
    first = Alphabet()
    with lettered(first), warnings.catch_warnings():
        # Letters that the first font lacks are what this is to find out.
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        warnings.filterwarnings("ignore", message=_TOO_SMALL)
        figure = _drawn(drawing, size)
    alphabet = alphabet_for(first.used, live=form == "svg")
    metadata: dict[str, Any] = {
        "Title": clean(drawing.title),
        description: clean(drawing.alternative),
    }
    if form == "svg":
        metadata["Date"] = None
    buffer = io.BytesIO()
    with lettered(alphabet), warnings.catch_warnings():
        # In a file that keeps text as text its reader's fonts show what is missing here.
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        warnings.filterwarnings("ignore", message=_TOO_SMALL)
        if len(alphabet.families) > 1 or alphabet.missing:
            figure = _drawn(drawing, size)
        figure.savefig(buffer, format=form, metadata=metadata)
    return Picture(buffer.getvalue(), alphabet.missing)


def _drawn(drawing: Drawing, size: tuple[float, ...]) -> Figure:
    figure = new_figure(*size)
    drawing.draw(figure)
    return figure

"""Names at the ends of curves, moved apart where the curves end close together."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.show.plots.style import INK, figure_of, scale, size
from sigsim.show.plots.wrap import Ruler, renderer

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D
    from matplotlib.text import Annotation

    from sigsim.physics.arrays import FloatArray
    from sigsim.show.plots.finish import Entry
    from sigsim.show.plots.style import Look

_WIDEST: Final = 0.25
# A name has so many lines at most, fewer where they do not fit.
_LINES: Final = (3, 2, 1)
# From the end of a curve to its name: long enough to show a dash [points].
_LEADER_PT: Final = 22.0
_GAP_PT: Final = 3.0


class End(NamedTuple):
    """A curve to be named where it ends: its look, a name from a file, words of our own behind."""

    axes: Axes
    line: Line2D
    look: Look
    name: str
    after: str = ""


def label_ends(
    figure: Figure,
    ends: Sequence[End],
    top: float,
    entries: Sequence[Entry],
    legend: Callable[[Figure, Sequence[Entry]], float],
) -> bool:
    """Name curves at their ends and put the rest in a legend, if there is room for all.

    Parameters
    ----------
    figure : the figure
    ends : the curves
    top : where the heading ends [part of the height]
    entries, legend : what is named below, and what does it

    Returns
    -------
    whether it is done; nothing is left of it if not
    """
    return any(_labelled(figure, ends, top, entries, legend, lines) for lines in _LINES)


def _labelled(
    figure: Figure,
    ends: Sequence[End],
    top: float,
    entries: Sequence[Entry],
    legend: Callable[[Figure, Sequence[Entry]], float],
    lines: int,
) -> bool:
    """Do it with names of so many lines at most."""
    from sigsim.show.plots.finish import settle

    texts = _texts(figure, ends, lines)
    bottom = legend(figure, entries)
    settle(figure, top, bottom)
    figure.draw_without_rendering()
    panels = {end.axes: [i for i, e in enumerate(ends) if e.axes is end.axes] for end in ends}
    boxes = [text.get_window_extent(renderer(figure)) for text in texts]
    heights = np.array([box.height for box in boxes]) + 2 * scale(figure) * figure.dpi / 72
    for axes, members in panels.items():
        if heights[members].sum() > axes.bbox.height:
            for made in (*texts, *figure.legends):
                made.remove()
            return False
    figure.set_layout_engine("none")
    for axes, members in panels.items():
        places = np.array([_end(axes, ends[i].line) for i in members]) * axes.bbox.height
        apart = spread(places, heights[members], axes.bbox.height) / axes.bbox.height
        for i, place in zip(members, apart, strict=True):
            texts[i].xy = (1.0, place)
            _lead(ends[i], _end(axes, ends[i].line), float(place))
    return True


def _texts(figure: Figure, ends: Sequence[End], lines: int) -> list[Annotation]:
    points = size(figure, -1)
    ruler, widest = Ruler(figure, points), _WIDEST * figure.bbox.width
    return [
        end.axes.annotate(
            ruler.label(end.name, widest, lines, after=end.after),
            (1.0, 0.5),
            ((_LEADER_PT + _GAP_PT) * scale(figure), 0),
            xycoords="axes fraction",
            textcoords="offset points",
            ha="left",
            va="center",
            fontsize=points,
            color=INK,
            linespacing=1.05,
            annotation_clip=False,
            gid="end",
        )
        for end in ends
    ]


def _end(axes: Axes, line: Line2D) -> float:
    """Return how high a curve ends in its axes [part of their height]."""
    x, y = (np.asarray(values, dtype=float) for values in line.get_data())
    low, high = sorted(axes.get_xlim())
    inside = np.isfinite(y) & (x >= low) & (x <= high)
    if not inside.any():
        return 0.0
    bottom, top = axes.get_ylim()
    last = y[inside][np.argmax(x[inside])]
    return float(np.clip((last - bottom) / (top - bottom), 0.0, 1.0))


def _lead(end: End, from_place: float, to_place: float) -> None:
    """Draw the curve on to its name."""
    from matplotlib.lines import Line2D

    axes = end.axes
    figure = figure_of(axes)
    points = _LEADER_PT * scale(figure)
    right = 1 + points / 72 * figure.dpi / axes.bbox.width
    look = end.look | {"linewidth": 0.8 * end.line.get_linewidth(), "clip_on": False}
    places = [1.0, right], [from_place, to_place]
    drawn = Line2D(*places, transform=axes.transAxes, label="_leader", **look)
    drawn.set_in_layout(False)
    axes.add_artist(drawn)


def spread(places: FloatArray, heights: FloatArray, room: float) -> FloatArray:
    """Return places as near to those wanted as can be at which boxes do not overlap.

    Parameters
    ----------
    places : wanted, of the middle of each box, shape (box,)
    heights : of the boxes, no more than the room together
    room : from 0 up to which they may reach

    Returns
    -------
    in the order given, shape (box,)
    """
    order = np.argsort(places, kind="stable")
    below = np.cumsum(heights[order]) - heights[order] / 2
    # With the boxes pushed together, whatever rises from one to the next does not overlap: the
    # nearest rising sequence, by pooling neighbours that fall.
    pools: list[tuple[float, int]] = []
    for wanted in places[order] - below:
        pools.append((float(wanted), 1))
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            (one, many), (other, more) = pools[-2:]
            pools[-2:] = [((one * many + other * more) / (many + more), many + more)]
    rising = np.repeat([value for value, _ in pools], [count for _, count in pools])
    found = np.empty_like(below)
    found[order] = np.clip(rising, 0.0, room - heights.sum()) + below
    return found

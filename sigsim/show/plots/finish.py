"""What a plot ends with: its answer over it, names at the ends of its curves or under it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

from sigsim.show.plots.ends import label_ends
from sigsim.show.plots.letters import written
from sigsim.show.plots.style import CM, INK, NARROW_CM, QUIET, is_low, scale, size, width_cm
from sigsim.show.plots.wrap import Ruler, renderer

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.figure import Figure
    from matplotlib.legend import Legend

    from sigsim.show.plots.ends import End
    from sigsim.show.plots.style import Look

# The heading takes no more than this part of the height; rather its letters become smaller.
_HIGHEST, _HIGHEST_LOW = 0.32, 0.24
# The legend takes no more than this part, if shorter names can do it.
_LOWEST: Final = 0.3
_LINES: Final = (3, 2, 1)
_SMALLEST_PT: Final = 5.5
_EDGE_CM: Final = 0.25
_MOST_COLUMNS: Final = 4
_NAME_LINES: Final = 2


class Entry(NamedTuple):
    """One line of a legend: what is drawn, a name from a file, words of our own behind it."""

    artist: Artist
    name: str
    after: str = ""


def finish(
    figure: Figure,
    answer: str,
    name: str,
    *,
    ends: Sequence[End] = (),
    legend: Iterable[Entry] = (),
) -> None:
    """Put the answer over all axes, the board's name under it, and names to the curves.

    Parameters
    ----------
    figure : the figure, with all that is drawn
    answer : a sentence
    name : of the board or the recording
    ends : curves that are named where they end, or in the legend where there is no room
    legend : what else is named below
    """
    _enlarge(figure)
    top = _heading(figure, answer, name)
    entries = list(legend)
    if ends and width_cm(figure) >= NARROW_CM and label_ends(figure, ends, top, entries, _legend):
        return
    entries = [Entry(end.line, end.name, end.after) for end in ends] + entries
    settle(figure, top, _legend(figure, entries))
    figure.draw_without_rendering()
    figure.set_layout_engine("none")


def settle(figure: Figure, top: float, bottom: float) -> None:
    """Let the axes fill a figure between a heading and a legend [parts of its height]."""
    width, height = figure.get_size_inches() / CM
    edge = _EDGE_CM / width
    rect = (edge, bottom + _EDGE_CM / height, 1 - 2 * edge, top - bottom - 1.6 * _EDGE_CM / height)
    figure.set_layout_engine("constrained", rect=rect, w_pad=0.02, h_pad=0.02)


def _enlarge(figure: Figure) -> None:
    """Draw lines and marks thicker on a large figure; text has its size already."""
    for line in (line for axes in figure.axes for line in axes.lines):
        line.set_linewidth(line.get_linewidth() * scale(figure))
        line.set_markersize(line.get_markersize() * scale(figure))


def _heading(figure: Figure, answer: str, name: str) -> float:
    """Write answer and name; return where they end [part of the height from below]."""
    width, height = figure.bbox.width, figure.bbox.height
    edge = _EDGE_CM * CM * figure.dpi
    points = size(figure, 2.0)
    highest = _HIGHEST_LOW if is_low(figure) else _HIGHEST
    while True:
        bold = Ruler(figure, points, "bold")
        lines = bold.lines(" ".join(answer.split()), width - 2 * edge)
        small = max(points - 2.0, _SMALLEST_PT)
        below = Ruler(figure, small).label(name, width - 2 * edge, _NAME_LINES)
        pixels = figure.dpi / 72 * 1.22 * (points * len(lines) + small * (below.count("\n") + 1))
        if pixels <= highest * height or points <= _SMALLEST_PT:
            break
        points -= 0.5
    place: Look = {"x": edge / width, "ha": "left", "va": "top", "linespacing": 1.2}
    first: Look = {"weight": "bold", "color": INK, "gid": "answer", "fontsize": points}
    second: Look = {"color": QUIET, "gid": "name", "fontsize": small}
    title = "\n".join(map(written, lines))
    said = figure.text(y=1 - edge / height, s=title, **first, **place)
    bottom = said.get_window_extent(renderer(figure)).y0 / height
    under = figure.text(y=bottom - 0.25 * edge / height, s=below, **second, **place)
    for text in (said, under):
        text.set_in_layout(False)
    return float(under.get_window_extent(renderer(figure)).y0 / height)


def _legend(figure: Figure, entries: Sequence[Entry]) -> float:
    """Name what is drawn under all axes, in as many columns as fit; return the height taken."""
    taken = 0.0
    for lines in _LINES if entries else ():
        for columns in range(min(_MOST_COLUMNS, len(entries)), 0, -1):
            for old in figure.legends:
                old.remove()
            made = _made(figure, entries, columns, lines)
            box = made.get_window_extent(renderer(figure))
            taken = float(box.y1 / figure.bbox.height)
            broken = any("\n" in text.get_text() for text in made.get_texts())
            if box.width <= 0.98 * figure.bbox.width and not broken:
                break
        if taken <= _LOWEST:
            break
    return taken


def _made(figure: Figure, entries: Sequence[Entry], columns: int, lines: int) -> Legend:
    points = size(figure, -1)
    ruler = Ruler(figure, points)
    # A handle as long as the longest dash twice, and the gaps.
    handle = 3.6
    widest = 0.94 * figure.bbox.width - columns * (handle + 2.5) * points / 72 * figure.dpi
    names = [ruler.label(e.name, widest / columns, lines, after=e.after) for e in entries]
    made = figure.legend(
        [entry.artist for entry in entries],
        names,
        loc="lower left",
        bbox_to_anchor=(0.0, 0.0),
        fontsize=points,
        frameon=False,
        ncols=columns,
        handlelength=handle,
        columnspacing=1.2,
        labelspacing=0.3,
        borderaxespad=0.3,
    )
    made.set_in_layout(False)
    return made

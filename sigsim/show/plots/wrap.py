"""Text that fits: broken into lines by the width that it has on paper."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

from sigsim.show.plots.letters import written
from sigsim.show.render.text import in_the_middle

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.backend_bases import RendererBase
    from matplotlib.figure import Figure

Weight = Literal["normal", "bold"]
# Another program that shows the file may set letters a little wider.
_ROOM: Final = 0.96
_MOST_NAME: Final = 120
# Of the figure's width, for a line over or under axes that have names beside them [-].
_TITLE: Final = 0.58
# How much wider a name in one line may be [-].
_ONE_LINE: Final = 1.2


def renderer(figure: Figure) -> RendererBase:
    """Return what measures text on a figure."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas = figure.canvas
    if not isinstance(canvas, FigureCanvasAgg):
        canvas = FigureCanvasAgg(figure)
    found: RendererBase = canvas.get_renderer()  # type: ignore[no-untyped-call]
    return found


class Ruler:
    """Measures text of one size on one figure.

    Parameters
    ----------
    figure : the figure
    size : of the text [points]
    weight : of the text
    """

    def __init__(self, figure: Figure, size: float, weight: Weight = "normal") -> None:
        from matplotlib.font_manager import FontProperties

        self._renderer = renderer(figure)
        self._font = FontProperties(size=size, weight=weight)

    def width(self, text: str) -> float:
        """Return the width of a line [pixels of the figure]."""
        shown = written(text).replace(r"\$", "$")
        width, _, _ = self._renderer.get_text_width_height_descent(shown, self._font, ismath=False)
        return float(width)

    def lines(self, text: str, widest: float) -> list[str]:
        """Return a text in lines that are no wider than that [pixels]; long words are broken."""
        room, found = _ROOM * widest, [""]
        for word in text.split(" "):
            longer = f"{found[-1]} {word}" if found[-1] else word
            if self.width(longer) <= room:
                found[-1] = longer
                continue
            pieces = self._pieces(word, room)
            found += pieces if found[-1] else []
            if found[0] == "":
                found = pieces
        return found

    def _pieces(self, word: str, room: float) -> list[str]:
        pieces = [""]
        for letter in word:
            if pieces[-1] and self.width(pieces[-1] + letter) > room:
                pieces.append("")
            pieces[-1] += letter
        return pieces

    def label(self, name: str, widest: float, most: int, *, after: str = "") -> str:
        """Return a name in a few lines with words of our own behind it, which are always whole.

        Parameters
        ----------
        name : from a file; left out in its middle where it is too long
        widest : [pixels]
        most : how many lines
        after : the words behind it
        """
        for longest in (*range(_MOST_NAME, 12, -4), 12):
            lines = self.lines(in_the_middle(name, longest) + after, widest)
            if len(lines) <= most:
                break
        return "\n".join(map(written, lines))


def row_names(axes: Axes, names: list[str], rows: int, part: float = 0.34) -> None:
    """Write names beside the rows 0, 1 … of axes.

    Parameters
    ----------
    axes : the axes
    names : of the rows
    rows : of all axes of the figure: where they are many, each name has but one line
    part : of the figure's width that they may take [-]
    """
    from sigsim.show.plots.style import figure_of, rows_that_fit, size

    figure, points = figure_of(axes), size(axes, -1)
    ruler, widest = Ruler(figure, points), part * figure.bbox.width
    most = 2 if 2 * rows <= rows_that_fit(figure) else 1
    widest *= 1.0 if most > 1 else _ONE_LINE
    axes.set_yticks(range(len(names)), [ruler.label(name, widest, most) for name in names])
    axes.tick_params(axis="y", labelsize=points, length=0)


def panel_title(axes: Axes, text: str) -> None:
    """Say over axes in small letters what they show."""
    from sigsim.show.plots.style import QUIET, figure_of, size

    figure, points = figure_of(axes), size(axes, -0.5)
    lines = Ruler(figure, points).lines(text, _TITLE * figure.bbox.width)
    axes.set_title("\n".join(map(written, lines)), fontsize=points, loc="left", color=QUIET)


def x_label(axes: Axes, text: str) -> None:
    """Say under axes what they show, with its unit."""
    from sigsim.show.plots.style import figure_of, size

    figure, points = figure_of(axes), size(axes)
    lines = Ruler(figure, points).lines(text, _TITLE * figure.bbox.width)
    axes.set_xlabel("\n".join(map(written, lines)), fontsize=points)

"""The drawing of a layout inside a page that is printed, to a round scale."""

from __future__ import annotations

import unicodedata
from typing import TYPE_CHECKING, Final

from sigsim.quantities import length_text
from sigsim.show.box_names import fitted
from sigsim.show.plan import EDGE, bar_of, bounds, letters_of, plan
from sigsim.show.render.markup import shown

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.decide.layout.report import Standing
    from sigsim.show.plan import Line, Plan, Shape
    from sigsim.show.plan_jacks import Mark

SCALES: Final = (1, 2, 4, 5, 10, 20, 50, 100, 200, 500, 1000)
# What A4 has room for between the margins of the page, with a heading [mm].
_PAPER: Final = (184.0, 225.0)
_MARGIN: Final = 4.0  # around the drawing, for thick lines and numbers [mm]
_BELOW: Final = 8.0  # for the near edge and the bar [mm]
_NAMES: Final = (3.4, 3.0, 2.7, 2.4, 2.1, 1.8, 1.5)  # height of letters [mm]
_NUMBER, _LEAST = 2.6, 1.4
_RADIUS: Final = 0.65  # of a number, by the height of its letters [-]
_COLOURS: Final = ("#001933", "#b04a36", "#1f7fa8", "#72307b", "#806600")
_INK, _QUIET, _WRONG = "#1b1f24", "#555555", "#ca5e49"
# Of the height of a letter: a wide one, any other [-]. A page's fonts are not known here.
_WIDE, _USUAL = 1.05, 0.6


def scale_of(standing: Standing) -> int:
    """Return the round scale with which a layout fits on A4: 1 for life-size."""
    low, high = bounds(standing)
    room = _PAPER[0] - 2 * _MARGIN, _PAPER[1] - 2 * _MARGIN - _BELOW
    sides = [1000 * (h - lo) / r for lo, h, r in zip(low, high, room, strict=True)]
    return next((scale for scale in SCALES if max(sides) <= scale), SCALES[-1])


def scale_said(standing: Standing) -> str:
    """Return the sentence that says to which scale a layout is drawn."""
    scale = scale_of(standing)
    size = "Life-size" if scale == 1 else f"Scale 1:{scale}"
    return f"{size}, where the page is printed at 100 %. The numbers are those of the table."


def as_svg(standing: Standing, title: str) -> str:
    """Return a layout as an SVG element; text from the file is escaped in it.

    Parameters
    ----------
    standing : the layout
    title : what it shows, for who cannot see it
    """
    return _Paper(standing).svg(title)


class _Paper:
    """A layout on paper, in millimetres from the upper left corner."""

    def __init__(self, standing: Standing) -> None:
        self.factor = 1000.0 / scale_of(standing)
        self.letters = letters_of(standing, _NUMBER, _LEAST, self.factor)
        self.plan: Plan = plan(standing, _RADIUS * self.letters / self.factor)
        (left, self.near), (right, self.back) = self.plan.low, self.plan.high
        self.left = left
        self.width = self.factor * (right - left) + 2 * _MARGIN
        self.height = self.factor * (self.back - self.near) + 2 * _MARGIN + _BELOW

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Return where a point of the board is on the paper."""
        return (
            round(_MARGIN + self.factor * (x - self.left), 3),
            round(_MARGIN + self.factor * (self.back - y), 3),
        )

    def svg(self, title: str) -> str:
        """Return the element."""
        size = f'width="{self.width:.2f}mm" height="{self.height:.2f}mm"'
        box = f'viewBox="0 0 {self.width:.2f} {self.height:.2f}"'
        label = shown(title)
        parts = [
            f'<svg xmlns="http://www.w3.org/2000/svg" {size} {box} role="img" '
            f'aria-label="{label}" font-family="sans-serif" text-anchor="middle">',
            f"<title>{label}</title>",
            f'<rect width="{self.width:.2f}" height="{self.height:.2f}" fill="#fff"/>',
            self._board(),
            *(self._line(line) for line in self.plan.lines),
            *(part for shape in self.plan.shapes for part in self._shape(shape)),
            *(self._jack(*ends) for ends in self.plan.jacks),
            *(part for line in self.plan.lines for part in self._number(line)),
            *(self._mark(mark) for mark in self.plan.marks),
            *self._edge(),
            "</svg>",
        ]
        return "\n".join(parts)

    def _rect(self, x: float, y: float, width: float, depth: float, look: str) -> str:
        left, top = self.at(x, y + depth)
        size = f'width="{self.factor * width:.3f}" height="{self.factor * depth:.3f}"'
        return f'<rect x="{left}" y="{top}" {size} {look}/>'

    def _board(self) -> str:
        look = f'fill="none" stroke="{_QUIET}" stroke-width="0.3"'
        return self._rect(0.0, 0.0, *self.plan.size, look)

    def _line(self, line: Line) -> str:
        points = " ".join(f"{x},{y}" for x, y in (self.at(*point) for point in line.points))
        dashed = ' stroke-dasharray="2 0.8"' if line.lead else ""
        look = f'fill="none" stroke="{_colour(line)}" stroke-width="0.5"{dashed}'
        return f'<polyline points="{points}" {look} stroke-linejoin="round"/>'

    def _shape(self, shape: Shape) -> Iterator[str]:
        x, y, width, depth = shape.outline
        look = f'fill="#fff" stroke="{_INK}" stroke-width="0.35"'
        if shape.wrong:
            look = f'fill="none" stroke="{_WRONG}" stroke-width="0.7" stroke-dasharray="1.5 0.8"'
        yield self._rect(x, y, width, depth, look)
        x, y, width, depth = shape.room
        room = self.factor * width, self.factor * depth
        name = fitted(shape.name, *room, _NAMES, _text_width)
        middle = self.at(x + width / 2, y + depth / 2)
        turned = f' transform="rotate(-90 {middle[0]} {middle[1]})"' if name.upright else ""
        first = middle[1] - (len(name.lines) - 1) * 0.6 * name.size + 0.35 * name.size
        spans = "".join(
            f'<tspan x="{middle[0]}" y="{first + 1.2 * i * name.size:.3f}">{shown(line)}</tspan>'
            for i, line in enumerate(name.lines)
        )
        yield f'<text font-size="{name.size}" fill="{_INK}"{turned}>{spans}</text>'

    def _jack(self, begin: tuple[float, float], end: tuple[float, float]) -> str:
        (x1, y1), (x2, y2) = self.at(*begin), self.at(*end)
        ends = f'x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}"'
        return f'<line {ends} stroke="{_INK}" stroke-width="0.8"/>'

    def _number(self, line: Line) -> Iterator[str]:
        if line.lead:
            x, y = self.at(*line.points[0])
            yield f'<circle cx="{x}" cy="{y}" r="0.8" fill="{_INK}"/>'
        x, y = self.at(*line.label)
        yield f'<circle cx="{x}" cy="{y}" r="{0.55 * self.letters:.3f}" fill="#fff"/>'
        look = f'font-size="{self.letters:.2f}" font-weight="bold" fill="{_colour(line)}"'
        yield f'<text x="{x}" y="{y + 0.36 * self.letters:.3f}" {look}>{line.number}</text>'

    def _mark(self, mark: Mark) -> str:
        x, y = self.at(*mark.at)
        size = mark.size * self.letters
        look = f'font-size="{size:.2f}" fill="{_INK}"'
        return f'<text x="{x}" y="{y + 0.36 * size:.3f}" {look}>{mark.text}</text>'

    def _edge(self) -> Iterator[str]:
        width = self.plan.size[0]
        (left, edge), (right, _) = self.at(0.0, 0.0), self.at(width, 0.0)
        yield (
            f'<line x1="{left}" y1="{edge}" x2="{right}" y2="{edge}" '
            f'stroke="{_INK}" stroke-width="0.8"/>'
        )
        low = self.height - 3.0
        bar = bar_of(width)
        text = f"{EDGE}mm{length_text(bar)}mm"
        size = 3.0 * min(1.0, self.factor * (width - bar) / _text_width(text, 3.0))
        look = f'font-size="{size:.2f}" fill="{_INK}"'
        yield f'<text x="{left}" y="{low}" text-anchor="start" {look}>{EDGE}</text>'
        begin = right - self.factor * bar
        yield (
            f'<line x1="{begin:.3f}" y1="{low - 1}" x2="{right}" y2="{low - 1}" '
            f'stroke="{_INK}" stroke-width="1"/>'
        )
        yield (
            f'<text x="{begin - 1.5:.3f}" y="{low}" text-anchor="end" {look}>'
            f"{length_text(bar)}</text>"
        )


def _colour(line: Line) -> str:
    return _QUIET if line.lead else _COLOURS[line.colour]


def _text_width(text: str, size: float) -> float:
    """Return about how wide a text is: no less than most fonts make it."""
    wide = sum(unicodedata.east_asian_width(letter) in "WF" for letter in text)
    return size * (_WIDE * wide + _USUAL * (len(text) - wide))

"""The drawing from above: to scale, names inside their boxes, the numbers of the sheet."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from helpers.layout_boards import NAMES, ROWS, box, laid_out
from helpers.thinned import crossed, some
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from sigsim.board.reader import parse_board
from sigsim.decide.layout.proposal import Proposal
from sigsim.decide.layout.report import LayoutReport
from sigsim.decide.layout.report import laid_out as report_of
from sigsim.show.plots import style
from sigsim.show.plots.layout import draw_layout, drawing
from sigsim.show.plots.wrap import renderer

LONG = "a name of a pedal that does not come to an end before its box does, {}"


def report(rows: list[list[str]], **sizes: str) -> LayoutReport:
    chain = "".join(box(name, **sizes) for row in reversed(rows) for name in reversed(row))
    return report_of(parse_board(laid_out(rows, chain, sold=""), lacking=True))


def drawn(
    *reports: LayoutReport, size: tuple[float, float] = (16.0, 13.0)
) -> tuple[Figure, list[Axes]]:
    figure = style.new_figure(*size)
    return figure, draw_layout(figure, reports, [])


def patches(axes: Axes, gid: str) -> list[Rectangle]:
    return [p for p in axes.patches if isinstance(p, Rectangle) and p.get_gid() == gid]


def texts(axes: Axes, gid: str) -> list[Text]:
    return [text for text in axes.texts if text.get_gid() == gid]


def extent(text: Text, figure: Figure) -> Bbox:
    return text.get_window_extent(renderer(figure))


def rows_of(count: int, name: str = "box {}") -> list[list[str]]:
    names = [name.format(i) for i in range(count)]
    half = (count + 1) // 2
    return [names[half:], names[:half]] if count > 3 else [names]


@pytest.mark.parametrize(("count", "name"), crossed([3, 8, 20], [LONG, "box {}"]))
def test_names_stand_inside_their_boxes(count: int, name: str) -> None:
    figure, (axes,) = drawn(report(rows_of(count, name), width="7 cm"))
    boxes, names = patches(axes, "box"), texts(axes, "name of a box")
    assert len(boxes) == len(names) == count
    for outline, text in zip(boxes, names, strict=True):
        frame, said = outline.get_window_extent(renderer(figure)), extent(text, figure)
        assert frame.x0 <= said.x0
        assert said.x1 <= frame.x1
        assert frame.y0 <= said.y0
        assert said.y1 <= frame.y1
    page = figure.bbox
    for text in axes.texts:
        assert page.contains(*extent(text, figure).min)
        assert page.contains(*extent(text, figure).max)
    for one, other in combinations(texts(axes, "number of a cable"), 2):
        assert not extent(one, figure).overlaps(extent(other, figure))


@pytest.mark.parametrize("size", some([(8.0, 8.0), (16.0, 13.0), (40.0, 20.0)], 2))
def test_it_is_to_scale(size: tuple[float, float]) -> None:
    """A centimetre is as long across as along, and the bar is as long as it says."""
    figure, (axes,) = drawn(report(ROWS), size=size)
    figure.draw_without_rendering()
    (board,) = patches(axes, "board")
    frame = board.get_window_extent(renderer(figure))
    assert frame.width / frame.height == pytest.approx(60 / 32)
    (bar,) = (line for line in axes.lines if line.get_gid() == "scale")
    ends = axes.transData.transform(bar.get_xydata())  # type: ignore[arg-type]
    said = next(text.get_text() for text in texts(axes, "scale"))
    assert said.endswith("cm")
    length = float(said.split()[0].split("\u00a0")[0])
    assert ends[1][0] - ends[0][0] == pytest.approx(frame.width * length / 60)
    (tuner,) = (p for p in patches(axes, "box") if p.get_x() == pytest.approx(0.36))
    assert tuner.get_width() == pytest.approx(0.08)
    (edge,) = texts(axes, "near edge")
    assert "you stand here" in edge.get_text()
    assert extent(edge, figure).y1 < frame.y0
    (scale,) = texts(axes, "scale")
    assert extent(edge, figure).x1 < extent(scale, figure).x0


def test_each_cable_has_its_number_and_the_legend_is_about_what_is_there() -> None:
    rig = report(ROWS)
    figure, (axes,) = drawn(rig)
    assert [text.get_text() for text in texts(axes, "number of a cable")] == [
        str(one.link.number) for one in rig.runs
    ]
    (legend,) = figure.legends
    said = " ".join(text.get_text() for text in legend.get_texts())
    assert "number on the wiring sheet" in said
    assert "stands in another" not in said
    assert len([line for line in axes.lines if line.get_gid() == "cable"]) == 6
    assert len([line for line in axes.lines if line.get_gid() == "lead"]) == 2


def test_no_number_stands_on_the_words_at_the_near_edge() -> None:
    """From the left of a deep box to the right of its neighbour a cable goes under both."""
    chain = box("echo", depth="25 cm") + box("fuzz")
    board = parse_board(laid_out([["echo", "fuzz"]], chain, sold=""), lacking=True)
    figure, (axes,) = drawn(report_of(board))
    said = [extent(text, figure) for text in texts(axes, "near edge")]
    numbers = [extent(text, figure) for text in texts(axes, "number of a cable")]
    assert any(number.y1 < axes.transData.transform((0.0, 0.0))[1] for number in numbers)
    assert not [n for n in numbers for s in said if n.overlaps(s)]


def test_many_boards_stand_in_columns_and_rows_with_their_titles_apart() -> None:
    figure, every = drawn(*[report(rows_of(4)) for _ in range(6)])
    shown = [child for axes in every for child in axes.get_children() if isinstance(child, Text)]
    titles = [extent(text, figure) for text in shown if text.get_text() == "Rig"]
    assert len(titles) == 6
    assert len({round(axes.get_position().x0, 3) for axes in every}) in (2, 3)
    assert not [1 for one, other in combinations(titles, 2) if one.overlaps(other)]


def test_the_jacks_of_a_box_with_loops_are_told_apart() -> None:
    """Sends and returns stand from right to left in the order of the loops, send before return."""
    loops = "".join(
        f'[[chain]]\nloop = "{name}"\n' + box(inside).replace("[[chain]]", "[[chain.inside]]")
        for name, inside in (("dirt", "fuzz"), ("swirl", "chorus"))
    )
    more = '[boxes.switch]\nwidth = "20 cm"\ndepth = "8 cm"\nloops = ["dirt", "swirl"]\n'
    rows = [["chorus", "fuzz"], ["echo", "switch", "tuner"]]
    text = laid_out(rows, box("tuner") + loops + box("echo"), sold="", more=more)
    figure, (axes,) = drawn(report_of(parse_board(text, lacking=True)))
    marks = texts(axes, "letters of a jack")
    back = [one for one in marks if one.get_text() not in ("in", "out")]
    across = sorted(back, key=lambda one: -one.get_position()[0])
    assert [one.get_text() for one in across] == ["S1", "R1", "S2", "R2"]
    assert sorted(one.get_text() for one in marks)[-2:] == ["in", "out"]
    (name,) = (one for one in texts(axes, "name of a box") if one.get_text() == "switch")
    shown = [*marks, name]
    for one, other in combinations(shown, 2):
        assert not extent(one, figure).overlaps(extent(other, figure))
    (legend,) = figure.legends
    said = " ".join(text.get_text() for text in legend.get_texts())
    assert "S1 and R1 of dirt, S2 and R2 of swirl" in said


def test_what_stands_wrongly_is_marked_and_its_name_beside_the_other() -> None:
    over = box("swell", 'place = ["55 cm", "20 cm"]\n') + box(
        "wheel", 'place = ["37 cm", "8 cm"]\n'
    )
    chain = "".join(map(box, ("tuner", "fuzz"))) + over
    rig = report_of(parse_board(laid_out([["fuzz", "tuner"]], chain, sold=""), lacking=True))
    figure, (axes,) = drawn(rig)
    wrong = [p for p in patches(axes, "box") if p.get_linestyle() not in ("-", "solid")]
    assert len(wrong) == len({name for pair in rig.standing[0].overlaps for name in pair}) + 1
    names = texts(axes, "name of a box")
    for one, other in combinations(names, 2):
        assert not extent(one, figure).overlaps(extent(other, figure))
    (legend,) = figure.legends
    assert any("over the edge" in text.get_text() for text in legend.get_texts())


def test_what_is_proposed_stands_beside_what_is() -> None:
    now = report(ROWS)
    (own,) = now.standing
    other = report([[*NAMES[4:]], [*NAMES[:4]]])
    figure = style.new_figure()
    first, second = draw_layout(figure, [now], [Proposal(now, other, exact=True)])
    assert first.get_title(loc="left").startswith("now")
    assert second.get_title(loc="left").startswith("proposed")
    widths = [
        patches(axes, "board")[0].get_window_extent(renderer(figure)).width
        for axes in (first, second)
    ]
    assert widths[0] == pytest.approx(widths[1])
    assert len(draw_layout(style.new_figure(), [now], [Proposal(now, None, exact=True)])) == 1
    two = replace(now, standing=(own, replace(own, file="deck.toml", loop="send")))
    titles = [axes.get_title(loc="left") for axes in drawn(two)[1]]
    assert titles == ["this board", "in 'send': deck.toml"]


def test_it_says_in_words_what_it_shows() -> None:
    said = drawing([report(ROWS)], [])
    assert said.alternative.endswith(said.title)
    assert "to scale" in said.alternative

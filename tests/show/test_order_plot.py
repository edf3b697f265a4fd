"""The plot of an order: cables to scale, what moves is marked, nothing over the edge."""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from sigsim.board.reader import parse_board
from sigsim.decide.order.question import Found, Order, Ordered
from sigsim.decide.order.report import OrderReport, order_report
from sigsim.decide.order.rules import question
from sigsim.show.plots import style
from sigsim.show.plots.order import draw_order, drawing
from sigsim.show.plots.wrap import renderer

HEAD = """title = "A rig"
[instrument]
part = "bass-split-coil"
[destination]
part = "solid-state-amplifier-input"
[cables.a]
part = "cable-standard"
[wiring]
cable = "a"
length = "50 cm"
"""
CABLE = '[[chain]]\ncable = "a"\nlength = "{}"\n'
LOOP = '[[chain]]\nloop = "{}"\n[[chain.inside]]\nstage = "in {}"\npart = "pedal-true-bypass"\n'
TAP = '[[chain]]\ntap = "out"\ncable = "a"\nlength = "1 m"\n'
LONG = "a name of a pedal that does not come to an end before the page does, {}"


def report_of(boxes: list[str], order: Order, more: str = "") -> OrderReport:
    """Return a report that advises an order of boxes between a lead of 4 m and one of 6 m."""
    text = HEAD + CABLE.format("4 m") + "".join(boxes) + more + CABLE.format("6 m")
    asked = question(parse_board(text))
    now = Ordered(tuple(range(len(asked.boxes))), 6.0, (), 0, 0)
    best = Ordered(order, 2.0, (), 0, 1)
    found = Found(now, (best,), None, {}, True, True, 2.0, 9, ())
    return order_report(asked, lambda: found, lambda: False)


def stages(count: int, name: str = "box {}") -> list[str]:
    part = 'part = "pedal-true-bypass"\n'
    return [f'[[chain]]\nstage = "{name.format(i)}"\n{part}' for i in range(count)]


def last_first(count: int) -> Order:
    return (count - 1, *range(count - 1))


def drawn(report: OrderReport, size: tuple[float, float] = (12.0, 9.0)) -> tuple[Figure, Axes]:
    figure = style.new_figure(*size)
    return figure, draw_order(figure, report)


def outlines(axes: Axes, gid: str = "box") -> list[Rectangle]:
    return [p for p in axes.patches if isinstance(p, Rectangle) and p.get_gid() == gid]


def lengths(axes: Axes, gid: str) -> list[float]:
    found = (line.get_xdata() for line in axes.lines if line.get_gid() == gid)
    return [float(ends[1]) - float(ends[0]) for ends in found]  # type: ignore[index,arg-type]


def names(axes: Axes) -> list[Text]:
    return [text for text in axes.texts if text.get_gid() == "name of a box"]


def extent(text: Text, figure: Figure) -> Bbox:
    return text.get_window_extent(renderer(figure))


@pytest.mark.parametrize("count", [3, 8, 20])
def test_cables_are_to_scale_and_boxes_alike(count: int) -> None:
    _, axes = drawn(report_of(stages(count), last_first(count)))
    line = [4.0, *[0.5] * (count - 1), 6.0]
    assert lengths(axes, "cable") == pytest.approx([*line, *line])
    assert len(outlines(axes)) == 2 * count
    assert len({round(box.get_width(), 9) for box in outlines(axes)}) == 1
    (scale,) = lengths(axes, "scale")
    assert f"{scale:g} m" in {text.get_text() for text in axes.texts}


def test_what_moves_is_marked_in_both_lines_and_led_from_one_to_the_other() -> None:
    _, axes = drawn(report_of(stages(4), (3, 0, 1, 2)))
    thick = max(box.get_linewidth() for box in outlines(axes))
    marked = [i for i, box in enumerate(outlines(axes)) if box.get_linewidth() == thick]
    assert marked == [3, 4]
    assert len([line for line in axes.lines if line.get_gid() == "move"]) == 1
    bold = [text.get_text() for text in names(axes) if text.get_fontweight() == "bold"]
    assert bold == ["box 3", "box 3"]
    said = [text.get_text() for text in axes.texts if text.get_gid() == "loss"]
    assert said == ["now: 6.0 dB (heavy)", "best: 2.0 dB (slight)"]


@pytest.mark.parametrize("size", [(12.0, 9.0), (8.0, 8.0)])
@pytest.mark.parametrize("count", [2, 8, 20, 64])
def test_names_stay_apart_and_on_the_page(count: int, size: tuple[float, float]) -> None:
    figure, axes = drawn(report_of(stages(count, LONG), last_first(count)), size)
    figure.draw_without_rendering()
    found = [extent(text, figure) for text in axes.texts]
    for place in found:
        assert -1 <= place.x0 <= place.x1 <= figure.bbox.width + 1
        assert -1 <= place.y0 <= place.y1 <= figure.bbox.height + 1
    shown = [extent(text, figure) for text in names(axes)]
    assert len(shown) >= 2
    assert not any(one.overlaps(other) for one, other in combinations(shown, 2))


def test_a_loop_is_one_box_and_a_tap_hangs_on_what_is_before_it() -> None:
    one, other = (LOOP.format(name, name) for name in ("left", "right"))
    _, axes = drawn(report_of([one, TAP, *stages(1), other], (2, 0, 1)))
    assert len(outlines(axes, "loop")) == 4
    ends = [line.get_xdata()[0] for line in axes.lines if line.get_gid() == "branch"]  # type: ignore[index]
    edges = [box.get_x() + box.get_width() for box in outlines(axes)]
    assert ends == pytest.approx([edges[0], edges[4]])


def test_an_order_that_is_fine_is_drawn_alone() -> None:
    report = report_of(stages(3), (0, 1, 2))
    asked = report.question
    now = Ordered((0, 1, 2), 6.0, (), 0, 0)
    found = Found(now, (now,), None, {}, True, True, 6.0, 6, ())
    _, axes = drawn(order_report(asked, lambda: found, lambda: False))
    assert len(outlines(axes)) == 3
    lefts = [box.get_x() for box in outlines(axes)]
    assert all(a < b for a, b in pairwise(lefts))
    assert drawing(report).title.startswith("The worst treble loss is 6.0 dB (heavy) as it is")

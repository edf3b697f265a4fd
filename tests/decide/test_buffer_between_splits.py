"""Boxes before, between and behind splits that follow one another, with wiring."""

from __future__ import annotations

import pytest
from helpers.all_states import every_loss, many_stages

from sigsim.board.reader import parse_board
from sigsim.decide.buffer.report import buffer_report, with_buffers
from sigsim.items.stage import ActiveStage

BOX = ActiveStage(stage="box", input_resistance=1e6, output_resistance=100.0, always_on=True)
SPLIT = """
[[chain]]
split = "{name}"
destination = {{ input_resistance = "{load}" }}
"""
# Logarithms of products in another order.
ROUNDING_DB = 1e-9


@pytest.mark.parametrize("count", [1, 2, 3])
def test_each_placement_is_what_the_boxes_do(count: int) -> None:
    splits = SPLIT.format(name="one", load="35k") + SPLIT.format(name="two", load="1M")
    ends, *stages = many_stages(2).split("[[chain]]\nstage")
    behind = "".join(f"[[chain]]\nstage{stage}" for stage in stages)
    report = buffer_report(parse_board(ends + splits + behind), BOX, count)
    assert report.placements
    for placement in report.placements:
        losses = every_loss(with_buffers(report, placement), "ideal")
        assert placement.loss == pytest.approx(max(losses.values()), abs=ROUNDING_DB)


@pytest.mark.parametrize("between", ["split", "tap"])
def test_boxes_with_only_a_split_or_a_tap_between_are_wired_to_one_another(between: str) -> None:
    """Neither box alone has wiring before or behind it there: a cable is next to each."""
    things = {
        "split": SPLIT.format(name="one", load="35k"),
        "tap": '[[chain]]\ntap = "t"\ncable = "lead"\nlength = "1 m"\nopen = true\n',
    }
    text = many_stages(0).replace('length = "30 cm"', 'length = "9 m"') + things[between]
    text += '[[chain]]\ncable = "lead"\nlength = "2 m"\n'
    report = buffer_report(parse_board(text), BOX, 2)
    assert report.placements
    for placement in report.placements:
        losses = every_loss(with_buffers(report, placement), "ideal")
        assert placement.loss == pytest.approx(max(losses.values()), abs=ROUNDING_DB)

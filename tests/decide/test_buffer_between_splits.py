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

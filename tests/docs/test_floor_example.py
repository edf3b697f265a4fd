"""What the board on the floor says: runs, lengths to buy, other rows, supplies and hours."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import pytest
from helpers.program import EXAMPLES

from sigsim.board.changes import Changes
from sigsim.board.part_stage import powered_part
from sigsim.board.reader import parse_board, read_board
from sigsim.board.state import ALL_OFF
from sigsim.decide.blame.report import blame_worst
from sigsim.decide.buffer.report import buffer_report
from sigsim.decide.layout.proposal import proposal
from sigsim.decide.layout.report import layout_report
from sigsim.decide.layout.shopping import shopping
from sigsim.decide.loss.report import loss_report
from sigsim.decide.power.report import power_report
from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from sigsim.board.model import Board

FLOOR = EXAMPLES / "ferry-floor.toml"
TEXT = FLOOR.read_text(encoding="utf-8")
SHORTER = "shorter-runs"
# Figures in the comments are rounded to one place, so half of it.
ROUNDED = 0.05


def board(*variants: str, values: tuple[str, ...] = ()) -> Board:
    return read_board(FLOOR, Changes(variants, values))


def worst(board: Board) -> float:
    return loss_report(board, board.named_states()).worst.treble_loss


def bought(board: Board) -> list[float]:
    """Return the lengths of all patch cables to buy."""
    (patch,) = (one for one in shopping([layout_report(board)]) if one.cable == "patch")
    assert not patch.lacking
    return patch.lengths


def test_lengths_follow_from_where_the_boxes_stand() -> None:
    report = layout_report(board())
    laid = [one for one in report.runs if one.run is not None]
    assert len(laid) == 9
    assert report.total == pytest.approx(2.8, abs=ROUNDED)
    assert not report.lacking
    assert not report.short
    assert not any(one.tight for one in report.runs)
    assert not any(one.overlaps or one.overhangs for one in report.standing)
    assert sum(bought(board())) == pytest.approx(3.3, abs=ROUNDED)
    assert Counter(bought(board())) == {0.15: 1, 0.3: 3, 0.45: 5}


def test_the_variant_has_the_rows_that_are_proposed() -> None:
    found = proposal(layout_report(board()), 60, lambda: False, lambda: False)
    assert found.exact
    shorter = board(SHORTER)
    assert shorter.laying is not None
    assert found.rows == shorter.laying.layout.rows
    assert layout_report(shorter).total == pytest.approx(1.3, abs=ROUNDED)
    assert sum(bought(shorter)) == pytest.approx(2.1, abs=ROUNDED)


def test_centimetres_matter_little_beside_the_leads() -> None:
    now = worst(board())
    assert now == pytest.approx(9.3, abs=ROUNDED)
    assert worst(board(SHORTER)) == pytest.approx(8.7, abs=ROUNDED)
    assert TEXT.count('length = "9 m"') == 1
    half = parse_board(TEXT.replace('length = "9 m"', 'length = "4.5 m"'))
    assert now - worst(half) == pytest.approx(2.0, abs=2 * ROUNDED)
    assert worst(board(values=("wiring.length=0 m",))) == pytest.approx(7.6, abs=ROUNDED)
    most = blame_worst(board()).items[0]
    assert (most.cable, round(most.saved, 1)) == ("lead", 4.4)
    part = powered_part("buffer-opamp", "buffer")
    advised = [buffer_report(b, part).advised for b in (board(), board(SHORTER))]
    with_buffer = [one.loss for one in advised if one is not None]
    assert now - with_buffer[0] == pytest.approx(7.4, abs=2 * ROUNDED)
    assert with_buffer[0] - with_buffer[1] == pytest.approx(0.3, abs=2 * ROUNDED)


def test_what_is_too_far_is_named() -> None:
    fewer = layout_report(_lacking(TEXT.replace(', "45 cm", "60 cm"]', "]", 1)))
    assert [one.link.number for one in fewer.lacking] == [2, 4, 6, 8, 10]
    assert TEXT.count("# [variants.on-a-chair]\n# ") == 1
    chair = TEXT.replace("# [variants.on-a-chair]\n# ", "[variants.on-a-chair]\n")
    far = layout_report(_lacking(chair, "on-a-chair"))
    assert [one.link.connection.end.name for one in far.lacking] == ["last dance preamp"]
    assert [over.name for one in far.standing for over in one.overhangs] == ["last dance preamp"]
    with pytest.raises(SigsimError, match="last dance preamp"):
        parse_board(chair, changes=Changes(("on-a-chair",)))
    tight = layout_report(parse_board(TEXT.replace('gap = "2 cm"', 'gap = "5 mm"')))
    assert tight.total < layout_report(board()).total
    assert sum(bool(one.tight) for one in tight.runs) > 5


def _lacking(text: str, *variants: str) -> Board:
    return parse_board(text, changes=Changes(variants), lacking=True)


def test_every_pedal_has_its_output() -> None:
    report = power_report(board())
    assert report.proven
    assert not report.missing
    assert not report.unknown
    assert report.placed["last dance preamp"] == "crate 5"
    (preamp,) = (one for one in report.loads if one.outlet.name == "crate 5")
    assert preamp.voltage == 18
    turned = [one for one in report.loads if one.turned]
    assert [one.turned for one in turned] == [("bilge fuzz",)]
    assert len(turned[0].drains) == 1
    assert [one.outlet.name for one in report.shared] == ["pack 1"]
    (joined,) = report.joined
    assert "switcher" in joined.names
    assert len(joined.names) == 3


def test_the_pack_lasts_longer_through_a_quiet_waltz() -> None:
    """10 Ah at 3.7 V through a converter of 85 % into 9 V, by Wh over W."""
    (pack,) = power_report(board()).hours
    energy = 10 * 3.7 * 0.85
    assert pack.everything is not None
    assert pack.everything.high == pytest.approx(energy / (9 * (0.180 + 0.085 + 0.110)), rel=1e-9)
    scenes = {name: hours.high for name, hours in pack.scenes.items() if hours is not None}
    assert scenes["quiet waltz"] == pytest.approx(energy / (9 * (0.180 + 0.030 + 0.040)), rel=1e-9)
    assert (round(pack.everything.high), round(scenes["quiet waltz"])) == (9, 14)


def test_a_broken_output_leaves_one_pedal_silent() -> None:
    report = power_report(board("high-output-dead"))
    (preamp,) = report.missing
    assert (preamp.drain.name, preamp.obstacle) == ("last dance preamp", "voltage")
    assert [(one.voltage, one.current.high) for one in report.wanted] == [(18, 0.07)]
    (turned,) = power_report(board(values=("supplies.crate.isolated=false",))).missing
    assert (turned.drain.name, turned.obstacle) == ("bilge fuzz", "polarity")


def test_all_off_is_not_the_worst() -> None:
    found = loss_report(board(), board().named_states())
    off = next(one for one in found.states if one.state.name == ALL_OFF)
    assert off.treble_loss < found.worst.treble_loss - 2
    assert set(found.worst.state.on) == {"grit", "tide"}

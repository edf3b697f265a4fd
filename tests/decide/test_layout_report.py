"""Runs against the lengths that boards have, numbers against the sheet, shopping against all."""

from __future__ import annotations

import random
from itertools import product

import pytest
from helpers.laid_boards import laid_board
from helpers.thinned import tries
from helpers.variants import text

from sigsim.board.reader import parse_board
from sigsim.decide.layout.report import laid_out
from sigsim.decide.layout.shopping import bought, shopping
from sigsim.decide.sheet import sheet


@pytest.mark.parametrize("seed", range(tries(6, 100)))
def test_every_cable_is_there_with_its_number_and_the_length_it_has(seed: int) -> None:
    """The sheet walks the wired chain: what it says of lengths came another way."""
    board = parse_board(text(laid_board(seed)), lacking=True)
    report = laid_out(board)
    wired = [c for c in sheet(board).connections if c.cable is not None]
    assert [one.link.number for one in report.runs] == [c.number for c in wired]
    assert [one.link.cable.cable for one in report.runs] == [c.cable for c in wired]
    assert len(report.lacking) == len(board.lacking)
    for one, connection in zip(report.runs, wired, strict=True):
        assert one.length in (None, connection.length)
        if one.way is not None and one.run is not None:
            assert one.run == pytest.approx(one.way.length + 0.013)
            assert one.link.from_file or one.length is None or one.length >= one.run - 1e-9
    own = report.own
    assert own is not None
    assert {run.link.number for run in own.between} == {
        one.link.number for one in report.runs if one.run is not None or one.why == "no way"
    }


@pytest.mark.parametrize("seed", range(tries(20, 400)))
def test_ready_made_lengths_are_the_cheapest_that_reach(seed: int) -> None:
    """Against every choice of one length for each piece, in whole centimetres."""
    chance = random.Random(seed)
    sold = sorted(chance.sample(range(5, 60, 5), chance.randint(1, 3)))
    pieces = [chance.randint(1, 60) for _ in range(chance.randint(1, 5))]
    reached = [p for p in pieces if p <= max(sold)]
    choices = [
        choice
        for choice in product(sold, repeat=len(reached))
        if all(length >= piece for length, piece in zip(choice, reached, strict=True))
    ]
    best = min(choices, key=sum)
    found = bought([p / 100 for p in pieces], [s / 100 for s in sold])
    beyond = sorted(p / 100 for p in pieces if p > max(sold))
    wanted = sorted([length / 100 for length in best] + beyond)
    assert [length for length, number in found.counted for _ in range(number)] == wanted
    assert list(found.beyond) == sorted(set(beyond))
    assert found.many == len(pieces)
    for length, stock in found.longer:
        assert round(100 * length) not in sold
        assert stock > length


def test_boards_with_one_kind_of_cable_share_it_and_others_do_not() -> None:
    tables = [laid_board(3) for _ in range(3)]
    tables[1]["cables"]["patch"] |= {"capacitance": "90 pF/m"}
    tables[2]["cables"]["patch"]["sold"] = [0.2, 4.0]
    tables[0]["cables"]["patch"].pop("sold", None)
    tables[1]["cables"]["patch"].pop("sold", None)
    reports = [laid_out(parse_board(text(table), f"{i}.toml")) for i, table in enumerate(tables)]
    stocks = shopping(reports)
    patches = [stock for stock in stocks if stock.cable == "patch"]
    assert [stock.boards for stock in patches] == [["0.toml"], ["1.toml"], ["2.toml"]]
    (lead,) = (stock for stock in stocks if stock.cable == "lead")
    assert lead.boards == ["0.toml", "1.toml", "2.toml"]
    assert sum(len(stock.lengths) for stock in stocks) == sum(len(one.runs) for one in reports)

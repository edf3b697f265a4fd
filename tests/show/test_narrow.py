"""Under 80 columns tables leave out their least important columns, and say which."""

from __future__ import annotations

from functools import cache
from itertools import product

import pytest
from helpers.in_process import sigsim_here
from helpers.program import EXAMPLES
from helpers.thinned import crossed
from rich.cells import cell_len

from sigsim.show import loss, states
from sigsim.show.document import Column, Document, Table
from sigsim.show.kinds import LOSS, NAME, WORD
from sigsim.show.render.terminal import print_document

BASS = EXAMPLES / "ferry-bass.toml"
SAID = "left out for want of room:"
TABLE = Table(
    "",
    (
        Column("What", NAME),
        Column("1k", LOSS, rank=9),
        Column("Treble", LOSS, rank=0),
        Column("", WORD, "In a word", rank=1),
    ),
    (("storm at sea", 1.0, 8.8, "heavy"), ("calm", 2.0, 0.1, "negligible")),
)


def printed(width: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> str:
    monkeypatch.setenv("COLUMNS", width)
    print_document(Document("t", (TABLE,)))
    return capsys.readouterr().out


def test_the_highest_rank_goes_first_and_rank_0_never(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert SAID not in printed("80", monkeypatch, capsys)
    assert f"{SAID} 1k\n" in printed("31", monkeypatch, capsys)
    narrow = printed("20", monkeypatch, capsys)
    assert "1k, in a word" in " ".join(narrow.split())
    assert "8.8" in narrow
    assert "storm" in narrow


@pytest.mark.parametrize("width", ["", "0", "-3", "many", "200"])
def test_what_is_no_width_is_80(
    width: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert printed(width, monkeypatch, capsys) == printed("80", monkeypatch, capsys)


COMMANDS = ["loss", "states", "buffer", "order", "cables", "blame", "noise", "check"]


@cache
def wide_words(command: str) -> list[str]:
    return sigsim_here(command, BASS).out.split()


@pytest.mark.parametrize(
    ("command", "width"),
    dict.fromkeys([*product(COMMANDS, [20]), *crossed(COMMANDS, [60, 40])]),
)
def test_no_line_is_wider_than_the_terminal(
    command: str, width: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    wide = wide_words(command)
    monkeypatch.setenv("COLUMNS", str(width))
    run = sigsim_here(command, BASS)
    assert (run.status, run.err) == (0, "")
    assert max(map(cell_len, run.out.splitlines())) <= width
    # What is printed in words of more room is broken nowhere; only what is longer than a line.
    broken = {w for w in run.out.split() if w not in wide and len(w) < width // 3}
    said = set(" ".join(run.out.split()).split(SAID, 1)[-1].replace(",", " ").split())
    # A name that is longer than half a line may be, behind its hyphen or wherever it must.
    long = [word for word in wide if len(word) > width // 2]
    broken = {w for w in broken if not any(w in word for word in long)}
    assert not {w for w in broken - said - set(SAID.split()) if w.isalpha() and len(w) > 3}


def test_treble_and_names_stay() -> None:
    for columns in (loss._COLUMNS, states._RANKED):
        ranks = {column.heading: column.rank for column in columns}
        assert ranks["Treble"] == 0
        assert min(rank for rank in ranks.values() if rank) > 0

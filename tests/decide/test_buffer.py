"""Buffer placement is exact, keeps to what the stages want, and can be written into the file."""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from helpers.all_states import every_loss, many_stages
from helpers.boards import Table, boards, ends, flat, switches, to_toml
from helpers.in_process import sigsim_here as sigsim
from helpers.program import EXAMPLES
from helpers.refusals import assert_refused
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings

from sigsim.board import edit_file
from sigsim.board.edit import inserted
from sigsim.board.reader import parse_board, read_board
from sigsim.decide.buffer.gaps import gaps
from sigsim.decide.buffer.instead import instead_of_buffer
from sigsim.decide.buffer.report import buffer_report, with_buffers
from sigsim.decide.buffer.views import ALL_STATES, scene_views
from sigsim.decide.noise import a_weighted_noise
from sigsim.items.stage import ActiveStage
from sigsim.states.response import response
from sigsim.states.search import worst

BASS = EXAMPLES / "ferry-bass.toml"
# Sums of segments against one logarithm of the whole: rounding.
ROUNDING_DB = 1e-8
BUFFER = ActiveStage(
    stage="buffer", input_resistance=1e6, input_capacitance=20e-12, output_resistance=220.0,
    input_capacitor=47e-9, output_capacitor=10e-6, always_on=True,
)  # fmt: skip
# The same, as a table of a board file.
BOX: Table = {
    "stage": "buffer", "input_resistance": 1e6, "input_capacitance": 20e-12,
    "output_resistance": 220.0, "input_capacitor": 47e-9, "output_capacitor": 10e-6,
    "always_on": True,
}  # fmt: skip
# 1 TΩ is the most a board file accepts as an input; nothing here is within a million of it.
IDEAL = ActiveStage(stage="buffer", input_resistance=1e12, output_resistance=0.0, always_on=True)


@settings(max_examples=tries(24, 60))
@seed(51)
@given(boards())
def test_every_placement_is_the_worst_over_every_state(table: Table) -> None:
    """Brute force: the buffer put in, the board wired again, every state solved."""
    assume(len(switches(table)) <= 4)
    heard = [parse_board(to_toml(table)).heard_at(at) for at in ends(table)]
    heard = [board for board in heard if math.isfinite(worst(board).value)]
    assume(heard)
    for board in heard:
        report = buffer_report(board, BUFFER, 1, ignore_pickup=True)
        for placement in report.placements:
            losses = every_loss(with_buffers(report, placement), "ideal")
            expected = max(losses.values(), default=math.nan)
            if math.isfinite(expected):
                assert placement.loss == pytest.approx(expected, abs=ROUNDING_DB)
        ranked = [p.loss for p in report.placements if math.isfinite(p.loss)]
        assert ranked == sorted(ranked)


@settings(max_examples=tries(24, 60))
@seed(53)
@given(boards())
def test_every_place_off_the_way_is_that_of_the_edited_file(table: Table) -> None:
    """The buffer written into the loop or split of the file, it read, every state solved."""
    assume(len(switches(table)) <= 4)
    heard = [parse_board(to_toml(table)).heard_at(at) for at in ends(table)]
    heard = [board for board in heard if math.isfinite(worst(board).value)]
    assume(heard)
    for board in heard:
        report = buffer_report(board, BUFFER, 1, ignore_pickup=True)
        found = [p.gaps[0].place for p in (*report.placements, *report.inside)]
        lead = _lead(table["chain"], board.at) or (-1,)
        wanted = [p for p in _places(table["chain"], board.at) if p > lead]
        assert sorted(found) == sorted(wanted)
        for placement in report.inside:
            *way, index = placement.gaps[0].place
            items = table["chain"]
            for number in way:
                items = items[number]["inside"]
            items.insert(index, BOX)
            losses = every_loss(parse_board(to_toml(table)).heard_at(board.at), "ideal")
            del items[index]
            expected = max(losses.values(), default=math.nan)
            assert placement.loss == pytest.approx(expected, abs=ROUNDING_DB, nan_ok=True)


def _places(
    items: list[Table], at: str, above: tuple[int, ...] = (), *, in_loop: bool = False
) -> Iterator[tuple[int, ...]]:
    """Yield every place of a box: in a loop anywhere, else where something leads on behind it."""
    for index in range(len(items) + 1):
        if in_loop or any(_leads_on(item, at) for item in items[index:]):
            yield (*above, index)
    for index, item in enumerate(items):
        yield from (
            _places(item["inside"], at, (*above, index), in_loop="loop" in item)
            if "inside" in item
            else ()
        )


def _leads_on(item: Table, at: str) -> bool:
    if "split" not in item:
        return "tap" not in item
    to_end = any(inner.get("split") == at for inner in flat([item]))
    return to_end and any(_leads_on(inner, at) for inner in item["inside"])


def _lead(items: list[Table], at: str) -> tuple[int, ...] | None:
    """Return the place of the first thing on the way to an end, if it is a cable."""
    for index, item in enumerate(items):
        if "split" in item:
            if at and any(inner.get("split") == at for inner in flat([item])):
                below = _lead(item["inside"], "" if item["split"] == at else at)
                return None if below is None else (index, *below)
        elif "tap" not in item:
            return (index,) if "cable" in item else None
    return None


INSIDE = """
[instrument]
resistance = "9k"
inductance = "5 H"
[destination]
input_resistance = "1M"
[cables.lead]
capacitance = "100 pF/m"
[[chain]]
cable = "lead"
length = "1 m"
[[chain]]
loop = "two"
[[chain.inside]]
stage = "x"
input_resistance = "1M"
output_resistance = "1k"
bypass = "true"
needs_pickup = true
[[chain.inside]]
cable = "lead"
length = "9 m"
"""


def test_a_place_inside_a_loop_is_said_where_it_does_better(tmp_path: Path) -> None:
    board = tmp_path / "b.toml"
    board.write_text(INSIDE)
    run = sigsim("buffer", board)
    said = " ".join(run.out.split())
    assert said.startswith("There is no place for one buffer outside the loops: the worst ")
    assert "One inside 'two', after 'x' leaves 0.0 dB (negligible)." in said
    found = json.loads(sigsim("buffer", board, "--json").out)
    assert found["inside_loops"][0]["loop"] == "two"
    assert {"inside 'two', before 'x'"} < {refused["place"] for refused in found["refused"]}


@pytest.mark.parametrize("count", [2, 3])
def test_pairs_and_triples(count: int) -> None:
    board = read_board(EXAMPLES / "ferry-guitar-two-boards.toml")
    report = buffer_report(board, BUFFER, count)
    allowed = [gap for gap in gaps(board)[:-1] if gap.forbidden_by is None]
    assert len(report.placements) == len(list(combinations(allowed, count)))
    for placement in (*report.placements[:4], report.placements[-1]):
        found = worst(with_buffers(report, placement))
        assert placement.loss == pytest.approx(found.value, abs=ROUNDING_DB)


def test_scenes_and_weights() -> None:
    board = read_board(BASS)
    views = scene_views(board, {"storm": 3.0})
    report = buffer_report(board, BUFFER, 1, views)
    boxed = with_buffers(report, report.placements[0])
    expected = 0.0
    for view in views:
        r = response(boxed, board.scene(view.name).on)
        # IEC 61260-1 centres, 2 kHz to 8 kHz, and 100 Hz.
        f = np.append(1000 * 10 ** (np.arange(3, 10) / 10), 100.0)
        r = response(boxed, board.scene(view.name).on, f)
        expected += view.weight * float(np.mean(r.loss_db[:-1]) - r.loss_db[-1])
    expected /= sum(view.weight for view in views)
    assert report.placements[0].loss == pytest.approx(expected, abs=ROUNDING_DB)


RESISTIVE = """
[instrument]
resistance = "{source}"
[destination]
input_resistance = "1 MΩ"
input_capacitance = "100 pF"
[cables.lead]
capacitance = "100 pF/m"
[wiring]
cable = "lead"
length = "1 m"
[[chain]]
cable = "lead"
length = "5 m"
"""
STAGE = '[[chain]]\nstage = "s{i}"\npart = "pedal-true-bypass"\n'


@pytest.mark.parametrize("source", ["1 kΩ", "20 kΩ", "200 kΩ"])
def test_with_a_resistive_source_an_ideal_buffer_never_costs_anything(source: str) -> None:
    """Textbook: an R-C ladder loses at each frequency at least what its two halves lose apart."""
    board = parse_board(
        RESISTIVE.format(source=source) + "".join(STAGE.format(i=i) for i in range(4))
    )
    f = np.geomspace(20, 20e3, 60)
    before = response(board, (), f).gain_db
    for gap in gaps(board):
        after = response(inserted(board, gap.place, IDEAL), (), f).gain_db
        assert np.all(after >= before - 1e-9)  # rounding


def test_with_a_coil_a_buffer_may_do_harm_and_the_words_say_so() -> None:
    run = sigsim("buffer", BASS)
    assert "+0." in run.out.split("Refused")[0]
    report = buffer_report(read_board(BASS), IDEAL)
    assert any(p.loss > report.now for p in report.placements) or report.own_cost < 0


@settings(max_examples=tries(16, 40))
@seed(52)
@given(boards())
def test_two_buffers_stand_in_two_gaps_and_their_best_is_what_one_buffer_is_told(
    table: Table,
) -> None:
    """Two in one gap are one for the sound; the best pair is the same whoever asks for it."""
    board = replace(parse_board(to_toml(table)), scenes={}).heard_at(ends(table)[-1])
    assume(len(gaps(board)) >= 2 and math.isfinite(worst(board).value))
    one, two = (buffer_report(board, IDEAL, n, ignore_pickup=True) for n in (1, 2))
    assert all(len(set(placement.gaps)) == 2 for placement in two.placements)
    assert (2 in one.best_by_count) == bool(two.placements)
    if two.placements:
        assert one.best_by_count[2] == pytest.approx(two.best_by_count[2], nan_ok=True)
    if two.placements and all(math.isfinite(p.loss) for p in two.placements):
        assert two.best_by_count[2] == two.placements[0].loss


def test_needs_pickup_is_respected() -> None:
    board = read_board(BASS)
    report = buffer_report(board, BUFFER)
    assert {gap.forbidden_by for gap in report.refused} == {"bilge fuzz"}
    fuzz = next(g.index for g in gaps(board) if getattr(g.after, "stage", "") == "bilge fuzz")
    assert all(gap.index >= fuzz for p in report.placements for gap in p.gaps)
    assert not buffer_report(board, BUFFER, ignore_pickup=True).refused


def test_a_stage_at_the_end_that_wants_the_pickup_refuses_all_before_it(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    text = BASS.read_text().split('[[chain]]\nstage = "engine room"')[0]
    board.write_text(text + '[[chain]]\nstage = "last"\npart = "fuzz-low-impedance"\n')
    report = json.loads(sigsim("buffer", board, "--count", 2, "--json").out)
    assert report["placements"] == []
    assert "There is no place for two buffers" in sigsim("buffer", board, "--count", 2).out
    assert {entry["because_of"] for entry in report["refused"]} == {"bilge fuzz", "last"}


def test_what_would_do_instead_is_true() -> None:
    board = read_board(EXAMPLES / "ferry-guitar-big.toml")
    changes = instead_of_buffer(board, [ALL_STATES])
    assert [c.loss for c in changes] == sorted(c.loss for c in changes)
    kinds = {c.change for c in changes}
    assert "buffered bypass" in kinds
    for change in changes:
        if change.change == "buffered bypass":
            stage = next(s for s in board.powered() if s.stage == change.stage)
            later = list(board.powered())
            later = later[later.index(stage) + 1 :]
            assert not any(other.needs_pickup for other in later)


def test_a_short_board_needs_no_buffer() -> None:
    run = sigsim("buffer", EXAMPLES / "ferry-bass-buffered.toml")
    report = json.loads(sigsim("buffer", EXAMPLES / "ferry-bass-buffered.toml", "--json").out)
    assert report["needed"] == ("a further buffer is not needed" not in " ".join(run.out.split()))


def test_json_and_the_written_file_agree_with_loss(tmp_path: Path) -> None:
    target = tmp_path / "buffered.toml"
    run = sigsim("buffer", BASS, "--count", 2, "--json", "--write", target)
    report = json.loads(run.out)
    best = report["placements"][0]
    assert len(best["places"]) == len(best["gaps"]) == 2
    loss = json.loads(sigsim("loss", target, "--json").out)["worst"]["treble_loss_db"]
    assert loss == pytest.approx(best["treble_loss_db"], abs=ROUNDING_DB)
    after = iter(target.read_text().splitlines())
    for line in BASS.read_text().splitlines():
        if not line.startswith("title = "):
            assert line in after, f"{line!r} is gone or has moved"
    names = [item.get("stage") for item in tomllib.loads(target.read_text())["chain"]]
    assert names.count("buffer") == names.count("buffer 2") == 1


@pytest.mark.parametrize("index", range(4))
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_insert_keeps_comments_with_what_they_belong_to(index: int, newline: str) -> None:
    text = (
        "title = '''\n[[chain]]\n'''\n# first\n[[chain]] # a\nstage = 'a'\n\n# about b\n"
        "[[chain]]\nloop = 'b'\n[[chain.inside]]\nstage = 'c'\n# about d\n[[chain]]\nstage = 'd'\n"
        "\n# the scenes\n[scenes]\nx = []\n"
    ).replace("\n", newline)
    made = edit_file.inserted(text, (index,), {"stage": 'new "x"'}, "note")
    chain = tomllib.loads(made)["chain"]
    assert [next(iter(item.values())) for item in chain].index('new "x"') == index
    kept = [line for line in made.splitlines() if line in text.splitlines()]
    assert [line for line in kept if line.startswith("#")] == [
        "# first", "# about b", "# about d", "# the scenes",
    ]  # fmt: skip


def test_insert_into_a_chain_in_one_line() -> None:
    text = "# c\nchain = [{stage = 'a'}, {stage = 'b'}] # d\n"
    made = edit_file.inserted(text, (1,), {"stage": "new"}, "note")
    assert [item["stage"] for item in tomllib.loads(made)["chain"]] == ["a", "new", "b"]
    assert "# c" in made
    assert "# d" in made


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--count", "4"], ["--count"]),
        (["--count", "0"], ["--count"]),
        (["--part", "buffer-opam"], ['did you mean "buffer-opamp"']),
        (["--part", "rg-58"], ["no powered stage"]),
        (["--part", "pad-passive"], ["no powered stage"]),
        (["--weight", "strom=3"], ['did you mean "storm"']),
        (["--weight", "storm"], ["accepted: storm=3"]),
        (["--weight", "storm=-1"], ["a weight is a number"]),
        (["--weight", "storm=x"], ["a weight is a number"]),
    ],
    ids=lambda value: " ".join(value),
)
def test_bad_options(arguments: list[str], words: list[str]) -> None:
    assert_refused(sigsim("buffer", BASS, *arguments), *words)


def test_the_noise_of_a_place_is_that_of_the_board_with_the_buffer_there(tmp_path: Path) -> None:
    target = tmp_path / "buffered.toml"
    report = json.loads(sigsim("buffer", BASS, "--json", "--top", 2, "--write", target).out)
    now, then = (a_weighted_noise(read_board(path), frozenset()) for path in (BASS, target))
    changes = [p["noise_change_db"] for p in report["placements"]]
    assert changes[0] == pytest.approx(then - now, abs=1e-9)
    assert changes[1] is not None
    assert changes[2:] == [None] * len(changes[2:])


def test_a_low_input_behind_no_wiring_is_named(tmp_path: Path) -> None:
    """A 10 kΩ input dulls a passive bass by itself (common practice, no source)."""
    board = tmp_path / "board.toml"
    board.write_text(
        '[instrument]\npart = "bass-split-coil"\n[destination]\npart = "line-input"\n'
        '[cables.lead]\npart = "cable-standard"\n[[chain]]\ncable = "lead"\nlength = "6 m"\n'
    )
    run = sigsim("buffer", board)
    assert "itself loads the instrument" in run.out
    assert "no buffer is needed" not in run.out
    assert json.loads(sigsim("buffer", board, "--json").out)["needed"]


def test_a_silent_board_and_a_huge_one_are_refused(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    board.write_text(BASS.read_text().replace("volume = 10", "volume = 0"))
    assert_refused(sigsim("buffer", board, "--plot", tmp_path / "p.png"), "nothing comes out")
    board.write_text(many_stages(310))
    assert_refused(sigsim("buffer", board), "too many gaps", "300")


def test_existing_files_are_kept(tmp_path: Path) -> None:
    taken = tmp_path / "taken.toml"
    taken.write_text("mine")
    assert_refused(sigsim("buffer", BASS, "--write", taken), "--force")
    assert taken.read_text() == "mine"


def test_twenty_stages_and_two_buffers_use_few_walks() -> None:
    report = buffer_report(parse_board(many_stages(20)), BUFFER, 2)
    assert len(report.placements) == 20 * 19 // 2


def test_plot(tmp_path: Path) -> None:
    for count in (1, 3):
        target = tmp_path / f"{count}.svg"
        run = sigsim("buffer", BASS, "--count", count, "--plot", target)
        assert run.status == 0, run.err
        assert target.stat().st_size > 5000

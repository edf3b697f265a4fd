"""Blame: each thing taken out and alone, against an independent solver and against itself."""

from __future__ import annotations

import copy
import json
import math
from pathlib import Path

import numpy as np
import pytest
from helpers.boards import Table, boards_in_a_state, to_toml
from helpers.in_process import sigsim_here as sigsim
from helpers.nodal import solve
from helpers.program import EXAMPLES
from helpers.refusals import ENDS, quick, refused
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings
from hypothesis import strategies as st

from sigsim import metrics
from sigsim.board.reader import parse_board, read_board
from sigsim.board.state import State
from sigsim.decide.blame.parts import GROUPS
from sigsim.decide.blame.report import Blame, BlameReport, blame_report, blame_worst
from sigsim.metrics import Basis
from sigsim.states.response import response

BASS = EXAMPLES / "ferry-bass.toml"
# The third-octave centres of the treble band, then 100 Hz.
TREBLE = np.append(metrics.third_octaves(*metrics.TREBLE_BAND), 100.0)
# The nodal solver's rounding on boards that mix milliohms with megohms.
NODAL_DB = 1e-6
# An input of 1 PΩ beside sources of at most megohms: the nodal solver's "loads nothing".
OPEN = 1e15
LISTED = ("items", "groups")


def treble(H: np.ndarray) -> float:
    gain = 20 * np.log10(np.abs(H))
    return float(np.mean(gain[:-1]) - gain[-1])


def flat(items: list[Table], on: frozenset[str]) -> list[Table]:
    """Return the chain of a state as one list: loops that are in give way to their contents."""
    met: list[Table] = []
    for item in items:
        if "loop" in item and item["loop"] in on:
            met += flat(item["inside"], on)
        elif "stage" in item and item.get("bypass") == "hardwire" and not is_on(item, on):
            bare = {k: v for k, v in item.items() if not k.startswith(("contact", "wiring"))}
            met += [bare, {**item, "stage": f"{item['stage']} switch", "bypass": "true"}]
        else:
            met.append(item)
    return met


def is_on(item: Table, on: frozenset[str]) -> bool:
    always = item.get("always_on", item.get("kind", "active") != "active")
    return always or item["stage"] in on


def made_ideal(chain: list[Table], which: set[int], on: frozenset[str]) -> list[Table]:
    """Return the chain with some of its items made ideal."""
    out = []
    for number, item in enumerate(chain):
        if number not in which:
            out.append(item)
        elif "stage" in item and item.get("kind", "active") == "active" and is_on(item, on):
            bare = {k: v for k, v in item.items() if not k.startswith("input_cap")}
            out.append({**bare, "input_resistance": OPEN})
    return out


@settings(max_examples=tries(24, 60))
@seed(61)
@given(boards_in_a_state())
def test_each_thing_agrees_with_an_independent_solver(
    case: tuple[Table, frozenset[str], str],
) -> None:
    """Items are taken out of the plain table, and all nodes solved at once."""
    table, on, _ = case
    table = {key: value for key, value in table.items() if key != "wiring"}
    board = parse_board(to_toml(table))
    report = blame_report(board, board.state(on))
    wanted = treble(solve(table, on, TREBLE, "ideal")) if audible(table, on) else math.nan
    assume(math.isfinite(wanted) and math.isfinite(report.state.treble_loss))
    chain = flat(table["chain"], on)
    things = in_order(report, len(chain) + 1)
    kept = {i for i, blame in enumerate(things) if blame.in_reference}
    every = set(range(len(things)))

    def loss(ideal: set[int]) -> float:
        changed = copy.copy(table)
        changed["chain"] = made_ideal(chain, ideal, on)
        if len(chain) in ideal:
            changed["destination"] = {}
        return wanted - treble(solve(changed, on, TREBLE))

    total = loss(set())
    assert report.state.treble_loss == pytest.approx(total, abs=NODAL_DB)
    for number, blame in enumerate(things):
        assert blame.without.treble_loss == pytest.approx(loss({number}), abs=NODAL_DB)
        assert blame.saved == pytest.approx(total - loss({number}), abs=NODAL_DB)
        alone = loss(every - kept - {number})
        assert blame.alone.treble_loss == pytest.approx(alone, abs=NODAL_DB)
        base = loss(every - (kept - {number}))
        assert blame.costs == pytest.approx(alone - base, abs=NODAL_DB)


def audible(table: Table, on: frozenset[str]) -> bool:
    return bool(np.abs(solve(table, on, TREBLE)).all())


def in_order(report: BlameReport, count: int) -> list[Blame]:
    """Return the blamed things in chain order, as the elements of the board give it."""
    from sigsim.decide.blame.parts import suspects

    names = [e.name for e in suspects(report.board, report.state.state.on, report.basis.reference)]
    by_name = {blame.name: blame for blame in report.items}
    assert len(by_name) == len(names) == count
    return [by_name[name] for name in names]


SOURCE = '[instrument]\nresistance = "8 kΩ"\ninductance = "3 H"\n'
PLAIN = '[destination]\n[cables.none]\n[cables.long]\ncapacitance = "100 pF/m"\n'
LOSSLESS = '[[chain]]\ncable = "none"\nlength = 1\n'
IDEAL_STAGE = 'input_resistance = "1e12"\noutput_resistance = 0\n'
LOSSY = {
    "cable": ('[[chain]]\ncable = "long"\nlength = 20\n', "long: "),
    "tap": ('[[chain]]\ntap = "t"\ncable = "long"\nlength = 20\nopen = true\n', "t (tap)"),
    "true bypass": (f'[[chain]]\nstage = "x"\n{IDEAL_STAGE}wiring_capacitance = "5n"\n', "x (off)"),
    "hardwire": (
        '[[chain]]\nstage = "x"\ninput_resistance = "20k"\noutput_resistance = 0\n'
        'bypass = "hardwire"\n',
        "x (off): its input",
    ),
    "buffered": (
        '[[chain]]\nstage = "x"\ninput_resistance = "20k"\noutput_resistance = 0\n'
        'bypass = "buffered"\n',
        "x (off): its buffer",
    ),
    "loop": (
        f'[[chain]]\nloop = "l"\nwiring_capacitance = "5n"\n[[chain.inside]]\nstage = "x"\n'
        f"{IDEAL_STAGE}",
        "l (off)",
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", LOSSY)
@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_board_with_one_lossy_thing_blames_it(kind: str, place: int) -> None:
    """Everything else on the board is ideal; the lossy thing stands first, between or last."""
    lossy, name = LOSSY[kind]
    others = [LOSSLESS, f'[[chain]]\nstage = "a"\n{IDEAL_STAGE}']
    # An open wire stays in front, so that the thing is never the instrument's own lead.
    chain = LOSSLESS + "".join(others[:place]) + lossy + "".join(others[place:])
    report = blame_report(parse_board(SOURCE + PLAIN + chain), State("off"))
    first, *rest = report.items
    assert first.name.startswith(name)
    total = report.state.treble_loss
    assert total > 1
    assert first.share == pytest.approx(1)
    assert first.saved == pytest.approx(total)
    assert first.costs == pytest.approx(total)
    assert all(abs(other.saved) < 1e-3 and abs(other.costs) < 1e-3 for other in rest)
    group = next(g for g in report.groups if g.group == first.group)
    assert group.saved == pytest.approx(total)


def test_a_lossy_destination_is_named_although_the_reference_has_it() -> None:
    text = SOURCE + PLAIN.replace("[destination]", '[destination]\ninput_resistance = "20k"')
    report = blame_report(parse_board(text + LOSSLESS), State("off"))
    first = report.items[0]
    assert (first.group, first.in_reference, first.share) == ("destination", True, None)
    assert report.state.treble_loss == pytest.approx(0, abs=1e-9)
    # An inductance of 3 H and 8 kΩ into 20 kΩ: the level at 100 Hz is that of the divider.
    Z = complex(8e3, 2 * math.pi * 100 * 3)
    assert first.level_change == pytest.approx(20 * math.log10(abs((20e3 + Z) / 20e3)), abs=1e-3)
    assert first.costs == pytest.approx(first.saved)


def test_taking_out_a_tap_is_the_board_without_it() -> None:
    text = (EXAMPLES / "ferry-guitar-vintage.toml").read_text(encoding="utf-8")
    tap = '[[chain]]\ntap = "tuner output"\ncable = "straight"\nlength = "3 m"\nopen = true\n'
    assert tap in text
    report = blame_worst(parse_board(text))
    blame = next(b for b in report.items if b.group == "taps")
    without = response(parse_board(text.replace(tap, "")), report.state.state.on, TREBLE)
    assert blame.without.treble_loss == pytest.approx(metrics.treble_loss(without), abs=1e-9)
    assert blame.without.corner == pytest.approx(metrics.corner(without))


def test_all_that_is_counted_together_is_the_whole_loss() -> None:
    """With every group of the board's own made ideal, the reference is left."""
    board = read_board(EXAMPLES / "ferry-guitar-vintage.toml")
    report = blame_worst(board)
    counted = [b for b in report.items if not b.in_reference]
    assert {b.group for b in counted} >= {"cables", "taps", "loading by inputs", "bypass wiring"}
    assert report.state.treble_loss == pytest.approx(
        metrics.treble_loss(response(board, report.state.state.on, TREBLE)), abs=1e-9
    )
    # One capacitance more always costs: with this coil each part alone, and each part taken out.
    assert all(b.saved > 0 and b.costs > 0 for b in counted if b.group != "bypass wiring")


def test_a_buffer_that_shields_has_a_minus() -> None:
    board = read_board(EXAMPLES / "ferry-guitar-big.toml")
    report = blame_report(board, board.state({"rough"}))
    buffer = next(b for b in report.items if b.name == "even keel compressor (off): its buffer")
    assert buffer.saved < -1
    assert report.items[-1] == buffer


@settings(max_examples=tries(12, 30))
@seed(62)
@given(boards_in_a_state(), st.sampled_from(["ideal", "direct", "bare"]))
def test_order_groups_and_shares(case: tuple[Table, frozenset[str], str], reference: str) -> None:
    _, on, text = case
    board = parse_board(text)
    report = blame_report(board, board.state(on), Basis(reference))  # type: ignore[arg-type]
    assume(math.isfinite(report.state.treble_loss))
    for blames in (report.items, report.groups):
        saved = [b.saved for b in blames]
        assert saved == sorted(saved, reverse=True)
    assert {g.group for g in report.groups} == {b.group for b in report.items} <= set(GROUPS)
    for group in report.groups:
        assert group.count == sum(b.group == group.group for b in report.items)
        if group.count == 1:
            member = next(b for b in report.items if b.group == group.group)
            assert group.saved == member.saved
    for blame in report.items:
        assert (blame.share is None) == (blame.in_reference or report.state.treble_loss < 0.05)
        if blame.share is not None:
            assert blame.share == pytest.approx(blame.saved / report.state.treble_loss)


def test_json_keys_and_the_default_state() -> None:
    report = json.loads(quick("blame", BASS, "--json"))
    worst = json.loads(quick("loss", BASS, "--json"))["worst"]
    assert report["state"] == worst
    assert report["is_worst"] is True
    assert set(report) == {
        "board", "at", "variants", "set", "reference", "band_hz", "is_worst", "state", *LISTED,
    }  # fmt: skip
    for entry in (*report["items"], *report["groups"]):
        assert set(entry) == {
            "name", "group", "count", "in_reference", "saved_db", "share", "level_change_db",
            "costs_db", "taken_out", "alone",
        }  # fmt: skip
        assert set(entry["alone"]) == {"treble_loss_db", "level_db", "corner_hz"}
    assert report["items"][0]["name"] == "lead: last dance preamp → amp"
    assert len(report["items"]) == 18  # 9 cables, 8 stages, the destination


def test_words_and_width(tmp_path: Path) -> None:
    out = quick("blame", BASS)
    first = out.replace("\n", " ")
    assert first.startswith("With all off, the worst of all combinations, 'lead: last dance")
    assert "4.1 dB of treble would be lost instead of 8.7 dB (heavy)" in first
    assert "all cables but the lead" in out
    long = BASS.read_text(encoding="utf-8").replace("paddle wheel", "paddle wheel " * 9)
    board = tmp_path / "long.toml"
    board.write_text(long, encoding="utf-8")
    for command in (["blame", board, "--every", "--explain"], ["blame", board, "--scene", "storm"]):
        assert max(map(len, quick(*command).splitlines())) <= 80


def test_a_silent_board_is_said_so(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    board.write_text(BASS.read_text(encoding="utf-8").replace("volume = 10", "volume = 0"))
    run = sigsim("blame", board, "--plot", tmp_path / "x.png")
    assert run.status == 0, run.err
    assert "nothing comes out: the instrument's volume knob is at 0." in run.out.replace("\n", " ")
    report = json.loads(quick("blame", board, "--json"))
    assert {entry["saved_db"] for entry in report["items"]} == {None}


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--scene", "strom"], ['did you mean "storm"']),
        (["--on", "tunr"], ['did you mean "tuner"']),
        (["--scene", "storm", "--all-off"], ["one combination"]),
        (["--plot", "x.gif"], [".png .svg .pdf"]),
        (["--band", "2200", "2300"], ["--band"]),
    ],
    ids=lambda value: " ".join(value),
)
def test_bad_options(arguments: list[str], words: list[str]) -> None:
    message = refused("blame", BASS, *arguments)
    assert all(word in message for word in words), message


def test_hostile_names_are_drawn_letter_by_letter(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    stage = '[[chain]]\nstage = "$x_2^{"\npart = "wah-hardwire"\n'
    cable = '[[chain]]\ncable = "lead"\nlength = 5\n'
    board.write_text(f'title = "[red]$\\\\frac$"\n{ENDS}{stage}{cable}')
    run = sigsim("blame", board, "--plot", "p.svg", cwd=tmp_path)
    assert run.status == 0, run.err
    assert (tmp_path / "p.svg").stat().st_size > 5000


def test_plot_shows_the_bars_by_size() -> None:
    from sigsim.show.plots.blame import draw_blame
    from sigsim.show.plots.style import new_figure

    report = blame_worst(read_board(BASS))
    panels = draw_blame(new_figure(), report)
    names = [label.get_text().replace("\n", " ") for label in panels[0].get_yticklabels()]
    assert names[0] == "lead: last dance preamp → amp"
    saved = [bar.get_width() for bar in panels[0].patches]
    assert saved[0] == pytest.approx(report.items[0].saved)
    assert len(saved) == len(names)
    # Seven patch cables cost alike, and are one row, named as in the table.
    listed = " ".join(sigsim("blame", BASS).out.split())
    alike = next(name for name in names if name.startswith("7 pieces of patch"))
    assert alike.removesuffix("each") in listed
    values = [text.get_text() for text in panels[0].texts]
    first = report.items[0]
    assert values[0] == f"{first.saved:.1f}; alone {first.costs:.1f}"
    assert "not counted" in panels[-1].get_title("left")
    kept = [label.get_text() for label in panels[-1].get_yticklabels()]
    assert not set(kept) & set(names)
    assert "treble (dB)" in panels[-1].get_xlabel()

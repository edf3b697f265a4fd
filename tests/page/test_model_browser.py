"""The browser's model against the program's own: every number of every state, to the digit."""

from __future__ import annotations

import json
import math
import random
import re
from collections.abc import Iterator
from itertools import chain, combinations
from typing import Any, Final

import numpy as np
import pytest
from helpers.boards import boards, to_toml
from helpers.browser import NEEDS_BROWSER, Browser
from helpers.in_process import sigsim_here
from helpers.laid_boards import laid_board
from helpers.page_model import (
    Drawn,
    asked,
    keyed_path,
    page_modules,
    printed,
    states_on_page,
)
from helpers.program import EXAMPLES
from helpers.report_boards import EVERYTHING, SPLITS
from helpers.signs import plain_signs
from helpers.split_boards import IN_A_LOOP, TWO_AMPS
from helpers.thinned import some, tries
from helpers.variant_boards import NAMES, VARIED
from hypothesis import HealthCheck, Phase, given, settings

from sigsim.board.changes import Changes
from sigsim.board.model import Board
from sigsim.board.part_stage import powered_part
from sigsim.board.reader import parse_board, read_board
from sigsim.decide.loss.report import StateReport, assess
from sigsim.decide.page.report import ReportQuestion, report_data
from sigsim.metrics import Basis, Reference
from sigsim.quantities import length_text
from sigsim.show.page.data import board_data
from sigsim.show.page.things import things
from sigsim.show.render.text import decibel, short_hertz, signed
from sigsim.states.response import Response, Solver
from sigsim.states.search import worst_state

pytestmark = NEEDS_BROWSER

# The page's model may differ from the exact one by what a polynomial through eight points leaves.
CLOSE_DB: Final = 1e-6
REFERENCES: Final[tuple[Reference, ...]] = ("ideal", "bare")


@pytest.fixture(scope="module")
def window() -> Iterator[Browser]:
    with page_modules() as opened:
        yield opened


def board_of(name: str) -> Board:
    texts = {"everything": EVERYTHING, "splits": SPLITS, "two amps": TWO_AMPS, "Y": IN_A_LOOP}
    return parse_board(texts[name]) if name in texts else read_board(EXAMPLES / f"{name}.toml")


def numbers(board: Board, on: frozenset[str]) -> list[int]:
    return [i for i, name in enumerate(board.switches()) if name in on]


def every_state(board: Board) -> list[frozenset[str]]:
    names = board.switches()
    sets = chain.from_iterable(combinations(names, n) for n in range(len(names) + 1))
    return [frozenset(names) for names in sets]


def drawn_states(board: Board, count: int) -> list[frozenset[str]]:
    """Return all off, all on and random states; half of all loops are in."""
    names, chance = board.switches(), random.Random(count)
    sets = [frozenset(n for n in names if chance.random() < 0.5) for _ in range(count)]
    return list(dict.fromkeys([frozenset(), frozenset(names), *sets]))


def near(mine: float | None, true: float, close: float = CLOSE_DB) -> bool:
    """Whether two numbers are alike, or both none."""
    if mine is None or not math.isfinite(true):
        return mine is None and not math.isfinite(true)
    return mine == pytest.approx(true, abs=close)


def on_edge(value: float) -> bool:
    """Whether a value is so near to where its print changes that the next digits tell it."""
    return math.isfinite(value) and abs(abs(value) * 10 % 1 - 0.5) < 1e-4


def agree(found: dict[str, Any], state: StateReport) -> None:
    """Check all numbers of one state."""
    assert near(found["treble"], state.treble_loss)
    assert near(found["withLead"], state.treble_loss_with_lead)
    if state.silent:
        assert "silent, " in found["sentence"]["title"]
        return
    assert near(found["level"], state.level_change)
    for mine, true in zip(found["losses"], state.losses.values(), strict=True):
        assert near(mine, true)
    for mine, exact in (
        (found["corner"], state.corner),
        (found["referenceCorner"], state.reference_corner),
    ):
        assert (mine is None) == (exact is None)
        assert mine is None or mine == pytest.approx(exact, rel=1e-6)
    if state.resonance is None:
        assert found["resonance"] is None
    else:
        # A peak without end, of a circuit with hardly any loss, is as sharp as it is high.
        height = state.resonance.height
        assert near(found["resonance"]["height"], height, 1e-5 * max(1.0, height / 20))
        # The top of a flat peak is found to a zoomed grid step, here as there.
        assert found["resonance"]["frequency"] == pytest.approx(state.resonance.frequency, rel=2e-4)
    spoken(found, state)


def spoken(found: dict[str, Any], state: StateReport) -> None:
    """Check what is printed, where it is not decided by what a polynomial leaves."""
    values = (state.level_change, state.treble_loss, *state.losses.values())
    if not any(map(on_edge, values)):
        # Corner and resonance have their own digits: see `agree`.
        assert found["printed"][:7] == printed(state)[:7]
    said = decibel(abs(state.treble_loss))
    if on_edge(state.treble_loss) or on_edge(state.treble_loss_with_lead):
        return
    lost = decibel(state.treble_loss)
    what = f"{said} dB of treble {'gained' if lost.startswith('-') else 'lost'}, {state.verdict}."
    assert found["sentence"]["title"].endswith(f": {what}")
    lead = decibel(state.treble_loss_with_lead)
    assert found["sentence"]["more"] == ("" if lead == lost else f"{lead} with its lead.")


def compared(window: Browser, board: Board, states: list[frozenset[str]]) -> None:
    """Check states of a board in all that the page makes of them."""
    data = board_data(board)
    solver = Solver(board)
    worst = worst_state(board)
    states = [*states, *(frozenset(board.switches()[i] for i in s["on"]) for s in data["states"])]
    assert data["states"][-1]["on"] == numbers(board, worst.on)
    made = states_on_page(window, data, [numbers(board, on) for on in states])
    for found, on in zip(made, states, strict=True):
        state = assess(solver, board.state(on))
        agree(found, state)
        if not state.silent:
            straight = assess(solver, board.state(on), Basis("direct")).treble_loss
            assert near(found["straight"], straight)
        # Seen from an end that nothing reaches, all the rest is beside the way.
        if not board.loops_out(on):
            assert found["heard"] == " ".join(map(str, numbers(board, board.heard(on))))
            drawn_alike(data, board, on, found, state)
    assert near(made[-1]["treble"], worst.value)


def drawn_alike(
    data: dict[str, Any],
    board: Board,
    on: frozenset[str],
    found: dict[str, Any],
    state: StateReport,
) -> None:
    """Check what hangs on the pickup, what isolates, where an output is weak, and the strip."""
    drawn = Drawn(board, on)
    terms = drawn.terms()
    if not state.silent and all(map(math.isfinite, terms)):
        for mine, true in zip(found["terms"], terms, strict=True):
            assert near(mine, true)
        # The first number is what the terms of all segments add up to.
        assert sum(terms) == pytest.approx(state.treble_loss, abs=1e-6)
    met = list(keyed_path(things(board), board.chain, on))
    at, weak = 0, 0.0
    heard = set()
    for number, segment in enumerate(drawn.segments):
        hot = number == 0 and not drawn.active
        term = terms[number]
        weak = term if not hot and math.isfinite(term) and term >= 0.5 else 0.0
        for one in (*segment.run, *([segment.end] if segment.end else [])):
            key, item, inside = met[at]
            line = found["line"][key]
            assert (line["heard"], line["hot"], line["isolates"]) == (True, hot, one.isolates)
            assert near(line["weak"], weak) or abs(term - 0.5) < CLOSE_DB
            heard.add(key)
            at += 1
            if one.item.key == "split":
                heard |= _side(found, item, inside, on, hot=hot)
    loops = {f"box:{item.label}" for item in board.items() if item.key == "loop"}
    for key, line in found["line"].items():
        if not key.startswith(("cable:", "way:")) and key not in heard | loops:
            assert (line["heard"], line["hot"], line["weak"]) == (False, False, 0), key
    summary = found["summary"]
    for key, value in drawn.summary().items():
        assert summary[key] == pytest.approx(value, abs=1e-9), key
    said = [
        (data["instrument"] if segment.begin is None else segment.begin.item.label, term)
        for number, (segment, term) in enumerate(zip(drawn.segments, terms, strict=True))
        if (number or drawn.active) and math.isfinite(term) and term >= 0.5
    ]
    assert [one["name"] for one in summary["weak"]] == [name for name, _ in said]


def _side(
    found: dict[str, Any], split: Any, inside: Any, on: frozenset[str], *, hot: bool
) -> set[str]:
    """Check a side way: hot as far as its first isolator where the way that it leaves is hot."""
    keys = set()
    for key, item, within in keyed_path(inside, split.inside, on):
        line = found["line"][key]
        assert (line["heard"], line["hot"]) == (True, hot)
        keys.add(key)
        if item.key == "split":
            keys |= _side(found, item, within, on, hot=hot)
        elif item.isolates(item.switch is None or item.switch in on):
            assert line["isolates"]
            hot = False
    return keys


@pytest.mark.parametrize("name", ["ferry-bass", "everything", "ferry-bass-active", "ferry-plan"])
def test_states_of_known_boards(window: Browser, name: str) -> None:
    board = board_of(name)
    states = every_state(board)
    few = math.ceil(len(states) / 12)
    compared(window, board, some(states, few)[:400])


@pytest.mark.parametrize("name", ["splits", "two amps", "Y"])
def test_every_end_of_splits(window: Browser, name: str) -> None:
    board = board_of(name)
    for end in board.ends:
        compared(window, board.heard_at(end), some(every_state(board), 5))


@settings(
    max_examples=tries(20, 150), phases=[Phase.generate], deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip
@given(drawn=boards())
def test_random_boards(window: Browser, drawn: Any) -> None:
    """Two hundred states of twenty boards in every run."""
    board = parse_board(to_toml(drawn))
    for end in board.ends[-tries(1, 2) :]:
        heard = board.heard_at(end)
        compared(window, heard, drawn_states(heard, 10))


@pytest.mark.parametrize("seed", range(tries(2, 20)))
def test_boards_with_a_layout(window: Browser, seed: int) -> None:
    board = parse_board(to_toml(laid_board(seed)))
    compared(window, board, drawn_states(board, 6))


@pytest.mark.parametrize("variant", NAMES)
def test_variants(window: Browser, variant: str) -> None:
    board = parse_board(VARIED, changes=Changes(variants=(variant,)))
    compared(window, board, drawn_states(board, 4))


def test_other_references_and_bands(window: Browser) -> None:
    board = board_of("ferry-bass-buffered")
    for basis in (Basis("direct", (1000.0, 4000.0)), Basis("bare")):
        data, solver = board_data(board, basis), Solver(board)
        states = drawn_states(board, 5)
        made = states_on_page(window, data, [numbers(board, on) for on in states])
        for found, on in zip(made, states, strict=True):
            state = assess(solver, board.state(on), basis)
            assert near(found["treble"], state.treble_loss)
            assert found["printed"][:7] == printed(state)[:7]
            # Only against the ideal is the lead something that is left out.
            assert found["sentence"]["more"] == ""


def test_stored_curves_are_those_of_the_states(window: Browser) -> None:
    """A page with scenes only finds the same numbers from curves as from coefficients."""
    board = board_of("ferry-bass-two-amps").heard_at("upper deck")
    buffer = powered_part("buffer-opamp", "buffer")
    question = ReportQuestion(board, (), Basis(), buffer, {}, only_scenes=True)
    stored = report_data(question).scenes
    script = (
        "const data = JSON.parse(given[0]), model = createModel(data);"
        "return data.states.map((s) => { const f = model.stored(s); return [f.treble, f.withLead,"
        " f.level, f.corner, model.line(new Set(s.on)).size]; });"
    )
    data = board_data(board, stored=stored)
    found = asked(window, script, json.dumps(data))
    solver = Solver(board)
    for one, named in zip(found, data["states"], strict=True):
        state = assess(solver, board.state({board.switches()[i] for i in named["on"]}))
        exact = [state.treble_loss, state.treble_loss_with_lead, state.level_change, state.corner]
        assert one[:4] == pytest.approx(exact, rel=1e-6, abs=CLOSE_DB)
        assert one[4] > 5


def test_the_program_prints_the_same(window: Browser) -> None:
    """Through the program's own table, letter by letter."""
    board = board_of("ferry-bass")
    states = [board.scene(name) for name in ("last dance", "storm")]
    on = [numbers(board, frozenset(state.on)) for state in states]
    made = states_on_page(window, board_data(board), on)
    for state, found in zip(states, made, strict=True):
        table = sigsim_here("loss", EXAMPLES / "ferry-bass.toml", "--scene", state.name).out
        line = next(row for row in table.splitlines() if re.match(rf" {state.name} ", row))
        assert " ".join(found["printed"]) == " ".join(line.split()[len(state.name.split()) :])


def test_curves_hold_at_every_frequency(window: Browser) -> None:
    board = board_of("everything")
    on = frozenset(board.switches()[::2])
    (found,) = states_on_page(window, board_data(board), [numbers(board, on)], curves=True)
    left, right, many = board_data(board)["drawn"]
    f = [left * (right / left) ** (i / (many - 1)) for i in range(many)]
    for curve, reference in zip(found["curve"][1:], REFERENCES, strict=True):
        r = Response(Solver(board), on, np.array(f), reference)
        assert found["curve"][0] == pytest.approx(r.gain_db.tolist(), abs=1e-5)
        assert curve == pytest.approx((r.gain_db + r.loss_db).tolist(), abs=1e-5)
    assert len(found["curve"][0]) == 301


def test_sentences(window: Browser) -> None:
    """Up to three boxes are named, of more the number; where it is heard; what is silent."""
    board = board_of("ferry-bass")
    names = board.switches()
    states = [frozenset(names[:n]) for n in (0, 1, 3, 4)]
    made = states_on_page(window, board_data(board), [numbers(board, on) for on in states])
    words = [found["state"] for found in made]
    assert words == ["All off", f"{names[0]} on", f"{', '.join(names[:3])} on", "4 on"]
    assert made[0]["sentence"]["title"] == "All off: 8.7 dB of treble lost, heavy."
    two = board_of("Y").heard_at("second amp")
    loop, *_ = two.loops_out(())
    silent, heard = states_on_page(window, board_data(two), [[], numbers(two, frozenset({loop}))])
    assert silent["sentence"]["title"] == (
        f"At second amp: all off: silent, the loop '{loop}' around it is out."
    )
    assert heard["sentence"]["title"].startswith(f"At second amp: {loop} on: ")
    assert "silent" not in heard["sentence"]["title"]


def test_why_nothing_comes_out_hangs_on_switches(window: Browser) -> None:
    text = (EXAMPLES / "ferry-bass.toml").read_text(encoding="utf-8")
    pedal = (
        '[[chain]]\nstage = "treadle"\nkind = "volume pedal"\ntrack = "250 kΩ"\nposition = 0\n'
        "always_on = false\n"
    )
    board = parse_board(text.replace("[[chain]]", pedal + "[[chain]]", 1))
    assert "treadle" in board.switches()
    off, on = states_on_page(
        window, board_data(board), [[], numbers(board, frozenset({"treadle"}))]
    )
    assert off["sentence"]["title"].endswith("heavy.")
    title = "Treadle on: silent, the volume pedal 'treadle' is at 0."
    assert on["sentence"] == {"title": title, "more": "", "level": ""}


def test_rounding_is_that_of_python(window: Browser) -> None:
    chance = random.Random(4)
    ties = [n / 4 for n in range(-400, 400)] + [n / 20 for n in range(-400, 400)]
    levels = [*ties, *(chance.uniform(-60, 60) for _ in range(tries(2000, 20_000)))]
    hertz = [n / 2 for n in range(40, 2300)] + [n * 0.625 for n in range(1600, 40_000, 7)]
    hertz += [10 ** chance.uniform(1.3, 4.6) for _ in range(tries(2000, 20_000))] + [999.5, 9995.0]
    metres = [n / 800 for n in range(1, 3000)] + [chance.uniform(0, 40) for _ in range(1000)]
    found = asked(
        window,
        "const [a, b, c] = given; return [a.map(words.decibel), a.map(words.signed),"
        "b.map(words.shortHertz), c.map((v) => words.metres(v))];",
        levels, hertz, metres,
    )  # fmt: skip
    assert not [text for text in (*found[0], *found[1]) if text[:1] == "-" and text != "-"]
    assert [plain_signs(text) for text in found[0]] == [decibel(v) for v in levels]
    assert [plain_signs(text) for text in found[1]] == [signed(v) for v in levels]
    assert found[2] == [short_hertz(v) for v in hertz]
    assert found[3] == [length_text(v) for v in metres]


def test_lengths_in_the_unit_of_the_file(window: Browser) -> None:
    found = asked(
        window,
        "return [[4.572, 'ft'], [0.3048, 'in'], [0.3, 'cm'], [1.25, 'cm'], [0.3, 'm'], [9, 'm']]"
        ".map(([v, unit]) => words.metres(v, unit));",
    )
    assert found == ["15 ft", "12 in", "30 cm", "125 cm", "0.3 m", "9 m"]

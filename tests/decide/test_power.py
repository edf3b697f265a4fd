"""What feeds a board: the assignment against trying all of them, energy by hand."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from itertools import product
from typing import Any, Final

import pytest
from helpers.thinned import tries

from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.decide.power import assign
from sigsim.decide.power.question import power_question
from sigsim.decide.power.report import PowerReport, power_report
from sigsim.errors import BoardError, SigsimError
from sigsim.items.feeding import POLARITIES

HEAD: Final = """
[instrument]
part = "bass-split-coil"
[destination]
part = "instrument-input"
[cables.lead]
part = "cable-standard"
[[chain]]
cable = "lead"
length = "5 m"
"""


def stage(name: str, keys: str = "") -> str:
    """Return the table of a pedal; its figures do not matter here."""
    values = f'input_resistance = "1 MΩ"\noutput_resistance = "1 kΩ"\n{keys}\n'
    return f'[[chain]]\nstage = "{name}"\n{values}'


def fed(chain: str, supplies: str) -> PowerReport:
    return power_report(parse_board(f"{HEAD}{chain}{supplies}"))


# A random case as plain figures: mA, V, whether it is centre positive; None for no current.
Pedal = tuple[int | None, tuple[int, ...], bool]
Jack = tuple[int, tuple[int, ...], bool, bool]


def drawn(seed: int, pedals: int) -> tuple[list[Pedal], list[list[Jack]]]:
    """Return pedals and supplies with their outputs, of which each says if it is isolated."""
    rng = random.Random(seed)
    supplies = []
    for _ in range(rng.randint(1, 2)):
        isolated = rng.random() < 0.6
        supplies.append(
            [
                (
                    rng.choice((50, 100, 200, 300, 500)),
                    rng.choice(((9,), (9,), (9, 12), (12,), (9, 18))),
                    rng.random() < 0.15,
                    isolated,
                )
                for _ in range(rng.randint(1, 2))
            ]
        )
    currents = (10, 20, 50, 80, 100, 150, 200, 250)
    return [
        (
            None if rng.random() < 0.12 else rng.choice(currents),
            rng.choice(((9,), (9,), (9,), (12,), (9, 18), (9, 12))),
            rng.random() < 0.15,
        )
        for _ in range(pedals)
    ], supplies


def board_of(
    pedals: Sequence[Pedal], supplies: Sequence[Sequence[Jack]], written: Sequence[str] = ()
) -> Board:
    chain = ""
    for number, (current, volts, positive) in enumerate(pedals):
        told = "" if current is None else f'current = "{current} mA"\n'
        told += f'voltage = {[f"{v} V" for v in volts]}\npolarity = "{POLARITIES[positive]}"'
        if written and written[number]:
            told += f'\nsupply = "{written[number]}"'
        chain += stage(f"p{number}", told)
    text = ""
    for number, jacks in enumerate(supplies):
        outputs = ", ".join(
            f'{{ current = "{current} mA", voltage = {[f"{v} V" for v in volts]}, '
            f'polarity = "{POLARITIES[positive]}" }}'
            for current, volts, positive, _ in jacks
        )
        text += f"[supplies.s{number}]\noutputs = [{outputs}]\n"
        text += f"isolated = {str(jacks[0][3]).lower()}\n"
    return parse_board(f"{HEAD}{chain}{text}")


def merit(
    pedals: Sequence[Pedal], jacks: Sequence[Jack], where: Sequence[int | None]
) -> tuple[Any, ...] | None:
    """Return how good an assignment is, the smaller the better; None for one that cannot be.

    The aims of the command in its order: pedals that are fed, how many share an output, the
    smallest fraction that is left on an output; then those with a current that are fed, how many
    without one share, and the order of the file. A pedal without a current needs 1 mA to be left.
    """
    shared = unknown_shared = 0
    least = 1.0
    for j, (gives, volts, positive, isolated) in enumerate(jacks):
        on = [pedals[p] for p, at in enumerate(where) if at == j]
        if not on:
            continue
        if not set(volts).intersection(*(volts_ for _, volts_, _ in on)):
            return None
        turned = any(own != positive for _, _, own in on)
        if turned and (len(on) > 1 or not isolated):
            return None
        load = sum(current for current, _, _ in on if current is not None)
        unknown = sum(current is None for current, _, _ in on)
        if load + unknown > gives:
            return None
        if len(on) > 1:
            shared, unknown_shared = shared + len(on), unknown_shared + unknown
        least = min(least, 1 - load / gives)
    told = [pedals[p][0] is not None for p, at in enumerate(where) if at is not None]
    order = tuple(len(jacks) if at is None else at for at in where)
    # Two fractions of whole milliamperes are no nearer than 1e-5: rounding makes equal ones equal.
    return -len(told), shared, -round(least, 7), -sum(told), unknown_shared, order


def cases() -> Iterator[tuple[int, int]]:
    """Yield seeds with numbers of pedals; eight of them are 390,625 assignments at most."""
    sizes = ((3, 6, 60), (4, 6, 60), (5, 5, 40), (6, 2, 20), (7, 0, 6), (8, 0, 3))
    for pedals, few, every in sizes:
        yield from ((100 * pedals + seed, pedals) for seed in range(tries(few, every)))


@pytest.mark.parametrize(("seed", "count"), list(cases()))
def test_the_assignment_is_the_best_of_all(seed: int, count: int) -> None:
    """Against all assignments, every aim after the other."""
    pedals, supplies = drawn(seed, count)
    jacks = [jack for listed in supplies for jack in listed]
    report = power_report(board_of(pedals, supplies))
    names = [f"s{s} {j + 1}" for s, listed in enumerate(supplies) for j in range(len(listed))]
    found = [None if at is None else names.index(at) for at in report.placed.values()]
    best = min(
        value
        for where in product((None, *range(len(jacks))), repeat=count)
        if (value := merit(pedals, jacks, where)) is not None
    )
    assert merit(pedals, jacks, found) == best
    assert report.proven
    assert {one.drain.name for one in report.missing} == {
        f"p{p}" for p, at in enumerate(found) if at is None
    }


@pytest.mark.parametrize("seed", range(tries(4, 40)))
def test_loads_and_margins_add_up(seed: int) -> None:
    pedals, supplies = drawn(seed, 5)
    report = power_report(board_of(pedals, supplies))
    draws = {f"p{p}": current for p, (current, _, _) in enumerate(pedals)}
    for load in report.loads:
        on = [name for name, at in report.placed.items() if at == load.outlet.name]
        assert [drain.name for drain in load.drains] == on
        assert load.load == pytest.approx(sum(draws[name] or 0 for name in on) / 1000)
        assert load.margin == pytest.approx(load.outlet.output.current - load.load)
        assert load.unknown == tuple(name for name in on if draws[name] is None)


PACK: Final = """
[supplies.pack]
battery = "{}"
{}
outputs = [{{ current = "1 A", voltage = "9 V" }}, {{ current = "1 A", voltage = "12 V" }}]
[scenes]
rhythm = []
lead = ["echo"]
"""
ON_PACK: Final = stage("echo", 'current = "200 mA"\ncurrent_off = "50 mA"') + stage(
    "synth", 'current = "100 mA"\nvoltage = "12 V"'
)


@pytest.mark.parametrize(
    ("battery", "keys", "watt_hours"),
    [
        # By hand: 37 Wh × 0.85 = 31.45 Wh.
        ("37 Wh", "", 31.45),
        ("10 Ah", 'battery_voltage = "3.7 V"', 31.45),
        ("20000 mAh", 'battery_voltage = "3.6 V"\nefficiency = 0.5', 36.0),
        ("37 Wh", "efficiency = 1", 37.0),
    ],
)
def test_hours_by_hand(battery: str, keys: str, watt_hours: float) -> None:
    """9 V × 200 mA + 12 V × 100 mA = 3 W with all on; 9 V × 50 mA + 1.2 W = 1.65 W in rhythm."""
    (hours,) = fed(ON_PACK, PACK.format(battery, keys)).hours
    assert hours.energy == pytest.approx(watt_hours)
    assert hours.everything is not None
    assert hours.everything == pytest.approx((watt_hours / 3.0,) * 2)
    assert hours.scenes["rhythm"] == pytest.approx((watt_hours / 1.65,) * 2)
    assert hours.scenes["lead"] == pytest.approx((watt_hours / 3.0,) * 2)


def test_hours_are_at_most_where_a_current_is_unknown() -> None:
    (hours,) = fed(ON_PACK + stage("fuzz"), PACK.format("37 Wh", "")).hours
    assert hours.unknown == ("fuzz",)
    assert hours.everything is not None
    assert hours.everything.high == pytest.approx(31.45 / 3.0)


def test_scenes_are_told_only_where_something_draws_less_when_off() -> None:
    chain = stage("echo", 'current = "200 mA"')
    (hours,) = fed(chain, PACK.format("37 Wh", "")).hours
    assert hours.scenes == {}


ONE_12_V: Final = """
[supplies.left]
isolated = true
outputs = [{ current = "500 mA", voltage = "12 V" }, { current = "100 mA" }]
"""


def test_one_that_draws_more_when_off_needs_that_much() -> None:
    """By hand: 90 mA when off beside 60 mA are more than 100 mA."""
    chain = stage("a", 'current = "10 mA"\ncurrent_off = "90 mA"') + stage("b", 'current = "60 mA"')
    report = fed(chain, '[supplies.left]\noutputs = [{ current = "100 mA" }]\n')
    assert [one.drain.name for one in report.missing] == ["a"]
    assert report.loads[0].load == pytest.approx(0.06)
    assert [want.current.high for want in report.wanted] == [0.09]
    alone = fed(chain, '[supplies.left]\noutputs = [{ current = "90 mA" }, { current = "1 A" }]\n')
    assert sum(load.load for load in alone.loads) == pytest.approx(0.15)


def test_two_pedals_and_one_output_of_their_voltage() -> None:
    """The one that draws less is fed, which leaves more."""
    chain = stage("synth", 'current = "300 mA"\nvoltage = "12 V"')
    chain += stage("organ", 'current = "250 mA"\nvoltage = "12 V"')
    report = fed(chain, ONE_12_V)
    (one,) = report.missing
    assert (one.drain.name, one.obstacle) == ("synth", "taken")
    assert [taken.names for taken in one.taken] == [("organ",)]
    (want,) = report.wanted
    assert (want.voltage, want.current.high) == (12.0, 0.3)


@pytest.mark.parametrize(
    ("keys", "obstacle"),
    [
        ('current = "10 mA"\nvoltage = "18 V"', "voltage"),
        ('current = "200 mA"', "current"),
        ('current = "501 mA"\nvoltage = ["12 V", "9 V"]', "current"),
    ],
)
def test_what_no_output_can_feed(keys: str, obstacle: str) -> None:
    (one,) = fed(stage("synth", keys), ONE_12_V).missing
    assert one.obstacle == obstacle


def test_what_needs_just_what_there_is_is_fed() -> None:
    """Three thirds of an ampere-tenth are no more than it, whatever their sum in binary."""
    chain = "".join(stage(f"p{n}", f'current = "{c} mA"') for n, c in enumerate((10, 20, 70)))
    report = fed(chain, '[supplies.left]\noutputs = [{ current = "100 mA" }]\n')
    assert not report.missing
    assert report.loads[0].margin == pytest.approx(0, abs=1e-12)


def test_nothing_left_is_nothing_and_no_rest_of_fractions() -> None:
    """In binary 0.1 + 0.7 + 0.1 + 0.1 is a little under 1, by hand it is 1."""
    currents = (100, 700, 100, 100)
    chain = "".join(stage(f"p{n}", f'current = "{c} mA"') for n, c in enumerate(currents))
    report = fed(chain, '[supplies.left]\noutputs = [{ current = "1 A" }]\n')
    assert str(report.loads[0].margin) == "0.0"


TURNED: Final = 'current = "10 mA"\npolarity = "centre positive"'


def test_a_plug_turned_round_stands_alone_on_an_isolated_output() -> None:
    two = "outputs = [{ current = '100 mA' }, { current = '100 mA' }]\n"
    chain = stage("fuzz", TURNED) + stage("a", 'current = "10 mA"') + stage("b", "")
    report = fed(chain, f"[supplies.left]\nisolated = true\n{two}")
    alone = [load for load in report.loads if load.turned]
    assert [[drain.name for drain in load.drains] for load in alone] == [["fuzz"]]
    assert not report.missing
    (one,) = fed(chain, f"[supplies.left]\n{two}").missing
    assert (one.drain.name, one.obstacle) == ("fuzz", "polarity")


def test_two_of_one_polarity_share_an_output_of_theirs() -> None:
    outputs = "outputs = [{ current = '100 mA', polarity = 'centre positive' }]\n"
    report = fed(stage("fuzz", TURNED) + stage("treble", TURNED), f"[supplies.left]\n{outputs}")
    assert set(report.placed.values()) == {"left 1"}
    assert [load.turned for load in report.loads] == [()]


def test_an_unknown_current_is_named_and_is_no_nothing() -> None:
    """It is put nowhere where nothing is left, and what is left beside it is at most so much."""
    chain = stage("echo", 'current = "100 mA"\nsupply = "left"') + stage("fuzz")
    full = fed(chain, '[supplies.left]\noutputs = [{ current = "100 mA" }]\n')
    assert full.unknown == ("fuzz",)
    assert [one.drain.name for one in full.missing] == ["fuzz"]
    more = fed(chain, '[supplies.left]\noutputs = [{ current = "150 mA" }]\n')
    assert not more.missing
    assert more.loads[0].unknown == ("fuzz",)


def test_a_battery_inside_needs_no_supply() -> None:
    report = fed(stage("fuzz", "battery_inside = true"), ONE_12_V)
    assert report.placed == {}
    assert report.own_battery == ("fuzz",)


def test_what_is_written_is_kept() -> None:
    chain = stage("a", 'current = "10 mA"\nsupply = "left 2"') + stage("b", 'supply = "left 2"')
    two = 'outputs = [{ current = "100 mA" }, { current = "100 mA" }]\n'
    report = fed(chain, f"[supplies.left]\n{two}")
    assert set(report.placed.values()) == {"left 2"}


def test_known_and_unknown_currents_count_alike() -> None:
    """Two pedals of unknown current are more than one that fills the output."""
    chain = stage("echo", 'current = "100 mA"') + stage("fuzz") + stage("treble")
    report = fed(chain, '[supplies.left]\noutputs = [{ current = "100 mA" }]\n')
    assert [one.drain.name for one in report.missing] == ["echo"]


@pytest.mark.parametrize("seed", range(tries(24, 150)))
def test_what_is_written_is_kept_or_cannot_be(seed: int) -> None:
    """Against all ways to keep it; a current that is not told may be next to nothing."""
    pedals, supplies = drawn(seed, 5)
    jacks = [(s, jack) for s, listed in enumerate(supplies) for jack in listed]
    rng = random.Random(seed)
    names = [rng.choice(("", *(f"s{s}" for s in range(len(supplies))))) for _ in pedals]
    places: list[list[int | None]] = [
        [None] if not name else [j for j, (s, _) in enumerate(jacks) if f"s{s}" == name]
        for name in names
    ]
    try:
        board = board_of(pedals, supplies, names)
    except BoardError:  # one alone cannot be fed by what it names
        return
    tiny = [(0 if current is None else current, *more) for current, *more in pedals]
    kept = any(
        merit(tiny, [jack for _, jack in jacks], where) is not None for where in product(*places)
    )
    try:
        report = power_report(board)
    except SigsimError:
        assert not kept
        return
    assert kept
    for name, (current, *_), at in zip(names, pedals, report.placed.values(), strict=True):
        assert not name or (at is None and current is None) or (at or "").startswith(name)


@pytest.mark.parametrize("seed", range(tries(3, 30)))
def test_where_a_limit_ends_the_search_nothing_is_left_lying(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No output is empty that one of those which share could have for itself; and it is said."""
    monkeypatch.setattr(assign, "_MOST_PAIRS", 0)
    assign._assigned.cache_clear()
    pedals, supplies = drawn(seed, 14)
    question = power_question(board_of(pedals, [*supplies, *supplies[:1]]), guess=False)
    found = assign.assignment(question)
    assign._assigned.cache_clear()
    assert assign.assignment(question) == found
    assign._assigned.cache_clear()
    empty = [o for o in range(len(question.outlets)) if not found.on(o)]
    for o in range(len(question.outlets)):
        on = found.on(o)
        assert len(on) < 2 or not any(o in question.allowed(d) for d in on for o in empty)
    monkeypatch.undo()
    exact = assign.assignment(question)
    assert exact.proven
    assert found.proven <= (found == exact)


def test_three_plugs_turned_round_on_two_outputs_whatever_they_draw() -> None:
    chain = "".join(
        stage(name, 'polarity = "centre positive"\nsupply = "left"') for name in ("a", "b", "c")
    )
    two = "outputs = [{ current = '100 mA' }, { current = '100 mA' }]\n"
    with pytest.raises(SigsimError, match=r'nothing is left for "c"') as caught:
        fed(chain, f"[supplies.left]\nisolated = true\n{two}")
    assert "chain item 4" in str(caught.value)


def test_written_supplies_that_cannot_all_be_kept() -> None:
    keys = 'current = "150 mA"\nsupply = "left"'
    chain = "".join(stage(name, keys) for name in ("a", "b", "c"))
    two = 'outputs = [{ current = "200 mA" }, { current = "200 mA" }]\n'
    with pytest.raises(SigsimError, match="cannot all be kept"):
        fed(chain, f"[supplies.left]\n{two}")


@pytest.mark.parametrize("isolated", [False, True])
def test_whose_returns_meet(isolated: bool) -> None:
    """Two outputs of a supply without isolated ones have one return, isolated ones do not."""
    chain = stage("a", 'current = "10 mA"') + stage("b", 'current = "10 mA"')
    two = 'outputs = [{ current = "100 mA" }, { current = "100 mA" }]\n'
    report = fed(chain, f"[supplies.left]\nisolated = {str(isolated).lower()}\n{two}")
    assert [joined.names for joined in report.joined] == ([] if isolated else [("a", "b")])
    assert report.shared == ()


def test_one_output_of_a_supply_that_has_no_other() -> None:
    """There is nothing it could be isolated from: the returns meet in the output."""
    chain = stage("a", 'current = "10 mA"') + stage("b", 'current = "10 mA"')
    report = fed(chain, '[supplies.pack]\noutputs = [{ current = "100 mA" }]\n')
    assert [(j.where, j.in_output, j.isolated) for j in report.joined] == [("pack 1", True, False)]


GUESSED: Final = 'part = "echo-buffered"\n'


def test_a_guess_is_used_only_where_it_is_asked_for() -> None:
    board = parse_board(
        f'{HEAD}[[chain]]\nstage = "echo"\n{GUESSED}[[chain]]\nstage = "fuzz"\n{GUESSED}'
        f'current = "5 mA"\n{PACK.format("37 Wh", "").split("[scenes]")[0]}'
    )
    plain, guessed = power_report(board), power_report(board, guess=True)
    assert (plain.unknown, plain.guessed) == (("echo",), ())
    assert (guessed.unknown, guessed.guessed) == ((), ("echo",))
    (hours,) = guessed.hours
    assert hours.everything is not None
    assert hours.everything.low < hours.everything.high


def test_without_supplies_it_is_told_what_is_needed() -> None:
    chain = stage("a", 'current = "10 mA"') + stage("b", 'current = "30 mA"\nvoltage = "18 V"')
    chain += stage("c", 'current = "20 mA"\nvoltage = ["12 V", "9 V"]')
    report = fed(chain, "")
    assert {w.voltage: round(w.current.high, 6) for w in report.wanted} == {9.0: 0.03, 18.0: 0.03}
    assert not report.missing


BAD: Final = {
    "an output of 0 A": ("", '[supplies.a]\noutputs = [{ current = "0 A" }]'),
    "say nothing without the voltage": (
        "", '[supplies.a]\noutputs = [{ current = "1 A" }]\nbattery = "10 Ah"',
    ),
    "watt-hours say it all": (
        "",
        '[supplies.a]\noutputs = [{ current = "1 A" }]\nbattery = "1 Wh"\nbattery_voltage = "3 V"',
    ),
    "in watt-hours or in ampere-hours": (
        "", '[supplies.a]\noutputs = [{ current = "1 A" }]\nbattery = 37',
    ),
    "there is none": ("", '[supplies.a]\noutputs = [{ current = "1 A" }]\nefficiency = 0.8'),
    "more than the 1 that a share": (
        "", '[supplies.a]\noutputs = [{ current = "1 A" }]\nbattery = "1 Wh"\nefficiency = 85',
    ),
    "has no outputs": ("", "[supplies.a]\nisolated = true"),
    "means two things": (
        "",
        '[supplies.a]\noutputs = [{ current = "1 A" }]\n'
        '[supplies."a 1"]\noutputs = [{ current = "1 A" }]',
    ),
    'there is no supply of this name (found "lft"); did you mean "left"?': (
        'supply = "lft"', '[supplies.left]\noutputs = [{ current = "1 A" }]',
    ),
    'has 1 output (found "left 9")': (
        'supply = "left 9"', '[supplies.left]\noutputs = [{ current = "1 A" }]',
    ),
    "it gives 9 V, and 18 V is needed": (
        'supply = "left"\nvoltage = "18 V"', '[supplies.left]\noutputs = [{ current = "1 A" }]',
    ),
    "it gives 1 A, and 2 A are needed": (
        'supply = "left"\ncurrent = "2 A"', '[supplies.left]\noutputs = [{ current = "1 A" }]',
    ),
    "it has to be an isolated output": (
        'supply = "left"\npolarity = "centre positive"',
        '[supplies.left]\noutputs = [{ current = "1 A" }]',
    ),
    "so no supply does": (
        'supply = "left"\nbattery_inside = true',
        '[supplies.left]\noutputs = [{ current = "1 A" }]',
    ),
    "it is more than the 20 A": ("current = 30", ""),
}  # fmt: skip


@pytest.mark.parametrize("said", BAD)
def test_what_cannot_be_is_one_message(said: str) -> None:
    keys, supplies = BAD[said]
    with pytest.raises(BoardError) as caught:
        parse_board(f"{HEAD}{stage('box', keys)}{supplies}")
    (problem,) = caught.value.problems
    assert said in str(problem)
    assert problem.where


def test_a_plug_turned_round_beside_others() -> None:
    chain = stage("a", 'supply = "left 1"') + stage("b", f'{TURNED}\nsupply = "left 1"')
    outputs = 'outputs = [{ current = "1 A" }, { current = "1 A" }]'
    with pytest.raises(BoardError, match="has to stand alone on an isolated output"):
        parse_board(f"{HEAD}{chain}[supplies.left]\nisolated = true\n{outputs}")


def test_boards_inside_are_fed_by_their_own_files(tmp_path: Any) -> None:
    supply = '[supplies.deck]\noutputs = [{ current = "1 A" }]'
    inner = HEAD + stage("verb", 'supply = "deck"') + supply
    (tmp_path / "deck.toml").write_text(inner, encoding="utf-8")
    outer = HEAD + stage("fuzz") + '[[chain]]\nloop = "send"\nboard = "deck.toml"\n'
    path = tmp_path / "rig.toml"
    path.write_text(outer, encoding="utf-8")
    report = power_report(parse_board(outer, str(path)))
    assert list(report.placed) == ["fuzz"]
    assert report.elsewhere == ("deck.toml",)

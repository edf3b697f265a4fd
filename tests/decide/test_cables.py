"""Cables: every cable in every role is what the edited file says, and limits hold when rerun."""

from __future__ import annotations

import copy
import json
import math
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from helpers.all_states import every_loss, many_stages
from helpers.boards import CABLE, LENGTH, Table, boards, flat, switches, to_toml
from helpers.in_process import sigsim_here as sigsim
from helpers.laid_boards import laid_board, typed_board
from helpers.program import EXAMPLES
from helpers.refusals import ENDS, LEAD, STAGE, quick, refused
from helpers.thinned import only_full, some, tries
from helpers.variants import text as written
from hypothesis import assume, given, seed, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from sigsim.board.cable_parts import library_cables
from sigsim.board.edit import each_cable, with_cable
from sigsim.board.model import Board
from sigsim.board.reader import parse_board, read_board
from sigsim.decide.cables.candidates import candidates
from sigsim.decide.cables.limit import LONGEST_M, limits, role_of, shown_over
from sigsim.decide.cables.many import worst_losses
from sigsim.decide.cables.report import CableQuestion, CablesReport, cables_report
from sigsim.decide.loss.report import StateReport, assess
from sigsim.items.cable import CableSpec
from sigsim.layout.floor import Floor
from sigsim.metrics import USUAL_BASIS, Basis, Reference, Resonance
from sigsim.states.response import Solver
from sigsim.states.search import worst

BASS = EXAMPLES / "ferry-bass.toml"
VINTAGE = EXAMPLES / "ferry-guitar-vintage.toml"
# Sums of segments against one logarithm of the whole: rounding.
ROUNDING_DB = 1e-8


def report_of(board: Board, only: tuple[str, ...] = (), limit: float | None = None) -> CablesReport:
    return cables_report(
        CableQuestion(board, limit=limit), candidates(board, library_cables(), only)
    )


def used_roles(table: Table) -> set[str]:
    wiring = {table["wiring"]["cable"]} if "wiring" in table else set()
    return wiring | {item["cable"] for item in flat(table["chain"]) if "cable" in item}


@settings(max_examples=tries(6, 12))
@seed(70)
@given(boards(), CABLE)
def test_cables_together_have_the_numbers_of_each_alone(table: Table, other: Table) -> None:
    table["cables"]["other"] = other
    board = parse_board(to_toml(table))
    assume(next(board.pieces(), None) is not None)
    for role in report_of(board).roles:
        for choice in role.choices:
            made = with_cable(board, role.role.name, choice.candidate.spec)
            alone = assess(Solver(made), choice.worst.state)
            # The same steps on arrays of another shape: rounding, of levels down to -300 dB.
            assert numbers_of(choice.worst) == pytest.approx(
                numbers_of(alone), rel=1e-9, abs=1e-9, nan_ok=True
            )
            assert choice.worst.hand_check == alone.hand_check


def numbers_of(state: StateReport) -> list[float]:
    peaks = [peak or Resonance(math.nan, math.nan) for peak in peaks_of(state)]
    corners = [corner or math.nan for corner in (state.corner, state.reference_corner)]
    levels = [state.level, state.level_change, state.treble_loss, state.treble_loss_with_lead]
    return [
        *levels, *state.losses.values(), *corners,
        *(value for peak in peaks for value in (peak.frequency, peak.height)),
    ]  # fmt: skip


def peaks_of(state: StateReport) -> tuple[Resonance | None, Resonance | None]:
    return state.resonance, state.reference_resonance


@settings(max_examples=tries(24, 60))
@seed(71)
@given(boards(), CABLE)
def test_every_cable_is_what_the_edited_file_loses(table: Table, other: Table) -> None:
    """Brute force: the cable's figures written into the file, every state of it solved."""
    assume(len(switches(table)) <= 5)
    table["cables"]["other"] = other
    board = parse_board(to_toml(table))
    roles = {cable.cable for cable in board.pieces()}
    assume(roles)
    report = report_of(board, only=("other",))
    assert {role.role.name for role in report.roles} == roles
    assert set(report.unused) == set(table["cables"]) - roles
    for role in report.roles:
        for choice in role.choices:
            edited = copy.deepcopy(table)
            edited["cables"][role.role.name] = table["cables"][choice.candidate.name]
            changed = parse_board(to_toml(edited))
            expected = max(every_loss(changed, "ideal").values(), default=math.nan)
            assert choice.worst.treble_loss == pytest.approx(expected, abs=ROUNDING_DB, nan_ok=True)
            if any(role.role.leads):
                counted = max(every_loss(changed, "bare").values(), default=math.nan)
                assert choice.counted == pytest.approx(counted, abs=ROUNDING_DB, nan_ok=True)
            for scene in choice.scenes:
                on = changed.heard(changed.scene(scene.state.name).on)
                silent = math.nan
                assert scene.treble_loss == pytest.approx(
                    every_loss(changed, "ideal").get(on, silent), abs=ROUNDING_DB, nan_ok=True
                )


@settings(max_examples=tries(24, 60))
@seed(72)
@given(boards(), st.lists(st.tuples(CABLE, LENGTH), min_size=1, max_size=4),
       st.sampled_from(["ideal", "direct"]))  # fmt: skip
def test_many_variants_at_once_are_each_by_itself(
    table: Table, drawn: list[tuple[Table, float]], reference: Any
) -> None:
    board = parse_board(to_toml(table))
    roles = [cable.cable for cable in board.pieces()]
    assume(roles)
    keys = ("capacitance", "resistance", "inductance", "loss_tangent", "plug_capacitance")
    figures = {key: np.array([cable.get(key, 0.0) for cable, _ in drawn]) for key in keys}
    lengths = np.array([length for _, length in drawn])

    def varied(values: Any) -> Board:
        columns = {key: values(column) for key, column in figures.items()}

        def change(cable: Any) -> Any:
            if cable.cable != roles[0]:
                return cable
            return replace(cable, spec=replace(cable.spec, **columns), length=values(lengths))

        return each_cable(board, change)

    together = worst_losses(varied, len(drawn), Basis(reference))
    for number, found in enumerate(together):
        single = worst(varied(lambda column, n=number: float(column[n])), reference)
        assert found == pytest.approx(single.value, abs=ROUNDING_DB, nan_ok=True)


def test_more_passive_switches_than_a_walk_carries(monkeypatch: pytest.MonkeyPatch) -> None:
    board = read_board(EXAMPLES / "ferry-guitar-big.toml")
    role = role_of(board, "patch")
    exact = limits(board, role, [role.spec], 4.5, USUAL_BASIS)
    monkeypatch.setattr("sigsim.decide.cables.many._FEW_ROWS", 0)
    monkeypatch.setattr("sigsim.decide.cables.many._MOST_ROWS", 1)
    assert limits(board, role, [role.spec], 4.5, USUAL_BASIS)[0].length == pytest.approx(
        exact[0].length, rel=1e-6
    )


def rerun(text: str, tmp_path: Path) -> float:
    """Return the worst treble loss that `sigsim loss` says of a board file."""
    board = tmp_path / "edited.toml"
    board.write_text(text, encoding="utf-8")
    return float(json.loads(quick("loss", board, "--json"))["worst"]["treble_loss_db"])


def limit_of(report: dict[str, Any], role: str, cable: str) -> dict[str, Any]:
    entry = next(r for r in report["roles"] if r["role"] == role)
    return next(c for c in entry["cables"] if c["cable"] == cable)["limit"]


def test_limits_hold_when_loss_is_run_again(tmp_path: Path) -> None:
    """At the length said, `sigsim loss` reports the limit; a millimetre more is beyond it."""
    text = BASS.read_text(encoding="utf-8")
    report = json.loads(quick("cables", BASS, "--limit", "8.5", "--json"))
    found = limit_of(report, "lead", "cable-standard")
    assert found["answer"] == "length"
    assert found["lengths_m"][0] == 5.0  # the lead is left as it is
    for more, sign in ((0.0, -1), (1e-3, 1)):
        lost = rerun(text.replace('"9 m"', f'"{found["length_m"] + more!r} m"'), tmp_path)
        assert lost == pytest.approx(8.5, abs=1e-3)
        assert sign * (lost - 8.5) >= -1e-9
    found = limit_of(report, "patch", "cable-low")
    assert found["factor"] == pytest.approx(found["length_m"] / 0.25)
    assert found["total_m"] == pytest.approx(7 * found["length_m"])
    edited = text.replace('part = "cable-patch"', 'part = "cable-low"')
    edited = edited.replace('"25 cm"', f'"{found["length_m"]!r} m"')
    assert rerun(edited, tmp_path) == pytest.approx(8.5, abs=1e-6)


def test_a_role_of_unequal_pieces_is_scaled_by_one_factor(tmp_path: Path) -> None:
    """A cable to the amplifier and a tap, of one name."""
    report = json.loads(quick("cables", VINTAGE, "--limit", "5", "--json"))
    found = limit_of(report, "straight", "cable-standard")
    tap, run = found["lengths_m"]
    assert tap / 3 == pytest.approx(run / (15 * 0.3048)) == pytest.approx(found["factor"])
    text = VINTAGE.read_text(encoding="utf-8")
    text = text.replace('length = "3 m"', f"length = {tap!r}")
    text = text.replace('length = "15 ft"', f"length = {run!r}")
    assert rerun(text, tmp_path) == pytest.approx(5, abs=1e-6)


def test_the_lead_alone_is_counted_against_no_cable(tmp_path: Path) -> None:
    """A wire of no length put before it makes it a cable like any other for `sigsim loss`."""
    report = json.loads(quick("cables", VINTAGE, "--limit", "7", "--json"))
    found = limit_of(report, "lead", "cable-standard")
    assert found["counts_lead"] is True
    text = VINTAGE.read_text(encoding="utf-8").replace('"cable-coiled"', '"cable-standard"')
    text = text.replace('length = "4 m"', f"length = {found['length_m']!r}")
    text = text.replace("[cables.lead]", "[cables.nothing]\n[cables.lead]")
    first = '[[chain]]\ncable = "lead"'
    text = text.replace(first, f'[[chain]]\ncable = "nothing"\nlength = 0\n{first}', 1)
    assert rerun(text, tmp_path) == pytest.approx(7, abs=1e-6)


@settings(max_examples=tries(10, 25))
@seed(73)
@given(boards(), st.floats(0.2, 8.0))
def test_limits_of_random_boards(table: Table, limit: float) -> None:
    assume(len(switches(table)) <= 6)
    board = parse_board(to_toml(table))
    assume(any(True for _ in board.pieces()))
    for name in dict.fromkeys(cable.cable for cable in board.pieces()):
        role = role_of(board, name)
        reference: Reference = "bare" if role.only_lead else "ideal"
        (found,) = limits(board, role, [role.spec], limit, USUAL_BASIS)

        def loss(longest: float, role: Any = role, reference: Reference = reference) -> float:
            lengths = iter(role.with_longest(longest))

            def cut(piece: Any) -> Any:
                return replace(piece, length=next(lengths)) if piece.cable == role.name else piece

            # The wiring is one item in many places: give every place one of its own first.
            return worst(each_cable(apart(board), cut), reference).value

        assert found.at_zero == pytest.approx(loss(0.0), abs=ROUNDING_DB, nan_ok=True)
        for low, high in found.windows:
            assert loss(low) <= limit + ROUNDING_DB
            assert loss(high) <= limit + ROUNDING_DB
            if high < LONGEST_M:
                assert loss(high) == pytest.approx(limit, abs=1e-4)
                assert loss(high * 1.0001 + 1e-6) > limit
        assert (found.length is None) == (not found.at_zero <= limit)


def apart(board: Board) -> Board:
    """Return the board with no item in two places."""
    return replace(board, listed=tuple(_copied(item) for item in board.chain), wiring=None)


def _copied(item: Any) -> Any:
    inside = getattr(item, "inside", None)
    changed = {} if inside is None else {"inside": tuple(map(_copied, inside))}
    return replace(item, **changed)


def test_limit_of_a_resistive_source_in_closed_form() -> None:
    """`10·log10(1 + (2πfRC'l)²)`, a first-order low-pass: over the band less that at 100 Hz."""
    board = parse_board(
        '[instrument]\ntype = "active"\noutput_resistance = "10k"\n[destination]\n'
        '[cables.lead]\n[cables.run]\ncapacitance = "100 pF/m"\n'
        '[[chain]]\ncable = "lead"\nlength = 1\n[[chain]]\ncable = "run"\nlength = 3\n'
    )
    f = 1000 * 10 ** (np.arange(3, 10) / 10)

    def loss(length: float) -> float:
        x = 2 * math.pi * f * 10e3 * 100e-12 * length
        x_low = 2 * math.pi * 100 * 10e3 * 100e-12 * length
        return float(np.mean(10 * np.log10(1 + x**2)) - 10 * np.log10(1 + x_low**2))

    for limit in (0.5, 3.0, 6.0):
        (found,) = limits(board, role_of(board, "run"), [CableSpec(capacitance=100e-12)], limit,
                          USUAL_BASIS)  # fmt: skip
        assert found.length == pytest.approx(
            brentq(lambda x, at=limit: loss(x) - at, 0, 100), abs=1e-5
        )
    (found,) = limits(board, role_of(board, "run"), [CableSpec()], 0.5, USUAL_BASIS)
    assert found.any_length


def test_a_loss_that_falls_again_is_said() -> None:
    """A coil rings with its cable in the band: some length adds treble, so that it is no loss."""
    board = parse_board(
        '[instrument]\nresistance = 0\ninductance = 1\nloss_resistance = "200k"\n[destination]\n'
        '[cables.lead]\n[cables.run]\ncapacitance = "100 pF/m"\n'
        '[[chain]]\ncable = "lead"\nlength = 1\n'
        '[[chain]]\nstage = "x"\ninput_resistance = "40k"\noutput_resistance = 0\n'
        'bypass = "hardwire"\n[[chain]]\ncable = "run"\nlength = 3\n'
    )
    role = role_of(board, "run")
    (found,) = limits(board, role, [role.spec], 0.7, USUAL_BASIS)
    (low, high), *_ = found.windows
    assert found.length is None
    assert 0 < low < high < LONGEST_M


def test_cables_of_no_length_are_all_equal() -> None:
    """Plugs apart, which are there at any length."""
    text = BASS.read_text(encoding="utf-8")
    text = re.sub(r'^length = ".*"$', "length = 0", text, flags=re.M)
    board = parse_board(text)
    library = {n: replace(s, plug_capacitance=0.0) for n, s in library_cables().items()}
    tried = [c for c in candidates(board, library) if c.in_library]
    tried += [c for c in candidates(board, {}) if not c.in_library]
    report = cables_report(CableQuestion(board), tried)
    for role in report.roles:
        losses = {round(c.counted, 9) for c in role.choices if c.candidate.in_library}
        assert len(losses) == 1


def test_json_holds_what_scripts_rely_on() -> None:
    report = json.loads(quick("cables", BASS, "--json"))
    assert set(report) == {
        "board", "at", "variants", "set", "reference", "band_hz", "limit_db", "roles", "unused",
    }  # fmt: skip
    lead, patch = report["roles"]
    assert (lead["role"], lead["cable_now"], lead["total_m"]) == ("lead", "cable-standard", 14)
    assert (patch["pieces"], patch["lengths_m"]) == (7, [0.25] * 7)
    assert lead["instrument_lead"] == [0]
    assert patch["instrument_lead"] == []
    loss = json.loads(quick("loss", BASS, "--json"))
    for role in report["roles"]:
        assert {c["cable"] for c in role["cables"]} == set(library_cables())
        now = [c for c in role["cables"] if c["now"]]
        assert [c["cable"] for c in now] == [role["cable_now"]]
        assert now[0]["worst"] == loss["worst"]
        assert now[0]["scenes"] == loss["states"][1:]
        assert now[0]["change_db"] == 0
        assert now[0]["limit"] is None
    # Ranked by what counts: the lead itself too where it changes with the cable.
    counted = [c["treble_loss_with_lead_db"] for c in lead["cables"]]
    assert counted == sorted(counted)
    losses = [c["treble_loss_db"] for c in patch["cables"]]
    assert losses == sorted(losses)
    assert {c["treble_loss_with_lead_db"] for c in patch["cables"]} == {None}
    better = patch["cables"][0]
    assert patch["better"] == {"cable": better["cable"], "change_db": better["change_db"]}
    assert patch["cheaper"]["cable"] == "cable-high"


def test_a_better_lead_is_not_ranked_last(tmp_path: Path) -> None:
    """Against the same lead a dull lead seems to lose nothing; the order must not believe it.

    So it is with coils whose resonance is high, which little metal damps.
    """
    board, part = tmp_path / "board.toml", 'part = "pickup-single-coil"\n'
    plain = part + 'loss_resistance = "470 kΩ"\nloss_exponent = 0\n'
    board.write_text(VINTAGE.read_text(encoding="utf-8").replace(part, plain), encoding="utf-8")
    report = json.loads(quick("cables", board, "--json"))
    lead = next(r for r in report["roles"] if r["role"] == "lead")
    by_loss = min(lead["cables"], key=lambda c: c["treble_loss_db"])
    assert by_loss["cable"] == "cable-coiled"
    assert lead["cables"][0]["cable"] == "cable-low"
    assert lead["cables"][-1]["cable"] == "cable-coiled"


def test_cables_of_the_file_stand_beside_those_of_the_library(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    extra = '[cables.spare]\ncapacitance = "60 pF/m"\n[cables.same]\npart = "rg-58"\n'
    board.write_text(BASS.read_text(encoding="utf-8") + extra, encoding="utf-8")
    report = json.loads(quick("cables", board, "--json", "--only", "spare,same"))
    assert report["unused"] == ["spare", "same"]
    for role in report["roles"]:
        tried = {c["cable"]: c for c in role["cables"]}
        now = {"lead": "cable-standard", "patch": "cable-patch"}[role["role"]]
        assert set(tried) == {"spare", "rg-58", now}
        assert tried["spare"]["from"] == "file"
        assert tried["rg-58"]["names_in_file"] == ["same"]


def test_words_and_width(tmp_path: Path) -> None:
    out = quick("cables", BASS)
    first = " ".join(out.split("\n\n")[0].split())
    assert first == (
        "The best change is cable-low as 'lead': counting the lead itself, the worst treble loss "
        "falls from 10.9 dB (heavy) to 7.7 dB (heavy)."
    )
    assert "'patch': cable-patch, 7 × 25 cm, 1.75 m in all (ready-made)." in out
    long = BASS.read_text(encoding="utf-8").replace("patch", "patch of the longest name " * 3)
    long = long.replace('"cable-patch of the longest name patch', '"cable-patch')
    long = re.sub(r'part = "cable-.*', 'capacitance = "90 pF/m"', long)
    long = long.replace("cables.patch", "cables.'patch").replace("name ]", "name ']")
    board = tmp_path / "long.toml"
    board.write_text(long, encoding="utf-8")
    for command in (["--scenes"], ["--limit", "8.5", "--only", "rg-58"]):
        assert max(map(len, quick("cables", board, *command).splitlines())) <= 80


def test_first_sentence_with_a_limit() -> None:
    out = quick("cables", BASS, "--limit", "8.5 dB")
    first = " ".join(out.split("\n\n")[0].split())
    assert first == (
        "To lose at most 8.5 dB of treble in the worst combination (heavy at most), with the cable "
        "now used: 'lead' besides the instrument's own may be 8.51 m (9 m now); 'patch' may be "
        "19.2 cm each (25 cm each now)."
    )


NO_CABLE = ENDS + '[[chain]]\nstage = "fuzz"\ninput_resistance = "1M"\noutput_resistance = "1k"\n'


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--only", "cable-lov"], ["--only", 'did you mean "cable-low"']),
        (["--only", ","], ["--only", "this says nothing", "names of cables"]),
        (["--limit", "x"], ["--limit", "0 to 100"]),
        (["--limit", "6 m"], ["--limit", "6 m"]),
        (["--limit", "nan"], ["--limit", "finite"]),
        (["--limit", "-3"], ["--limit", "0 to 100"]),
        (["--limit", "101"], ["--limit", "0 to 100"]),
        (["--plot", "x.gif"], [".png .svg .pdf"]),
        (["--reference", "idle"], ["ideal"]),
    ],
    ids=lambda value: " ".join(value),
)
def test_bad_options(arguments: list[str], words: list[str]) -> None:
    message = refused("cables", BASS, *arguments)
    assert all(word in message for word in words), message


def test_a_limit_that_no_length_keeps(tmp_path: Path) -> None:
    """What is said to be lost without the cable, `sigsim loss` says of the file without it."""
    plot = tmp_path / "x.png"
    run = sigsim("cables", BASS, "--limit", "1", "--plot", plot)
    assert (run.status, run.out) == (1, "")
    assert "--limit: not reachable" in run.err
    assert "are lost with no cable at all as 'lead'" in run.err
    assert not plot.exists()
    found = float(re.findall(r"([\d.]+) dB are lost", run.err)[0])
    text = BASS.read_text(encoding="utf-8")
    text = text.replace("[cables.patch]", "[cables.none]\n[cables.patch]")
    text = text.replace('"lead"\nlength = "9 m"', '"none"\nlength = 0')
    assert rerun(text, tmp_path) == pytest.approx(found, abs=0.05)


def test_a_limit_that_the_plugs_alone_exceed() -> None:
    board = EXAMPLES / "ferry-bass-buffered.toml"
    message = refused("cables", board, "--limit", "1.2")
    assert "1.23 dB are lost with no cable at all as 'lead'" in message
    assert "1.3 dB are lost at length 0 as 'patch', by the plugs" in message
    assert "To lose at most 1.4 dB" in quick("cables", board, "--limit", "1.4", "--only", "rg-58")


def test_boards_without_a_cable_or_a_sound(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    board.write_text(NO_CABLE)
    assert "no cable in its chain" in refused("cables", board)
    silent = BASS.read_text(encoding="utf-8").replace("volume = 10", "volume = 0")
    board.write_text(silent, encoding="utf-8")
    assert quick("cables", board).startswith("Nothing comes out")
    assert json.loads(quick("cables", board, "--json"))["roles"]
    assert "nothing comes out" in refused("cables", board, "--limit", "3")


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_plot(kind: str, tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    text = ENDS.replace("[cables.lead]", '[cables."$a_b$"]') + LEAD.replace('"lead"', '"$a_b$"')
    board.write_text(text)
    target = tmp_path / f"cables.{kind}"
    run = sigsim("cables", board, "--plot", target, "--limit", "6")
    assert run.status == 0, run.err
    assert target.stat().st_size > 5000


def test_plot_marks_are_the_losses_of_the_report_sorted_by_name() -> None:
    from sigsim.decide.cables.curves import cable_curves
    from sigsim.show.plots.cables import draw_cables
    from sigsim.show.plots.style import new_figure

    report = report_of(read_board(BASS), limit=6.0)
    curves = cable_curves(report)
    dots, lengths = draw_cables(new_figure(), report, curves)
    patch = curves.roles[1]
    assert patch.loss_now == pytest.approx(worst(read_board(BASS)).value, abs=ROUNDING_DB)
    assert np.all(np.diff(patch.loss_over_length) > 0)
    names = [label.get_text() for label in dots.get_yticklabels()]
    assert names == [choice.candidate.name for choice in report.best.choices]
    drawn = {
        (float(x), names[int(y)])
        for line in dots.lines
        if line.get_label() == f"_{report.best.role.name}"
        for x, y in zip(line.get_xdata(), line.get_ydata(), strict=True)
    }
    assert drawn == {(c.counted, c.candidate.name) for c in report.best.choices}
    assert "(dB)" in dots.get_xlabel()
    assert "(m)" in lengths.get_xlabel()


def test_forty_switches_are_no_matter() -> None:
    board = parse_board(many_stages(40))
    report = report_of(board, only=("cable-low",), limit=6.0)
    assert all(choice.proven for role in report.roles for choice in role.choices)


def test_only_what_is_asked_and_what_is_used_there() -> None:
    run = sigsim("cables", BASS, "--only", "cable-low,cable-high", "--json")
    for role in json.loads(run.out)["roles"]:
        names = {cable["cable"] for cable in role["cables"]}
        assert len(names - {"cable-low", "cable-high"}) <= 1


RUN = '[[chain]]\ncable = "run"\nlength = {}\n'


def test_advice_keeps_to_what_is_sold_for_a_role(tmp_path: Path) -> None:
    """A patch cable is no cheaper lead, a coiled lead no cheaper straight one; asked for, it is."""
    report = json.loads(quick("cables", BASS, "--json"))
    for role, use in zip(report["roles"], ("lead", "patch"), strict=True):
        assert role["bought_as"] == [use]
        entries = {entry["cable"]: entry for entry in role["cables"]}
        for step in (role["better"], role["cheaper"]):
            assert use in entries[step["cable"]]["bought_as"]
        assert all(e["advised"] == (use in e["bought_as"]) for e in entries.values())
    asked = json.loads(quick("cables", VINTAGE, "--only", "cable-patch", "--json"))
    lead = next(r for r in asked["roles"] if r["role"] == "lead")
    assert lead["better"]["cable"] == "cable-patch"
    alone = tmp_path / "alone.toml"
    alone.write_text(ENDS.replace('"100 pF/m"', '"90 pF/m"') + LEAD)
    (role,) = json.loads(quick("cables", alone, "--json"))["roles"]
    assert role["cheaper"]["cable"] == "cable-standard"


def test_headline_table_and_shopping_list_say_the_same() -> None:
    for board in (BASS, VINTAGE, *only_full(EXAMPLES / "ferry-guitar-big.toml")):
        out = " ".join(quick("cables", board).split())
        report = json.loads(quick("cables", board, "--json"))
        best = min(report["roles"], key=lambda r: (r["better"] or {"change_db": 0})["change_db"])
        name, change = best["better"]["cable"], best["better"]["change_db"]
        entry = next(c for c in best["cables"] if c["cable"] == name)
        now = next(c for c in best["cables"] if c["now"])
        key = best["ranked_by"]
        assert f"The best change is {name} as '{best['role']}'" in out
        assert f"from {now[key]:.1f} dB" in out
        assert f"to {entry[key]:.1f} dB" in out
        assert f"Better: {name}, {change:+.1f} dB" in out
        assert change == pytest.approx(entry[key] - now[key])


def test_what_is_bought_ready_made_and_what_by_the_metre(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    text = ENDS.replace('capacitance = "100 pF/m"', 'part = "rg-59"') + LEAD + STAGE
    board.write_text(text.replace("[cables.lead]", '[cables.own]\ncapacitance = "90 pF/m"\n'
                     "[cables.lead]") + '[[chain]]\ncable = "own"\nlength = 3\n')  # fmt: skip
    out = " ".join(quick("cables", board).split())
    assert "'lead': rg-59, 1 × 10 ft, 10 ft in all (by the metre, with 2 plugs)" in out
    assert "'own': 'own', 1 × 3 m, 3 m in all (cut to length, with 2 plugs)" in out


@pytest.mark.parametrize(("unit", "other"), [("ft", " m"), ("m", " ft")])
def test_computed_lengths_are_in_the_unit_of_the_file(
    unit: str, other: str, tmp_path: Path
) -> None:
    board = tmp_path / "board.toml"
    text = ENDS + '[cables.run]\ncapacitance = "100 pF/m"\n' + LEAD.replace("10 ft", f"9 {unit}")
    board.write_text(text + STAGE + RUN.format(f'"21 {unit}"') + RUN.format(f'"7 {unit}"'))
    out = quick("cables", board, "--limit", "6", "--only", "rg-58")
    said = out[: out.index("As 'lead'")] + out[out.index("The longest each cable") :]
    assert f" {unit}" in said
    assert not re.search(rf"\d{other}\b", said), said
    found = limit_of(json.loads(quick("cables", board, "--limit", "6", "--json")), "run", "rg-58")
    # 1 ft is 0.3048 m exactly (international yard and pound agreement, 1959).
    length = found["length_m"] / (0.3048 if unit == "ft" else 1)
    table = out[out.index("The longest each cable") :].split("'run'")[1]
    (shown,) = map(float, re.findall(rf"rg-58 +101 +([\d.]+) {unit}", table))
    assert shown <= length
    # Three digits are shown, rounded down.
    assert shown == pytest.approx(length, rel=0.01)


def test_a_volume_pedal_is_not_blamed_for_its_level(tmp_path: Path) -> None:
    """Its level at any frequency alike is no treble: a resistance without any capacitance."""
    board = tmp_path / "board.toml"
    pedal = '[[chain]]\nstage = "swell"\nkind = "volume pedal"\ntrack = "250k"\nposition = 3\n'
    ends = ENDS.replace('inductance = "3 H"', "").replace('"8 kΩ"', '"1 Ω"')
    cables = '[cables.run]\ncapacitance = "1 fF/m"\n'
    board.write_text(ends + cables + LEAD + pedal + RUN.format(1))
    report = json.loads(quick("cables", board, "--limit", "0.5", "--json"))
    assert limit_of(report, "run", "run")["answer"] == "any length"


def test_a_change_of_level_is_said(tmp_path: Path) -> None:
    """A cable of 100 Ω a metre before a load of 10 kΩ: 20·log10(1.1 + ...) is over 1 dB."""
    board = tmp_path / "board.toml"
    cables = '[cables.run]\ncapacitance = "1 pF/m"\nresistance = "200 Ω/m"\n'
    end = ENDS.replace('"1 MΩ"', '"10 kΩ"')
    board.write_text(end + cables + LEAD + RUN.format(10))
    out = quick("cables", board, "--only", "run")
    assert re.search(r"Cable +pF/m +Louder", out)
    assert "Level" not in quick("cables", BASS)


@pytest.mark.parametrize("limit", ["5", "7", "8.5"])
def test_the_longest_length_that_is_sold_keeps_the_limit(limit: str, tmp_path: Path) -> None:
    """Against `loss` of the same board with each of the lengths typed in."""
    text = BASS.read_text(encoding="utf-8")
    sold = ["5 cm", "10 cm", "20 cm", "40 cm", "80 cm", "2 m"]
    line = "sold = " + str(sold).replace("'", '"') + "\n"
    text = re.sub(r"(\[cables.patch\]\n)", rf"\1{line}", text)
    board = tmp_path / "sold.toml"
    board.write_text(text, encoding="utf-8")
    report = json.loads(quick("cables", board, "--limit", limit, "--only", "cable-patch", "--json"))
    (patch,) = (role for role in report["roles"] if role["role"] == "patch")
    (now,) = (c["limit"] for c in patch["cables"] if c["now"])
    kept = []
    for length in sold:
        typed = text.replace('length = "25 cm"', f'length = "{length}"')
        assert typed != text
        board.write_text(typed, encoding="utf-8")
        loss = json.loads(quick("loss", board, "--json"))["worst"]["treble_loss_db"]
        if loss > float(limit):
            break
        kept.append(length)
    metres = [float(x.split()[0]) / (1 if x.endswith(" m") else 100) for x in kept]
    assert now["longest_sold_m"] == (metres[-1] if metres else None)
    board.write_text(text, encoding="utf-8")
    said = " ".join(quick("cables", board, "--limit", limit, "--only", "cable-patch").split())
    wanted = f"may be {kept[-1]} each, of the lengths" if kept else "the shortest that is sold"
    assert wanted in said or now["answer"] == "none"


def as_bought(table: Table, longest: float, size: float) -> list[float]:
    """Put pieces into a plain board as they are bought; in whole micrometres, by hand."""
    made = []
    for item in flat(table["chain"]):
        if item.get("cable") == "patch":
            wanted = item["length"] * size / longest
            item["length"] = min(s for s in SOLD if round(s * 1e6) >= round(wanted * 1e6))
            made.append(item["length"])
    return made


SOLD = [0.1, 0.15, 0.25, 0.5, 1.0, 3.0]


@pytest.mark.parametrize("number", some(range(12), 4))
def test_pieces_as_they_are_bought_against_trying_all(number: int) -> None:
    """Each piece is scaled and rounded up to a sold length; `worst` of the board typed in."""
    laid = laid_board(number)
    laid["cables"]["patch"] |= {"sold": SOLD, "capacitance": "900 pF/m"}
    laid["wiring"] = {"cable": "patch"}
    board = parse_board(written(laid))
    typed = typed_board(laid)
    now = [i["length"] for i in flat(typed["chain"]) if i.get("cable") == "patch"]
    losses, pieces = [], []
    for size in SOLD:
        tried = copy.deepcopy(typed)
        pieces.append(as_bought(tried, max(now), size))
        losses.append(worst(parse_board(written(tried))).value)
    role = role_of(board, "patch")
    for limit in {*(sum(pair) / 2 for pair in pairwise(losses))}:
        (found,) = limits(board, role, [role.spec], limit, USUAL_BASIS)
        ready = found.ready
        assert ready is not None
        kept = [size for size, loss in zip(SOLD, losses, strict=True) if loss <= limit]
        assert list(ready.within) == kept
        assert ready.length == (kept[-1] if kept else None)
        chosen = SOLD.index(kept[-1]) if kept else 0
        assert list(ready.lengths) == pieces[chosen]
        # The walk over many variants against one board alone: rounding.
        assert ready.loss == pytest.approx(losses[chosen], abs=1e-6)
        assert len(ready.short) == too_short(board, max(now), SOLD[chosen])


def too_short(board: Board, longest: float, size: float) -> int:
    """Count the runs on a layout that are longer than their piece as it is bought."""
    assert board.laying is not None
    floor, slack, count = Floor(board.laying.layout), board.laying.layout.slack, 0
    for run in board.runs:
        begin, end = run.begin.socket, run.end.socket
        if run.cable.cable != "patch" or run.made is None or begin is None or end is None:
            continue
        way = floor.way(begin, end)
        wanted = float(run.made.length) * size / longest  # type: ignore[arg-type]
        bought = min(s for s in SOLD if round(s * 1e6) >= round(wanted * 1e6))
        count += way is not None and round(bought * 1e6) < round((way.length + slack) * 1e6)
    return count


def test_what_the_boxes_demand_beyond_a_limit_is_said(tmp_path: Path) -> None:
    """No shorter piece reaches with the boxes where they stand: which connection needs which."""
    board = tmp_path / "board.toml"
    size = 'width = "{} cm"\ndepth = "12 cm"\n'
    text = (
        ENDS + '[cables.patch]\ncapacitance = "1 nF/m"\nsold = ["6 in", "12 in", "36 in"]\n'
        '[wiring]\ncable = "patch"\n[layout]\nsize = ["60 cm", "32 cm"]\n'
        'rows = [["far"], ["near", "first"]]\ngap = "2 cm"\nslack = "3 cm"\n' + LEAD
    )
    for name, width in (("first", 7), ("near", 7), ("far", 40)):
        text += STAGE.replace("fuzz", name) + size.format(width)
    board.write_text(text)
    now = json.loads(quick("loss", board, "--json"))["worst"]["treble_loss_db"]
    asked = ("cables", board, "--limit", f"{now - 0.05:.3f}", "--only", "cable-patch")
    said = " ".join(quick(*asked).split())
    assert "needs 36 in: with the boxes where they stand this limit cannot be kept." in said
    found = limit_of(json.loads(quick(*asked, "--json")), "patch", "patch")
    assert found["kept_in_place"] is False
    assert [one["needed_m"] for one in found["too_short"]] == [pytest.approx(36 * 0.0254)]
    said = quick("cables", board, "--limit", f"{now + 0.05:.3f}", "--only", "cable-patch")
    assert "cannot be kept" not in said


def test_a_loss_that_is_just_over_its_limit_shows_that_it_is() -> None:
    assert shown_over(0.5034, 0.5) == "0.503"
    assert shown_over(0.62, 0.5) == "0.6"
    assert shown_over(0.4, 0.5) == "0.4"
    assert shown_over(0.54, 0.5) == "0.54"

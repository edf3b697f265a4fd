"""What a netlist says, and how: names, values, wires, what is left out. No simulator needed."""

from __future__ import annotations

import re

import pytest
from helpers.boards import Table, boards_in_a_state
from helpers.simulator import LEAD, SPLITS, board
from helpers.thinned import tries
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from sigsim.board.reader import parse_board
from sigsim.errors import SigsimError
from sigsim.spice.emit import Span, emit
from sigsim.spice.emit_line import LineStyle
from sigsim.spice.netlist import netlist
from sigsim.spice.network import LEAST_RESISTOR, Network
from sigsim.spice.text import folded, number, safe, slug

FUZZ = '[[chain]]\nstage = "Coal Fuzz!"\ninput_resistance = "10k"\noutput_resistance = "5k"\n'
NOTHING: frozenset[str] = frozenset()


def elements(text: str) -> list[str]:
    return [line for line in text.splitlines() if line and line[0] not in "*."]


def value(text: str, name: str) -> str:
    (found,) = [line.split()[-1] for line in elements(text) if line.split()[0] == name]
    return found


def test_node_names_follow_the_items() -> None:
    made = board(LEAD + FUZZ + LEAD)
    text = netlist(made, made.state({"Coal Fuzz!"})).text
    assert "n02_coal_fuzz_in" in text
    assert "O01_cable n01_lead_in 0 n02_coal_fuzz_in 0" in text
    assert ".print ac vdb(out) vp(out)" in text


# 2.2 MΩ as 2.2M would be read as 2.2 mΩ: the first trap of any SPICE manual.
def test_values_are_plain_numbers() -> None:
    text = netlist(board(LEAD.replace("5 m", "5 mm") + FUZZ.replace("10k", "2M2"))).text
    assert not re.search(r"\d(meg|[munpfgkt])\b", "\n".join(elements(text)), re.IGNORECASE)
    made = board(LEAD + FUZZ.replace("10k", "2M2"))
    on = netlist(made, made.state({"Coal Fuzz!"})).text
    assert value(on, "R02_input") == "2200000.0"


def test_an_ideal_switch_is_a_wire_and_its_node_can_still_be_found() -> None:
    text = netlist(board(LEAD + FUZZ + LEAD)).text
    assert not [line for line in elements(text) if line.startswith("R02")]
    assert "n03_lead_in is n02_coal_fuzz_in" in text


@settings(max_examples=tries(40, 100))
@seed(21)
@given(boards_in_a_state())
def test_no_resistor_is_so_small_that_a_picofarad_beside_it_is_lost(
    case: tuple[Table, frozenset[str], str],
) -> None:
    _, on, text = case
    made = parse_board(text)
    for line in elements(netlist(made, made.state(on)).text):
        assert line[0] != "R" or float(line.split()[3]) >= LEAST_RESISTOR


# ngspice 39 refuses these as lossy lines ("At least two of R,L,G,C", "RL line not supported").
@pytest.mark.parametrize(
    ("spec", "expected"),
    [
        ("resistance = 0.1", "R01_cable n01_lead_in out 0.5"),
        ("inductance = 2e-6", "L01_cable n01_lead_in out "),
        ("capacitance = 1e-10", "C01_cable out 0 5e-10"),
        ("resistance = 0.1\ncapacitance = 1e-10", "O01_cable"),
        ("inductance = 1e-6\ncapacitance = 1e-10", "O01_cable"),
    ],
)
def test_a_cable_that_is_no_line_is_written_as_lumped_parts(spec: str, expected: str) -> None:
    text = "[instrument]\nresistance = 8e3\n[destination]\n[cables.lead]\n" + spec + "\n" + LEAD
    written = netlist(parse_board(text)).text
    assert any(line.startswith(expected) for line in elements(written))
    assert (".model" in written) == expected.startswith("O")


def test_sections() -> None:
    written = netlist(board(LEAD), style=LineStyle("sections", 7)).text
    assert ".model" not in written
    names = [line.split()[0] for line in elements(written)]
    assert len([n for n in names if re.match(r"L01_s\d$", n)]) == 7
    total = sum(float(line.split()[-1]) for line in elements(written) if line[:4] == "C01_")
    assert total == pytest.approx(5e-10)  # 5 m of 100 pF/m


def test_too_few_sections_are_said() -> None:
    far = board(LEAD.replace("5 m", "1000 m"))
    assert "too long for 3 sections" in netlist(far, style=LineStyle("sections", 3)).left_out[0]
    assert not netlist(far, style=LineStyle("sections", 1000)).left_out


def test_a_loss_tangent_is_left_out_and_said_so() -> None:
    lossy = board("loss_tangent = 0.02\n" + LEAD)
    written = netlist(lossy)
    assert written.left_out == ("the loss tangent of cable lead, 0.02, is left out",)
    assert "* Not in this netlist: the loss tangent of cable lead" in written.text
    assert not netlist(board("loss_tangent = 0.02\n" + LEAD.replace("5 m", "0 m"))).left_out


def test_references() -> None:
    made = board(LEAD + FUZZ + LEAD)
    direct = netlist(made, reference="direct").text
    assert "coal" not in direct
    assert "direct reference" in direct
    ideal = netlist(made, made.state({"Coal Fuzz!"}), reference="ideal").text
    assert len([line for line in elements(ideal) if line[0] == "O"]) == 1


def test_the_whole_tree_is_written_whichever_end_is_heard() -> None:
    made = parse_board(SPLITS)
    state = made.state({"l", "echo", "drive"})
    texts = {at: netlist(made.heard_at(at), state).text for at in made.ends}
    for text in texts.values():
        names = {line.split()[0] for line in elements(text)}
        # Loads of all three ends, and what is behind the isolators of both ways.
        assert {"R04_input", "R07_input", "R10_input", "R05_output", "R08_output"} <= names
    assert "That is amp; the other ends:" in texts[""]
    assert "the voltage at wet amp is v(n07_wet_amp_in)." in texts[""]
    # The tuner hangs right on the line.
    assert "the voltage at tuner is v(n02_wet_in)." in texts[""]
    assert "That is wet amp; the other ends:" in texts["wet"]
    assert "the voltage at amp is v(n10_amp_in)." in texts["wet"]
    assert "R07_input out 0" in texts["wet"]
    assert "R10_input out 0" in texts[""]


def test_an_end_in_a_loop_that_is_out_is_silent_and_the_rest_is_there() -> None:
    made = parse_board(SPLITS)
    text = netlist(made.heard_at("wet"), made.state({"drive"})).text
    assert "The way to wet amp leads through a loop that is out." in text
    assert "Vsilent out 0 DC 0" in text
    assert "E03_gain" in text
    assert "tuner is not in the circuit: the loop around it is out." in text
    assert "Vsilent" not in netlist(made, made.state({"drive"})).text


def test_a_reference_has_one_way() -> None:
    made = parse_board(SPLITS)
    state = made.state({"l", "echo", "drive"})
    main, wet = (
        "\n".join(elements(netlist(made.heard_at(at), state, reference="ideal").text))
        for at in ("", "wet")
    )
    assert "drive" in main
    assert "echo" not in main
    assert "wet" not in main
    assert "echo" in wet
    assert "drive" not in wet
    assert value(wet, "R03_input") == "500000.0"  # of the wet amp


def test_voltage_noise_is_that_of_the_way_that_is_heard() -> None:
    made = parse_board(SPLITS)
    state = made.state({"l", "echo"})
    main, wet = (netlist(made.heard_at(at), state, noise=True).text for at in ("", "wet"))
    assert "Rin" not in main
    for text in (main, wet):
        assert any(line.startswith("F05_in") for line in elements(text))
    assert not any(line.startswith("E05_en") for line in elements(main))
    assert "Its voltage noise is left out" in main
    assert any(line.startswith("E05_en") for line in elements(wet))


def test_a_shorted_output_still_has_its_name() -> None:
    text = 'volume_track = "250k"\nvolume = 0\n[destination]\n[cables.lead]\n' + LEAD
    written = netlist(parse_board('[instrument]\nresistance = "8k"\n' + text)).text
    assert "Vsilent out 0 DC 0" in written


def test_a_new_kind_of_item_is_an_error_and_no_guess() -> None:
    with pytest.raises(SigsimError, match="cannot be written as a netlist"):
        emit(object(), Span(Network(), 0, 0, True, LineStyle()))


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Coal Fuzz!", "coal_fuzz"),
        ("Hallé", "halle"),
        ("漢字", "item"),
        ("", "item"),
        ("x" * 10_000, "x" * 24),
        ("1.5 mm²", "1_5_mm2"),
        ("\n.control\n", "control"),
    ],
)
def test_slug(name: str, expected: str) -> None:
    assert slug(name, "item") == expected


@settings(max_examples=500)
@seed(22)
@given(st.text())
def test_text_of_a_board_is_one_harmless_line(text: str) -> None:
    assert re.fullmatch(r"[a-z0-9_]{1,24}", slug(text, "item"))
    shown = safe(text)
    assert len(shown.splitlines()) <= 1
    assert not set(re.sub(r"\\u[0-9a-f]{4}", "", shown)) & set("*#$;{}'\"`\\&|<>=!%@")
    assert not re.search(r"\.[a-z]", shown, re.IGNORECASE)
    assert re.sub(r"(?:\\u[0-9a-f]{4})+", _meant, shown) == text


def _meant(escapes: re.Match[str]) -> str:
    """Return what escapes stand for: nothing of a name is lost, so no two names are alike."""
    units = bytes.fromhex(escapes[0].replace("\\u", ""))
    return units.decode("utf-16-be", "surrogatepass")


@settings(max_examples=500)
@seed(24)
@given(st.text(max_size=400))
def test_a_long_comment_is_folded_whole(text: str) -> None:
    first, *others = folded(f"* {safe(text)}")
    assert all(len(line) <= 120 * 6 + 6 for line in (first, *others))
    assert first + "".join(line.removeprefix("*     ") for line in others) == f"* {safe(text)}"


@settings(max_examples=500)
@seed(23)
@given(st.floats(min_value=1e-300, max_value=1e300))
def test_numbers_keep_all_digits(x: float) -> None:
    assert float(number(x)) == x
    assert re.fullmatch(r"[\d.]+(e[+-]?\d+)?", number(x))

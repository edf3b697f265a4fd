"""The slips of a beginner: each is named with its line and with what is probably meant.

What is offered as mended is read by the parser of the language that ships with Python (TOML 1.0).
Feet, picofarads and decibels are spelled as in the International System and its brochure.
"""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest
from helpers.in_process import sigsim_here

from sigsim.board.reader import parse_board
from sigsim.errors import QuantityError, SigsimError
from sigsim.units import parse

ENDS = (
    '[instrument]\nresistance = "8k"\ninductance = "3 H"\n[destination]\n'
    '[cables.lead]\ncapacitance = "33 pF/ft"\n'
)
LEAD = '[[chain]]\ncable = "lead"\nlength = "10 ft"\n'
FUZZ = '[[chain]]\nstage = "fuzz"\npart = "wah-hardwire"\n'


def said(text: str) -> str:
    with pytest.raises(SigsimError) as error:
        parse_board(text, "b.toml")
    return str(error.value)


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("length = 18 ft", 'length = "18 ft"'),
        ("length = “18 ft”", 'length = "18 ft"'),
        ('length = "18 ft”', 'length = "18 ft"'),
        ("length = ‘18 ft’ # lead", 'length = "18 ft" # lead'),
        ('length = "18 ft', 'length = "18 ft"'),
        ("length = '18 ft", 'length = "18 ft"'),
        ('length = 18 ft"', 'length = "18 ft"'),
        ('length "18 ft"', 'length = "18 ft"'),
        ("length 18 ft", 'length = "18 ft"'),
        ('length: "18 ft"', 'length = "18 ft"'),
        ('length\u00a0= "18 ft"', 'length = "18 ft"'),
        ('length = "18 ft";', 'length = "18 ft"'),
        ('length = "18 ft" // lead', 'length = "18 ft"  # lead'),
        ("length = 18,5", "length = 18.5"),
        ('length = 6"', 'length = "6 in"'),
        ("part = wah-hardwire", 'part = "wah-hardwire"'),
        ("always_on = True", "always_on = true"),
        ('input resistance = "1M"', 'input_resistance = "1M"'),
        ("slow = [a, b]", 'slow = ["a", "b"]'),
        ('slow = ["a" "b"]', 'slow = ["a", "b"]'),
        ("slow dance = []", '"slow dance" = []'),
    ],
)
def test_a_line_that_cannot_be_read_is_shown_mended(line: str, meant: str) -> None:
    tomllib.loads(meant)
    text = said(f'title = "x"\n\n{line}\n')
    assert text.startswith("b.toml, line 3: this is not valid TOML: ")
    assert f": {meant} (found {line.strip()})".replace("\u00a0", "\\u00a0") in text


@pytest.mark.parametrize(
    ("slip", "line"),
    [
        ("[[chain]\n", 10),
        ("[chain]]\n", 10),
        ("chain]]\n", 10),
        ("[[chain\n", 10),
        ("[chain]\n", 10),
        ("(chain)\n", 10),
    ],
)
def test_brackets_of_an_item_are_two(slip: str, line: int) -> None:
    text = said(ENDS + LEAD + slip + 'stage = "x"\n')
    assert f"line {line}: " in text
    assert "write [[chain]] with two brackets" in text


def test_one_bracket_from_the_start_is_named_too() -> None:
    assert "two brackets" in said(ENDS + LEAD.replace("[[chain]]", "[chain]"))
    twice = ENDS + (LEAD + FUZZ).replace("[[chain]]", "[chain]")
    assert "line 7: this is not valid TOML: write [[chain]]" in said(twice)
    assert "[instrument] with one bracket" in said(ENDS.replace("[instrument]", "[[instrument]]"))


def test_what_stands_twice_is_named() -> None:
    assert "a new item begins with [[chain]]" in said(f'{LEAD}stage = "a"\nstage = "b"\n')
    assert "[instrument] begins on line 1 already" in said(ENDS + "[instrument]\n")


@pytest.mark.parametrize("line", ["x = y\x1b[2J", "x = y\u202e", f"x = {'y ' * 5000}"])
def test_the_line_is_shown_escaped_and_short(line: str) -> None:
    text = said(line)
    assert text.isprintable()
    assert len(text) < 300


def test_a_list_without_its_end_is_found_where_it_begins() -> None:
    text = said(f'{ENDS}{LEAD}[scenes]\na = ["x", "y"\n[wiring]\n')
    assert "line 11: " in text
    assert "the ] at its end is missing" in text


def test_a_problem_names_the_line_of_its_table() -> None:
    """Lines are counted by hand: brackets inside texts of several lines are no tables."""
    tricky = 'title = """\n[[chain]]\n"""\n'
    text = said(tricky + ENDS + LEAD + FUZZ + "gian = 3\n[wiring]\nx = 1\n")
    assert 'from line 13, chain item 2, stage "fuzz"' in text
    assert "from line 17, [wiring]" in text


def test_a_loop_names_the_lines_of_what_is_inside() -> None:
    inside = (
        '[[chain]]\nloop = "a, b"\n[[chain.inside]]\nstage = "x"\n[[chain.inside]]\nloop = "d"\n'
    )
    deep = '[[chain.inside.inside]]\nstage = "z"\n'
    text = said(ENDS + LEAD + inside + deep)
    assert 'from line 12, inside loop "a, b", item 1' in text
    assert 'from line 16, inside loop "d", item 1' in text


def test_an_inline_table_gets_no_line() -> None:
    chain = 'chain = [{stage = "x", part = "wah-hardwire", gian = 1}]\n'
    assert "\n  chain item 1, stage" in said(chain + ENDS)


def test_a_pedal_without_figures_is_told_of_the_parts() -> None:
    text = said(ENDS + LEAD + '[[chain]]\nstage = "gull $(wah)"\n')
    assert "input_resistance is missing" in text
    # Quoted as a shell wants it (POSIX: nothing is special inside single quotes).
    assert "sigsim parts --like 'gull $(wah)'" in text


@pytest.mark.parametrize(
    ("key", "meant"),
    [
        ("pedal", "stage"),
        ("box", "stage"),
        ("effect", "stage"),
        ("branch", "tap"),
        ('"side cable"', "tap"),
        ("side_cable", "tap"),
        ("switcher", "loop"),
        ("send", "loop"),
        ("lead", "cable"),
        ("amp", "[destination]"),
    ],
)
def test_players_words_lead_to_the_key_of_an_item(key: str, meant: str) -> None:
    assert f'did you mean "{meant}"?' in said(f'{ENDS}{LEAD}[[chain]]\n{key} = "x"\n')


@pytest.mark.parametrize(
    ("table", "meant"),
    [("amp", "[destination]"), ("guitar", "[instrument]"), ("bass", "[instrument]")],
)
def test_players_words_lead_to_a_section(table: str, meant: str) -> None:
    assert f'did you mean "{meant}"?' in said(f"{ENDS}{LEAD}[{table}]\n")


@pytest.mark.parametrize(
    ("found", "kind", "meant"),
    [
        ("18 feets", "length", "18 ft"),
        ("20 fts", "length", "20 ft"),
        ("3 meter s", "length", "3 m"),
        ("18 FT", "length", "18 ft"),
        ("100 pf/m", "capacitance per length", "100 pF/m"),
        ("33 pF per foot", "capacitance per length", "33 pF/ft"),
        ("47 UF", "capacitance", "47 µF"),
        ("250 KOHMS", "resistance", "250 kΩ"),
        ("9 kilohertz", "frequency", "9 kHz"),
        ("33 pF/ft +- 10", "capacitance per length", "33 pF/ft ± 10 %"),
        ("250k ± 20 percent", "resistance", "250k ± 20 %"),
        (100, "capacitance per length", "100 pF/m"),
        ("100", "capacitance per length", "100 pF/m"),
        ("100 pF", "capacitance per length", "100 pF/m"),
        (22, "capacitance", "22 nF"),
        ("18,5 m", "length", "18.5 m"),
    ],
)
def test_a_quantity_written_otherwise_is_guessed(found: object, kind: str, meant: str) -> None:
    with pytest.raises(QuantityError) as error:
        parse(found, kind)
    assert error.value.problem.nearest == meant
    parse(meant, kind)


@pytest.mark.parametrize("found", ["5 mins", "18 yards", "abc", "6 H", "foo ± 10", "1,000 m"])
def test_what_is_anyones_guess_is_not_guessed(found: str) -> None:
    with pytest.raises(QuantityError) as error:
        parse(found, "length")
    assert error.value.problem.nearest is None


def test_a_tolerance_is_a_percentage() -> None:
    for found in ("33 pF/ft +- 10", "33 pF/ft ± 10 pF"):
        with pytest.raises(QuantityError, match="a tolerance is a percentage: ± 10 %"):
            parse(found, "capacitance per length")


def test_a_file_without_its_ending_is_found(tmp_path: Path) -> None:
    for name in ("guitar.toml", "bass.toml"):
        (tmp_path / name).write_text(ENDS + LEAD, encoding="utf-8")
    for asked in ("guitar", "gitar", "guitar.txt"):
        assert 'did you mean "guitar.toml"?' in sigsim_here("loss", tmp_path / asked).err
    (tmp_path / "bass").mkdir()
    assert 'did you mean "bass.toml"?' in sigsim_here("loss", tmp_path / "bass").err


def test_a_bare_length_among_feet_is_a_warning() -> None:
    bare = LEAD.replace('"10 ft"', "18")
    (warning,) = parse_board(ENDS + LEAD + FUZZ + bare + FUZZ.replace("fuzz", "b") + bare).warnings
    assert "chain item 3 (18 m), chain item 5 (18 m)" in warning
    assert '"18 ft"' in warning
    for other in ('"3 m"', "3"):
        assert not parse_board(ENDS + LEAD.replace('"10 ft"', other) + FUZZ + bare).warnings
    assert not parse_board(ENDS + LEAD + FUZZ + bare.replace("18", "0")).warnings


def cautions(text: str, folder: Path) -> dict[str, str]:
    file = folder / "b.toml"
    file.write_text(text, encoding="utf-8")
    found = json.loads(sigsim_here("check", file, "--json").out)["cautions"]
    return {c["kind"]: c["text"] for c in found if c["kind"].startswith("no-")}


def test_joints_without_a_cable_are_said(tmp_path: Path) -> None:
    two = FUZZ + FUZZ.replace("fuzz", "echo")
    found = cautions(ENDS + two, tmp_path)
    assert set(found) == {"no-lead", "no-patch-cable", "no-amp-cable"}
    assert "1 of 1 joint" in found["no-patch-cable"]
    assert "'fuzz'" in found["no-lead"]
    assert "'echo'" in found["no-amp-cable"]
    none = LEAD.replace('"10 ft"', "0")
    assert not cautions(ENDS + none + FUZZ + none + FUZZ.replace("fuzz", "b") + none, tmp_path)
    wiring = '[wiring]\ncable = "lead"\nlength = "20 cm"\n'
    assert not cautions(ENDS + wiring + LEAD + two + LEAD, tmp_path)


def test_an_active_instrument_needs_no_lead(tmp_path: Path) -> None:
    active = re.sub(r"resistance = .*\n.*\n", 'type = "active"\noutput_resistance = "1k"\n', ENDS)
    assert not cautions(active + FUZZ + LEAD, tmp_path)


def test_joints_inside_a_loop_count_and_a_cable_on_a_switch_does_not(tmp_path: Path) -> None:
    loop = '[[chain]]\nloop = "l"\n[[chain.inside]]\n'
    box = loop + 'stage = "in"\npart = "wah-hardwire"\n'
    assert "2 of 2 joints" in cautions(ENDS + LEAD + box + LEAD, tmp_path)["no-patch-cable"]
    reel = loop + 'cable = "lead"\nlength = "40 m"\n'
    assert not cautions(ENDS + LEAD + FUZZ + LEAD + reel, tmp_path)


@pytest.mark.parametrize("asked", ["loop", "loop switcher", "true bypass looper", "FX loops"])
def test_a_loop_is_an_item_and_no_part(asked: str) -> None:
    assert "A switched loop is no part" in sigsim_here("parts", "--like", asked).out
    assert "A switched loop" not in sigsim_here("parts", "--like", "fuzz").out


@pytest.mark.parametrize("asked", ["EQ", "equalizer", "graphic EQ"])
def test_an_equaliser_is_found_with_either_bypass(asked: str) -> None:
    out = sigsim_here("parts", "--like", asked).out
    assert "pedal-true-bypass" in out
    assert "pedal-buffered" in out

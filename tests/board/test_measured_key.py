"""`measured = "2026-11-28"`: where it may stand, how it may be written, and who shows it.

The way a day is written is that of ISO 8601-1:2019, 5.2.2.1, and of TOML 1.0.0, "Local Date".
"""

from __future__ import annotations

import json
import tomllib
from datetime import date, timedelta
from pathlib import Path

import pytest
from helpers.boards import Table, boards, to_toml
from helpers.in_process import sigsim_here as invoke
from hypothesis import given, seed, settings
from jsonschema import Draft202012Validator

from sigsim.board.reader import parse_board
from sigsim.board.schema import board_schema
from sigsim.decide.measured import measured
from sigsim.decide.page.figures import figures
from sigsim.errors import SigsimError

DAY = "2025-11-28"
TABLES = (
    "instrument", "destination", "cables", "wiring", "length", "stage", "tap", "loop", "inner",
    "end", "pickup",
)  # fmt: skip


def board(**days: str) -> str:
    """Return a board with what stands in for a line in each of its tables."""
    lines = {name: days.get(name, "") for name in TABLES}
    return """
[instrument]
wiring_capacitance = "300 pF"
{instrument}
[[instrument.pickups]]
name = "neck"
resistance = "7 kΩ"
inductance = "3 H"
{pickup}
[destination]
input_resistance = "1 MΩ"
{destination}
[cables.lead]
capacitance = "98 pF/m ± 2 %"
{cables}
[wiring]
cable = "lead"
length = "20 cm"
{wiring}
[[chain]]
cable = "lead"
length = "6 m"
{length}
[[chain]]
stage = "box"
input_resistance = "470 kΩ"
output_resistance = 330
{stage}
[[chain]]
tap = "tuner"
cable = "lead"
length = "1 m"
input_resistance = "1 MΩ"
{tap}
[[chain]]
loop = "ring"
contact_resistance = 0.1
{loop}
[[chain.inside]]
stage = "inner"
input_resistance = "1 MΩ"
output_resistance = 100
{inner}
[[chain]]
split = "desk"
[chain.destination]
input_resistance = "10 kΩ"
{end}
""".format(**lines)


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("written", [f'"{DAY}"', DAY, f"'{DAY}'"])
def test_any_table_with_figures_may_tell_it(table: str, written: str) -> None:
    found = measured(parse_board(board(**{table: f"measured = {written}"})))
    assert [thing.day for thing in found] == [DAY]


def test_without_it_nothing_is_told() -> None:
    made = parse_board(board())
    assert not measured(made)
    assert not made.warnings


@pytest.mark.parametrize("table", TABLES)
def test_the_schema_knows_it_everywhere(table: str) -> None:
    check = Draft202012Validator(board_schema())
    check.validate(tomllib.loads(board(**{table: f'measured = "{DAY}"'})))
    assert not check.is_valid(tomllib.loads(board(**{table: 'measured = "November"'})))


@pytest.mark.parametrize(
    "written",
    ['"November"', '""', '"28.11.2026"', '"2026-13-01"', '"2026-02-29"', '"2026-11-28T10:00"',
     "2026-11-28T10:00:00", "10:00:00", "2026", "true", "[]", "{}", '"20261128"', '" 2026-11-28"',
     '"2026-W48-6"', '"２０２６-11-28"'],
)  # fmt: skip
def test_what_is_no_day_is_refused_in_one_sentence(written: str) -> None:
    with pytest.raises(SigsimError, match=r"\[cables.lead\], measured: a day is wanted") as error:
        parse_board(board(cables=f"measured = {written}"))
    assert 'such as "2026-11-28"' in str(error.value)


def test_a_split_itself_has_no_figures() -> None:
    text = board().replace('split = "desk"', f'split = "desk"\nmeasured = "{DAY}"')
    with pytest.raises(SigsimError, match='there is no key "measured" here'):
        parse_board(text)


def test_a_day_to_come_is_warned_of() -> None:
    """Tomorrow is not: it has begun already elsewhere."""
    for days, warned in ((1, False), (3, True)):
        day = (date.today() + timedelta(days=days)).isoformat()
        made = parse_board(board(cables=f'measured = "{day}"'))
        assert [f"{day} is still to come" in text for text in made.warnings] == [True] * warned


def test_a_table_without_figures_of_its_own_is_warned_of() -> None:
    text = board(cables=f'measured = "{DAY}"').replace(
        'capacitance = "98 pF/m ± 2 %"', 'part = "cable-standard"'
    )
    (warning,) = parse_board(text).warnings
    assert "[cables.lead], measured: this table has no figure of its own" in warning


def test_it_is_the_source_of_the_files_own_figures_only() -> None:
    """What a part gives, and how a knob stands, was not measured."""
    text = board(cables=f'part = "cable-standard"\nmeasured = "{DAY}"')
    more = f'name = "neck"\nvolume_track = 250e3\nvolume = 7\nmeasured = "{DAY}"'
    made = parse_board(text.replace('name = "neck"', more))
    told = {
        (found.things[0], figure.key): figure.measured
        for found in figures(made)
        for figure in found.figures
    }
    cable, neck = ("cable", "lead"), ("pickup", "neck")
    assert told[cable, "capacitance"] == DAY
    assert not told[cable, "plug_capacitance"]
    assert told[neck, "inductance"] == told[neck, "volume_track"] == DAY
    assert not told[neck, "volume"]
    assert not told[("tap", "tuner"), "input_resistance"]


@settings(max_examples=40)
@seed(15)
@given(boards())
def test_it_changes_no_board(table: Table) -> None:
    """A day in every table of a random board leaves the board what it was."""
    text = to_toml(table)
    lines = []
    for line in text.splitlines():
        lines.append(line)
        if line in ("[instrument]", "[destination]"):
            lines.append(f'measured = "{DAY}"')
    made = parse_board("\n".join(lines))
    before = parse_board(text)
    assert (made.instrument, made.destination, made.chain) == (
        before.instrument,
        before.destination,
        before.chain,
    )
    assert made.instrument.measured == made.destination.measured == DAY
    assert made.instrument.bare == before.instrument.bare


def written(folder: Path, text: str) -> Path:
    file = folder / "board.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_the_sheet_has_a_column_only_where_a_file_says_so(tmp_path: Path) -> None:
    plain = invoke("sheet", written(tmp_path, board()), "--json").out
    assert "Measured" not in invoke("sheet", written(tmp_path, board())).out
    assert json.loads(plain)["measured"] == []
    file = written(tmp_path, board(cables=f'measured = "{DAY}"', stage=f'measured = "{DAY}"'))
    shown = invoke("sheet", file).out
    assert "Pickup  Measured" in shown
    values = json.loads(invoke("sheet", file, "--json").out)
    assert {c["measured"] for c in values["connections"] if c["cable"]} == {DAY}
    assert values["buy"][0]["measured"] == DAY
    assert values["measured"] == [
        {"kind": "cable", "name": "lead", "day": DAY},
        {"kind": "stage", "name": "box", "day": DAY},
    ]


@pytest.mark.parametrize("ending", [".html", ".md", ".csv"])
def test_the_sheet_as_a_file_has_it_too(ending: str, tmp_path: Path) -> None:
    file = written(tmp_path, board(cables=f'measured = "{DAY}"'))
    out = tmp_path / f"sheet{ending}"
    assert invoke("sheet", file, "-o", out).status == 0
    assert DAY in out.read_text(encoding="utf-8")


def test_check_and_the_page_show_it(tmp_path: Path) -> None:
    file = written(tmp_path, board(cables=f'measured = "{DAY}"'))
    assert "Measured: cable lead." in invoke("check", file).out
    out = tmp_path / "page.html"
    assert invoke("report", file, "-o", out).status == 0
    assert f"measured {DAY}" in out.read_text(encoding="utf-8")

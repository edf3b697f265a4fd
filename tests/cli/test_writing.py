"""`measure --write`: one table of a board file changes, and nothing else in it."""

from __future__ import annotations

import os
import stat
import tomllib
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from helpers.boards import Table, boards, flat, to_toml
from helpers.thinned import tries
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from sigsim.board.edit_table import table_at
from sigsim.board.reader import parse_board
from sigsim.cli.measured_table import target
from sigsim.cli.output import together
from sigsim.cli.writing import check_target, write_measured
from sigsim.errors import OutputError, SigsimError
from sigsim.measure.result import Assumed, Figure, Measured
from sigsim.show.measured_toml import toml
from sigsim.units import parse

BOARD = """\
# My board, as it stands on the floor.
title = "floor"   # not the rack

[instrument]
part = "guitar-two-coil"   # the red one
wiring_capacitance = "180 pF"   # guessed
tone = 7

[destination]
input_resistance = "1 MΩ"   # printed on it

# The long one.
[cables.lead]
part = "cable-standard"
[cables.patch]
capacitance = "33 pF/ft ± 10 %"   # from the shop

[wiring]
cable = "patch"
length = "20 cm"

[[chain]]
cable = "lead"
length = "15 ft"

[[chain]]
stage = "fuzz"
part = "fuzz-low-impedance"

# It stays on.
[[chain]]
stage = "echo"
input_resistance = "1 MΩ"
output_resistance = 330
bypass = "buffered"
bypass_input_resistance = "470 kΩ"   # when off

[[chain]]
loop = "ring"
[[chain.inside]]
stage = "inner"
part = "pedal-true-bypass"

[[chain]]
stage = "swell"
part = "volume-pedal-passive"

[[chain]]
split = "desk"
destination = { input_resistance = "10 kΩ" }

[scenes]
clean = []   # all off
solo = ["fuzz", "ring"]
"""
TODAY = date.today().isoformat()


def figure(value: float | str | None, unit: str = "", wide: float = 0.02) -> Figure:
    if isinstance(value, str) or value is None:
        return Figure(value, None, None, unit)
    return Figure(value, value * (1 - wide), value * (1 + wide), unit)


def found(recipe: str, **figures: Figure) -> Measured:
    return Measured(recipe, {}, figures)


CABLE = found(
    "cable",
    total_capacitance=figure(589e-12, "F"),
    capacitance=figure(98.3e-12, "F/m"),
    loss_tangent=figure(0.0123, "", 0.2),
)
PICKUP = found(
    "pickup",
    resistance=figure(7.1e3, "Ω"),
    inductance=figure(3.02, "H"),
    capacitance=figure(310e-12, "F"),
    volume_track=figure(482e3, "Ω"),
)
INPUT = found(
    "input", input_resistance=figure(512e3, "Ω"), input_capacitance=figure(48e-12, "F", 0.05)
)
BYPASS = found(
    "bypass",
    wiring_capacitance=figure(62e-12, "F"),
    bypass=figure("true"),
    contact_resistance=Figure(None, None, 0.5, "Ω"),
)
OUTPUT = found("output", output_resistance=figure(1.02e3, "Ω"))


def write(folder: Path, text: str, measured: Measured, name: str) -> tuple[str, list[str]]:
    """Return what a file holds after the figures were written into it, and what was said."""
    file = folder / "board.toml"
    file.write_text(text, encoding="utf-8")
    with together():
        check_target(file, name, measured.recipe)
        said = write_measured(measured, file, name)
    return file.read_text(encoding="utf-8"), said


def lines_apart(before: str, after: str) -> tuple[list[str], list[str]]:
    """Return the lines that are gone and those that are new."""
    old, new = before.splitlines(), after.splitlines()
    return [line for line in old if line not in new], [line for line in new if line not in old]


def test_a_cable_keeps_its_part_and_gets_its_figures(tmp_path: Path) -> None:
    after, said = write(tmp_path, BOARD, CABLE, "lead")
    gone, new = lines_apart(BOARD, after)
    assert not gone
    assert new == [
        'capacitance = "98.3 pF/m ± 2 %"',
        'loss_tangent = "0.0123 ± 20 %"',
        f'measured = "{TODAY}"',
    ]
    assert after.index("# The long one.") < after.index(new[0]) < after.index("[cables.patch]")
    assert said[0].endswith("board.toml, [cables.lead].")
    assert "(part cable-standard) -> " in said[1]
    board = parse_board(after)
    assert board.cables["lead"].part == "cable-standard"
    assert board.cables["lead"].measured == TODAY


def test_a_line_that_changes_keeps_its_comment(tmp_path: Path) -> None:
    after, said = write(tmp_path, BOARD, CABLE, "patch")
    assert 'capacitance = "98.3 pF/m ± 2 %"   # from the shop' in after
    assert 'capacitance: "33 pF/ft ± 10 %" -> "98.3 pF/m ± 2 %"' in said


@pytest.mark.parametrize("name", ["coil cord", "1.5 mm²", "new", 'the "wet" one', "measured"])
def test_a_cable_that_is_not_there_is_added_beside_the_others(tmp_path: Path, name: str) -> None:
    after, _ = write(tmp_path, BOARD, CABLE, name)
    assert not lines_apart(BOARD, after)[0]
    assert parse_board(after).cables[name].tolerances["capacitance"] == 0.02
    assert after.index("[cables.patch]") < after.index("98.3 pF/m") < after.index("[wiring]")


def test_a_pickup_has_its_wiring_in_it(tmp_path: Path) -> None:
    """The capacitance is measured at the jack, so that the wiring must not count again."""
    after, said = write(tmp_path, BOARD, PICKUP, "instrument")
    instrument = parse_board(after).instrument
    assert getattr(instrument, "wiring_capacitance", 1) == 0
    assert getattr(instrument, "capacitance", 0) == 310e-12
    assert lines_apart(BOARD, after)[0] == ['wiring_capacitance = "180 pF"   # guessed']
    assert 'wiring_capacitance: "180 pF" -> taken out' in said


def test_plugs_do_not_count_twice(tmp_path: Path) -> None:
    """What was taken off for them is what they have; untold, they are in the cable's own."""
    text = BOARD.replace("# from the shop", "# from the shop\nplug_capacitance = '9 pF'   # read")
    untold = replace(CABLE, assumed={"plug_capacitance": Assumed(0.0, 1.0, False, "F")})
    after, said = write(tmp_path, text, untold, "patch")
    assert parse_board(after).cables["patch"].plug_capacitance == 0
    assert 'plug_capacitance: "9 pF" -> taken out' in said
    told = replace(CABLE, assumed={"plug_capacitance": Assumed(5e-12, 0.2, True, "F")})
    after, said = write(tmp_path, text, told, "patch")
    assert 'plug_capacitance = "5 pF ± 20 %"   # read' in after
    assert 'plug_capacitance: "9 pF" -> "5 pF ± 20 %"' in said
    assert 'plug_capacitance = "5 pF ± 20 %"\n' in toml(told, None)
    after, _ = write(tmp_path, BOARD, untold, "lead")
    assert parse_board(after).cables["lead"].plug_capacitance == 0


def test_without_a_length_the_plugs_stay_as_they_are(tmp_path: Path) -> None:
    only = replace(
        CABLE,
        figures={"loss_tangent": CABLE.figures["loss_tangent"]},
        assumed={"plug_capacitance": Assumed(0.0, 1.0, False, "F")},
    )
    after, _ = write(tmp_path, BOARD, only, "lead")
    before = parse_board(BOARD).cables["lead"]
    assert parse_board(after).cables["lead"].plug_capacitance == before.plug_capacitance


PICKUPS = """
[[instrument.pickups]]
name = "neck"
inductance = "3 H"
# the bright one
[[instrument.pickups]]
name = "bridge"   # near the bridge
inductance = "2.5 H"
volume_track = "500 kΩ"
"""


def with_pickups(more: str = PICKUPS) -> str:
    return BOARD.replace('part = "guitar-two-coil"', "").replace("tone = 7\n", more)


def test_one_of_several_pickups_is_named(tmp_path: Path) -> None:
    text = with_pickups()
    with pytest.raises(SigsimError, match=r'which of them was measured.*"neck", "bridge"'):
        write(tmp_path, text, PICKUP, "instrument")
    with pytest.raises(SigsimError, match=r'no pickup of this name.*did you mean "bridge"'):
        write(tmp_path, text, PICKUP, "brige")
    after, said = write(tmp_path, text, PICKUP, "bridge")
    assert lines_apart(text, after)[0] == ['inductance = "2.5 H"', 'volume_track = "500 kΩ"']
    neck, bridge = parse_board(after).instrument.pickups  # type: ignore[union-attr]
    assert (neck.inductance, neck.measured) == (3.0, "")
    assert (bridge.inductance, bridge.measured) == (3.02, TODAY)
    assert any("wiring_capacitance of 180 pF" in line for line in said)


def test_a_pickup_that_only_the_part_has_gets_a_table(tmp_path: Path) -> None:
    text = BOARD.replace("guitar-two-coil", "guitar-two-pickup").replace("tone = 7\n", "")
    names = [pickup.name for pickup in parse_board(text).instrument.pickups]  # type: ignore[union-attr]
    assert len(names) > 1
    after, _ = write(tmp_path, text, PICKUP, names[1])
    assert not lines_apart(text, after)[0]
    first, second = parse_board(after).instrument.pickups[:2]  # type: ignore[union-attr]
    assert first == parse_board(text).instrument.pickups[0]  # type: ignore[union-attr]
    assert second.inductance == 3.02


def test_a_pot_that_belongs_to_the_instrument_is_not_put_at_a_pickup(tmp_path: Path) -> None:
    text = with_pickups().replace('volume_track = "500 kΩ"\n', "")
    text = text.replace("[instrument]\n", '[instrument]\nvolume_track = "250 kΩ"\n')
    after, said = write(tmp_path, text, PICKUP, "neck")
    assert any(line.startswith("Left out: volume_track") for line in said)
    assert "482" not in after


def test_an_active_instrument_has_no_pickup_to_measure(tmp_path: Path) -> None:
    text = BOARD.replace('part = "guitar-two-coil"', 'type = "active"').replace("tone = 7\n", "")
    text = text.replace('wiring_capacitance = "180 pF"', "")
    with pytest.raises(SigsimError, match="this instrument is active"):
        write(tmp_path, text, PICKUP, "instrument")
    after, _ = write(tmp_path, text, OUTPUT, "instrument")
    assert parse_board(after).instrument.measured == TODAY


@pytest.mark.parametrize("name", ["echo", "destination", "desk", "inner"])
def test_an_input_goes_to_a_stage_or_an_end(tmp_path: Path, name: str) -> None:
    after, _ = write(tmp_path, BOARD, INPUT, name)
    where = target(parse_board(after), tomllib.loads(after), name, "input")
    assert where.values["input_resistance"] == 512e3
    assert where.values["measured"] == TODAY
    assert after.count(TODAY) == 1


def test_a_word_takes_out_what_it_leaves_without_effect(tmp_path: Path) -> None:
    """A true bypass has no input of its own."""
    after, said = write(tmp_path, BOARD, BYPASS, "echo")
    gone, new = lines_apart(BOARD, after)
    assert gone == ['bypass = "buffered"', 'bypass_input_resistance = "470 kΩ"   # when off']
    assert new[0] == 'bypass = "true"'
    assert 'bypass_input_resistance: "470 kΩ" -> taken out' in said
    assert any("contact_resistance, of which only a bound" in line for line in said)


def test_what_has_no_effect_there_is_not_written(tmp_path: Path) -> None:
    """Nothing is guessed: with no bypass chosen, the one in the file decides what is heard."""
    only = found("bypass", bypass_input_resistance=figure(512e3, "Ω"))
    with pytest.raises(SigsimError, match=r'none of the figures would have an effect.*"buffered"'):
        write(tmp_path, BOARD, only, "fuzz")
    assert (tmp_path / "board.toml").read_text(encoding="utf-8") == BOARD


@pytest.mark.parametrize(
    ("measured", "name", "why"),
    [
        (CABLE, "fuzz", "a cable's figures belong to a cable"),
        (CABLE, "instrument", "a cable's figures belong to a cable"),
        (CABLE, " ", "name"),
        (CABLE, "a\u202eb", "not seen"),
        (INPUT, "swell", "an input belongs to a powered stage"),
        (INPUT, "instrument", "an input belongs to a powered stage"),
        (INPUT, "ecko", 'did you mean "echo"'),
        (INPUT, "lead", "there is no stage or destination of this name"),
        (OUTPUT, "destination", "an output belongs to a powered stage"),
        (OUTPUT, "instrument", "an output belongs to a powered stage"),
        (BYPASS, "desk", "a bypass belongs to a stage or a loop"),
        (PICKUP, "fuzz", "a pickup's figures belong to the instrument"),
    ],
)
def test_a_name_that_does_not_fit_is_refused_before_anything(
    tmp_path: Path, measured: Measured, name: str, why: str
) -> None:
    file = tmp_path / "board.toml"
    file.write_text(BOARD, encoding="utf-8")
    with pytest.raises(SigsimError, match=why):
        check_target(file, name, measured.recipe)
    assert file.read_text(encoding="utf-8") == BOARD


def test_a_name_for_two_tables_is_refused(tmp_path: Path) -> None:
    text = BOARD.replace('stage = "inner"', 'stage = "destination"')
    with pytest.raises(SigsimError, match="2 tables of this board go by this name"):
        write(tmp_path, text, INPUT, "destination")


def test_a_passive_stage_without_a_switch_has_no_bypass(tmp_path: Path) -> None:
    with pytest.raises(SigsimError, match="always on unless the file says"):
        write(tmp_path, BOARD, BYPASS, "swell")


@pytest.mark.parametrize("text", ["", "[instrument]\n", "not toml", BOARD.replace("fuzz-low", "x")])
def test_a_file_that_is_no_board_is_refused_before_anything(tmp_path: Path, text: str) -> None:
    file = tmp_path / "board.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(SigsimError):
        check_target(file, "lead", "cable")


def test_files_that_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(SigsimError, match="there is no such file"):
        check_target(tmp_path / "none.toml", "lead", "cable")
    with pytest.raises(SigsimError, match="this is a folder"):
        check_target(tmp_path, "lead", "cable")
    file = tmp_path / "board.toml"
    file.write_text(BOARD, encoding="utf-8")
    if os.geteuid():
        file.chmod(0o444)
        with pytest.raises(OutputError, match="for reading only"):
            check_target(file, "lead", "cable")


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("last", [True, False])
def test_line_ends_marks_modes_and_links_stay(
    tmp_path: Path, end: str, mark: str, last: bool
) -> None:
    text = mark + (BOARD if last else BOARD.removesuffix("\n")).replace("\n", end)
    real, link = tmp_path / "real.toml", tmp_path / "link.toml"
    real.write_bytes(text.encode())
    real.chmod(0o640)
    link.symlink_to(real)
    with together():
        check_target(link, "lead", "cable")
        write_measured(CABLE, link, "lead")
    after = real.read_bytes().decode()
    assert link.is_symlink()
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    assert after.startswith(mark)
    assert after.endswith(text[-5:])
    assert after.count(end) == text.count(end) + 3
    assert after.count("\n") == after.count(end)
    assert sorted(os.listdir(tmp_path)) == ["link.toml", "real.toml"]


@pytest.mark.parametrize(
    "text",
    [
        BOARD.replace(
            '# The long one.\n[cables.lead]\npart = "cable-standard"\n[cables.patch]\n'
            'capacitance = "33 pF/ft ± 10 %"   # from the shop\n',
            'cables = { lead = { part = "cable-standard" }, patch = { part = "cable-patch" } }\n',
        ).replace('title = "floor"   # not the rack\n', ""),
        BOARD.replace("[cables.lead]\npart", "[cables]\nlead.part"),
        BOARD.replace(
            "[cables.patch]", '[scenes]\nclean = []\n\n# again\n[cables."patch"]'
        ).replace("[scenes]\nclean = []   # all off\nsolo", "[x]\nsolo").replace(
            '[x]\nsolo = ["fuzz", "ring"]\n', ""
        ),
    ],
    ids=["inline", "dotted", "apart"],
)  # fmt: skip
@pytest.mark.parametrize("name", ["lead", "patch", "third"])
def test_tables_written_otherwise(tmp_path: Path, text: str, name: str) -> None:
    """An inline table at the end of a file's top, dotted keys, tables far from each other."""
    if text.count("cables = {"):
        first = next(line for line in text.splitlines() if line.startswith("cables = {"))
        text = f"{first}\n{text.replace(first, '')}"
    before = tomllib.loads(text)
    after, _ = write(tmp_path, text, CABLE, name)
    data = tomllib.loads(after)
    changed = data["cables"].pop(name)
    before["cables"].pop(name, None)
    assert data == before
    assert changed["capacitance"] == "98.3 pF/m ± 2 %"


def test_writing_twice_changes_nothing_more(tmp_path: Path) -> None:
    once, _ = write(tmp_path, BOARD, CABLE, "lead")
    assert write(tmp_path, once, CABLE, "lead")[0] == once


UNITS = {"resistance": "Ω", "capacitance": "F", "capacitance per length": "F/m"} | {
    "inductance": "H", "ratio": "", "exponent": ""
}  # fmt: skip
RECIPES = {
    "cable": (("capacitance", "F/m", 20e-12, 600e-12), ("loss_tangent", "", 1e-4, 0.2)),
    "pickup": (
        ("resistance", "Ω", 500.0, 30e3), ("inductance", "H", 0.2, 15.0),
        ("capacitance", "F", 20e-12, 2e-9), ("loss_resistance", "Ω", 30e3, 5e6),
        ("loss_exponent", "", 0.01, 1.0), ("volume_track", "Ω", 20e3, 2e6),
    ),
    "input": (("input_resistance", "Ω", 5e3, 20e6), ("input_capacitance", "F", 1e-12, 2e-9)),
    "bypass": (("wiring_capacitance", "F", 1e-12, 1e-9), ("contact_resistance", "Ω", 1e-3, 50.0)),
    "output": (("output_resistance", "Ω", 10.0, 100e3), ("output_capacitor", "F", 1e-8, 1e-4)),
}  # fmt: skip


def names_for(table: Table, recipe: str) -> list[str]:
    """Return what the figures of a recipe may be written to, from the plain board."""
    items = list(flat(table["chain"]))
    active = [i["stage"] for i in items if i.get("kind", "") == "active" or (
        "stage" in i and "kind" not in i)]  # fmt: skip
    instrument = table["instrument"]
    if recipe == "cable":
        return [*table["cables"], "brand new", 'odd "name".x']
    if recipe == "pickup":
        if instrument.get("type") == "active":
            return []
        pickups = instrument.get("pickups", [])
        return [p["name"] for p in pickups if "name" in p] or (
            [f"pickup {n}" for n, _ in enumerate(pickups, 1)]
            if len(pickups) > 1
            else ["instrument"]
        )
    if recipe == "input":
        return ["destination", *active, *(i["split"] for i in items if "split" in i)]
    if recipe == "output":
        return [*active, *(["instrument"] if instrument.get("type") == "active" else [])]
    return [*active, *(i["loop"] for i in items if "loop" in i)]


def commented(text: str, numbers: list[int]) -> str:
    """Return the text of a board with comments above some of its lines and behind some."""
    lines = []
    for index, line in enumerate(text.splitlines()):
        if index in numbers:
            lines.append(f"# remark {index}: [cables.x] = 'no'")
        behind = line and index % 3 == 0 and index in numbers
        lines.append(f"{line}   # behind {index}" if behind else line)
    return "\n".join(lines) + "\n"


@settings(max_examples=tries(80, 200), deadline=None)
@seed(20261128)
@given(boards(), st.data())
def test_random_figures_into_random_boards(
    tmp_path_factory: pytest.TempPathFactory, table: Table, data: st.DataObject
) -> None:
    """They read back within their intervals, and nothing else of the file has changed."""
    recipe = data.draw(st.sampled_from(sorted(RECIPES)))
    names = names_for(table, recipe)
    if not names:
        return
    name = data.draw(st.sampled_from(names))
    text = commented(
        to_toml(table, data.draw(st.integers(0, 999))),
        data.draw(st.lists(st.integers(0, 60), max_size=12)),
    )
    figures = {}
    for key, unit, low, high in RECIPES[recipe]:
        value = low * (high / low) ** data.draw(st.floats(0, 1))
        wide = 10 ** data.draw(st.floats(-5, -0.4))
        skew = data.draw(st.floats(0.5, 1.0))
        figures[key] = Figure(value, value * (1 - wide * skew), value * (1 + wide), unit)
    measured = found(recipe, **figures)
    folder = tmp_path_factory.mktemp("random")
    try:
        after, said = write(folder, text, measured, name)
    except SigsimError:  # all of it would be silent on this board
        with pytest.raises(SigsimError, match="none of the figures would have an effect"):
            write(folder, text, measured, name)
        assert (folder / "board.toml").read_text(encoding="utf-8") == text
        return
    check_written(text, after, recipe, name, figures, said)


def check_written(
    text: str, after: str, recipe: str, name: str, figures: dict[str, Figure], said: list[str]
) -> None:
    before, data = tomllib.loads(text), tomllib.loads(after)
    where = target(parse_board(after), data, name, recipe)
    old, new = table_at(before, where.way) or {}, dict(table_at(data, where.way) or {})
    for key in old.keys() - new.keys():
        assert any(line.startswith(f"{key}: ") and "taken out" in line for line in said)
    told = {key: value for key, value in new.items() if old.get(key, ...) != value}
    assert told.pop("measured") == TODAY
    assert told
    for key, value in told.items():
        if key in ("name", "wiring_capacitance") and key not in figures:
            continue
        check_figure(where.item, key, value, figures[key])
        assert where.values[key] == parse(value, kind_of(where.item, key)).value
    assert without(before, where.way) == without(data, where.way)
    for line in text.splitlines():
        if "#" in line:
            comment = line[line.rindex("# ") :]
            gone = any(f"{line.partition(' = ')[0]}: " in s and "taken out" in s for s in said)
            assert gone or comment in after


def kind_of(item: type, key: str) -> str:
    from sigsim.items.fields import specs

    return specs(item)[key].kind


def check_figure(item: type, key: str, value: str, figure: Figure) -> None:
    """What is written lies in the interval, holds it, and says little more than it."""
    assert isinstance(figure.value, float)
    assert figure.low is not None
    assert figure.high is not None
    read = parse(value, kind_of(item, key))
    assert figure.low <= read.value <= figure.high
    spread = read.value * read.tolerance
    rounding = 1e-9 * read.value
    assert read.value - spread <= figure.low + rounding
    assert read.value + spread >= figure.high - rounding
    # Rounded up by a tenth of a percent, or by one over ten; a number is rounded to a tenth of
    # its interval at most.
    half = (figure.high - figure.low) / 2
    assert spread <= 1.45 * half + 0.0011 * read.value + 0.01 * read.value * (read.tolerance > 0.1)


def without(data: dict[str, Any], way: tuple[str | int, ...]) -> dict[str, Any]:
    """Return a file's tables without one of them."""
    inner: Any = data
    for step in way[:-1]:
        inner = inner.get(step, {}) if isinstance(step, str) else inner[step]
    if isinstance(inner, dict):
        inner.pop(way[-1], None)
    elif isinstance(way[-1], int) and way[-1] < len(inner):
        inner[way[-1]] = None
    return data

"""`sigsim power` as a user runs it, and what sheet, page, noise and check say of supplies."""

from __future__ import annotations

import csv
import io
import json
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import pytest
from helpers.in_process import sigsim_here

BOARD: Final = """\
title = "harbour"
[instrument]
part = "bass-split-coil"
[destination]
part = "instrument-input"
[cables.lead]
part = "cable-standard"
[wiring]
cable = "lead"
length = "20 cm"
[[chain]]
cable = "lead"
length = "6 m"
[[chain]]
stage = "tuner"
part = "tuner-buffered"
current = "30 mA"
[[chain]]
stage = "drive"
part = "drive-high-impedance"
current = "20 mA"
voltage = ["9 V", "18 V"]
[[chain]]
loop = "colour"
[[chain.inside]]
stage = "echo"
part = "echo-buffered"
current = "120 mA"
current_off = "60 mA"
[[chain]]
stage = "reverb"
part = "echo-buffered"
[[chain]]
cable = "lead"
length = "3 m"
[supplies.left]
outputs = [{ current = "300 mA", voltage = "9 V" }, { current = "100 mA", voltage = "9 V" }]
[supplies.pack]
battery = "37 Wh"
outputs = [{ current = "500 mA", voltage = ["9 V", "12 V"] }]
[scenes]
dry = []
wet = ["colour", "echo"]
"""
OWN: Final = 'stage = "drive"\ninput_resistance = "1 MΩ"\noutput_resistance = "1 kΩ"'
CAUTIONS: Final = ("qualified people", "Never open a", "charged unattended", "stays connected")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return written(tmp_path, BOARD)


def written(folder: Path, text: str) -> Path:
    path = folder / "board.toml"
    path.write_text(text, encoding="utf-8")
    return path


def values(path: Path, *more: str, status: int = 0) -> dict[str, Any]:
    run = sigsim_here("power", path, "--json", *more)
    assert run.status == status, run.err
    made: dict[str, Any] = json.loads(run.out)
    return made


def one_line(text: str) -> str:
    return " ".join(text.split())


def test_json_has_the_keys_that_scripts_rely_on(path: Path) -> None:
    found = values(path)
    assert found["assignment"].keys() == {"tuner", "drive", "echo", "reverb"}
    assert set(found["outputs"][0]) >= {
        "supply", "output", "voltage_v", "current_a", "load_a", "margin_a", "stages"
    }  # fmt: skip
    assert found["unknown_current"] == ["reverb"]
    assert found["missing"] == []
    assert set(found["hours"]) == {"pack"}
    assert "all" in found["hours"]["pack"]
    for output in found["outputs"]:
        if output["load_a"] is not None:
            assert output["margin_a"] == pytest.approx(output["current_a"] - output["load_a"])


def test_a_current_that_is_not_told_is_never_nothing(path: Path) -> None:
    found = values(path)
    (alone,) = (o for o in found["outputs"] if "reverb" in o["stages"] and len(o["stages"]) == 1)
    assert alone["load_a"] is None
    assert alone["unknown_current"] == ["reverb"]


def test_the_answer_comes_first_and_fits(path: Path) -> None:
    run = sigsim_here("power", path)
    assert run.status == 0
    assert one_line(run.out).startswith("All 4 pedals that need a supply have an output; whether")
    assert max(map(len, run.out.splitlines())) <= 80
    assert all(words in one_line(run.out) for words in CAUTIONS)


def test_what_is_not_fed_is_said_and_ends_with_1(tmp_path: Path) -> None:
    text = BOARD.replace('current = "30 mA"', 'current = "30 mA"\nvoltage = "24 V"')
    path = written(tmp_path, text)
    run = sigsim_here("power", path)
    assert run.status == 1
    assert "'tuner' needs 30 mA at 24 V: no output gives 24 V." in one_line(run.out)
    assert "One more supply would have to give: 24 V with 30 mA" in one_line(run.out)
    (missing,) = values(path, status=1)["missing"]
    assert missing["stage"] == "tuner"
    assert values(path, status=1)["assignment"]["tuner"] is None


def test_a_written_supply_that_cannot_feed_ends_with_2(tmp_path: Path) -> None:
    text = BOARD.replace('current = "30 mA"', 'current = "600 mA"\nsupply = "left 2"')
    run = sigsim_here("power", written(tmp_path, text))
    assert (run.status, run.out) == (2, "")
    assert "it gives 100 mA, and 600 mA are needed" in run.err


def test_a_guess_is_marked_in_every_line(path: Path) -> None:
    run = sigsim_here("power", path, "--guess")
    assert run.status == 0
    for line in run.out.splitlines():
        if line.startswith(" reverb") or line.rstrip().endswith("reverb"):
            assert "guess" in line
    found = values(path, "--guess")
    assert found["guessed"] == ["reverb"]
    assert [one["guess"] for one in found["stages"]] == [False, False, False, True]
    assert any(output["guess"] for output in found["outputs"] if "reverb" in output["stages"])


def test_without_supplies_it_says_what_is_needed(tmp_path: Path) -> None:
    text = BOARD[: BOARD.index("[supplies.left]")]
    run = sigsim_here("power", written(tmp_path, text))
    assert run.status == 0
    assert "Its 4 pedals need: 9 V with 170 mA and what 'reverb' draws" in one_line(run.out)


def test_a_board_of_passive_things_is_one_sentence(tmp_path: Path) -> None:
    text = BOARD[: BOARD.index('[[chain]]\nstage = "tuner"')]
    text += '[[chain]]\nstage = "swell"\npart = "volume-pedal-passive"\n'
    run = sigsim_here("power", written(tmp_path, text))
    assert run.status == 0
    assert one_line(run.out) == (
        "Nothing on this board needs a supply: there are no powered pedals on it."
    )


def test_one_value_is_set_without_writing(path: Path) -> None:
    """Shared returns end where the outputs are isolated."""
    loops = values(path)["loops"]
    assert [loop["where"] for loop in loops] == ["left"]
    isolated = values(path, "--set", "supplies.left.isolated=true")["loops"]
    assert all(loop["isolated"] for loop in isolated)
    more = values(path, "--set", "tuner.current=250 mA", "--set", "tuner.supply=left 1")
    assert more["assignment"]["tuner"] == "left 1"


def test_a_variant_has_another_supply_and_keeps_the_spot(tmp_path: Path) -> None:
    text = BOARD.replace('current = "30 mA"', 'current = "30 mA"\nsupply = "left 2"')
    text += """[variants.tour]
supplies.left = { outputs = [{ current = "10 mA" }, { current = "400 mA" }] }
tuner = { part = "tuner-true-bypass", stage = "other tuner", current = "350 mA" }
"""
    found = values(written(tmp_path, text), "--variant", "tour")
    assert found["assignment"]["other tuner"] == "left 2"


def test_the_sheet_and_the_page_tell_it(path: Path, tmp_path: Path) -> None:
    run = sigsim_here("sheet", path)
    assert run.status == 0
    assert all(words in one_line(run.out) for words in ("What feeds it", "left 1", *CAUTIONS))
    assert json.loads(sigsim_here("sheet", path, "--json").out)["power"]["unknown_current"]
    for kind in ("html", "md", "csv"):
        target = tmp_path / f"sheet.{kind}"
        assert sigsim_here("sheet", path, "-o", target).status == 0
        assert "left 2" in target.read_text(encoding="utf-8")
    rows = list(csv.reader(io.StringIO((tmp_path / "sheet.csv").read_text(encoding="utf-8"))))
    assert next(row for row in rows if row[:1] == ["output"])[:2] == ["output", "voltage_v"]
    page = tmp_path / "page.html"
    assert sigsim_here("report", path, "-o", page).status == 0
    text = page.read_text(encoding="utf-8")
    assert '"id":"power"' in text.replace(" ", "")
    assert "charged unattended" in text


def test_a_sheet_without_supplies_is_as_it_was(tmp_path: Path) -> None:
    run = sigsim_here("sheet", written(tmp_path, BOARD[: BOARD.index("[supplies.left]")]))
    assert run.status == 0
    assert "What feeds it" not in run.out


def test_noise_tells_of_shared_returns(path: Path) -> None:
    said = one_line(sigsim_here("noise", path).out)
    assert "The outputs of 'left' are not isolated" in said
    assert "a usual cause of hum" in said
    isolated = sigsim_here("noise", path, "--set", "supplies.left.isolated=true")
    assert "a usual cause of hum" not in one_line(isolated.out)


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ('current_off = "60 mA"', 'current_off = "160 mA"', "more when off"),
        ('current = "30 mA"', "current = 8", "'tuner' draws 8 A"),
        ('voltage = ["9 V", "18 V"]', 'voltage = "9 mV"', "'drive' is fed with 9 mV"),
        ("", "", "no current for 'reverb'"),
    ],
)
def test_check_asks_about_what_is_odd(before: str, after: str, said: str, tmp_path: Path) -> None:
    run = sigsim_here("check", written(tmp_path, BOARD.replace(before, after) if before else BOARD))
    assert run.status == 0
    assert said in one_line(run.out)


def test_check_tells_of_written_supplies_that_cannot_all_be_kept(tmp_path: Path) -> None:
    """Three times 60 mA on two outputs of 100 mA: power refuses, and check says it before."""
    chain = "".join(
        f'[[chain]]\nstage = "p{n}"\npart = "echo-buffered"\nsupply = "left"\ncurrent = "60 mA"\n'
        for n in range(3)
    )
    head = BOARD[: BOARD.index('[[chain]]\nstage = "tuner"')]
    outputs = 'outputs = [{ current = "100 mA" }, { current = "100 mA" }]\n'
    path = written(tmp_path, f"{head}{chain}[supplies.left]\n{outputs}")
    assert sigsim_here("power", path).status == 2
    assert "cannot all be kept: nothing is left for 'p" in one_line(sigsim_here("check", path).out)


def test_hours_with_a_guess_are_at_most_so_many_beside_an_unknown_current(tmp_path: Path) -> None:
    text = BOARD.replace('stage = "drive"\npart = "drive-high-impedance"\ncurrent = "20 mA"', OWN)
    text = text[: text.index("[supplies.left]")] + text[text.index("[supplies.pack]") :]
    lines = sigsim_here("power", written(tmp_path, text), "--guess").out.splitlines()
    assert next(line for line in lines if " everything " in line).endswith("guess, at most")


def test_a_switcher_with_a_table_of_its_own_is_fed_too(tmp_path: Path) -> None:
    box = '[boxes.switcher]\nloops = ["colour"]\ncurrent = "80 mA"\nsupply = "left 2"\n'
    path = written(tmp_path, BOARD.replace("[supplies.left]", f"{box}[supplies.left]"))
    assert values(path)["assignment"]["switcher"] == "left 2"


def test_a_layout_that_lacks_a_length_is_no_obstacle(tmp_path: Path) -> None:
    laid = '[layout]\nsize = ["60 cm", "40 cm"]\nrows = [["drive"]]\n'
    text = BOARD.replace('cable = "lead"\nlength = "20 cm"', 'cable = "lead"')
    path = written(tmp_path, text.replace("[supplies.left]", f"{laid}[supplies.left]"))
    assert sigsim_here("loss", path).status == 2
    assert values(path)["assignment"].keys() == {"tuner", "drive", "echo", "reverb"}


def test_check_says_which_supplies_there_are(path: Path) -> None:
    said = one_line(sigsim_here("check", path).out)
    assert "Supplies: 'left' (2 outputs), 'pack' (1 output, on a battery)." in said


def tables(text: str) -> dict[str, list[str]]:
    """Return the headings of the tables of a page in Markdown by their captions."""
    found, caption = {}, ""
    for line, after in pairwise(text.splitlines()):
        caption = line.removeprefix("## ") if line.startswith("## ") else caption
        if after.startswith("| ---"):
            found[caption] = [cell.strip() for cell in line.strip("|").split("|")]
    return found


def on_paper(path: Path) -> str:
    target = path.with_name("sheet.md")
    assert sigsim_here("sheet", path, "-o", target, "--force").status == 0
    return target.read_text(encoding="utf-8").partition("What feeds it")[2]


def test_on_paper_stands_no_key_no_option_and_no_empty_column(path: Path) -> None:
    said = on_paper(path)
    assert "No current is told for 'reverb'" in said
    for word in ("current =", "--guess", "battery_inside", "current_off", "[boxes"):
        assert word not in said
    assert tables(said)["Outputs"] == ["Output", "Volts", "Gives", "Load", "Left", "Feeds"]
    assert tables(said)["Pedals"] == ["Pedal", "Output", "Volts", "Draws", "Off"]
    plain = BOARD.replace('current_off = "60 mA"\n', "")
    said = on_paper(written(path.parent, plain))
    assert tables(said)["Pedals"] == ["Pedal", "Output", "Volts", "Draws"]
    turned = plain.replace('current = "20 mA"', 'current = "20 mA"\npolarity = "centre positive"')
    turned = turned.replace("[supplies.left]\n", "[supplies.left]\nisolated = true\n")
    said = on_paper(written(path.parent, turned))
    assert "Polarity" in tables(said)["Outputs"]
    assert "Polarity" in tables(said)["Pedals"]
    assert "centre positive" in said


def test_what_is_at_most_is_said_once(path: Path) -> None:
    (line,) = (line for line in sigsim_here("power", path).out.splitlines() if "≤" in line)
    assert "at most" not in line


def test_hours_by_scene_need_what_is_drawn_when_off(path: Path) -> None:
    said = "No hours by scene"
    assert said not in one_line(sigsim_here("power", path).out)
    written(path.parent, BOARD.replace('current_off = "60 mA"\n', ""))
    assert f"{said}: of no pedal on a battery" in one_line(sigsim_here("power", path).out)


def test_one_pedal_needs_no_output_for_each(tmp_path: Path) -> None:
    one = BOARD.replace('current = "30 mA"', 'current = "30 mA"\nvoltage = "24 V"')
    run = sigsim_here("power", written(tmp_path, one))
    assert "24 V with 30 mA for 'tuner'." in one_line(run.out)
    two = one.replace('current = "120 mA"', 'current = "120 mA"\nvoltage = "24 V"')
    run = sigsim_here("power", written(tmp_path, two))
    assert "best with an output of its own for each" in one_line(run.out)


def test_a_box_of_loops_that_says_no_current_is_named(tmp_path: Path) -> None:
    """It may be passive, and it may be a switcher that needs a supply: it is said."""
    box = '[boxes.switcher]\nwidth = "30 cm"\ndepth = "6 cm"\nloops = ["colour"]\n'
    layout = '[layout]\nsize = ["60 cm", "32 cm"]\nrows = [["switcher"]]\n'
    path = written(tmp_path, BOARD + layout + box)
    assert "No current is told for 'switcher', with jacks of loops" in one_line(
        sigsim_here("power", path).out
    )
    assert values(path)["boxes_without_current"] == ["switcher"]
    path = written(tmp_path, BOARD + layout + box + 'current = "50 mA"\n')
    assert values(path)["boxes_without_current"] == []

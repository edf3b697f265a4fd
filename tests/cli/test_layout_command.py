"""`sigsim layout` as a user runs it: what it says, what it proposes, how it ends."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from helpers.in_process import sigsim_here
from helpers.layout_boards import NAMES, ROWS, box, laid_out, saved
from helpers.refusals import quick, refused
from rich.cells import cell_len

KEYS = {"connections", "total_run_m", "shopping", "overlaps", "overhangs", "treble_loss_db", "try"}
CABLE = '[[chain]]\ncable = "patch"\n{}'


@pytest.fixture
def rig(tmp_path: Path) -> Path:
    return saved(tmp_path, laid_out())


def found(*arguments: object, status: int = 0) -> dict[str, Any]:
    run = sigsim_here("layout", *arguments, "--json")
    assert run.status == status, run.err
    values: dict[str, Any] = json.loads(run.out)
    return values


def between(values: dict[str, Any], begin: str, end: str) -> dict[str, Any]:
    made = [c for c in values["connections"] if (c["from"], c["to"]) == (begin, end)]
    return dict(made[0])


def test_the_runs_are_those_of_a_ruler(rig: Path) -> None:
    """Boxes of 8 by 12 cm, 4 cm apart, 3 cm of slack: added up by hand."""
    values = found(rig)
    assert set(values) >= KEYS
    neighbours = between(values, "tuner", "fuzz")
    assert neighbours["run_m"] == pytest.approx(0.07)  # the gap and the slack
    assert neighbours["length_m"] == 0.1
    assert neighbours["left_over_m"] == pytest.approx(0.03)
    # Straight out 2 cm on the left, up 6 cm, right to the plug of swell 36 cm, up 10 cm, left 2 cm;
    # and the slack.
    assert between(values, "drive", "swell")["run_m"] == pytest.approx(0.59)
    assert between(values, "drive", "swell")["length_m"] == 0.6
    assert values["total_run_m"] == pytest.approx(5 * 0.07 + 0.59)
    assert {s["cable"] for s in values["shopping"]} == {"lead", "patch"}
    bought = {s["length_m"]: s["count"] for s in values["shopping"] if s["cable"] == "patch"}
    assert bought == {0.1: 5, 0.6: 1}
    assert values["try"] is None
    assert values["overlaps"] == values["overhangs"] == []


def test_the_leads_lie_on_the_board_with_a_part(rig: Path) -> None:
    values = found(rig)
    lead = between(values, "instrument", "tuner")
    # The tuner ends at 44 cm, its jack is 6 cm up, the middle of the right edge 16 cm.
    assert lead["on_board_m"] == pytest.approx(0.16 + 0.10)
    assert (lead["run_m"], lead["length_m"], lead["left_over_m"]) == (None, 5.0, None)


def test_the_numbers_are_those_of_the_sheet_and_the_loss_that_of_loss(rig: Path) -> None:
    values = found(rig)
    sheet = json.loads(quick("sheet", rig, "--json"))
    said = [
        (c["number"], c["from"], c["to"], c["cable"], c["length_m"]) for c in sheet["connections"]
    ]
    assert said == [
        (c["number"], c["from"], c["to"], c["cable"], c["length_m"]) for c in values["connections"]
    ]
    assert sheet["laid"] == values["connections"]
    loss = json.loads(quick("loss", rig, "--json"))
    assert values["treble_loss_db"] == loss["worst"]["treble_loss_db"]


def test_what_cannot_be_told_is_null_and_the_rest_is_shown(tmp_path: Path) -> None:
    """The longest run is longer than all the lengths that are sold."""
    short = saved(tmp_path, laid_out(sold='sold = ["5 cm", "10 cm"]'))
    values = found(short, status=1)
    long = between(values, "drive", "swell")
    assert (long["length_m"], long["left_over_m"], long["why"]) == (None, None, "too long")
    assert long["run_m"] == pytest.approx(0.59)
    assert between(values, "tuner", "fuzz")["length_m"] == 0.1
    assert values["treble_loss_db"] is None
    assert {"cable": "patch", "length_m": None}.items() <= values["shopping"][-1].items()
    run = sigsim_here("layout", short)
    assert run.status == 1
    assert "longer than all lengths in which 'patch' is sold, 10 cm at most" in " ".join(
        run.out.split()
    )
    # And every other command ends with 2 and names the connection.
    assert "'drive'" in refused("loss", short)


def test_a_cable_where_a_box_joins_its_loops_is_shown_and_needs_a_length(tmp_path: Path) -> None:
    """No layout can give its length, so `layout` ends as every other cable without one has it."""
    loops = [
        f'[[chain]]\nloop = "{name}"\n{box(stage).replace("[[chain]]", "[[chain.inside]]")}'
        for name, stage in (("one", "fuzz"), ("two", "echo"))
    ]
    switcher = '[boxes.switcher]\nwidth = "20 cm"\ndepth = "6 cm"\nloops = ["one", "two"]\n'
    chain = '[[chain]]\ncable = "patch"\n'.join(loops)
    text = laid_out([["fuzz", "echo"], ["switcher"]], chain, more=switcher)
    run = sigsim_here("layout", saved(tmp_path, text), "--json")
    assert run.status == 1
    found = json.loads(run.out)
    (one,) = (each for each in found["connections"] if each["length_m"] is None)
    assert (one["from"], one["to"], one["why"]) == ("one: output", "two: input", "joined")
    assert found["treble_loss_db"] is None
    assert "joined inside their box" in sigsim_here("layout", tmp_path / "rig.toml").out


def test_a_cable_with_a_length_keeps_it_and_is_too_short(tmp_path: Path) -> None:
    chain = box("tuner") + CABLE.format('length = "4 cm"\n') + "".join(map(box, NAMES[1:]))
    path = saved(tmp_path, laid_out(chain=chain))
    values = found(path)
    cable = between(values, "tuner", "fuzz")
    assert (cable["length_m"], cable["by_layout"]) == (0.04, False)
    assert cable["too_short_m"] == pytest.approx(0.03)
    assert cable["left_over_m"] == pytest.approx(-0.03)
    # It is bought in the next longer length that there is.
    bought = [s for s in values["shopping"] if s["cable"] == "patch" and s["length_m"] == 0.1]
    assert (bought[0]["count"], bought[0]["also_for_m"]) == (5, [0.04])
    said = quick("layout", path)
    assert said.startswith("1 cable is too short.")
    assert "3 cm too short" in said


def test_what_stands_wrongly_is_named(tmp_path: Path) -> None:
    rows = [["echo", "wheel"], ["drive", "octave", "fuzz", "tuner"]]
    chain = "".join(map(box, NAMES)).replace(
        'stage = "swell"\n', 'stage = "swell"\nplace = ["55 cm", "1 cm"]\n'
    )
    path = saved(tmp_path, laid_out(rows, chain, sold=""))
    values = found(path)
    assert values["overhangs"] == [{"box": "swell", "edge": "right", "by_m": pytest.approx(0.03)}]
    assert "'swell' hangs over the right edge by 3 cm" in quick("layout", path)
    both = chain.replace('place = ["55 cm", "1 cm"]', 'place = ["33 cm", "5 cm"]')
    path = saved(tmp_path, laid_out(rows, both, sold=""), "both.toml")
    assert sorted(map(sorted, found(path, status=1)["overlaps"])) == [["swell", "tuner"]]
    assert "stand in each other" in sigsim_here("layout", path).out


def test_several_boards_have_one_shopping_list(rig: Path, tmp_path: Path) -> None:
    other = saved(tmp_path, laid_out(title="Other", sold='sold = ["25 cm", "60 cm"]'), "other.toml")
    same = saved(tmp_path, laid_out(title="Same"), "same.toml")
    values = found(rig, other, same)
    assert set(values) == {"boards", "shopping"}
    assert [one["board"] for one in values["boards"]] == ["Rig", "Other", "Same"]
    bought = {(s["length_m"], s["count"]) for s in values["shopping"] if s["cable"] == "patch"}
    assert bought == {(0.1, 10), (0.6, 2), (0.25, 5), (0.6, 1)}
    lead = [s for s in values["shopping"] if s["cable"] == "lead"]
    assert [(s["length_m"], s["count"], s["cut_from_m"]) for s in lead] == [
        (5.0, 3, 33.0),
        (6.0, 3, 33.0),
    ]
    said = quick("layout", rig, other, same)
    assert said.count("To buy") == 1
    assert "same file twice" in refused("layout", rig, rig)


def test_what_a_box_joins_itself_is_no_cable_and_says_so(tmp_path: Path) -> None:
    """Of two loops in one box, one after the other: a number of the sheet is between them."""
    loops = "".join(
        f'[[chain]]\nloop = "{name}"\n' + box(inside).replace("[[chain]]", "[[chain.inside]]")
        for name, inside in (("dirt", "fuzz"), ("swirl", "echo"))
    )
    more = '[boxes.switch]\nwidth = "20 cm"\ndepth = "8 cm"\nloops = ["dirt", "swirl"]\n'
    rows = [["echo", "fuzz"], ["switch", "tuner"]]
    path = saved(tmp_path, laid_out(rows, box("tuner") + loops, sold="", more=more))
    numbers = {one["number"] for one in found(path)["connections"]}
    (skipped,) = set(range(1, max(numbers) + 1)) - numbers
    said = quick("layout", path)
    assert f"{skipped} is no cable: 'switch' joins its loops there itself" in said
    assert "S1 and R1 of 'dirt'" in said


def test_the_list_says_which_board_a_cable_is_for(rig: Path, tmp_path: Path) -> None:
    other = saved(tmp_path, laid_out(title="Other", sold='sold = ["25 cm", "60 cm"]'), "other.toml")
    said = quick("layout", rig, other)
    listed = said[said.index("To buy") :]
    assert "patch of rig.toml" in listed
    assert "patch of other.toml" in listed
    assert "lead of" not in listed


def test_inches_stay_inches(tmp_path: Path) -> None:
    """An inch is 2.54 cm (the international yard and pound agreement of 1959)."""
    inches = laid_out(sold='sold = ["6 in", "12 in", "24 in"]').replace(
        'size = ["60 cm", "32 cm"]', 'size = ["24 in", "4 in"]'
    )
    path = saved(tmp_path, inches)
    run = between(found(path), "drive", "swell")
    assert run["run_m"] == pytest.approx(0.59)
    said = quick("layout", path)
    for text in ("23.2 in", "2.8 in", " 24 in", "by 7 in"):
        assert text in said
    assert "15.2 cm" not in said
    assert " m of runs" not in said


def test_plugs_that_face_each_other_are_named_and_the_run_stays(tmp_path: Path) -> None:
    """Two plugs of 3 cm do not fit in 4 cm, two of 2 cm just do.

    The run is 3 cm out of one jack, 2 cm back, 3 cm into the other, and 3 cm of slack.
    """
    wide = saved(tmp_path, laid_out())
    tight = saved(tmp_path, laid_out(sold="", more='plug_length = "3 cm"\n'), "tight.toml")
    assert found(wide)["plugs_face"] == []
    faced = found(tight)["plugs_face"]
    assert [sorted(one["boxes"]) for one in faced][:1] == [["fuzz", "tuner"]]
    assert all(one["gap_m"] == pytest.approx(0.04) for one in faced)
    assert len(faced) == 5
    assert between(found(tight), "tuner", "fuzz")["run_m"] == pytest.approx(0.11)
    assert "two plugs face each other" in quick("check", tight)
    assert "two plugs face" not in quick("check", wide)


def test_boxes_that_touch_and_boxes_that_stand_nowhere_say_what_to_write(tmp_path: Path) -> None:
    close = laid_out().replace('gap = "4 cm"\n', "").replace('slack = "3 cm"\n', "")
    path = saved(tmp_path, close)
    said = " ".join(sigsim_here("layout", path).out.split())
    assert 'the boxes touch, so there is no way between them; write gap = "1 cm" in' in said
    assert 'write gap = "1 cm" in [layout]' in refused("loss", path)
    lost = saved(tmp_path, laid_out([["echo", "wheel"], [*ROWS[1]]]), "lost.toml")
    said = " ".join(sigsim_here("layout", lost).out.split())
    assert "'swell' stands nowhere in [layout]; put it into a row" in said
    assert "No slack" not in said
    loose = saved(tmp_path, laid_out().replace('slack = "3 cm"\n', ""), "loose.toml")
    assert quick("layout", loose).count("No slack") == 1


def test_rows_that_fit_are_proposed_though_they_are_longer(tmp_path: Path) -> None:
    """Three boxes of 16 cm with gaps of 4 cm take 56 cm, two take 36 cm."""
    chain = "".join(box(name, width="16 cm") for name in ("a", "b", "c", "d"))
    rows = [["d"], ["c", "b", "a"]]
    narrow = laid_out(rows, chain).replace('"60 cm", "32 cm"', '"40 cm", "32 cm"')
    path = saved(tmp_path, narrow)
    values = found(path, "--try")
    tried = values["try"]
    assert (tried["fits"], tried["overhangs"]) == (True, [])
    assert sorted(map(len, tried["rows"])) == [2, 2]
    assert values["overhangs"]
    said = quick("layout", path, "--try")
    assert "These rows fit on the board" in said
    assert "To buy, for the rows as they are" in said
    assert "To buy, for the rows that are proposed" in said
    hopeless = narrow.replace('"40 cm", "32 cm"', '"30 cm", "32 cm"')
    path = saved(tmp_path, hopeless, "hopeless.toml")
    assert found(path, "--try")["try"]["fits"] is False
    said = " ".join(quick("layout", path, "--try").split())
    assert "No order of these boxes in so many rows fits on the board" in said


def test_what_is_wrong_in_proposed_rows_is_said_there(tmp_path: Path) -> None:
    path = saved(tmp_path, laid_out(more='plug_length = "3 cm"\n'))
    said = " ".join(quick("layout", path, "--try").split())
    assert "In these rows too there is something to mend: Two plugs face each other" in said


def test_without_a_layout_it_says_what_to_write(tmp_path: Path) -> None:
    text = laid_out()
    bare = text[: text.index("[layout]")] + text[text.index("[[chain]]") :]
    bare = bare.replace('cable = "patch"\n', 'cable = "patch"\nlength = "20 cm"\n', 1)
    bare = "\n".join(x for x in bare.splitlines() if not x.startswith(("width", "depth")))
    message = refused("layout", saved(tmp_path, bare))
    for word in ("[layout]", "size", "rows", "width", "rig.toml"):
        assert word in message


def test_rows_to_paste_are_shorter_by_what_is_said(rig: Path, tmp_path: Path) -> None:
    values = found(rig, "--try")
    tried = values["try"]
    assert tried["exact"]
    assert tried["total_run_m"] < values["total_run_m"]
    said = quick("layout", rig, "--try")
    rows = tomllib.loads(said[said.index("rows = [") : said.index("\n]\n") + 3])["rows"]
    assert rows == tried["rows"]
    assert sorted(name for row in rows for name in row) == sorted(NAMES)
    pasted = saved(tmp_path, laid_out(rows), "pasted.toml")
    again = found(pasted, "--try")
    assert again["total_run_m"] == pytest.approx(tried["total_run_m"])
    assert again["treble_loss_db"] == pytest.approx(tried["treble_loss_db"])
    # Nothing is gained a second time, and so nothing proposed.
    assert again["try"]["rows"] is None
    assert "nothing is proposed" in quick("layout", pasted, "--try")


def test_a_search_without_time_is_no_proof(rig: Path) -> None:
    tried = found(rig, "--try", "--seconds", "0")["try"]
    assert not tried["exact"]
    assert "--try" in refused("layout", rig, "--seconds", "3")


def test_the_board_may_be_changed(rig: Path) -> None:
    values = found(rig, "--set", "layout.slack=2 cm")
    assert between(values, "tuner", "fuzz")["run_m"] == pytest.approx(0.06)
    assert values["set"] == ["layout.slack=2 cm"]


def test_a_board_inside_has_its_own_drawing_and_numbers(tmp_path: Path) -> None:
    deck = laid_out([["b", "a"]], box("a") + box("b"), title="deck")
    saved(tmp_path, deck, "deck.toml")
    leads = "".join(
        f'{key} = {{ cable = "lead", length = "3 m" }}\n' for key in ("lead_out", "lead_back")
    )
    loop = f'[[chain]]\nloop = "send"\nboard = "deck.toml"\n{leads}'
    main = saved(tmp_path, laid_out([["fuzz", "tuner"]], box("tuner") + loop + box("fuzz")))
    values = found(main, status=1)  # the send and the return stand nowhere
    inner = between(values, "a", "b")
    assert (inner["cable"], inner["board"]) == ("send: patch", "deck.toml")
    assert inner["run_m"] == pytest.approx(0.07)
    assert between(values, "send: send", "a")["on_board_m"] is not None
    assert between(values, "tuner", "send: input")["why"] == "no place"
    assert [one["board"] for one in values["layouts"]] == [None, "deck.toml"]
    assert {s["cable"] for s in values["shopping"]} == {"lead", "patch"}


@pytest.mark.parametrize("arguments", [[], ["--try"]], ids=["now", "proposed"])
def test_it_is_printed_in_80_columns_and_drawn(
    arguments: list[str], rig: Path, tmp_path: Path
) -> None:
    said = quick("layout", rig, *arguments, "--plot", tmp_path / "rig.svg")
    assert max(map(cell_len, said.splitlines())) <= 80
    assert "7 cables" not in said.splitlines()[0]
    assert ROWS[0][0] in (tmp_path / "rig.svg").read_text(encoding="utf-8")

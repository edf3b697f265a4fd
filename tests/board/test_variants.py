"""Variants of a board file, and single values set, against files edited by hand."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from helpers.boards import Table, boards, flat, switch
from helpers.variants import KINDS, edited, name_of, text
from hypothesis import given, settings
from hypothesis import strategies as st

from sigsim.board.changes import Changes
from sigsim.board.model import Board
from sigsim.board.reader import parse_board, read_versions
from sigsim.board.variants import MOST_VARIANTS
from sigsim.errors import BoardError, SigsimError
from sigsim.states.response import response


def like(one: Board, other: Board) -> None:
    """Assert that two boards are the same, and sound the same to the bit."""
    for key in ("instrument", "destination", "listed", "wiring", "cables", "scenes", "title"):
        assert getattr(one, key) == getattr(other, key), key
    assert [i.part for i in one.items()] == [i.part for i in other.items()]
    for state in other.named_states()[:2]:
        frequency = np.array([100.0, 3000.0, 9000.0])
        a, b = (response(board, state.on, frequency) for board in (one, other))
        assert np.array_equal(a.gain_db, b.gain_db, equal_nan=True)
        assert np.array_equal(a.loss_db, b.loss_db, equal_nan=True)


NUMBERS = st.sampled_from([10.0, 470.0, 3300.0])


@st.composite
def edits(draw: st.DrawFn, board: Table) -> Table:
    """Draw a variant of a board: parts, keys, new names, and what is out."""
    made: Table = {}
    things = [item for item in flat(board["chain"]) if name_of(item) is not None]
    out = [item for item in things if draw(st.integers(0, 4)) == 0]
    inside_out = {id(inner) for item in out for inner in flat([item])}
    for number, item in enumerate(things):
        if id(item) in inside_out or draw(st.booleans()):
            continue
        given = draw(_for(item))
        if draw(st.booleans()):
            given |= {kind: f"new name {number}" for kind in KINDS if kind in item}
        made[str(name_of(item))] = given
    if draw(st.booleans()):
        made["instrument"] = draw(
            st.sampled_from([{"part": "bass-active"}, {"part": "bass-split-coil", "volume": 7}])
        )
    if draw(st.booleans()):
        made["destination"] = {"input_resistance": draw(NUMBERS) * 1000}
    if "wiring" in board and draw(st.booleans()):
        made["wiring"] = {"length": draw(NUMBERS) / 1000}
    if draw(st.booleans()):
        name = draw(st.sampled_from(sorted(board["cables"])))
        given = [{"capacitance": 70e-12}, {"part": "cable-patch"}]
        made["cables"] = {name: draw(st.sampled_from(given))}
    names = [str(name_of(item)) for item in out]
    return made | ({"out": names} if names else {})


def _for(item: Table) -> st.SearchStrategy[Table]:
    if "stage" in item:
        parts = ["pedal-buffered", "pedal-true-bypass", "volume-pedal-passive"]
        return st.sampled_from(parts).map(lambda part: {"part": part})
    if "loop" in item:
        return NUMBERS.map(lambda n: {"wiring_capacitance": n * 1e-12})
    if "tap" in item:
        return st.sampled_from([{"part": "line-input"}, {"length": 2.5}])
    return st.just({"destination": {"name": "elsewhere", "input_resistance": 1e6}})


@settings(max_examples=30, deadline=None)
@given(board=boards(), data=st.data())
def test_a_variant_is_what_the_same_edit_by_hand_is(board: Table, data: st.DataObject) -> None:
    variant = data.draw(edits(board))
    by_hand = edited(board, variant)
    file = text(board | {"variants": {"v": variant}})
    if by_hand is None:
        with pytest.raises(BoardError, match="nothing but cables"):
            parse_board(file)
        return
    like(parse_board(file, changes=Changes(("v",))), parse_board(text(by_hand)))
    like(parse_board(file), parse_board(text(board)))


@settings(max_examples=20, deadline=None)
@given(board=boards(), data=st.data())
def test_values_that_are_set_are_those_of_an_edited_file(board: Table, data: st.DataObject) -> None:
    new = json.loads(json.dumps(board))
    values = []
    name = data.draw(st.sampled_from(sorted(board["cables"])))
    new["cables"][name]["capacitance"] = 7e-11
    values.append(f"cables.{name}.capacitance=70 pF/m")
    new["destination"]["input_resistance"] = 220e3
    values.append("destination.input_resistance=220 kΩ")
    for item in flat(new["chain"]):
        if "loop" in item:
            item["contact_resistance"] = 3.0
            values.append(f"{item['loop']}.contact_resistance=3")
        if "tap" in item and not item.get("open"):
            item["input_resistance"] = 1e6
            values.append(f" {item['tap']}.input_resistance = 1e6 ")
        if switch(item) and item.get("kind", "active") == "active" and "stage" in item:
            item["gain"] = 6.0
            values.append(f'{item["stage"]}.gain="6 dB"')
    values.append("destination.name=a, b = c")
    new["destination"]["name"] = "a, b = c"
    found = parse_board(text(board), changes=Changes(values=tuple(values)))
    like(found, parse_board(text(new)))
    assert found.name.startswith(f"{len(values)} values set: ")


HEAD = """
title = "rig"
[instrument]
part = "bass-split-coil"
[destination]
part = "instrument-input"
[cables.lead]
part = "cable-standard"
[cables."a.b"]
part = "cable-patch"
[wiring]
cable = "a.b"
length = "20 cm"
"""
CHAIN = """
[[chain]]
cable = "lead"
length = "5 m"
[[chain]]
stage = "wah"
part = "wah-true-bypass"
contact_resistance = 1
[[chain]]
loop = "send"
[[chain.inside]]
stage = "echo.1"
part = "pedal-true-bypass"
[[chain.inside]]
stage = "a=b"
part = "pedal-true-bypass"
[[chain]]
tap = "tuner out"
cable = "lead"
length = "1 m"
part = "line-input"
[[chain]]
cable = "lead"
length = "6 m"
[scenes]
one = ["wah", "send", "echo.1"]
two = ["a=b"]
"""
FILE = HEAD + CHAIN


def board(variants: str = "", *names: str, values: tuple[str, ...] = ()) -> Board:
    return parse_board(FILE + variants, "rig.toml", Changes(names, values))


def why_not(variants: str, *names: str, values: tuple[str, ...] = ()) -> str:
    with pytest.raises(SigsimError) as refused:
        board(variants, *names, values=values)
    return str(refused.value)


def test_variants_are_applied_in_turn_and_values_last() -> None:
    text = """
    [variants.a]
    wah = { stage = "growl", part = "pedal-buffered" }
    cables.lead.capacitance = "70 pF/m"
    [variants.b]
    wah = { gain = "3 dB" }
    cables = { lead = { capacitance = "80 pF/m" } }
    out = ["echo.1"]
    """
    both = board(text, "a", "b", values=("growl.gain=5", "wah.low_pass=5 kHz"))
    (growl,) = (item for item in both.powered() if item.stage == "growl")
    assert (growl.gain, growl.low_pass, growl.bypass) == (5, 5000, "buffered")
    assert both.cables["lead"].capacitance == 80e-12
    assert both.scenes == {"one": ("growl", "send"), "two": ("a=b",)}
    assert both.variants == ("a", "b")
    assert both.name == "variants a + b, 2 values set: rig"
    assert both.title == "rig"
    assert board(text, "b", "a").cables["lead"].capacitance == 70e-12
    assert board(text).name == "rig"


def test_two_may_exchange_their_names() -> None:
    found = board('[variants.v]\nwah = { stage = "echo.1" }\n"echo.1" = { stage = "wah" }\n', "v")
    assert found.scenes["one"] == ("echo.1", "send", "wah")
    assert found.stage_names() == ("echo.1", "send", "wah", "a=b")


def test_a_name_that_begins_like_an_entry_of_a_loop_is_a_name() -> None:
    """`"wah: slow"` is a stage of its own and no scene in a loop `"wah"`."""
    slow = '[[chain]]\nstage = "wah: slow"\nbefore = ["a=b"]\npart = "pedal-true-bypass"\n'
    text = FILE.replace('[[chain]]\ntap = "tuner out"', f'{slow}[[chain]]\ntap = "tuner out"')
    text = text.replace('two = ["a=b"]', 'two = ["a=b", "wah: slow"]').replace("before", "after")
    text += '[variants.v]\nwah = { stage = "growl" }\n[variants.w]\nout = ["wah"]\n'
    for name in ("v", "w"):
        found = parse_board(text, "rig.toml", Changes((name,)))
        assert found.scenes["two"] == ("a=b", "wah: slow")


def test_constraints_and_rows_follow_and_forget() -> None:
    from sigsim.board.variants import Variation

    data: dict[str, Any] = {
        "chain": [
            {"stage": "a", "before": ["b", "c"], "place": ["1 cm", "2 cm"], "gain": 3},
            {"loop": "l", "after": ["b"], "inside": [{"stage": "c", "after": ["b", "a"]}]},
            {"loop": "m", "board": "deck.toml"},
            {"stage": "b", "fixed": True, "supply": "left 2"},
            {"stage": "d"},
        ],
        "layout": {"rows": [["a", "b"], ["box", "d"]]},
        "boxes": {"box": {"loops": ["l", "m"]}},
        "scenes": {"s": ["b", "l", "m: x", "d"]},
    }
    made = Variation(data)
    made.variant(
        "v",
        {"b": {"part": "p", "stage": "new"}, "l": {"loop": "k"}, "m": {"loop": "n"}, "out": ["d"]},
    )
    assert not made.problems
    chain = made.data["chain"]
    assert chain[0]["before"] == ["new", "c"]
    assert chain[1] == {
        "loop": "k",
        "after": ["new"],
        "inside": [{"stage": "c", "after": ["new", "a"]}],
    }
    assert chain[3] == {"stage": "new", "fixed": True, "supply": "left 2", "part": "p"}
    assert made.data["layout"]["rows"] == [["a", "new"], ["box"]]
    assert made.data["boxes"]["box"]["loops"] == ["k", "n"]
    assert made.data["scenes"] == {"s": ["new", "k", "n: x"]}
    made.variant("w", {"out": ["k", "b", "n"]})
    assert made.data["chain"] == [{"stage": "a", "place": ["1 cm", "2 cm"], "gain": 3}]
    assert made.data["scenes"] == {"s": []}
    assert data["chain"][0]["before"] == ["b", "c"]


def test_what_a_change_puts_out_of_effect_is_left_out_and_said() -> None:
    found = board('[variants.v]\nwah = { bypass = "buffered" }\n', "v")
    (said,) = found.warnings
    assert 'stage "wah", contact_resistance: left out' in said
    assert board(values=("wah.bypass=buffered",)).warnings == found.warnings
    found = board(values=("wah.bypass=buffered", "wah.bypass_gain=2", "wah.bypass=true"))
    assert "bypass_gain: left out" in found.warnings[0]
    found = board(values=("tuner out.open=true",))
    assert found.warnings == ()
    found = board(values=("wah.always_on=true",))
    assert "contact_resistance" in found.warnings[0]


def test_a_key_given_in_vain_by_the_change_itself_is_an_error() -> None:
    said = why_not('[variants.v]\nwah = { bypass = "true", bypass_gain = 3 }\n')
    assert '[variants.v], "wah", bypass_gain: this has no effect' in said
    for values in (("wah.bypass_gain=3",), ("wah.bypass_gain=3", "send.contact_resistance=1")):
        assert '--set "wah.bypass_gain=3": this has no effect' in why_not("", values=values)


def test_another_kind_leaves_out_the_keys_it_does_not_have() -> None:
    plain = FILE.replace('part = "bass-split-coil"', 'resistance = "7 kΩ"\ninductance = "3 H"')
    found = parse_board(plain, changes=Changes(values=("instrument.type=active",)))
    assert not found.instrument.has_coil
    assert ["inductance" in said for said in found.warnings] == [False, True]


@pytest.mark.parametrize(
    ("variant", "words"),
    [
        ("wha = { gain = 1 }", ('[variants.v], "wha"', 'did you mean "wah"?')),
        ("cables.laed = { capacitance = 1 }", ('did you mean "cables.lead"', "[cables.laed]")),
        ("layout = { gap = 1 }", ("[variants.v], layout: there is no [layout] in this file",)),
        ("supplies.x = { isolated = true }", ("there is no [supplies.x] in this file",)),
        ("wah = true", ('[variants.v], "wah": a table is wanted here',)),
        ("cables = 3", ("[variants.v], cables: a table is wanted here",)),
        ("out = 'wah'", ("[variants.v], out: a list of names", '["echo"]')),
        ("out = [1]", ("a list of names is wanted here",)),
        ("out = ['wha']", ("[variants.v], out", 'did you mean "wah"?')),
        ("out = ['lead']", ("this cannot be left out",)),
        ("out = ['instrument']", ("this cannot be left out",)),
        ("out = ['echo.1', 'a=b']", ('nothing but cables is left in the loop "send"',)),
        ("out = ['wah', 'send', 'tuner out']", ("everything is out",)),
        ("wah = { gain = 1 }\nout = ['wah']", ('changed in vain', 'leaves out "wah"')),
        ("'a=b' = { gain = 1 }\nout = ['send']", ('changed in vain', 'leaves out "send"')),
        ("wah = { gian = 1 }", ('[variants.v], "wah": there is no key "gian"', '"gain"?')),
        ("wah = { gain = '3 F' }", ('[variants.v], "wah", gain: this is a capacitance',)),
        ("wah = { part = 'pedal-bufered' }", ('[variants.v], "wah", part', '"pedal-buffered"?')),
        ("wah = { stage = 'send' }", ("[variants.v], ", "used twice")),
        ("wah = { stage = 'instrument' }", ("[variants.v], stage", "another name for it")),
        ("wah = { loop = 'x' }", ("[variants.v]", "one thing only")),
        ("wiring = { cable = 'x' }", ("[variants.v], wiring, cable: there is no cable",)),
        ("instrument = { part = 'bass-actve' }", ("[variants.v], instrument, part", "bass-active")),
        ("instrument = { bridge = { volume = 3 } }", ('no pickup of this name', "bridge")),
        (
            "send = { inside = [{ stage = 'echo.1' }, { stage = 'a=b', part = 'pad-passive' }] }",
            ('"send", inside, item 1: input_resistance is missing',),
        ),
    ],
)  # fmt: skip
def test_what_is_wrong_in_a_variant_is_told_whenever_the_file_is_read(
    variant: str, words: tuple[str, ...]
) -> None:
    said = why_not(f"[variants.v]\n{variant}\n")
    for word in words:
        assert word in said
    assert said.count("\n") == (2 if "inside" in variant else 1), said
    line = FILE.count("\n") + 1
    assert all(f"from line {line}, [variants.v]" in one for one in said.split("\n")[1:])


def test_the_place_of_a_table_of_a_variant_has_its_line() -> None:
    said = why_not('[variants.v."echo.1"]\ngian = 3\n[variants.v.cables."a.b"]\nx = 1\n')
    line = FILE.count("\n") + 1
    assert f'from line {line}, [variants.v], "echo.1": there is no key "gian"' in said
    assert f"from line {line + 2}, [variants.v], cables.a.b: there is no key" in said


def test_what_is_wrong_in_the_file_itself_is_told_once() -> None:
    wrong = FILE.replace('tap = "tuner out"', 'tap = "tuner out"\ninput_resistence = 1')
    variants = "".join(f'[variants.v{n}]\nout = ["wah"]\n' for n in range(4))
    with pytest.raises(BoardError) as refused:
        parse_board(wrong + variants + "[variants.x]\nwah = { gian = 1 }\n")
    assert len(refused.value.problems) == 2


def test_names_that_mean_sections_are_refused_beside_variants() -> None:
    for name in ("instrument", "out", "cables.lead", "supplies.x", "layout", "wiring"):
        odd = FILE.replace('"a=b"', f'"{name}"')
        assert parse_board(odd).scenes["two"] == (name,)
        with pytest.raises(BoardError, match="another name for it"):
            parse_board(odd + "[variants.v]\n")
        with pytest.raises(SigsimError, match="another name for it"):
            parse_board(odd, changes=Changes(values=("wah.gain=1",)))


@pytest.mark.parametrize(
    ("section", "word"),
    [
        ("variants = 3\n", "[variants.NAME] tables"),
        ("[variants]\nv = 3\n", "a table is wanted here"),
        ('[variants.""]\n', "[variants]"),
        ("".join(f"[variants.v{n}]\n" for n in range(MOST_VARIANTS + 1)), "at most 25 variants"),
    ],
)
def test_the_section_itself_is_checked(section: str, word: str) -> None:
    text = section + FILE if section.startswith("variants") else FILE + section
    with pytest.raises(BoardError) as refused:
        parse_board(text)
    assert word in str(refused.value)


def test_a_long_chain_cannot_have_many_variants() -> None:
    chain = '[[chain]]\ncable = "lead"\nlength = 1\n' * 4000
    with pytest.raises(BoardError, match="a chain as long as this"):
        parse_board(
            FILE.replace("[scenes]", chain + "[scenes]")
            + "".join(f"[variants.v{n}]\n" for n in range(11))
        )


def test_restating_and_changing_nothing_are_fine() -> None:
    text = (
        '[variants.v]\nwah = { part = "wah-true-bypass", contact_resistance = 1 }\n[variants.w]\n'
    )
    like(board(text, "v"), board())
    like(board(text, "w"), board())


def test_cables_of_what_is_out_stay() -> None:
    file = FILE.replace(
        '[[chain]]\nstage = "wah"',
        '[[chain]]\ncable = "lead"\nlength = 1\n[[chain]]\nstage = "wah"',
    )
    file = file.replace(
        "[[chain]]\nloop", '[[chain]]\ncable = "a.b"\nlength = 2\n[[chain]]\nloop', 1
    )
    found = parse_board(file + "[variants.v]\nout = ['wah']\n", changes=Changes(("v",)))
    assert [piece.length for piece in found.pieces("lead")] == [5, 1, 1, 6]
    assert found.versions[0].joined == (("lead", "a.b"),)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("wah", ("there is no =", "NAME.KEY=VALUE")),
        ("wah=3", ("there is none", "wah.KEY=3")),
        ("wah.gain=", ("nothing stands behind the =",)),
        ('wah.gain=""', ("nothing stands behind the =",)),
        ("wah.=3", ("there is none",)),
        (".gain=3", ("there is none",)),
        ("wha.gain=3", ("of this name", 'did you mean "wah"?')),
        ("echo.gain=3", ("of this name", 'did you mean "echo.1"?')),
        ("wah.gian=3", ("no key", 'did you mean "gain"?')),
        ("wah.gain=3 F", ("this is a capacitance",)),
        ("wah.gain=loud", ("loud",)),
        ("wah.always_on=yes", ("true or false",)),
        ("wah.bypass=bufered", ('did you mean "buffered"?',)),
        ("wah.part=pedal-bufered", ('did you mean "pedal-buffered"?',)),
        ("a=b.gain=3", ("in a variant of the file only", '"a=b"')),
        ("cables.laed.capacitance=1", ('did you mean "cables.lead"?',)),
        ("cables.capacitance=1", ("of this name",)),
        ("layout.gap=1 cm", ("there is no [layout] in this file",)),
        ("instrument.neck.volume=3", ("no pickup of this name",)),
        ("wiring.part=x", ("no key",)),
        ("send.inside=x", ("list of tables",)),
        ("wah.gain=3\x07", ("not seen",)),
    ],
)
def test_a_value_that_cannot_be_set_is_one_message(value: str, words: tuple[str, ...]) -> None:
    said = why_not("", values=(value,))
    assert said.startswith('--set "')
    assert "\n" not in said
    for word in words:
        assert word in said


def test_no_value_gives_a_name_that_means_a_section() -> None:
    for values in (("wah.stage=instrument",), ("wah.stage=cables.x", "wah.gain=3")):
        assert "a word of the board file" in why_not("", values=values)


def test_the_end_of_a_split_can_be_set() -> None:
    split = '[[chain]]\nsplit = "second"\ndestination = { part = "instrument-input" }\n'
    file = FILE.replace("[[chain]]\nloop", f"{split}[[chain]]\nloop", 1)
    changes = Changes(values=("second.destination.input_resistance=220 kΩ",))
    (found,) = parse_board(file, changes=changes).splits()
    assert found.destination.input_resistance == 220e3
    renamed = Changes(values=("second.split=far", *changes.values))
    (found,) = parse_board(file, changes=renamed).splits()
    assert (found.split, found.destination.input_resistance) == ("far", 220e3)
    with pytest.raises(SigsimError) as refused:
        parse_board(file, changes=Changes(values=("second.destination.volume=3",)))
    assert str(refused.value).startswith('--set "second.destination.volume=3": there is no key')


def test_a_cable_with_an_equals_sign_can_be_changed_in_a_variant_only() -> None:
    file = FILE.replace('"a.b"', '"a=b"')
    changes = Changes(values=("cables.a=b.capacitance=1 pF/m",))
    with pytest.raises(SigsimError, match="in a variant of the file only"):
        parse_board(file, changes=changes)
    variant = "[variants.v]\ncables.'a=b'.capacitance = 1e-12\n"
    found = parse_board(file + variant, changes=Changes(("v",)))
    assert found.cables["a=b"].capacitance == 1e-12


def test_pickups_are_named_of_the_part_and_of_the_file() -> None:
    part = FILE.replace('"bass-split-coil"', '"bass-two-pickup"')
    known = parse_board(part).instrument.pickups  # type: ignore[union-attr]
    name = known[0].name
    found = parse_board(part, changes=Changes(values=(f"instrument.{name}.volume=3",)))
    assert found.instrument.pickups[0].volume == 3  # type: ignore[union-attr]
    variant = (
        f'[variants.v]\ninstrument = {{ part = "bass-two-pickup", "{name}" = {{ volume = 4 }} }}\n'
    )
    new = board(variant, "v").instrument.pickups  # type: ignore[union-attr]
    assert new[0].volume == 4
    with pytest.raises(SigsimError, match="did you mean"):
        parse_board(part, changes=Changes(values=(f"instrument.{name}x.volume=3",)))


def test_an_unknown_variant_has_the_nearest_word() -> None:
    assert 'did you mean "night"?' in why_not("[variants.night]\n", "nite")
    assert "there is no variant at all" in why_not("", "x")


def test_versions_are_those_read_one_by_one(tmp_path: Any) -> None:
    path = tmp_path / "rig.toml"
    path.write_text(FILE + "[variants.a]\nout = ['wah']\n[variants.b]\nwah.gain = 3\n", "utf-8")
    found = read_versions(path)
    assert [one.changes.variants for one in found] == [(), ("a",), ("b",)]
    for one in found:
        like(one, parse_board(path.read_text("utf-8"), str(path), one.changes))
    assert read_versions(path, ("send.contact_resistance=2",))[1].changes.values

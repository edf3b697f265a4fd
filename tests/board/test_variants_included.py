"""Variants and single values where a board holds another board."""

from __future__ import annotations

from pathlib import Path

import pytest

from sigsim.board.changes import Changes
from sigsim.board.model import Board
from sigsim.board.reader import read_board, read_versions
from sigsim.errors import SigsimError

MAIN = """
title = "rig"
[instrument]
part = "bass-split-coil"
[destination]
part = "instrument-input"
[cables.lead]
part = "cable-standard"
[[chain]]
cable = "lead"
length = "5 m"
[[chain]]
stage = "tuner"
part = "tuner-true-bypass"
[[chain]]
loop = "send"
board = "deck.toml"
prefix = "deck "
lead_out = { cable = "lead", length = "3 m" }
[scenes]
far = ["tuner", "send: crunch"]
near = ["send", "deck drive", "deck sub", "deck low wah"]
"""
DECK = """
[cables.patch]
part = "cable-patch"
[wiring]
cable = "patch"
length = "20 cm"
[[chain]]
stage = "drive"
part = "pedal-true-bypass"
[[chain]]
loop = "sub"
board = "low.toml"
prefix = "low "
[[chain]]
stage = "echo"
part = "pedal-true-bypass"
[scenes]
crunch = ["drive", "sub: all"]
"""
LOW = """
[cables.patch]
part = "cable-patch"
[wiring]
cable = "patch"
length = "20 cm"
[[chain]]
stage = "wah"
part = "pedal-true-bypass"
[[chain]]
stage = "fuzz"
part = "pedal-true-bypass"
[scenes]
all = ["wah", "fuzz"]
"""
OTHER = """
[[chain]]
stage = "reverb"
part = "pedal-buffered"
[scenes]
crunch = ["reverb"]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, text in (("deck", DECK), ("low", LOW), ("other", OTHER), ("rig", MAIN)):
        (tmp_path / f"{name}.toml").write_text(text, "utf-8")
    return tmp_path


def read(folder: Path, variant: str = "", *values: str) -> Board:
    (folder / "rig.toml").write_text(
        MAIN + (f"[variants.v]\n{variant}\n" if variant else ""), "utf-8"
    )
    return read_board(folder / "rig.toml", Changes(("v",) if variant else (), values))


def by_hand(folder: Path, *edits: tuple[str, str, str]) -> Board:
    """Return the board with texts replaced in its files."""
    new = folder / "edited"
    new.mkdir(exist_ok=True)
    for name in ("rig", "deck", "low", "other"):
        text = (folder / f"{name}.toml").read_text("utf-8").partition("[variants")[0]
        for file, old, by in edits:
            if file == name:
                assert old in text
                text = text.replace(old, by)
        (new / f"{name}.toml").write_text(text, "utf-8")
    return read_board(new / "rig.toml")


def like(one: Board, other: Board) -> None:
    for key in ("listed", "cables", "scenes", "wiring", "instrument", "destination"):
        assert getattr(one, key) == getattr(other, key), key


def test_things_of_an_included_board_are_named_with_their_prefixes(folder: Path) -> None:
    like(
        read(folder, '"deck drive" = { gain = 3 }\n"deck low wah" = { bypass = "buffered" }'),
        by_hand(
            folder,
            ("deck", 'stage = "drive"', 'stage = "drive"\ngain = 3'),
            ("low", 'stage = "wah"', 'stage = "wah"\nbypass = "buffered"'),
        ),
    )
    like(
        read(folder, "", "deck drive.gain=3", "deck low fuzz.part=pedal-buffered"),
        by_hand(
            folder,
            ("deck", 'stage = "drive"', 'stage = "drive"\ngain = 3'),
            (
                "low",
                'stage = "fuzz"\npart = "pedal-true-bypass"',
                'stage = "fuzz"\npart = "pedal-buffered"',
            ),
        ),
    )


def test_new_names_are_followed_at_every_level(folder: Path) -> None:
    edits = (
        ("low", '"wah"', '"growl"'),
        ("deck", '"drive"', '"grind"'),
        ("rig", '"deck low wah"', '"deck low growl"'),
        ("rig", '"deck drive"', '"deck grind"'),
    )
    for prefix in ("deck ", ""):
        low = "deck low " if prefix else ""
        variant = f'"deck low wah".stage = "{low}growl"\n"deck drive".stage = "{prefix}grind"'
        like(read(folder, variant), by_hand(folder, *edits))


def test_a_new_name_of_a_loop_is_followed_in_entries_of_scenes(folder: Path) -> None:
    found = read(folder, 'send.loop = "patch bay"\n"deck sub".loop = "deck under"')
    assert (
        found.scenes
        == by_hand(
            folder,
            ("rig", '"send', '"patch bay'),
            ("rig", '"deck sub"', '"deck under"'),
            ("deck", '"sub', '"under'),
        ).scenes
    )


@pytest.mark.parametrize(
    ("renamed", "cable"),
    [
        ('send = { loop = "fx" }', "send: patch"),
        ('send = { loop = "fx" }', "send: deck sub: patch"),
        ('"deck sub" = { loop = "deck far" }', "send: deck sub: patch"),
        ('send = { prefix = "d " }', "send: deck sub: patch"),
    ],
)
def test_cables_are_found_by_the_old_name_of_their_loop(
    folder: Path, renamed: str, cable: str
) -> None:
    """Whoever named the loop means the new one, in a variant and in a value that come after it."""
    later = f'cables."{cable}".capacitance = "70 pF/m"\n'
    text = f"{MAIN}[variants.v]\n{renamed}\n[variants.w]\n{later}"
    (folder / "rig.toml").write_text(text, "utf-8")
    alone = read_board(folder / "rig.toml", Changes(("v",)))
    place = 1 + ("sub" in cable)
    for names, values in ((("v", "w"), ()), (("v",), (f"cables.{cable}.capacitance=70p",))):
        found = read_board(folder / "rig.toml", Changes(names, values))
        pairs = zip(alone.cables.items(), found.cables.items(), strict=True)
        differ = [n for n, (one, other) in enumerate(pairs) if one != other]
        assert differ == [place]


def test_another_prefix_is_another_name_for_all_inside(folder: Path) -> None:
    like(
        read(folder, 'send.prefix = "floor "'),
        by_hand(folder, ("rig", '"deck ', '"floor ')),
    )


def test_a_prefix_that_is_set_keeps_the_blank_at_its_end(folder: Path) -> None:
    like(read(folder, "", "send.prefix=floor "), by_hand(folder, ("rig", '"deck ', '"floor ')))


def test_what_is_out_is_forgotten_at_every_level(folder: Path) -> None:
    like(
        read(folder, 'out = ["deck low wah", "deck echo"]'),
        by_hand(
            folder,
            ("low", '[[chain]]\nstage = "wah"\npart = "pedal-true-bypass"\n', ""),
            ("low", '"wah", ', ""),
            ("deck", '[[chain]]\nstage = "echo"\npart = "pedal-true-bypass"\n', ""),
            ("rig", ', "deck low wah"', ""),
        ),
    )
    found = read(folder, 'out = ["deck sub"]')
    assert found.scenes == {"far": ("tuner", "send", "deck drive"), "near": ("send", "deck drive")}
    with pytest.raises(SigsimError, match="nothing but cables is left"):
        read(folder, 'out = ["deck low wah", "deck low fuzz"]')


def test_cables_of_boards_inside_go_by_their_loop(folder: Path) -> None:
    for name, file in (("send: patch", "deck"), ("send: deck sub: patch", "low")):
        edit = (file, 'part = "cable-patch"', 'part = "cable-patch"\ncapacitance = "50 pF/m"')
        like(read(folder, "", f"cables.{name}.capacitance=50 pF/m"), by_hand(folder, edit))
        like(read(folder, f'cables."{name}".capacitance = "50 pF/m"'), by_hand(folder, edit))


def test_a_whole_board_may_be_exchanged(folder: Path) -> None:
    near = ("rig", ', "deck drive", "deck sub", "deck low wah"', "")
    (folder / "rig.toml").write_text(MAIN.replace(near[1], ""), "utf-8")
    text = (folder / "rig.toml").read_text("utf-8")
    variants = '[variants.v]\nsend = { board = "other.toml" }\n"deck reverb" = { gain = 2 }\n'
    (folder / "rig.toml").write_text(text + variants, "utf-8")
    path = folder / "rig.toml"
    edits = (
        ("rig", '"deck.toml"', '"other.toml"'),
        ("other", '"reverb"\npart', '"reverb"\ngain = 2\npart'),
    )
    like(read_board(path, Changes(("v",))), by_hand(folder, *edits))
    like(read_board(path, Changes(values=("send.board=other.toml",))), by_hand(folder, edits[0]))
    assert [one.changes.variants for one in read_versions(path)] == [(), ("v",)]
    with pytest.raises(SigsimError, match=r'did you mean "other\.toml"'):
        read_board(path, Changes(values=("send.board=othr.toml",)))


def test_the_lead_there_can_be_set(folder: Path) -> None:
    like(
        read(folder, "", "send.lead_out.length=4 m"),
        by_hand(folder, ("rig", '"3 m"', '"4 m"')),
    )


def test_a_name_that_is_taken_is_one_problem(folder: Path) -> None:
    """Scenes that named the old one do not lack it as well."""
    with pytest.raises(SigsimError) as refused:
        read(folder, '"deck drive" = { stage = "deck echo" }')
    assert "1 problem\n" in str(refused.value)
    assert "used twice" in str(refused.value)


def test_a_name_that_means_a_section_is_said_with_its_file(folder: Path) -> None:
    (folder / "deck.toml").write_text(DECK.replace('"echo"', '"out"'), "utf-8")
    (folder / "rig.toml").write_text(
        MAIN.replace('prefix = "deck "\n', "").replace("deck ", "")
        + "[variants.v]\ndrive = { gain = 3 }\n",
        "utf-8",
    )
    with pytest.raises(SigsimError, match=r'deck\.toml, stage "out": a variant would mean'):
        read_board(folder / "rig.toml")


def test_what_is_wrong_names_the_variant_and_not_the_file_inside(folder: Path) -> None:
    with pytest.raises(SigsimError) as refused:
        read(folder, '"deck drive" = { gian = 3 }')
    said = str(refused.value)
    assert '[variants.v], "deck drive": there is no key "gian"' in said
    assert "deck.toml" not in said
    with pytest.raises(SigsimError, match='did you mean "deck drive"'):
        read(folder, '"deck driv" = { gain = 3 }')
    with pytest.raises(SigsimError, match=r'did you mean "cables\.send: patch"'):
        read(folder, 'cables."send: pach".capacitance = 3')

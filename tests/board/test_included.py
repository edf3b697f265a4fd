"""Boards inside boards: the same as pasted by hand, and all that can be wrong with the files."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tomlkit
from helpers.boards import LENGTH, Table, boards, ends, states
from helpers.in_process import sigsim_here
from helpers.pasted import pasted
from helpers.thinned import tries
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from sigsim.board import edit, edit_file
from sigsim.board.including import MOST_BOARDS
from sigsim.board.model import Board
from sigsim.board.reader import parse_board, read_board
from sigsim.errors import BoardError, SigsimError
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.states.circuit import Circuit

FREQUENCIES = np.array([20.0, 440.0, 3.1e3, 17e3])
ENDS = """\
[instrument]
inductance = "3 H"
resistance = "8 kΩ"
[destination]
input_resistance = "1 MΩ"
[cables.lead]
capacitance = "100 pF/m"
"""
SEND = '[[chain]]\nloop = "send"\nboard = "deck.toml"\n'
FUZZ = '[[chain]]\nstage = "fuzz"\npart = "fuzz-low-impedance"\n'
ECHO = '[[chain]]\nstage = "echo"\npart = "echo-buffered"\n'
DECK = f"""\
title = "deck"
{ENDS}[cables.patch]
capacitance = "120 pF/m"
[wiring]
cable = "patch"
length = "10 cm"
{FUZZ}{ECHO}[scenes]
crunch = ["fuzz"]
both = ["fuzz", "echo"]
"""


def folder_of(path: Path, **files: str) -> Path:
    """Write files, `main` among them, and return the path of that one."""
    for name, text in files.items():
        file = path / f"{name}.toml"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    return path / "main.toml"


def refused(path: Path, *words: str) -> str:
    """Return what is said of a board that is refused; it holds these words."""
    with pytest.raises(SigsimError) as error:
        read_board(path)
    said = str(error.value)
    assert [word for word in words if word not in said] == [], said
    return said


def listed(items: Any) -> list[Any]:
    """Return the items of a chain without what only says that they stand in a file."""
    found: list[Any] = []
    for item in items:
        if isinstance(item, Loop | Split):
            found.append((item.key, item.label, listed(item.inside)))
        else:
            found.append(item)
    return found


@st.composite
def _nested(draw: st.DrawFn) -> tuple[Table, int, Table]:
    """Draw a board, a place in it with a loop, and the board that the loop holds."""
    main, deck = draw(boards()), draw(boards())
    assume("wiring" in deck or "wiring" not in main)  # by hand, "none" cannot be written
    names = sorted(main["cables"])
    loop: Table = {"loop": "send", "board": "deck.toml", "prefix": draw(st.sampled_from(PREFIXES))}
    for key in ("lead_out", "lead_back"):
        if draw(st.booleans()):
            loop[key] = {"cable": draw(st.sampled_from(names)), "length": draw(LENGTH)}
    place = draw(st.integers(0, len(main["chain"])))
    main["chain"].insert(place, loop)
    main["scenes"]["inside too"] = [f"send: {scene}" for scene in deck["scenes"]]
    return main, place, deck


PREFIXES = ("deck ", "2: ", "send: ", 'the "far" ')


@settings(max_examples=tries(40, 80))
@given(_nested(), st.data())
def test_a_board_inside_is_the_same_chain_pasted(drawn: Any, data: st.DataObject) -> None:
    """The same items, the same wiring, and every state the same to the bit, at every end."""
    main, place, deck = drawn
    whole = pasted(main, place, deck)
    with tempfile.TemporaryDirectory() as folder:
        files = {"main": tomlkit.dumps(main), "deck": tomlkit.dumps(deck)}
        board = read_board(folder_of(Path(folder), **files))
    other = parse_board(tomlkit.dumps(whole))
    assert listed(board.laid) == listed(other.laid)
    assert board.scenes == other.scenes
    assert {**board.cables} == {**other.cables}
    on = data.draw(states(whole))
    end = data.draw(st.sampled_from(ends(whole)))
    heard = [Circuit(b.heard_at(end), FREQUENCIES).response(on) for b in (board, other)]
    assert np.array_equal(*heard, equal_nan=True)


def test_two_deep_with_both_prefixes(tmp_path: Path) -> None:
    """Names carry all prefixes, cables all loops, scenes reach as deep."""
    sub = DECK.replace('"fuzz"', '"wah"')
    deck = DECK + SEND.replace("send", "sub").replace("deck.toml", "more/sub.toml")
    deck += 'prefix = "sub "\n'
    deck = deck.replace('crunch = ["fuzz"]', 'crunch = ["fuzz", "sub: crunch"]')
    main = f'{ENDS}{SEND}prefix = "deck "\n[scenes]\ngig = ["send: crunch"]\n'
    main += 'own = ["deck sub: both", "send"]\n'
    path = folder_of(tmp_path, main=main, deck=_ordered(deck), **{"more/sub": sub})
    board = read_board(path)
    names = ("send", "deck fuzz", "deck echo", "deck sub", "deck sub wah", "deck sub echo")
    assert board.switches() == names
    assert board.scenes["gig"] == ("send", "deck fuzz", "deck sub", "deck sub wah")
    assert board.scenes["own"] == ("deck sub", "deck sub wah", "deck sub echo", "send")
    kinds = ["lead", "send: lead", "send: patch", "send: deck sub: lead", "send: deck sub: patch"]
    assert list(board.cables) == kinds
    inner = ["send: patch", "send: deck sub: patch", "send: patch"]
    assert cables(board) == ["send: patch", "send: patch", *inner]
    assert board.files == tuple(
        map(str, (path, tmp_path / "deck.toml", tmp_path / "more/sub.toml"))
    )


def _ordered(text: str) -> str:
    """Return a board file with its scenes last, as a list of tables cannot come after them."""
    head, scenes = text.split("[scenes]\n")
    scenes, chain = scenes.split("[[chain]]\n", 1)
    return f"{head}[[chain]]\n{chain}[scenes]\n{scenes}"


def test_its_own_wiring_or_none_and_at_the_ends_that_around_it(tmp_path: Path) -> None:
    wiring = '[wiring]\ncable = "lead"\nlength = "50 cm"\n'
    with_own = folder_of(tmp_path, main=ENDS + wiring + SEND, deck=DECK)
    assert [piece.cable for piece in read_board(with_own).pieces()] == [
        "lead",
        "send: patch",
        "lead",
    ]
    bare = DECK.replace('[wiring]\ncable = "patch"\nlength = "10 cm"\n', "")
    folder_of(tmp_path, deck=bare)
    assert cables(read_board(with_own)) == ["lead", "lead"]


LEADS = """lead_out = { cable = "lead", length = "3 m" }
lead_back = { cable = "lead", length = "4 m" }
"""
OWN = '[[chain]]\ncable = "lead"\nlength = "9 m"\n'


@pytest.mark.parametrize(
    ("chain", "lengths"),
    [
        (FUZZ, [3, 4]),
        (OWN + FUZZ + OWN, [3, 4]),
        (OWN + FUZZ, [3, 4]),
        (FUZZ + OWN, [3, 4]),
        (OWN, [3, 4]),
        (OWN + OWN, [3, 4]),
        (OWN + OWN + FUZZ, [3, 9, 4]),
    ],
)
def test_leads_there_and_back_take_the_place_of_its_own(
    tmp_path: Path, chain: str, lengths: list[int]
) -> None:
    path = folder_of(tmp_path, main=ENDS + SEND + LEADS, deck=ENDS + chain)
    found = [(piece.cable, piece.length) for piece in read_board(path).pieces()]
    assert [length for _, length in found] == lengths
    assert (found[0][0], found[-1][0]) == ("lead", "lead")


def test_what_does_not_count_may_be_missing_but_not_wrong(tmp_path: Path) -> None:
    path = folder_of(tmp_path, main=ENDS + SEND, deck=FUZZ)
    assert read_board(path).switches() == ("send", "fuzz")
    folder_of(tmp_path, deck=f'{FUZZ}[destination]\ninput_resistence = "1 MΩ"\n[scenes]\nx = "y"\n')
    main = f"{ENDS}{SEND}[scenes]\nx = ['fuz']\n"
    said = refused(
        folder_of(tmp_path, main=main),
        "3 problems",
        'did you mean "fuzz"',
        f'{tmp_path / "deck.toml"}, from line 4, [destination]: there is no key "input_resistence"',
        '[scenes], "x": a scene is a list',
    )
    assert said.splitlines()[0] == f"{path}: 3 problems"
    with pytest.raises(BoardError):
        read_board(tmp_path / "deck.toml")


WRONG: dict[str, tuple[str, str, list[str]]] = {
    "board beside inside": (SEND + "[[chain.inside]]\nstage = 'x'\n", DECK, ["one of the two"]),
    "prefix alone": ('[[chain]]\nloop = "send"\nprefix = "x"\n', DECK, ["no effect", "board ="]),
    "lead alone": ('[[chain]]\nloop = "send"\n' + LEADS, DECK, ["lead_out: this has no effect"]),
    "a lead that is no table": (SEND + 'lead_out = "3 m"\n', DECK, ["lead_out: a table is wanted"]),
    "a lead of another board's cable": (
        SEND + 'lead_out = { cable = "patch", length = 1 }\n',
        DECK,
        ["there is no cable of this name", '"patch"'],
    ),
    "board that is a number": ('[[chain]]\nloop = "send"\nboard = 3\n', DECK, ["a path in quotes"]),
    "no board, no inside": ('[[chain]]\nloop = "send"\n', DECK, ["nothing inside"]),
    "a name in both": (SEND + FUZZ, DECK, ["used twice", "main.toml", "deck.toml", "prefix = "]),
    "a name that looks the same": (SEND + FUZZ.replace("fuzz", "fuzz ", 1), DECK, ["looks like"]),
    "empty prefix": (SEND + 'prefix = ""\n', DECK, ["prefix: a name must not be empty"]),
    "a prefix of blanks": (SEND + 'prefix = "  "\n', DECK, ["prefix: a name must not be empty"]),
    "a prefix unseen": (SEND + 'prefix = "\\u200b"\n', DECK, ["prefix: "]),
    "a prefix that joins": (SEND + 'prefix = "a + "\n', DECK, ["a name may not hold"]),
    "a prefix that is no text": (SEND + "prefix = 3\n", DECK, ["prefix: a name in quotes"]),
    "twice the same": (
        SEND + SEND.replace('"send"', '"send 2"'),
        DECK,
        ["1 problem\n", "inside another loop too", "prefix = "],
    ),
    "no such scene": (
        f'{SEND}[scenes]\ngig = ["send: crunsh"]\n',
        DECK,
        ["has no scene of this name", 'did you mean "send: crunch"'],
    ),
    "a stage of that name": (
        f"{SEND}{FUZZ.replace('fuzz', 'send: crunch', 1)}[scenes]\ngig = ['send: crunch']\n",
        DECK,
        ["send: crunch", "another name"],
    ),
    "a cable of such a name": (
        ENDS[ENDS.index("[cables") :].replace("lead", '"send: patch"') + SEND,
        DECK,
        ["deck.toml begin so", '"send: patch"'],
    ),
    "no TOML": (SEND, "title = =\n", ["deck.toml, line 1", "not valid TOML"]),
    "an unknown section": (SEND, DECK + "[wirng]\n", ["deck.toml", 'did you mean "wiring"']),
    "an empty chain": (SEND, ENDS, ["deck.toml: the chain is empty"]),
    "a variant of a stage key": (FUZZ + 'board = "deck.toml"\n', DECK, ["belongs to a loop"]),
}


@pytest.mark.parametrize("case", WRONG)
def test_what_is_wrong_is_said_with_its_file(tmp_path: Path, case: str) -> None:
    chain, deck, words = WRONG[case]
    refused(folder_of(tmp_path, main=ENDS + chain, deck=deck), *words)


PATHS: dict[str, tuple[str, list[str]]] = {
    "missing": ("dek.toml", ["no such file", 'did you mean "deck.toml"']),
    "empty": ("", ["must not be empty"]),
    "blank": (" ", ["must not be empty"]),
    "absolute": ("/etc/passwd", ["begins in the folder"]),
    "outside": ("../deck.toml", ["does not lie in the folder"]),
    "outside by a way round": ("sub/../../deck.toml", ["does not lie in the folder"]),
    "zero byte": ("deck\\u0000.toml", ["U+0000 is a character that is not seen"]),
    "folder": ("sub", ["this is a folder"]),
    "folder with the ending": ("fold.toml", ["this is a folder"]),
    "link out": ("out.toml", ["does not lie in the folder"]),
    "link to itself": ("self.toml", ["cannot be read", "self.toml"]),
    "link to a device": ("device.toml", ["does not lie in the folder"]),
    "pipe": ("pipe.toml", ["no ordinary file"]),
    "large": ("large.toml", ["larger than"]),
    "no text": ("binary.toml", ["not a text file"]),
    "too long": ("x" * 5000, ["cannot be read"]),
    "a board's own file": ("main.toml", ["in a circle", "main.toml → main.toml"]),
}


@pytest.mark.parametrize("case", PATHS)
def test_paths_that_lead_nowhere_good(tmp_path: Path, case: str) -> None:
    path, words = PATHS[case]
    inside = tmp_path / "rig"
    chain = SEND.replace("deck.toml", path)
    main = folder_of(inside, main=ENDS + chain, deck=DECK, large="#" * 4_000_000)
    (tmp_path / "deck.toml").write_text(DECK, encoding="utf-8")
    (inside / "sub").mkdir()
    (inside / "fold.toml").mkdir()
    (inside / "out.toml").symlink_to(tmp_path / "deck.toml")
    (inside / "self.toml").symlink_to("self.toml")
    (inside / "device.toml").symlink_to("/dev/zero")
    (inside / "binary.toml").write_bytes(b"\xff\xfe\x00")
    os.mkfifo(inside / "pipe.toml")
    said = refused(main, "1 problem\n", "main.toml", *words)
    assert f'did you mean "{path}"' not in said


def test_links_that_stay_inside_are_followed(tmp_path: Path) -> None:
    main = folder_of(tmp_path, main=ENDS + SEND.replace("deck", "link"), **{"sub/deck": DECK})
    (tmp_path / "link.toml").symlink_to("sub/deck.toml")
    assert read_board(main).switches() == ("send", "fuzz", "echo")


def test_a_file_one_folder_up_may_lie_beside_the_main_one(tmp_path: Path) -> None:
    deck = FUZZ + SEND.replace("send", "sub").replace("deck.toml", "../more.toml")
    main = folder_of(
        tmp_path,
        main=ENDS + SEND.replace("deck", "sub/deck"),
        **{"sub/deck": deck, "more": ECHO},
    )
    assert read_board(main).switches() == ("send", "fuzz", "sub", "echo")


def test_a_circle_is_printed(tmp_path: Path) -> None:
    held = SEND.replace("deck", "b")
    main = folder_of(
        tmp_path,
        main=ENDS + SEND.replace("deck", "a"),
        a=held.replace("send", "x"),
        b=held.replace("send", "y").replace("b.toml", "a.toml"),
    )
    refused(main, "b.toml, from line 1", "a.toml → b.toml → a.toml", "1 problem\n")


def test_boards_that_double_thirty_times_end_at_once(tmp_path: Path) -> None:
    files = {
        f"b{n}": "".join(
            f'[[chain]]\nloop = "l{k}"\nboard = "b{n + 1}.toml"\nprefix = "{k} "\n' for k in (1, 2)
        )
        for n in range(30)
    }
    main = folder_of(tmp_path, main=ENDS + SEND.replace("deck", "b0"), b30=FUZZ, **files)
    refused(main, f"at most {MOST_BOARDS} boards in all")


def test_a_board_from_a_pipe_has_the_current_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder_of(tmp_path, deck=DECK)
    monkeypatch.chdir(tmp_path)
    assert parse_board(ENDS + SEND).switches() == ("send", "fuzz", "echo")
    read, write = os.pipe()
    with os.fdopen(write, "w", encoding="utf-8") as out:
        out.write(ENDS + SEND)
    assert read_board(f"/dev/fd/{read}").switches() == ("send", "fuzz", "echo")
    os.close(read)


def test_no_output_is_one_of_the_files_that_were_read(tmp_path: Path) -> None:
    main = folder_of(tmp_path, main=ENDS + SEND, deck=DECK)
    run = sigsim_here("buffer", main, "--write", tmp_path / "deck.toml", "--force")
    assert run.status == 2
    assert "deck.toml" in run.err
    assert (tmp_path / "deck.toml").read_text(encoding="utf-8") == DECK


def test_a_copy_lies_where_it_finds_the_board_inside(tmp_path: Path) -> None:
    main = folder_of(tmp_path, main=ENDS + OWN + SEND + OWN, deck=DECK)
    (tmp_path / "sub").mkdir()
    wrong = sigsim_here("buffer", main, "--write", tmp_path / "sub/new.toml", "--place", 1)
    assert wrong.status == 2
    assert "paths from its own folder" in wrong.err
    right = sigsim_here("buffer", main, "--write", tmp_path / "new.toml", "--place", 1)
    assert right.status == 0, right.err
    assert (
        "buffer"
        in read_board(tmp_path / "new.toml").switches()
        + read_board(tmp_path / "new.toml").stage_names()
    )


def test_check_and_sheet_show_both(tmp_path: Path) -> None:
    main = folder_of(tmp_path, main=ENDS + OWN + SEND + LEADS + OWN, deck=DECK)
    shown = " ".join(sigsim_here("check", main).out.split())
    assert "(○send, deck.toml: ─lead 3 m─ ○fuzz ─send: patch 10 cm─ ○echo ─lead 4 m─)" in shown
    assert "Boards inside: deck.toml in 'send'." in shown
    sheet = sigsim_here("sheet", main)
    assert "send: patch" in sheet.out
    assert "is the board of deck.toml" in " ".join(sheet.out.split())


EVERY = [
    ["loss"], ["states"], ["blame"], ["spread", "--draws", "20"], ["noise"], ["cables"], ["buffer"],
    ["netlist"], ["check", "--json"], ["sheet", "--json"],
]  # fmt: skip


@pytest.mark.parametrize("command", EVERY, ids=" ".join)
def test_every_command_takes_it(tmp_path: Path, command: list[str]) -> None:
    deck = DECK.replace("[scenes]", '[[chain]]\nsplit = "di"\ndestination = {}\n[scenes]')
    main = folder_of(tmp_path, main=ENDS + OWN + SEND + LEADS + OWN, deck=deck)
    run = sigsim_here(command[0], main, *command[1:])
    assert run.status == 0, run.err


def cables(board: Board) -> list[str]:
    return [piece.cable for piece in board.pieces()]


def test_edits_of_the_loop_are_those_of_its_file(tmp_path: Path) -> None:
    """Renamed, its cables and its scenes follow; taken out, they go."""
    text = (
        f"{ENDS}{OWN}{SEND}{LEADS}{OWN}[scenes]\ngig = ['send: crunch']\nown = ['send', 'echo']\n"
    )
    main = folder_of(tmp_path, main=text, deck=DECK)
    board = read_board(main)
    renamed = edit.with_values(board, (1,), {"loop": "far"}, {})
    new = edit_file.with_values(text, (1,), {"loop": "far"})
    assert parse_board(new, str(main)) == renamed
    assert "far: patch" in cables(renamed)
    gone = edit.taken_out(board, (1,))
    also = ("fuzz", "echo")
    assert parse_board(edit_file.taken_out(text, (1,), also), str(main)).listed == gone.listed
    assert gone.scenes == {"gig": (), "own": ()}
    assert list(gone.cables) == ["lead"]
    other = edit.with_cable(board, "send: patch", board.cables["lead"])
    assert {type(i) for i in other.laid} <= {Cable, Loop, Tap, Split}
    (loop,) = (item for item in other.laid if isinstance(item, Loop))
    assert loop.inside[2].spec == board.cables["lead"]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "change",
    [
        lambda text: edit_file.inserted(text, (1, 0), {"stage": "x", "part": "buffer-opamp"}),
        lambda text: edit_file.taken_out(text, (1, 1)),
        lambda text: edit_file.with_values(text, (1, 1), {"stage": "x"}),
        lambda text: edit_file.with_cable(text, "send: patch", {"part": "cable-low"}),
    ],
)
def test_what_stands_in_another_file_is_not_written_here(change: Any) -> None:
    with pytest.raises(SigsimError, match=r"this stands in deck\.toml, the board in the loop"):
        change(ENDS + OWN + SEND + LEADS)

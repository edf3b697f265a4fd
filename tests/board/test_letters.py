"""What no text and no name of a board file may hold, and how large a file may be."""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.refusals import ENDS, LEAD, STAGE, refused

from sigsim.board.reader import parse_board
from sigsim.errors import SigsimError
from sigsim.items.fields import specs
from sigsim.items.instrument import Coil
from sigsim.quantities import KINDS

# A board with every kind of text that a file may hold; X stands where it is tried.
TEXTS = {
    "title": 'title = "X"',
    "destination": '[destination]\nname = "X"',
    "stage": '[[chain]]\nstage = "X"\npart = "pedal-true-bypass"',
    "part": '[[chain]]\nstage = "b"\npart = "X"',
    "choice": '[[chain]]\nstage = "b"\npart = "pedal-true-bypass"\nbypass = "X"',
    "taper": '[[chain]]\nstage = "b"\nkind = "volume pedal"\ntrack = "1M"\ntaper = "X"',
    "quantity": '[[chain]]\nstage = "b"\ninput_resistance = "X"\noutput_resistance = 1',
    "loop": '[[chain]]\nloop = "X"\n[[chain.inside]]\nstage = "b"\npart = "pedal-true-bypass"',
    "inside": '[[chain]]\nloop = "l"\n[[chain.inside]]\nstage = "X"\npart = "pedal-buffered"',
    "tap": '[[chain]]\ntap = "X"\ncable = "lead"\nlength = 1\nopen = true',
    "cable": '[[chain]]\ncable = "X"\nlength = 1',
    "length": '[[chain]]\ncable = "lead"\nlength = "X"',
    "cable's table": '[cables."X"]',
    "scene": '[scenes]\n"X" = []',
    "in a scene": '[scenes]\na = ["X"]',
    "unknown key": '[[chain]]\nstage = "b"\npart = "pedal-true-bypass"\n"X" = 1',
    "unknown section": '["X"]',
    "pickup": '[[instrument.pickups]]\nname = "X"\ninductance = 3',
}
NAMES = ("destination", "stage", "loop", "inside", "tap", "cable's table", "scene")
# One or more of each kind that the contract of the file names.
REFUSED = [
    "\0", "\x07", "\x1b", "\x7f", "\x80", "\x9b", "\x9f", "\u2028", "\u2029", "\u061c", "\u200e",
    "\u200f", "\u202a", "\u202e", "\u2066", "\u2069", "\U000e0001", "\U000e0041", "\U000e007f",
    "\r",
]  # fmt: skip
HIDDEN = ["\u200b", "\u2060", "\ufeff", "\u00ad", "\u180e", "\U0001d173", "\ufff9"]


def with_text(kind: str, text: str) -> str:
    """Return a board in which one kind of text is this one."""
    written = "".join(f"\\U{ord(c):08x}" if not c.isprintable() else c for c in text)
    lines = TEXTS[kind].replace("X", written.replace('"', '\\"'))
    if kind == "title":
        return f"{lines}\n{ENDS}{LEAD}"
    if kind == "pickup":
        ends = ENDS.replace('resistance = "8 kΩ"\ninductance = "3 H"\n', "")
        return f"{ends}{LEAD}{lines}\n"
    if kind == "destination":
        return ENDS.replace("[destination]", lines) + LEAD
    return f"{ENDS}{LEAD}{lines}\n"


def fault(text: str) -> str:
    with pytest.raises(SigsimError) as error:
        parse_board(text)
    return str(error.value)


@pytest.mark.parametrize("kind", TEXTS)
@pytest.mark.parametrize("letter", REFUSED, ids=lambda c: f"U+{ord(c):04X}")
def test_a_letter_that_is_not_seen_is_refused_in_every_text(kind: str, letter: str) -> None:
    said = fault(with_text(kind, f"a{letter}b"))
    assert f"U+{ord(letter):04X} is a character that is not seen" in said
    assert letter not in said.replace("\n", "")
    assert not [c for c in said if c != "\n" and unicodedata.category(c) in ("Cc", "Cf", "Zl")]


@pytest.mark.parametrize(("letter", "kind"), [("\n", "stage"), ("\t", "tap"), ("\n", "scene")])
def test_a_line_end_is_a_blank_in_a_title_only(letter: str, kind: str) -> None:
    assert parse_board(with_text("title", f"a{letter}b")).title == "a b"
    assert "is not seen" in fault(with_text(kind, f"a{letter}b"))


@pytest.mark.parametrize("kind", NAMES)
@pytest.mark.parametrize("letter", HIDDEN, ids=lambda c: f"U+{ord(c):04X}")
def test_a_name_holds_nothing_that_is_not_seen(kind: str, letter: str) -> None:
    assert f"U+{ord(letter):04X}" in fault(with_text(kind, f"a{letter}b"))


@pytest.mark.parametrize("kind", NAMES)
@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("", "must not be empty"),
        ("  ", "must not be empty"),
        ("\u3164\u2800", "must not be empty"),
        ("a + b", '" + "'),
        ("+ b", '" + "'),
        ("a +", '" + "'),
    ],
)
def test_what_is_no_name(kind: str, name: str, words: str) -> None:
    assert words in fault(with_text(kind, name))


@pytest.mark.parametrize(
    "name", ["a+b", "C++", "می\u200cخواهم", "👩\u200d🎤", "❤\ufe0f", "=1", "é"]
)
@pytest.mark.parametrize("kind", NAMES)
def test_what_is_a_name(kind: str, name: str) -> None:
    parse_board(with_text(kind, name))


ALIKE = [
    ("a", "a"),
    ("é", "e\u0301"),
    ("a b", "a  b"),
    ("a", "a "),
    ("ab", "a\u200db"),
    ("Å", "\u212b"),
]


def _pairs() -> Iterator[tuple[str, str]]:
    def loop(name: str) -> str:
        return f'[[chain]]\nloop = "{name}"\n[[chain.inside]]\ncable = "lead"\nlength = 1\n'

    def tap(name: str) -> str:
        return f'[[chain]]\ntap = "{name}"\ncable = "lead"\nlength = 1\nopen = true\n'

    def stage(name: str) -> str:
        return f'[[chain]]\nstage = "{name}"\npart = "pedal-true-bypass"\n'

    makers = (loop, tap, stage)
    for one, other in ALIKE:
        for first in makers:
            for second in makers:
                yield ENDS + first(one) + second(other), other
        if one != other:
            yield f'{ENDS}{LEAD}[cables."{one}"]\n[cables."{other}"]\n', other
            yield f'{ENDS}{LEAD}[scenes]\n"{one}" = []\n"{other}" = []\n', other


@pytest.mark.parametrize("text", [text for text, _ in _pairs()])
def test_names_that_are_shown_alike_are_refused(text: str) -> None:
    said = fault(text)
    assert "used twice" in said or "looks like another" in said


def test_one_name_for_a_cable_a_scene_and_a_stage_is_allowed() -> None:
    parse_board(ENDS + LEAD + STAGE.replace('"fuzz"', '"lead"') + '[scenes]\nlead = ["lead"]\n')


SIZES = {
    "dotted key": ("a" + ".a" * 16 + " = 1\n", "16 parts"),
    "quoted parts": ('"a"' + " . 'b'" * 16 + " = 1\n", "16 parts"),
    "header": ("[" + "a." * 16 + "a]\n", "16 parts"),
    "list of tables": ("[[" + "a." * 16 + "a]]\n", "16 parts"),
    "inline": ("x = {" + "a." * 16 + "a = 1}\n", "16 parts"),
    "long key": ("a" + ".a" * 20_000 + " = 1\n", "20,001"),
    "number": (f"x = {'9' * 101}\n", "100 characters"),
    "fraction": (f"x = 0.{'0' * 100}\n", "100 characters"),
    "exponent": (f"x = 1e{'0' * 100}1\n", "100 characters"),
    "negative": (f"x = [1, -{'1' * 101}]\n", "100 characters"),
    "hexadecimal": (f"x = 0x{'f' * 100}\n", "100 characters"),
    "underlined": (f"x = {'1_' * 60}1\n", "100 characters"),
    "huge": (f"x = {'9' * 900_000}\n", "900,000"),
    "nested": ("x = " + "[" * 400_000, "nested too deeply"),
    "strings that never end": ('"\\' * 400_000, "not valid TOML"),
}


@pytest.mark.parametrize("name", SIZES)
def test_what_is_larger_than_can_be_meant(name: str) -> None:
    text, words = SIZES[name]
    assert words in fault(f"# one line\n{text}")


@pytest.mark.parametrize("quote", ['"', "'", '"""', "'''"])
def test_long_numbers_and_many_points_in_text_are_text(quote: str) -> None:
    long = f"{quote}{'9' * 200} {'a.' * 40}a{quote}"
    text = f"# {'a.' * 40} {'9' * 200}\ntitle = {long} # {'9.' * 99}\n{ENDS}{LEAD}"
    assert parse_board(text).title.startswith("999")
    assert parse_board(f"{ENDS}{LEAD}[cables.{'a' * 200}]\n").cables["a" * 200]


def test_a_file_of_one_megabyte(tmp_path: Path) -> None:
    path = tmp_path / "board.toml"
    text = f"{ENDS}{LEAD}#"
    path.write_bytes(text.encode() + b"x" * (1_000_000 - len(text.encode())))
    parse_board(path.read_text(encoding="utf-8"))
    with path.open("ab") as file:
        file.write(b"x")
    assert "1 MB" in refused("check", path)


def test_what_is_no_ordinary_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    for path in (tmp_path / "pipe.toml", "/dev/zero", "/dev/null"):
        assert "no ordinary file" in refused("check", path)
    assert "folder" in refused("check", tmp_path)


# The ends that the contract of the file states; the others are tried through the schema.
ENDS_OF_RANGES = [
    ("[cables.x]\ncapacitance = {}\n", "10 nF/m", "11 nF/m"),
    ("[cables.x]\ninductance = {}\n", "100 µH/m", "101 µH/m"),
    ("[cables.x]\nplug_capacitance = {}\n", "10 nF", "11 nF"),
    ("[cables.x]\ncapacitance = 1e-10\nloss_tangent = {}\n", "1", "1.01"),
    ('[[chain]]\ncable = "lead"\nlength = {}\n', "1 km", "1001 m"),
    ('[[chain]]\nstage = "s"\npart = "pedal-buffered"\ngain = {}\n', "-120 dB", "-121 dB"),
    ('[[chain]]\nstage = "s"\npart = "pedal-buffered"\ninput_capacitance = {}\n', "1 µF", "1 F"),
]


@pytest.mark.parametrize(("text", "last", "beyond"), ENDS_OF_RANGES)
def test_a_value_beyond_its_range_cannot_be_meant(text: str, last: str, beyond: str) -> None:
    parse_board(ENDS + LEAD + text.format(f'"{last}"'))
    assert "cannot be meant" in fault(ENDS + LEAD + text.format(f'"{beyond}"'))


@pytest.mark.parametrize("key", specs(Coil))
def test_every_key_of_a_coil_has_two_ends(key: str) -> None:
    spec = specs(Coil)[key]
    if spec.kind not in KINDS:
        return
    most = KINDS[spec.kind].ceiling if spec.most is None else spec.most
    for value in (most * 1.01, KINDS[spec.kind].floor / 1.01):
        behind = "[destination]" + ENDS.partition("[destination]")[2]
        assert "cannot be meant" in fault(f"[instrument]\n{key} = {value!r}\n{behind}{LEAD}")

"""The document: steps both ways without end, each exactly as it was."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from sigsim.live.differences import changed_lines, difference
from sigsim.live.document import Document, joined
from sigsim.live.line_ends import with_ends_of
from sigsim.live.patch import patch_of

LETTERS = 'ab\n\r\ufeff[="é🎸'


def random_text(draw: random.Random) -> str:
    return "".join(draw.choice(LETTERS) for _ in range(draw.randrange(12)))


def test_a_patch_leads_both_ways() -> None:
    draw = random.Random(1)
    for _ in range(2000):
        one, other = random_text(draw), random_text(draw)
        patch = patch_of(one, other)
        assert patch.forth(one) == other
        assert patch.back(other) == one
    assert patch_of("same", "same").new == ""


def test_any_number_of_steps_back_and_forth() -> None:
    draw = random.Random(2)
    text = "title = 1\r\nmore = 2\n"
    document = Document(Path("b.toml"), text, text)
    reached = [text]
    for number in range(300):
        new = f"{random_text(draw)}{number}"
        document.do(new, f"step {number}")
        reached.append(new)
    for number in reversed(range(300)):
        assert document.undo_words == f"step {number}"
        assert document.undo() == f"step {number}"
        assert document.text == reached[number]
    assert not document.unsaved
    assert document.undo() == ""
    for number in range(300):
        assert document.redo() == f"step {number}"
        assert document.text == reached[number + 1]
    assert document.redo() == ""
    assert document.revision == 901


def test_steps_of_the_same_thing_are_one() -> None:
    document = Document(Path("b.toml"), "9", "9")
    for old, new in ("98", "87", "76"):
        document.do(new, f"cable to amp {old} m → {new} m", "length")
    assert document.undo_words == "cable to amp 9 m → 6 m"
    document.undo()
    assert document.text == "9"
    assert document.undo_words is None
    document.redo()
    document.do("5", "cable to amp 6 m → 5 m", "length")  # what was done again stands for itself
    assert document.undo_words == "cable to amp 6 m → 5 m"
    document.was_saved("5")
    document.do("4", "cable to amp 5 m → 4 m", "length")  # what was saved can be gone back to
    document.undo()
    assert not document.unsaved


def test_there_and_back_is_no_step() -> None:
    document = Document(Path("b.toml"), "9", "9")
    document.do("8", "9 m → 8 m", "length")
    document.do("9", "8 m → 9 m", "length")
    assert document.undo_words is None
    assert not document.unsaved
    document.do("9", "nothing")
    assert document.undo_words is None


def test_words_of_steps_that_are_one() -> None:
    assert joined("lead → 3 → 2", "lead → 2 → 1") == "lead → 3 → 1"
    assert joined("a buffer", "another") == "another"


def test_a_copy_keeps_to_itself() -> None:
    document = Document(Path("b.toml"), "a", None)
    document.do("b", "b")
    other = document.copied()
    other.undo()
    other.do("c", "c")
    assert (document.text, document.undo_words, document.redo_words) == ("b", "b", None)


def test_undo_shows_the_variant_in_which_it_was_done() -> None:
    document = Document(Path("b.toml"), "a", "a")
    document.show(variant="night")
    document.do("b", "b")
    document.show(variant="")
    document.undo()
    assert document.variant == "night"


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_page_gives_line_ends_back_as_they_were(end: str) -> None:
    old = end.join(("a", "b", "", "c", ""))
    for given in ("\n", "\r\n", "\r"):
        assert with_ends_of(old, given.join(("a", "b", "", "c", ""))) == old
        assert with_ends_of(old, given.join(("a", "new", "c"))) == end.join(("a", "new", "c"))


def test_mixed_line_ends_stay_with_their_lines() -> None:
    old = "a\r\nb\nc\r\nd"
    assert with_ends_of(old, "a\nb\nnew\nc\nd") == "a\r\nb\nnew\r\nc\r\nd"
    assert with_ends_of(old, "b\nc\nd\n") == "b\nc\r\nd\r\n"


def test_lines_that_differ() -> None:
    assert changed_lines("a\r\nb\nc", "a\nB\nc\nd") == [2, 4]
    assert changed_lines("a\nb\nc", "a\nc") == [2]
    assert changed_lines("a\nb", "a") == [1]
    assert changed_lines("a\u2028b\nc", "a\u2028b\nd") == [2]
    signs = [(one["sign"], one["text"]) for one in difference("a\nb", "a\nc")]
    assert signs == [(" ", "a"), ("-", "b"), ("+", "c")]

"""Parts by what players call them."""

from __future__ import annotations

import json

import pytest
from helpers.in_process import sigsim_here
from helpers.thinned import some

from sigsim.board.finding import find
from sigsim.board.parts import library


def called(asked: str) -> list[str]:
    return [part.name for part in find(asked, library().values()).fitting]


@pytest.mark.parametrize(
    ("asked", "wanted"),
    [
        ("gated fuzz", "fuzz-low-impedance"),
        ("octaver", "octaver-true-bypass"),
        ("octave down", "octaver-buffered"),
        ("envelope filter", "envelope-filter-true-bypass"),
        ("auto-wah", "envelope-filter-buffered"),
        ("synth", "synth-buffered"),
        ("synthesiser", "synth-buffered"),
        ("looper", "looper-buffered"),
        ("gate", "gate-buffered"),
        ("noise gate", "gate-buffered"),
        ("wireless receiver", "wireless-receiver"),
        ("chorus", "modulation-true-bypass"),
        ("delay", "echo-buffered"),
        ("overdrive", "drive-high-impedance"),
        ("tuner", "tuner-buffered"),
        ("volume pedal", "volume-pedal-passive"),
        ("DI", "di-transformer"),
        ("direct box", "active-di"),
        ("humbucker", "guitar-two-coil"),
        ("covered pickup", "pickup-bass-covered"),
        # In any letters, number and order, with a slip of the keys, among other words.
        ("Flangers", "modulation-buffered"),
        ("compresor", "compressor-buffered"),
        ("analogue  dely", "echo-buffered"),
        ("a big gated bass fuzz", "fuzz-low-impedance"),
        ("the wah pedal", "wah-hardwire"),
        ("Préamp", "preamp-pedal"),
    ],
)
def test_what_players_say_finds_the_part(asked: str, wanted: str) -> None:
    assert wanted in called(asked)[:4]


def test_every_part_is_found_by_its_name_and_all_it_is_called() -> None:
    for name, part in some(list(library().items()), 4):
        for word in (name, *part.aliases):
            found = find(word, library().values(), most=len(library()))
            assert part in found.fitting, f"{word} does not find {name}"


def test_what_is_called_exactly_so_stands_first() -> None:
    for asked in ("gated fuzz", "gate", "looper", "synth"):
        first = library()[called(asked)[0]]
        assert asked in first.aliases


@pytest.mark.parametrize("asked", ["qqzzy", "?!", "\u202e", "x" * 10_000])
def test_nothing_fits_and_that_is_said(asked: str) -> None:
    run = sigsim_here("parts", "--like", asked)
    assert run.status == 0
    assert "No part is called" in run.out
    assert "\u202e" not in run.out
    assert json.loads(sigsim_here("parts", "--like", asked, "--json").out) == {}


def test_what_is_near_is_said_where_nothing_fits() -> None:
    run = sigsim_here("parts", "--like", "some fuzz of yore")
    assert "No part is called" in run.out
    assert "fuzz-low-impedance" in run.out


def test_the_kind_narrows_and_a_name_excludes() -> None:
    found = json.loads(sigsim_here("parts", "--like", "DI", "--kind", "stage", "--json").out)
    assert list(found) == ["di-transformer"]
    assert "direct box" in found["di-transformer"]["aliases"]
    assert sigsim_here("parts", "rg-58", "--like", "coax").status == 2


@pytest.mark.parametrize("arguments", [(), ("--like", "octaver"), ("--kind", "stage")])
def test_how_to_tell_the_bypass_is_said(arguments: tuple[str, ...]) -> None:
    said = " ".join(sigsim_here("parts", *arguments).out.split())
    assert "unplug its low-voltage supply lead" in said
    assert "open nothing that is powered from the mains" in said

"""`[[instrument.pickups]]` over the pickups of a part, and what is said where that cannot be."""

from __future__ import annotations

import pytest

from sigsim.board.parts import part
from sigsim.board.reader import parse_board
from sigsim.errors import BoardError
from sigsim.items.instrument import PassiveInstrument, Pickup
from sigsim.units import parse

ENDS = """
[destination]
input_resistance = "1 MΩ"
[cables.lead]
capacitance = "100 pF/m"
[[chain]]
cable = "lead"
length = "3 m"
"""
TWO = '[instrument]\npart = "bass-two-pickup"\n'
GIVEN = {pickup["name"]: pickup for pickup in part("bass-two-pickup").values["pickups"]}


def instrument(text: str) -> PassiveInstrument:
    made = parse_board(text + ENDS).instrument
    assert isinstance(made, PassiveInstrument)
    return made


def pickups(text: str) -> dict[str, Pickup]:
    return {pickup.name: pickup for pickup in instrument(text).pickups}


def problem(text: str) -> str:
    with pytest.raises(BoardError) as refused:
        parse_board(text + ENDS)
    assert len(refused.value.problems) == 1, str(refused.value)
    return str(refused.value)


def entry(*lines: str) -> str:
    return "\n".join(["[[instrument.pickups]]", *lines, ""])


@pytest.mark.parametrize("name", GIVEN)
def test_an_entry_overrides_what_it_names_and_nothing_else(name: str) -> None:
    before, after = pickups(TWO), pickups(TWO + entry(f'name = "{name}"', "volume = 5"))
    assert list(after) == list(GIVEN)
    assert after[name].volume == 5
    assert after[name].inductance == parse(GIVEN[name]["inductance"], "inductance").value
    assert after[name].tolerances == before[name].tolerances
    other = next(n for n in GIVEN if n != name)
    assert after[other] == before[other]


def test_both_in_any_order() -> None:
    text = TWO + entry('name = "bridge"', "volume = 2") + entry('name = "neck"', "volume = 7")
    assert [p.volume for p in instrument(text).pickups] == [7, 2]


def test_an_entry_may_name_a_pickup_of_the_library() -> None:
    after = pickups(TWO + entry('name = "neck"', 'part = "pickup-bass-split-half"'))["neck"]
    assert after.inductance == 3
    assert after.volume_track == 250e3  # of the instrument's part, which the other does not give


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (TWO + entry('name = "nekc"'), ["no pickup of this name", 'did you mean "neck"?']),
        (TWO + entry("volume = 5"), ["which of them", 'name = "neck" or "bridge"']),
        (TWO + entry('name = "neck"') + entry('name = "neck"'), ["two pickups have this name"]),
        (TWO + entry('name = "neck"', "inductance = 0"), ["a pickup has an inductance"]),
        (
            TWO + entry('name = "neck"', "tone = 3"),
            ["no tone control", "write it under [instrument]"],
        ),
        (TWO + "volume = 5\n", ["write it under [[instrument.pickups]]", '"neck" or "bridge"']),
        (TWO + 'volume_taper = "linear"\n', ["[[instrument.pickups]]", '"neck" or "bridge"']),
        (TWO + 'resistance = "6 kΩ"\n', ["the coil's keys belong to each", '"neck" or "bridge"']),
        (
            TWO + 'pickups_wiring = "series"\n' + entry('name = "neck"', "volume = 5"),
            ["in series have one volume control together"],
        ),
        (
            TWO
            + 'pickups_wiring = "series"\n'
            + entry('name = "neck"', "tone_capacitor = 1e-9", 'tone_position = "after volume"'),
            ["in series lies across its coil", 'pickups_wiring = "parallel"'],
        ),
        (
            TWO
            + 'pickups_wiring = "series"\n'
            + entry('name = "neck"', "treble_bleed_capacitor = 1e-9"),
            ["in series have one volume control together"],
        ),
        (
            TWO + 'volume_wiring = "output at wiper"\n',
            ["no volume pot of its own", '"neck" or "bridge"'],
        ),
        (
            TWO + "treble_bleed_capacitor = 1e-9\n",
            ["a treble bleed bridges a volume pot", '"neck" or "bridge"'],
        ),
        (
            '[instrument]\npart = "guitar-two-pickup"\ntone = 5\n',
            ["no tone control", "write it under [[instrument.pickups]]", '"neck" or "bridge"'],
        ),
        (TWO + entry('name = "neck"', "bass_cut = 5"), ["a passive [instrument]"]),
        (TWO + 'polarity = "reversed"\n', ["[[instrument.pickups]]"]),
        (TWO + entry('name = "neck"', 'polarity = "reverse"'), ['did you mean "reversed"?']),
        (
            '[instrument]\npart = "bass-split-coil"\n' + entry("volume = 5", "inductance = 3"),
            ["no volume pot of its own", "write it under [instrument]"],
        ),
        (
            "[instrument]\n" + entry('resistance = "6 kΩ"'),
            ["a pickup has an inductance", "found none"],
        ),
        (
            "[instrument]\n"
            + entry('name = "a"', "inductance = 3")
            + entry('name = "a"', "inductance = 3"),
            ["two pickups have this name"],
        ),
        ('[instrument]\npart = "bass-active"\nvolume = 5\n', ["a passive [instrument]"]),
        ('[instrument]\npart = "bass-active"\ntype = "passive"\n', ['its type is "active"']),
        (
            '[instrument]\npart = "bass-split-coil"\noutput_resistance = 5\n',
            ['[instrument] with type = "active"'],
        ),
    ],
)
def test_what_cannot_be(text: str, words: list[str]) -> None:
    said = problem(text)
    for word in words:
        assert word in said


def test_an_unknown_part_hides_nothing_behind_other_complaints() -> None:
    assert "there is no part" in problem('[instrument]\npart = "bas"\n' + entry("volume = 5"))


def test_pickups_without_names_are_numbered() -> None:
    two = entry("inductance = 3") + entry("inductance = 2")
    assert list(pickups("[instrument]\n" + two)) == ["pickup 1", "pickup 2"]
    assert list(pickups("[instrument]\n" + entry("inductance = 3"))) == ["pickup"]


def test_pickups_take_the_place_of_a_part_with_one_coil() -> None:
    """Its controls stay, its coil is no more: no line of the file says it."""
    made = instrument('[instrument]\npart = "bass-split-coil"\n' + entry("inductance = 3"))
    assert (made.inductance, made.resistance, made.tolerances.get("inductance")) == (0, 0, None)
    assert made.volume_track == 250e3
    assert [pickup.inductance for pickup in made.pickups] == [3]


def test_a_part_is_joined_otherwise_without_a_word() -> None:
    series = instrument(TWO + 'pickups_wiring = "series"\n')
    assert [pickup.volume_track for pickup in series.pickups] == [None, None]
    assert not any("volume_track" in pickup.tolerances for pickup in series.pickups)

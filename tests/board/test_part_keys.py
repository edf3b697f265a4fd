"""What a part gives in vain is left out without a word; what a file gives so is refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from helpers.refusals import ENDS, LEAD, STAGE, quick, refused

from sigsim.board.model import Board
from sigsim.board.parts import library
from sigsim.board.reader import parse_board, read_board
from sigsim.errors import BoardError, SigsimError
from sigsim.items.needs import idle

BOX = '[[chain]]\nstage = "box"\n'
STAGES = [name for name, p in library().items() if p.kind == "stage"]
POWERED = [n for n in STAGES if library()[n].values.get("kind", "active") == "active"]
OVERRIDES = ("always_on = true", 'bypass = "buffered"', 'bypass = "hardwire"', 'bypass = "true"')


def problems(text: str) -> str:
    with pytest.raises(BoardError) as error:
        parse_board(text)
    return str(error.value)


@pytest.mark.parametrize("name", POWERED)
@pytest.mark.parametrize("line", OVERRIDES)
def test_an_override_drops_what_it_makes_idle(name: str, line: str) -> None:
    if "bypass" in line and library()[name].values.get("always_on"):
        assert "never bypassed" in problems(f'{ENDS}{BOX}part = "{name}"\n{line}\n')
        return
    item = parse_board(f'{ENDS}{BOX}part = "{name}"\n{line}\n').listed[0]
    given = {key: getattr(item, key) for key in library()[name].values if key != "kind"}
    dropped = idle(type(item), {**given, **_said(line)}, {})
    for key in dropped:
        assert key not in item.tolerances
        assert not getattr(item, key) or key == "bypass"


def _said(line: str) -> dict[str, object]:
    key, _, word = line.partition(" = ")
    return {key: True if word == "true" else word.strip('"')}


@pytest.mark.parametrize("name", STAGES)
@pytest.mark.parametrize("kind", ["active", "volume pedal", "pad", "transformer"])
def test_a_part_of_another_kind_is_refused(name: str, kind: str) -> None:
    own = library()[name].values.get("kind", "active")
    text = f'{ENDS}{BOX}part = "{name}"\nkind = "{kind}"\n'
    if own == kind:
        assert parse_board(text).listed
    else:
        assert f'its kind is "{own}"' in problems(text)


def test_a_part_at_an_open_end() -> None:
    tap = '[[chain]]\ntap = "t"\ncable = "lead"\nlength = 1\nopen = true\n'
    assert "nothing of this part" in problems(f'{ENDS}{LEAD}{tap}part = "instrument-input"\n')


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (ENDS.replace("[dest", "plug_capacitance = 0\n[dest"), "it belongs to [cables.NAME]"),
        ("volume = 5\n" + ENDS, "it belongs to a passive [instrument]"),
        (ENDS + BOX + 'kind = "pad"\ngain = 3\n', 'a stage with kind = "active"'),
        (ENDS + STAGE + "position = 3\n", 'a stage with kind = "volume pedal"'),
    ],
)
def test_a_key_of_another_table_says_which(text: str, words: str) -> None:
    assert words in problems(text + LEAD)


TAPPED = (
    ENDS + LEAD + STAGE + '[[chain]]\ntap = "tuner"\ncable = "lead"\nlength = "1 m"\nopen = true\n'
)


@pytest.mark.parametrize(("name", "word"), [("tuner", "a tap"), ("lead", "a cable")])
def test_what_has_no_switch_says_so(name: str, word: str, tmp_path: Path) -> None:
    said = problems(f'{TAPPED}[scenes]\nsolo = ["fuzz", "{name}"]\n')
    assert f"{word} cannot be switched" in said
    assert '"solo"' in said
    with pytest.raises(SigsimError, match=f"{word} cannot be switched"):
        parse_board(TAPPED).checked([name])
    file = tmp_path / "board.toml"
    file.write_text(TAPPED, encoding="utf-8")
    assert f"{word} cannot be switched" in refused("loss", file, "--on", name)


def test_a_stage_may_not_be_called_like_a_tap() -> None:
    said = problems(TAPPED.replace('stage = "fuzz"', 'stage = "tuner"'))
    assert "this name is used twice" in said


@pytest.mark.parametrize("name", POWERED)
def test_a_written_buffer_can_be_read(name: str, tmp_path: Path) -> None:
    """A part with a bypass is kept on: no key of the bypass is left that could be refused."""
    file, out = tmp_path / "board.toml", tmp_path / "out.toml"
    file.write_text(ENDS + LEAD + STAGE + LEAD, encoding="utf-8")
    quick("buffer", file, "--part", name, "--write", out, "--ignore-needs-pickup")
    assert len(list(read_board(out).powered())) == 2


def cautions(text: str, folder: Path) -> dict[str, str]:
    file = folder / "board.toml"
    file.write_text(text, encoding="utf-8")
    found = json.loads(quick("check", file, "--json"))["cautions"]
    return {caution["kind"]: caution["text"] for caution in found}


def test_a_source_without_a_coil_is_said(tmp_path: Path) -> None:
    assert "resistive-source" not in cautions(ENDS + LEAD, tmp_path)
    plain: Board = parse_board(ENDS.replace('inductance = "3 H"', "") + LEAD)
    assert plain.instrument.source  # it is a board all the same
    said = cautions(ENDS.replace('inductance = "3 H"', "") + LEAD, tmp_path)
    assert "8 kΩ" in said["resistive-source"]


def test_a_tone_capacitor_without_its_pot_is_said(tmp_path: Path) -> None:
    """It is heard, so that it is no error."""
    text = ENDS.replace("[dest", 'tone_capacitor = "10 nF"\n[dest') + LEAD
    assert "straight across the line" in cautions(text, tmp_path)["tone-without-pot"]


def test_cables_that_lie_nowhere_are_said(tmp_path: Path) -> None:
    extra = '[cables.reel]\ncapacitance = "90 pF/m"\n'
    assert "reel" in cautions(ENDS + extra + LEAD, tmp_path)["unused-cable"]
    wiring = extra + '[wiring]\ncable = "reel"\nlength = "20 cm"\n'
    one = cautions(ENDS + wiring + LEAD + STAGE + LEAD, tmp_path)
    assert not {"unused-wiring", "unused-cable"} & set(one), "with one box, wiring waits"
    between = STAGE + LEAD + STAGE.replace("fuzz", "echo")
    said = cautions(ENDS + wiring + LEAD + between + LEAD, tmp_path)
    assert "put nowhere" in said["unused-wiring"]
    assert "unused-cable" not in said
    two = STAGE + STAGE.replace("fuzz", "echo")
    assert not {"unused-wiring", "unused-cable"} & set(
        cautions(ENDS + wiring + LEAD + two, tmp_path)
    )


def test_a_stage_without_a_switch_in_some_scenes_is_said(tmp_path: Path) -> None:
    text = ENDS + LEAD + BOX + 'part = "buffer-opamp"\n[scenes]\na = ["box"]\n'
    assert "always-on-in-scenes" not in cautions(text, tmp_path)
    assert "'b'" in cautions(text + "b = []\n", tmp_path)["always-on-in-scenes"]

"""A board from plain answers, where there is none yet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from sigsim.board.parts import part
from sigsim.board.reader import parse_board
from sigsim.board.writer import MOST_PEDALS, Plan, board_text
from sigsim.errors import SigsimError
from sigsim.live.edits.registry import refusal
from sigsim.units import parse

# What is taken where nobody says: the same as for `sigsim new`.
_USUAL: Final = {
    "instrument": "guitar-single-coil",
    "destination": "solid-state-amplifier-input",
    "cable": "cable-standard",
    "lead": "6 m",
    "patch": "20 cm",
    "toAmp": "5 m",
    "title": "my board",
}


def new_board(answers: Mapping[str, Any]) -> str:
    """Return the text of a working board.

    Parameters
    ----------
    answers : as asked.js has them

    Raises
    ------
    BoardError : a name cannot be one, or is used twice
    SigsimError : an answer cannot be read
    """
    given = {key: _text(answers, key) for key in _USUAL}
    part(given["instrument"], ("instrument",))
    part(given["destination"], ("destination",))
    part(given["cable"], ("cable",))
    for key in ("lead", "patch", "toAmp"):
        parse(given[key], "length")
    names, parts = _pedals(answers.get("pedals", []))
    text = board_text(
        Plan(
            title=given["title"],
            instrument=given["instrument"],
            destination=given["destination"],
            cable=given["cable"],
            lead=given["lead"],
            patch=given["patch"],
            last=given["toAmp"],
            pedals=len(names),
            names=names,
            parts=parts,
            counted=False,
        )
    )
    parse_board(text, "the new board")
    return text


def _text(answers: Mapping[str, Any], key: str) -> str:
    found = answers.get(key)
    if found is None or found == "":
        return _USUAL[key]
    if not isinstance(found, str) or not found.strip() or "\n" in found:
        raise refusal(f"a text is wanted for {key}", found, f'such as "{_USUAL[key]}"')
    return found.strip()


def _pedals(given: object) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the names of the pedals, each its own, and their parts, empty for what names tell."""
    if not isinstance(given, list) or len(given) > MOST_PEDALS:
        raise refusal("a list of pedals is wanted", given, f"at most {MOST_PEDALS} of them")
    names: list[str] = []
    parts: list[str] = []
    for number, pedal in enumerate(given, 1):
        entry = {"name": pedal} if isinstance(pedal, str) else pedal
        if not isinstance(entry, Mapping):
            raise refusal("a pedal has a name", pedal, "a name, and a part perhaps")
        name, made = entry.get("name") or "", entry.get("part") or ""
        if not isinstance(name, str) or not isinstance(made, str):
            raise refusal("a pedal has a name", name, "a text")
        if made:
            part(made, ("stage",))
        names.append(_free(name.strip() or _usual_name(made, number), names))
        parts.append(made)
    return tuple(names), tuple(parts)


def _usual_name(made: str, number: int) -> str:
    word = made.split("-")[0]
    return word if word and word not in ("pedal", "vintage") else f"pedal {number}"


def _free(name: str, taken: list[str]) -> str:
    number, found = 1, name
    while found in taken:
        number += 1
        found = f"{name} {number}"
    if number > MOST_PEDALS:
        raise SigsimError("too many pedals have one name")
    return found

"""What was understood of a board: the chain in one line, totals, cautions."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any, Final

from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.tap import Tap
from sigsim.physics.arrays import scalar
from sigsim.show.lengths import length_text
from sigsim.show.render.json import json_document
from sigsim.show.render.terminal import show
from sigsim.show.render.text import count, plain
from sigsim.units import render

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.decide.check.cautions import Caution
    from sigsim.decide.check.overview import Overview
    from sigsim.items.base import Item

_SYMBOLS: Final = ("●", "○", "◆", "─", "┬", "→")
_LETTERS: Final = ("[x]", "[.]", "[=]", "-", "+", ">")


def chain_line(board: Board, on: On) -> str:
    """Return the chain as one line of text with on and off marks and cable lengths."""
    pieces = " ".join(_pieces(board.chain, on))
    return f"instrument {pieces} → {plain(board.destination.name)}"


def legend() -> str:
    """Return what the marks of a chain mean."""
    return f"{_SYMBOLS[0]} on  {_SYMBOLS[1]} off  {_SYMBOLS[2]} no switch  ( ) loop  ┬ tap"


def in_letters(text: str) -> str:
    """Return a chain with plain letters for the marks, for a terminal that lacks them."""
    for symbol, letters in zip(_SYMBOLS, _LETTERS, strict=True):
        text = text.replace(symbol, letters)
    return text


def _drawn(text: str) -> str:
    try:
        text.encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        return in_letters(text)
    return text


def _pieces(items: tuple[Item, ...], on: On) -> Iterator[str]:
    for item in items:
        if isinstance(item, Cable):
            yield f"─{plain(item.cable)} {length_text(item.length)}─"
        elif isinstance(item, Tap):
            end = (
                "open"
                if item.input_resistance is None
                else render(scalar(item.input_resistance), "Ω")
            )
            yield f"┬{plain(item.tap)}: {length_text(item.cable.length)}, {end}┬"
        elif isinstance(item, Loop):
            inside = " ".join(_pieces(item.inside, on))
            yield f"({_mark(item, on)}{plain(item.loop)}: {inside})"
        else:
            yield f"{_mark(item, on)}{plain(item.label)}"


def _mark(item: Item, on: On) -> str:
    if item.switch is None:
        return _SYMBOLS[2]
    return _SYMBOLS[0] if item.switch in on else _SYMBOLS[1]


_WORDS: Final[dict[str, Callable[[str, dict[str, Any]], str]]] = {
    "knob-at-zero": lambda name, _: f"{name} is at 0: it shorts the signal, nothing comes out.",
    "long-cable": lambda name, v: (
        f"the cable '{name}' is {length_text(v['length'])} long and nothing isolates it from the "
        "instrument: over 10 m a buffer before it is worth a try."
    ),
    "long-run": lambda _, v: (
        f"{length_text(v['length'])} of cable in {v['pieces']} pieces hang on the instrument when "
        "everything is off: over 10 m a buffer before it is worth a try."
    ),
    "pickup-hidden": lambda name, v: _pickup_words(name, v),
    "low-input": lambda name, v: (
        f"the input of '{name}' is only {v['ratio']:.2g} × its source, {v['source']} with "
        f"{render(v['impedance'], 'Ω', 2)} at 100 Hz; under 10 × it takes level and tone."
    ),
    "open-tap": lambda name, v: (
        f"the tap '{name}' ends open: {render(v['capacitance'], 'F', 2)} hang on the line for "
        "nothing. Unplug the cable if you can."
    ),
    "hidden-in-scene": lambda name, v: (
        f"the scene '{name}' has {_listed(v['names'])} on, but the loop around it is out."
    ),
}


def _listed(names: tuple[str, ...]) -> str:
    return ", ".join(f"'{plain(name, 30)}'" for name in names[:5]) + (
        f" and {len(names) - 5} more" if len(names) > 5 else ""
    )


def _pickup_words(name: str, values: dict[str, Any]) -> str:
    always, sometimes = values["always"], values["sometimes"]
    if always:
        return f"'{name}' wants to see the pickup, but {_listed(always)} always stands between."
    return f"'{name}' wants to see the pickup; it does not while {_listed(sometimes)} is on."


def caution_text(caution: Caution) -> str:
    """Return a caution in plain words."""
    return _WORDS[caution.kind](plain(caution.subject, 40), caution.values)


def print_check(facts: Overview) -> None:
    """Print what was understood of a board."""
    board = facts.board
    show(
        f"{plain(board.name, 76)}",
        "",
        _drawn(chain_line(board, facts.state.on)),
        _drawn(legend()),
        "",
        f"Cable: {length_text(facts.cable_length)} in {count(facts.cable_pieces, 'piece')}, "
        f"{render(facts.cable_capacitance, 'F')} with its plugs.",
        f"Hanging on the instrument in this state: {render(facts.on_instrument, 'F')}.",
        f"Switches: {len(board.switches())}, which make {count(facts.states, 'different state')}.",
        f"Scenes: {', '.join(plain(s, 20) for s in board.scenes) or 'none'}.",
        "",
    )
    if not facts.cautions:
        show("No cautions.")
    for caution in facts.cautions:
        show(f"! {caution_text(caution)}")


def as_json(facts: Overview) -> str:
    """Return what was understood as one JSON document."""
    board = facts.board
    values = {
        "board": board.name,
        "chain": chain_line(board, facts.state.on),
        "on": list(facts.state.on),
        "cable_m": facts.cable_length,
        "cable_pieces": facts.cable_pieces,
        "capacitance_f": facts.cable_capacitance,
        "capacitance_on_instrument_f": facts.on_instrument,
        "switchable": list(board.switches()),
        "states_total": facts.states,
        "scenes": {name: list(names) for name, names in board.scenes.items()},
        "warnings": list(board.warnings),
        "cautions": [
            {"kind": c.kind, "subject": c.subject, "text": caution_text(c)} for c in facts.cautions
        ],
    }
    return json_document(values)

"""What was understood of a board as a document and as JSON: the chain, totals, cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from sigsim.board.state import ALL_OFF_TITLE
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.tap import Tap
from sigsim.physics.arrays import scalar
from sigsim.show.document import Document, Items, Paragraph
from sigsim.show.lengths import length_text, sum_of
from sigsim.show.render.json import json_document
from sigsim.show.render.text import count, listed, plain
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.decide.check.cautions import Caution
    from sigsim.decide.check.overview import Overview
    from sigsim.items.base import Item

_ON, _OFF, _FIXED = "●", "○", "◆"
_LEGEND: Final = f"{_ON} on  {_OFF} off  {_FIXED} no switch  ( ) loop  ┬ tap"


def chain_line(board: Board, on: On) -> str:
    """Return the chain as one line of text with on and off marks and cable lengths."""
    pieces = " ".join(_pieces(board.chain, on))
    return f"instrument {pieces} → {plain(board.destination.name)}"


def _pieces(items: tuple[Item, ...], on: On) -> Iterator[str]:
    for item in items:
        if isinstance(item, Cable):
            yield f"─{plain(item.cable)} {length_text(item.length)}─"
        elif isinstance(item, Tap):
            load = item.input_resistance
            end = "open" if load is None else render(scalar(load), "Ω")
            yield f"┬{plain(item.tap)}: {length_text(item.cable.length)}, {end}┬"
        elif isinstance(item, Loop):
            inside = " ".join(_pieces(item.inside, on))
            yield f"({_mark(item, on)}{plain(item.loop)}: {inside})"
        else:
            yield f"{_mark(item, on)}{plain(item.label)}"


def _mark(item: Item, on: On) -> str:
    if item.switch is None:
        return _FIXED
    return _ON if item.switch in on else _OFF


_WORDS: Final[dict[str, Callable[[str, dict[str, Any]], str]]] = {
    "knob-at-zero": lambda name, _: f"{name} is at 0: it shorts the signal, nothing comes out.",
    "long-cable": lambda name, v: (
        f"the cable '{name}' is {length_text(v['length'])} long and nothing isolates it from the "
        "instrument: over 10 m a buffer before it is worth a try."
    ),
    "long-run": lambda _, v: (
        f"{length_text(sum_of((length, 1) for length in v['lengths']))} of cable in "
        f"{len(v['lengths'])} pieces hang on the instrument with {ALL_OFF_TITLE}: over 10 m a "
        "buffer before it is worth a try."
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
    "too-large": lambda name, v: (
        f"`{name}` refuses this board: it has {v['found']:,} {v['what']}, and at most "
        f"{v['most']:,} are accepted; {v['advice']}."
    ),
    "hidden-in-scene": lambda name, v: (
        f"the scene '{name}' has {listed(v['names'], most=5)} on, but the loop around it is out."
    ),
}


def _pickup_words(name: str, values: dict[str, Any]) -> str:
    always, sometimes = (listed(values[key], most=5) for key in ("always", "sometimes"))
    if always:
        return f"'{name}' wants to see the pickup, but {always} always stands between."
    return f"'{name}' wants to see the pickup; it does not while {sometimes} is on."


def caution_text(caution: Caution) -> str:
    """Return a caution in plain words."""
    return _WORDS[caution.code](plain(caution.subject, 40), caution.values)


def document(facts: Overview) -> Document:
    """Return what was understood of a board."""
    board = facts.board
    pieces = ((scalar(cable.length), 1) for cable in board.pieces())
    amounts = (
        f"Cable: {length_text(sum_of(pieces))} in {count(facts.cable_pieces, 'piece')}, "
        f"{render(facts.cable_capacitance, 'F')} with its plugs.",
        f"Hanging on the instrument in this state: {render(facts.on_instrument, 'F')}.",
        f"Switches: {len(board.switches())}, which make {count(facts.states, 'different state')}.",
        f"Scenes: {', '.join(plain(s, 20) for s in board.scenes) or 'none'}.",
    )
    found = tuple(f"! {caution_text(caution)}" for caution in facts.cautions)
    blocks = (
        Paragraph((plain(board.name, 76),), apart=True),
        Paragraph((chain_line(board, facts.state.on), _LEGEND), apart=True),
        Paragraph(amounts, apart=True),
        Items(found or ("No cautions.",)),
    )
    return Document("What was understood", blocks)


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
            {"kind": c.code, "subject": c.subject, "text": caution_text(c)} for c in facts.cautions
        ],
    }
    return json_document(values)

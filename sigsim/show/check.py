"""What was understood of a board as a document and as JSON: the chain, totals, cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from sigsim.board.inside import boards_inside
from sigsim.board.state import ALL_OFF_TITLE
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.physics.arrays import scalar
from sigsim.quantities import length_text
from sigsim.show.check_layout import LAYOUT_WORDS, on_board_values, on_board_words
from sigsim.show.cures import hidden_words, no_pickup, remedy_values, remedy_words
from sigsim.show.document import Document, Items, Paragraph
from sigsim.show.ends import changes_value
from sigsim.show.lengths import sum_of
from sigsim.show.measured_days import measured_values, what
from sigsim.show.power_words import supplies_words
from sigsim.show.render.json import json_document
from sigsim.show.render.text import count, decibel, listed, plain
from sigsim.show.variants import version_words, versions_values
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.decide.check.caution import Caution
    from sigsim.decide.check.overview import Overview
    from sigsim.items.base import Item

_ON, _OFF, _FIXED = "●", "○", "◆"
_LEGEND: Final = f"{_ON} on  {_OFF} off  {_FIXED} no switch  ( ) loop  ┬ side cable"
_WITH_SPLIT: Final = f"{_LEGEND}  [ ] split"

_MOST_HELD: Final = 5
_NONE_MEANT: Final = "A cable with length = 0 says that none is meant."


def chain_line(board: Board, on: On) -> str:
    """Return the chain as one line of text with on and off marks and cable lengths."""
    pieces = " ".join(_pieces(board.laid, on))
    return f"instrument {pieces} → {plain(board.destination.name)}"


def _pieces(items: tuple[Item, ...], on: On) -> Iterator[str]:
    for item in items:
        if isinstance(item, Cable):
            yield f"─{plain(item.cable)} {length_text(item.length)}─"
        elif isinstance(item, Tap):
            load = item.input_resistance
            end = "open" if load is None else render(scalar(load), "Ω")
            yield f"┬{plain(item.tap)}: {length_text(item.cable.length)}, {end}┬"
        elif isinstance(item, Split):
            end = "open" if item.destination.open else plain(item.destination.name)
            inside = " ".join((*_pieces(item.inside, on), f"→ {end}"))
            yield f"[{plain(item.split)}: {inside}]"
        elif isinstance(item, Loop):
            inside = " ".join(_pieces(item.inside, on))
            held = f", {plain(item.board)}" if item.board else ""
            yield f"({_mark(item, on)}{plain(item.loop)}{held}: {inside})"
        else:
            yield f"{_mark(item, on)}{plain(item.label)}"


def _legend(board: Board) -> str:
    return _LEGEND if len(board.ends) == 1 else _WITH_SPLIT


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
    "pickup-hidden": lambda _, v: _pickup_words(v),
    "order-broken": lambda name, v: (
        f"'{name}' is to stand {v['rule']} '{plain(v['other'], 40)}', so the board file says, and "
        "does not."
    ),
    "no-pickup": lambda _, v: f"{no_pickup(v['names'])}: no place on this board lets it be seen.",
    "low-input": lambda name, v: (
        f"the input of '{name}' is only {v['ratio']:.2g} × its source, {v['source']} with "
        f"{render(v['impedance'], 'Ω', 2)} at 100 Hz; under 10 × it takes level and tone."
    ),
    "open-tap": lambda name, v: (
        f"the side cable '{name}' ends open: {render(v['capacitance'], 'F', 2)} hang on the line "
        "for nothing. Unplug the cable if you can."
    ),
    "open-split": lambda name, v: (
        f"the split '{name}' ends open: {render(v['capacitance'], 'F', 2)} hang on the line for "
        "nothing. Unplug its cable if you can."
    ),
    "resistive-source": lambda name, v: (
        f"{name} has no inductance: it counts as a plain resistance of "
        f"{render(v['resistance'], 'Ω')}, which resonates with no cable as a pickup does."
    ),
    "tone-without-pot": lambda name, _: (
        f"{name} has no tone_track: it lies straight across the line, as with the knob at 0."
    ),
    "polarity-unheard": lambda name, v: (
        f"pickup '{name}' is reversed, but it is the only one: that turns the signal round and is "
        "not heard."
        if len(v["names"]) == 1
        else "all pickups are reversed: that turns the signal round and is not heard."
    ),
    "pickups-cancel": lambda _, v: (
        f"{listed(v['names'], most=5)} {'is' if len(v['names']) == 1 else 'are'} of reversed "
        "polarity, and with the knobs as they are the pickups cancel: nothing comes out."
    ),
    "pickups-oppose": lambda _, v: (
        f"{listed(v['names'], most=5)} {'is' if len(v['names']) == 1 else 'are'} of reversed "
        "polarity: with the knobs as they are the pickups make each other "
        f"{decibel(v['softer'])} dB softer."
    ),
    "ends-alike": lambda name, v: (
        f"{v['count']} ends go by the name '{name}': give each destination a name of its own, so "
        "that lists can tell them apart."
    ),
    "no-lead": lambda name, _: (
        f"nothing connects the instrument to '{name}': the chain begins without a cable. "
        f"{_NONE_MEANT}"
    ),
    "no-patch-cable": lambda _, v: (
        f"nothing connects the boxes at {v['bare']:,} of {count(v['joints'], 'joint')}: there is "
        f"neither a cable between them nor a [wiring]. {_NONE_MEANT}"
    ),
    "no-amp-cable": lambda name, v: (
        f"nothing connects '{name}' to {plain(v['destination'], 40)}: {_ends(v)} without a cable. "
        f"{_NONE_MEANT}"
    ),
    "unused-wiring": lambda name, _: (
        f"the wiring of '{name}' is put nowhere: no two neighbours of the chain are without a "
        "cable of their own."
    ),
    "unused-cable": lambda name, _: f"the cable '{name}' lies nowhere in the chain.",
    "always-on-in-scenes": lambda name, v: (
        f"'{name}' is always on, also in {listed(v['scenes'], most=5)}, where it is not named; "
        "if it has a switch, write always_on = false in the board file."
    ),
    "too-large": lambda name, v: (
        f"`{name}` refuses this board: it has {v['found']:,} {v['what']}, and at most "
        f"{v['most']:,} are accepted; {v['advice']}."
    ),
    "much-current": lambda name, v: (
        f"'{name}' draws {render(v['current'], 'A')}, so the board file says: pedals draw some "
        "milliamperes, mA, to half an ampere."
    ),
    "odd-voltage": lambda name, v: (
        f"'{name}' is fed with {render(v['voltage'], 'V')}, so the board file says: pedals take 9 "
        "to 24 V, few others."
    ),
    "more-when-off": lambda name, v: (
        f"'{name}' draws {render(v['off'], 'A')} when off and {render(v['current'], 'A')} when on, "
        "so the board file says: more when off."
    ),
    "nothing-to-feed": lambda name, _: (
        f"the supply '{name}' feeds nothing: no pedal of this board needs one."
    ),
    "no-current": lambda _, v: (
        f"the board file has supplies, and no current for {listed(v['names'], most=5)}: what they "
        "draw stands on them or in their papers."
    ),
    "supplies-not-kept": lambda _, v: (
        "the supplies that are written cannot all be kept: nothing is left for "
        f"{listed(v['names'], most=5)}. `sigsim power` ends with this, and sheet and page say "
        "it instead of what feeds the board."
    ),
    "empty-variant": lambda name, _: f"the variant '{name}' changes nothing.",
    "cables-end-to-end": lambda name, v: (
        f"with the variant '{name}' {_pairs(v['pairs'])} lie end to end, because what stood "
        "between them is left out; on a board it is one cable, or another."
    ),
    "hidden-in-scene": lambda name, v: (
        f"the scene '{name}' has {listed(v['names'], most=5)} on, but the loop around it is out."
    ),
}


def _pairs(pairs: tuple[tuple[str, str], ...]) -> str:
    return "; ".join(f"the cables {listed(pair)}" for pair in pairs[:5])


def _ends(values: dict[str, Any]) -> str:
    split = values["split"]
    return f"the split '{plain(split, 40)}' ends" if split else "the chain ends"


def _pickup_words(values: dict[str, Any]) -> str:
    remedy = values["remedy"]
    more = f" {remedy_words(remedy)}" if remedy is not None else ""
    return f"{hidden_words(values['hidden'])}.{more}"


def caution_text(caution: Caution) -> str:
    """Return a caution in plain words."""
    words = _WORDS.get(caution.code) or LAYOUT_WORDS[caution.code]
    return words(plain(caution.subject, 40), caution.values)


def document(facts: Overview) -> Document:
    """Return what was understood of a board."""
    board = facts.board
    pieces = ((scalar(cable.length), 1) for cable in board.pieces())
    amounts = (
        f"Cable: {length_text(sum_of(pieces))} in {count(facts.cable_pieces, 'piece')}, "
        f"{render(facts.cable_capacitance, 'F')} with its plugs.",
        f"Hanging on the instrument with these on: {render(facts.on_instrument, 'F')}.",
        f"Switches: {len(board.switches())}, which make "
        f"{count(facts.states, 'different combination')}.",
        f"Scenes: {', '.join(plain(s, 20) for s in board.scenes) or 'none'}.",
        *on_board_words(facts.on_board, facts.without_cables),
        *supplies_words(board),
        *_boards(board),
        *_variants(board),
        *_measured(facts),
    )
    found = tuple(f"! {caution_text(caution)}" for caution in facts.cautions)
    blocks = (
        Paragraph((plain(board.name, 76),), apart=True),
        Paragraph((chain_line(board, facts.state.on), _legend(board)), apart=True),
        Paragraph(amounts, apart=True),
        Items(found or ("No cautions.",)),
    )
    return Document("What was understood", blocks)


def _boards(board: Board) -> Iterator[str]:
    """Yield which boards are inside this one."""
    held = [
        f"{plain(h.file, 40)} in '{plain(h.loop.loop, 30)}'" for h in boards_inside(board.listed)
    ]
    if held:
        left = f" and {len(held) - _MOST_HELD} more" if len(held) > _MOST_HELD else ""
        yield f"Boards inside: {', '.join(held[:_MOST_HELD])}{left}."


def _variants(board: Board) -> Iterator[str]:
    """Yield each variant of the file, with what it changes."""
    for version in board.versions:
        yield f"Variant {plain(version.name, 30)}: {version_words(version)}."


def _measured(facts: Overview) -> Iterator[str]:
    """Yield what was measured, in as many words as a line or two have room for."""
    if facts.measured:
        names = [plain(what(thing), 40) for thing in facts.measured]
        yield f"Measured: {listed(names, mark='', most=5)}."


def as_json(facts: Overview) -> str:
    """Return what was understood as one JSON document."""
    board = facts.board
    values = {
        "board": board.name,
        **changes_value(board),
        "chain": chain_line(board, facts.state.on),
        "on": list(facts.state.on),
        "cable_m": facts.cable_length,
        "cable_pieces": facts.cable_pieces,
        "capacitance_f": facts.cable_capacitance,
        "leads_on_board": on_board_values(facts.on_board),
        "not_in_chain": list(facts.without_cables),
        "capacitance_on_instrument_f": facts.on_instrument,
        "switchable": list(board.switches()),
        "states_total": facts.states,
        "boards": [{"loop": h.loop.loop, "file": h.file} for h in boards_inside(board.listed)],
        "scenes": {name: list(names) for name, names in board.scenes.items()},
        "available_variants": versions_values(board),
        "measured": measured_values(facts.measured),
        "warnings": list(board.warnings),
        "cautions": [
            {"kind": c.code, "subject": c.subject, "text": caution_text(c)}
            | {"remedy": remedy_values(c.values["remedy"]) if c.values.get("remedy") else None}
            for c in facts.cautions
        ],
    }
    return json_document(values)

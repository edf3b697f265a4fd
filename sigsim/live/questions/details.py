"""One thing from nearby: what may be changed of it, and its figures with their sources."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from sigsim.board import edit
from sigsim.board.idle import unheard_keys
from sigsim.board.inside import board_of_cable, board_of_place
from sigsim.decide.page.figures import Figure, figures_of, of_part
from sigsim.items.cable import Cable
from sigsim.items.feeding import FedStage
from sigsim.items.fields import FEEDING, Declared, Spec, specs
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.live.edits.registry import place_on, refusal
from sigsim.show.page.figures import value_text

if TYPE_CHECKING:
    from sigsim.board.model import Board

# What else a player changes beside knobs; figures come from papers.
_SWITCHES: Final = ("always_on", "needs_pickup", "open")
_CHOICES: Final = (
    "bypass",
    "role",
    "pickups_wiring",
    "polarity",
    "volume_wiring",
    "tone_position",
    "treble_bleed",
)
_WORDS: Final = {
    "bypass": "when off",
    "always_on": "always on, without a switch",
    "needs_pickup": "wants to see the pickup",
    "open": "nothing plugged in",
    "role": "what it is on a board",
}
_CHOICE_WORDS: Final = {
    ("bypass", "true"): "true bypass: a switch and a little wire",
    ("bypass", "buffered"): "buffered: its buffer stays in and isolates",
    ("bypass", "hardwire"): "hardwired: its input stays connected and loads",
}
_BOXES: Final = ("stage", "loop")


@dataclass(frozen=True)
class _Thing:
    """What the page asked about."""

    declared: Declared
    part: str
    place: tuple[int, ...] | None = None


def details(board: Board, at: object) -> dict[str, Any]:
    """Return one thing from nearby, as asked.js has it.

    Parameters
    ----------
    board : as it is shown
    at : where the thing stands, as the page got it

    Raises
    ------
    SigsimError : nothing stands there
    """
    thing = _thing(board, at)
    found: dict[str, Any] = {
        "fields": list(_fields(thing.declared, board)),
        "figures": [_figure(one, thing.part) for one in figures_of(thing.declared, board)],
        "offers": _offers(board, thing),
    }
    if thing.part:
        found["part"] = thing.part
    if _has_cable(board, at, thing):
        found["cables"] = [name for name in board.cables if board_of_cable(board, name) is None]
    return found


def _thing(board: Board, at: object) -> _Thing:
    if not isinstance(at, Mapping):
        raise refusal("this does not say where", at, "something on the line")
    spot: Mapping[str, Any] = at
    if "instrument" in spot:
        return _instrument(board, spot)
    if "destination" in spot:
        return _Thing(board.destination, board.destination.part)
    if "cables" in spot:
        return _role(board, spot["cables"])
    if "wiring" in spot:
        if board.wiring is None:
            raise refusal("no patch lies here", None, "a patch on the line")
        return _role(board, board.wiring.cable)
    place = place_on(board, spot.get("place"))
    item = edit.item_at(board, place)
    if spot.get("end") is True and isinstance(item, Split):
        return _Thing(item.destination, item.destination.part)
    if isinstance(item, Loop) and spot.get("lead") in ("out", "back") and item.board:
        piece = item.inside[0 if spot["lead"] == "out" else -1]
        if isinstance(piece, Cable):
            return _role(board, piece.cable)
    if isinstance(item, Cable):
        return _role(board, item.cable)
    return _Thing(item, item.part, place)


def _instrument(board: Board, spot: Mapping[str, Any]) -> _Thing:
    pickup = spot.get("pickup")
    if pickup is None:
        return _Thing(board.instrument, board.instrument.part)
    pickups = getattr(board.instrument, "pickups", ())
    if not isinstance(pickup, int) or not 0 <= pickup < len(pickups):
        raise refusal("there is no such pickup", pickup, "a number from 0")
    return _Thing(pickups[pickup], pickups[pickup].part)


def _role(board: Board, name: object) -> _Thing:
    if not isinstance(name, str) or name not in board.cables:
        raise refusal("there is no such kind of cable", name, ", ".join(board.cables))
    spec = board.cables[name]
    return _Thing(spec, spec.part)


def _fields(thing: Declared, board: Board) -> Iterator[dict[str, Any]]:
    """Yield what may be changed, the knobs first."""
    known = specs(type(thing))
    idle = unheard_keys(thing, board.instrument)
    for wanted in ("knob", "choice", "flag"):
        for key, spec in known.items():
            if spec.kind != wanted or key in idle or _is_plug(thing, key):
                continue
            if _is_offered(key, spec):
                yield _field(thing, key, spec, board)


def _is_offered(key: str, spec: Spec) -> bool:
    return spec.kind == "knob" or key in _CHOICES or key in _SWITCHES


def _is_plug(thing: Declared, key: str) -> bool:
    """Whether a key speaks of what feeds a box, which the panel of its power tells."""
    return key in FEEDING and isinstance(thing, FedStage)


def _field(thing: Declared, key: str, spec: Spec, board: Board) -> dict[str, Any]:
    given = board.library.of(thing.part)
    standard = of_part(thing, given)[0].get(key, _default(thing, key))
    value = getattr(thing, key)
    written = key in thing.bare or value != standard
    field: dict[str, Any] = {
        "key": key,
        "words": _WORDS.get(key) or key.replace("_", " "),
        "kind": {"knob": "knob", "choice": "choice", "flag": "switch"}[spec.kind],
        "value": _plain(value) if written else None,
        "standard": _text(standard),
    }
    if spec.kind == "choice":
        field["choices"] = [
            {"value": word, "words": _CHOICE_WORDS.get((key, word), word)} for word in spec.choices
        ]
    return field


def _default(thing: Declared, key: str) -> Any:
    return type(thing).__dataclass_fields__[key].default


def _plain(value: Any) -> str | bool:
    return value if isinstance(value, bool) else _text(value)


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.6g}" if isinstance(value, int | float) else str(value)


def _figure(figure: Figure, part: str) -> dict[str, Any]:
    written = getattr(figure.value, "text", "")
    told: dict[str, Any] = {
        "key": figure.key,
        "words": figure.key.replace("_", " "),
        "value": written or value_text(replace(figure, tolerance=0.0)),
        "source": _source(figure, part),
    }
    if figure.tolerance:
        told["tolerance"] = f"± {100 * figure.tolerance:.3g} %"
    return told


def _source(figure: Figure, part: str) -> str:
    if figure.origin == "file":
        return f"this file, measured {figure.measured}" if figure.measured else "this file"
    if figure.origin == "part":
        return figure.source or f"the part {part}"
    return "what holds where nothing is written"


def _offers(board: Board, thing: _Thing) -> list[str]:
    """Return the words of `do` beside the usual ones that a thing allows."""
    item = thing.declared
    if thing.place is None or board.changes.variants or board_of_place(board, thing.place):
        return []
    if getattr(item, "key", "") not in _BOXES:
        return []
    away = isinstance(item, Loop) and not item.board
    return ["loop-around", "loop-away"] if away else ["loop-around"]


def _has_cable(board: Board, at: object, thing: _Thing) -> bool:
    kinds = isinstance(at, Mapping) and "cables" not in at
    return kinds and (thing.declared in board.cables.values() or isinstance(thing.declared, Tap))

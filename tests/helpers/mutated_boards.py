"""Boards that somebody got wrong: seeded changes to good ones, of what a file can hold."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final, TypeAlias

# Of a chain, so that thousands of boards can be tried.
MOST_ITEMS: Final = 6

Table: TypeAlias = dict[str, Any]
Place: TypeAlias = tuple[Any, Any]

# Texts that a terminal, a page, a spreadsheet, a simulator or a reader could take for more.
TEXTS: Final = (
    "", " ", "a", "fuzz", "echo", "=SUM(1)", "+1", "-1", "@x", "'x", "a,b", 'a"b', "a + b", "+ a",
    "\x1b[31m", "a\rb", "a\nb", "\x7f", "\x9b31m", "\u2028", "\u202e", "\u2066x", "\U000e0041",
    "\u200b", "a\u200db", "e\u0301", "é", "\\u001b", "$x^2$", "[bold]", "</script>", "漢字 🎸",
    ".control", "x" * 300, "\ufeff", "\u00a0", "../x", "%s{0}${y}",
)  # fmt: skip
QUANTITIES: Final = (
    "0", "1e-30", "1e-18", "1e-12", "1e-9", "1e-6", "0.001", "1", "10", "1e3", "1e6", "1e9", "1e12",
    "1e30", "1e300", "1e999", "-1", "nan", "inf", "4k7", "R47", "1M0 ± 10 %", "1 ± 100 %", "6 m",
    "250 kΩ", "100 pF/m", "10 nF/m", "11 nF/m", "100 µH/m", "1 km", "47 nF", "3 H ± 20 %", "1000 H",
    "120 dB", "-120 dB", "9 dB", "2 kHz", "1e8 Hz", "1e-6 Hz", "1 mV/rtHz", "5 bananas", "1,5", "",
)  # fmt: skip
VALUES: Final = (
    0, 1, -1, 10, 0.5, 1e-300, 1e-12, 1e-9, 1e-6, 1e3, 1e9, 1e12, 1e300, True, False, [], {}, [1],
    {"a": 1}, "audio", "linear", "audio 15 %", "buffered", "hardwire", "true", "pad", "transformer",
    "volume pedal", "active", "passive", "series", "parallel", "after volume", "reversed",
    "output at track",
)  # fmt: skip
KEYS: Final = (
    "input_resistance", "output_resistance", "input_capacitance", "input_capacitor", "gain",
    "bypass", "split", "destination",
    "low_pass", "high_pass", "always_on", "needs_pickup", "kind", "part", "stage", "loop", "tap",
    "cable", "length", "open", "inside", "capacitance", "resistance", "inductance", "loss_tangent",
    "plug_capacitance", "volume", "tone", "volume_track", "tone_capacitor", "loss_resistance",
    "pickups", "type", "track", "position", "ratio", "primary_inductance", "input_noise_voltage",
    "input_noise_current", "output_capacitor", "contact_resistance", "wiring_capacitance",
    "current", "polarity", "volume_wiring", "treble_bleed_capacitor", "treble_bleed_resistor",
    "treble_bleed", "bass_cut_capacitor", "bass_cut_track", "bass_cut",
    "supply", "supplies", "voltage", "outputs", "battery", "battery_inside", "current_off",
    "usual_current", "efficiency", "isolated",
    "input_series_resistance", "bypass_gain", "bypass_input_capacitor",
    "bypass_output_capacitor", "winding_capacitance", "leakage_inductance",
)  # fmt: skip
# Names that a file may hold although much could go wrong with them.
GOOD_NAMES: Final = (
    "=SUM(1)", "-1", "@x", "'x", "a,b", 'a"b', "\\u001b", "$x^2$", "[bold]", "</script>",
    "漢字 🎸", ".control", "e\u0301", "x" * 300, "%s{0}${y}",
)  # fmt: skip


def tables(value: Any) -> Iterator[Table]:
    """Yield every table of a board, whatever holds it."""
    if isinstance(value, dict):
        yield value
    for inner in value.values() if isinstance(value, dict) else value:
        if isinstance(inner, dict | list):
            yield from tables(inner)


def _places(value: Any) -> list[Place]:
    """Return where each value of a board stands: what holds it, and under what."""
    found: list[Place] = []
    for key, inner in list(value.items() if isinstance(value, dict) else enumerate(value)):
        found.append((value, key))
        if isinstance(inner, dict | list):
            found += _places(inner)
    return found


def _other_value(board: Table, draw: random.Random) -> None:
    places = _places(board)
    if places:
        holder, key = draw.choice(places)
        holder[key] = copy.deepcopy(draw.choice(draw.choice((TEXTS, QUANTITIES, VALUES))))


def _other_quantity(board: Table, draw: random.Random) -> None:
    numbers = [p for p in _places(board) if isinstance(p[0][p[1]], float) or _is_written(p)]
    if numbers:
        holder, key = draw.choice(numbers)
        holder[key] = draw.choice(QUANTITIES)


def _is_written(place: Place) -> bool:
    holder, key = place
    return isinstance(holder[key], str) and holder[key][:1].isdigit()


def _scaled(board: Table, draw: random.Random) -> None:
    numbers = [p for p in _places(board) if type(p[0][p[1]]) is float]
    for holder, key in draw.sample(numbers, min(len(numbers), 3)):
        holder[key] *= 10.0 ** draw.randint(-9, 9)


def _other_key(board: Table, draw: random.Random) -> None:
    table = draw.choice(list(tables(board)))
    if table and draw.random() < 0.5:
        table[draw.choice((*KEYS, *TEXTS))] = table.pop(draw.choice(list(table)))
    else:
        table[draw.choice(KEYS)] = copy.deepcopy(draw.choice((*QUANTITIES, *VALUES)))


def _gone(board: Table, draw: random.Random) -> None:
    holder, key = draw.choice(_places(board))
    del holder[key]


def _twice(board: Table, draw: random.Random) -> None:
    lists = [v for holder, key in _places(board) if isinstance(v := holder[key], list) and v]
    if lists:
        chosen = draw.choice(lists)
        chosen.insert(draw.randrange(len(chosen) + 1), copy.deepcopy(draw.choice(chosen)))


def _in_a_loop(board: Table, draw: random.Random) -> None:
    chain = board.get("chain")
    if isinstance(chain, list) and chain:
        place = draw.randrange(len(chain))
        for depth in range(draw.choice((1, 2, 5, 31, 33))):
            chain[place] = {"loop": f"deep {depth}", "inside": [chain[place]]}


def _in_a_split(board: Table, draw: random.Random) -> None:
    """Put what is behind a place, or nothing, into a way of its own."""
    lists = [t[k] for t in tables(board) for k in ("chain", "inside") if k in t]
    chain = draw.choice(lists) if lists else None
    if isinstance(chain, list):
        place = draw.randrange(len(chain) + 1)
        inside = chain[place : place + draw.randrange(3)]
        end = draw.choice([{}, {"input_resistance": "1M"}, {"part": "instrument-input"}])
        del chain[place : place + len(inside)]
        chain.insert(place, {"split": f"way {place}", "inside": inside, "destination": end})


def _renamed(board: Table, draw: random.Random) -> None:
    """Give something a name that is allowed, or one that is not, also where a scene has it."""
    named = [(t, k) for t in tables(board) for k in ("stage", "loop", "tap", "split") if k in t]
    if not named:
        return
    table, key = draw.choice(named)
    old, new = table[key], draw.choice((*GOOD_NAMES, *GOOD_NAMES, *TEXTS))
    table[key] = new
    scenes = board.get("scenes")
    for on in scenes.values() if isinstance(scenes, dict) else ():
        if isinstance(on, list):
            on[:] = [new if name == old else name for name in on]


MUTATIONS: Final[tuple[Callable[[Table, random.Random], None], ...]] = (
    _other_value, _other_quantity, _other_quantity, _scaled, _scaled, _other_key, _gone, _twice,
    _in_a_loop, _in_a_split, _renamed, _renamed,
)  # fmt: skip


def mutated(board: Table, draw: random.Random) -> str:
    """Return the text of a board after one to three changes."""
    changed = shortened(copy.deepcopy(board), draw)
    for _ in range(draw.randint(1, 3)):
        if changed:
            draw.choice(MUTATIONS)(changed, draw)
    return toml(changed)


def shortened(board: Table, draw: random.Random) -> Table:
    """Leave out what makes a board slow: all but some items of its chain, from scenes too."""
    chain = board["chain"]
    kept = sorted(draw.sample(range(len(chain)), min(len(chain), MOST_ITEMS)))
    board["chain"] = [chain[i] for i in kept]
    names = {t[k] for t in tables(board["chain"]) for k in ("stage", "loop") if k in t}
    for scene, on in board.get("scenes", {}).items():
        board["scenes"][scene] = [name for name in on if name in names]
    return board


def toml(table: Table) -> str:
    """Return a table as TOML in which every value stands inline."""
    return "".join(f"{_text(key)} = {_value(value)}\n" for key, value in table.items())


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, dict):
        return f"{{{', '.join(f'{_text(k)} = {_value(v)}' for k, v in value.items())}}}"
    return repr(value)


def _text(text: str) -> str:
    """Return a string of TOML: JSON's but for letters beyond U+FFFF, which stand as they are."""
    plain = json.dumps(text, ensure_ascii=False)
    return plain.replace("\x7f", "\\u007f")


def good_boards(root: Path) -> list[Table]:
    """Return the boards that the mutations start from: with every kind of item."""
    import tomllib

    files = sorted((root / "examples").glob("*.toml")) + sorted(
        (root / "tests" / "acceptance").glob("*.toml")
    )
    return [tomllib.loads(path.read_text(encoding="utf-8")) for path in files]

"""Random boards as plain dictionaries, the TOML text that says the same, and their states.

A board is a dictionary with exactly the tables and keys of a board file; every quantity is a
float in SI units. Nothing here imports the program, so an oracle can work from the same dictionary.
"""

from __future__ import annotations

import json
import math
import random
from collections.abc import Iterator, Mapping
from typing import Any, TypeAlias

from hypothesis import strategies as st

Table: TypeAlias = dict[str, Any]
Quantities: TypeAlias = dict[str, st.SearchStrategy[Any]]

DEEPEST = 3
FOOT, INCH = 0.3048, 0.0254


def si(low: float, high: float, *also: float) -> st.SearchStrategy[float]:
    """Draw a value evenly in its logarithm, to three digits; now and then one of `also`."""

    def value(n: int) -> float:
        return also[n // 100] if n < 0 else float(f"{low * (high / low) ** (n / 999):.3g}")

    return st.integers(-100 * len(also), 999).map(value)


def knobs() -> st.SearchStrategy[float]:
    """Draw a knob position, often at the end of its travel and now and then at 0."""
    return st.integers(0, 140).map(lambda n: min(n / 10, 10.0))


@st.composite
def some(draw: st.DrawFn, required: Quantities, optional: Quantities) -> Table:
    """Draw a table in which each optional key may be missing."""
    table = {key: draw(value) for key, value in required.items()}
    given = {key: value for key, value in optional.items() if draw(st.integers(0, 2))}
    return table | {key: draw(value) for key, value in given.items()}


TAPERS = st.sampled_from(["audio", "linear", "audio 15 %", "audio 30 %"])

# Ranges: realistic values with room around them (common practice, no source).
COIL: Quantities = {
    "inductance": si(0.2, 12.0),
    "capacitance": si(20e-12, 400e-12),
    "loss_resistance": si(50e3, 5e6),
    # Thick metal has 0.5 (tests/reference/test_measured.py); a plain 1 is an inductance.
    "loss_exponent": st.integers(0, 120).map(lambda n: min(max(n - 10, 0) / 100, 1.0)),
}
VOLUME: Quantities = {
    "volume_track": si(10e3, 2e6),
    "volume_taper": TAPERS,
    "volume": knobs(),
    "volume_wiring": st.sampled_from(["output at wiper", "output at track"]),
    "treble_bleed_capacitor": si(100e-12, 10e-9, 0.0),
    "treble_bleed_resistor": si(20e3, 1e6, 0.0),
    "treble_bleed": st.sampled_from(["parallel", "series"]),
}
TONE: Quantities = {
    "tone_track": si(10e3, 1e6, 0.0),
    "tone_taper": TAPERS,
    "tone_capacitor": si(1e-9, 220e-9, 0.0),
    "tone": knobs(),
    "tone_position": st.sampled_from(["before volume", "after volume"]),
}
LAST: Quantities = {
    "bass_cut_capacitor": si(500e-12, 100e-9),
    "bass_cut_track": si(100e3, 2e6),
    "bass_cut_taper": TAPERS,
    "bass_cut": knobs(),
    "wiring_capacitance": si(20e-12, 1e-9, 0.0),
}
POTS = (
    "volume_track",
    "volume_taper",
    "volume",
    "volume_wiring",
    "treble_bleed_capacitor",
    "treble_bleed_resistor",
    "treble_bleed",
)


def _without(table: Table, *keys: str) -> Table:
    """Return a table without keys that can have no effect in it, which a file may not write."""
    return {key: value for key, value in table.items() if key not in keys}


def _played(table: Table) -> Table:
    """Return a passive instrument without the keys that nothing would come of."""
    pickups = table.get("pickups", [])
    if len(pickups) < 2:
        table = _without(table, "pickups_wiring")
    if table.get("pickups_wiring") == "series":
        table = table | {"pickups": [_played(_without(pickup, *POTS)) for pickup in pickups]}
    silent = not any(table.get(key) for key in ("resistance", "inductance", "pickups"))
    if silent:  # a source of 0 Ω that a wiper shorts is no circuit that could be solved
        table = _without(table, "capacitance", "volume_wiring")
    if not table.get("inductance"):
        table = _without(table, "loss_resistance")
    if "loss_resistance" not in table:
        table = _without(table, "loss_exponent")
    behind = "volume_track" in table and table.get("tone_position") == "after volume"
    if silent and not (behind and table.get("tone_capacitor")):
        table = _without(table, "tone_capacitor")
    if not table.get("tone_capacitor"):
        table = _without(table, "tone_track", "tone_position")
    if not table.get("tone_track"):
        table = _without(table, "tone_taper", "tone")
    if "volume_track" not in table:
        table = _without(table, *POTS, "tone_position")
    if not table.get("treble_bleed_capacitor"):
        table = _without(table, "treble_bleed_resistor")
    if not table.get("treble_bleed_resistor"):
        table = _without(table, "treble_bleed")
    if "bass_cut_capacitor" not in table:
        table = _without(table, "bass_cut_track")
    if "bass_cut_track" not in table:
        table = _without(table, "bass_cut_taper", "bass_cut")
    if silent and "volume_track" not in table and "bass_cut_capacitor" not in table:
        table = _without(table, "wiring_capacitance")
    return table


ONE_COIL = some({}, {"resistance": si(500.0, 20e3, 0.0), **COIL, **VOLUME, **TONE, **LAST}).map(
    _played
)
PICKUP = some(
    {"resistance": si(500.0, 20e3), "inductance": COIL["inductance"]},
    {**COIL, **VOLUME, **TONE, "polarity": st.sampled_from(["normal", "reversed"])},
).map(_played)
SEVERAL = some(
    {"pickups": st.lists(PICKUP, min_size=1, max_size=3)},
    {"pickups_wiring": st.sampled_from(["parallel", "series"]), **VOLUME, **TONE, **LAST},
).map(_played)
ACTIVE_INSTRUMENT = some(
    {"type": st.just("active")},
    {"output_resistance": si(10.0, 50e3, 0.0), "output_capacitor": si(100e-9, 100e-6)},
)
STOPPER: Quantities = {"input_series_resistance": si(100.0, 1e6, 0.0)}


def stopped(table: Table) -> Table:
    """Return an input without a stopper where there is no capacitance behind it."""
    return table if table.get("input_capacitance") else _without(table, *STOPPER)


DESTINATION = some(
    {},
    {"input_resistance": si(600.0, 10e6), "input_capacitance": si(5e-12, 2e-9, 0.0), **STOPPER},
).map(stopped)
CABLE = some(
    {},
    {
        "capacitance": si(30e-12, 500e-12, 0.0),
        "resistance": si(1e-3, 1.0, 0.0),
        "inductance": si(50e-9, 3e-6, 0.0),
        "loss_tangent": si(1e-4, 0.1),
        "plug_capacitance": si(1e-12, 50e-12),
    },
).map(lambda table: table if table.get("capacitance") else _without(table, "loss_tangent"))
LENGTH = si(0.05, 60.0, 0.0)
REMAINS: Quantities = {
    "contact_resistance": si(0.01, 5.0),
    "wiring_capacitance": si(5e-12, 300e-12),
}
BUFFERED: Quantities = {
    "bypass_input_resistance": si(50e3, 10e6),
    "bypass_input_capacitance": si(5e-12, 500e-12),
    "bypass_output_resistance": si(10.0, 10e3, 0.0),
    "bypass_gain": st.integers(-60, 60).map(lambda n: n / 10),
    "bypass_input_capacitor": si(1e-9, 10e-6),
    "bypass_output_capacitor": si(10e-9, 100e-6),
}


def _bypassed(table: Table) -> Table:
    """Return a stage without the keys of a bypass that it does not have."""
    passive = table.get("kind", "active") != "active"
    if table.get("always_on", passive):
        return _without(table, "bypass", *REMAINS, *BUFFERED)
    if not table.get("bypass_output_resistance", table.get("output_resistance")):
        # With a transformer it would ring without any loss, in a peak that no grid need meet.
        table = _without(table, "bypass_output_capacitor")
    return _without(table, *(REMAINS if table.get("bypass") == "buffered" else BUFFERED))


ACTIVE = (
    some(
        {
            "input_resistance": si(5e3, 10e6),
            "output_resistance": si(10.0, 100e3, 0.0),
            "bypass": st.sampled_from(["true", "buffered", "hardwire"]),
        },
        {
            "kind": st.just("active"),
            "input_capacitance": si(5e-12, 1e-9),
            "input_capacitor": si(1e-9, 10e-6),
            "output_capacitor": si(10e-9, 100e-6),
            "gain": st.integers(-300, 400).map(lambda n: n / 10),
            "low_pass": si(500.0, 50e3),
            "high_pass": si(1.0, 500.0),
            **BUFFERED,
            **STOPPER,
            "always_on": st.booleans(),
            "needs_pickup": st.booleans(),
            "input_noise_voltage": si(1e-9, 50e-9),
            "input_noise_current": si(1e-15, 1e-12),
            **REMAINS,
        },
    )
    .map(_bypassed)
    .map(stopped)
)
PASSIVE_SWITCH: Quantities = {"always_on": st.booleans(), **REMAINS}
VOLUME_PEDAL = some(
    {"kind": st.just("volume pedal"), "track": si(10e3, 1e6)},
    {"taper": TAPERS, "position": knobs(), **PASSIVE_SWITCH},
).map(_bypassed)
PAD = some(
    {"kind": st.just("pad")},
    {
        "series_resistance": si(10.0, 200e3, 0.0),
        "shunt_resistance": si(100.0, 1e6),
        **PASSIVE_SWITCH,
    },
).map(_bypassed)


def _damped(table: Table) -> Table:
    """Return a transformer without a leakage that rings more sharply than any winding of wire."""
    damped = table.get("primary_resistance", 0.0) >= 100 * table.get("leakage_inductance", 0.0)
    return table if damped else _without(table, "leakage_inductance")


TRANSFORMER = (
    some(
        {"kind": st.just("transformer"), "ratio": si(0.2, 20.0)},
        {
            "primary_resistance": si(10.0, 5e3),
            "primary_inductance": si(5.0, 1e3),
            "secondary_resistance": si(1.0, 500.0),
            "winding_capacitance": si(10e-12, 2e-9),
            "leakage_inductance": si(1e-3, 10.0),
            **PASSIVE_SWITCH,
        },
    )
    .map(_bypassed)
    .map(_damped)
)
FAR_END = st.one_of(
    st.just({"open": True}),
    some(
        {"input_resistance": si(10e3, 10e6)}, {"input_capacitance": si(5e-12, 1e-9), **STOPPER}
    ).map(stopped),
)


FAR_AMP = some({}, {"name": st.just('the "dry" amp')}).flatmap(
    lambda named: DESTINATION.map(lambda keys: named | keys)
)


def _stage(kinds: list[st.SearchStrategy[Table]]) -> st.SearchStrategy[Table]:
    return st.one_of(kinds).map(lambda keys: {"stage": "", **keys})


@st.composite
def _items(
    draw: st.DrawFn, cables: list[str], depth: int, most: int, *, splits: bool
) -> list[Table]:
    """Draw a chain, or what is inside a loop or a split; names are given later."""
    cable = st.sampled_from(cables)
    laid = some({"cable": cable, "length": LENGTH}, {})
    branch = st.tuples(laid, FAR_END).map(lambda pair: {"tap": "", **pair[0], **pair[1]})
    kinds = [_stage([ACTIVE]), _stage([VOLUME_PEDAL, PAD, TRANSFORMER]), laid, branch]
    if depth < DEEPEST:
        inside = _items(cables, depth + 1, 3, splits=splits)
        inside = inside.filter(lambda it: any("tap" not in i for i in it))
        kinds += [some({"loop": st.just(""), "inside": inside}, REMAINS) for _ in range(2)]
        if splits:
            inside = st.just([]) | _items(cables, depth + 1, 3, splits=True)
            kinds += [some({"split": st.just(""), "inside": inside, "destination": FAR_AMP}, {})]
    return [draw(st.one_of(kinds)) for _ in range(draw(st.integers(1, most)))]


@st.composite
def boards(draw: st.DrawFn, *, splits: bool = True) -> Table:
    """Draw a complete board with every kind of item and key; `splits` says whether with those."""
    cables = draw(st.dictionaries(st.sampled_from(CABLE_NAMES), CABLE, min_size=1, max_size=3))
    names = sorted(cables)
    chain = draw(_items(names, 0, 8, splits=splits))
    if draw(st.booleans()):
        chain.insert(0, {"cable": draw(st.sampled_from(names)), "length": draw(LENGTH)})
    for number, item in enumerate(flat(chain), 1):
        for key in ("stage", "loop", "tap", "split"):
            if key in item:
                item[key] = f"{WORDS[number % len(WORDS)]} {number}"
    board: Table = {
        "title": "drawn",
        "instrument": draw(st.one_of(ONE_COIL, SEVERAL, ACTIVE_INSTRUMENT)),
        "destination": draw(DESTINATION),
        "cables": cables,
        "chain": chain,
    }
    if draw(st.integers(0, 2)):
        board["wiring"] = {"cable": draw(st.sampled_from(names)), "length": draw(LENGTH)}
    board["scenes"] = {
        f"scene {n}": sorted(draw(states(board))) for n in range(draw(st.integers(0, 2)))
    }
    return board


CABLE_NAMES = ("lead", "patch", "long run", "1.5 mm²")
WORDS = ("fuzz", "Hallé", "swell", 'the "wet" one', "box.2", "low end")


def flat(items: list[Table]) -> Iterator[Table]:
    """Yield every item, loops and splits before what is inside them."""
    for item in items:
        yield item
        yield from flat(item.get("inside", []))


def switch(item: Table) -> str | None:
    """Return the name by which an item is switched, None if it cannot be."""
    if "loop" in item:
        return str(item["loop"])
    if "stage" not in item:
        return None
    passive = item.get("kind", "active") != "active"
    return None if item.get("always_on", passive) else str(item["stage"])


def switches(board: Table) -> list[str]:
    """Return the names of all that can be switched, in chain order."""
    return [name for item in flat(board["chain"]) if (name := switch(item)) is not None]


def ends(board: Table) -> list[str]:
    """Return where one can listen: the end of the chain, empty, and that of each split."""
    return ["", *(item["split"] for item in flat(board["chain"]) if "split" in item)]


def states(board: Table) -> st.SearchStrategy[frozenset[str]]:
    """Draw a state of a board: the names of what is on."""
    names = switches(board)
    if not names:
        return st.just(frozenset())
    return st.tuples(*[st.booleans() for _ in names]).map(
        lambda on: frozenset(name for name, is_on in zip(names, on, strict=True) if is_on)
    )


@st.composite
def boards_in_a_state(draw: st.DrawFn, *, splits: bool = True) -> tuple[Table, frozenset[str], str]:
    """Draw a board, a state of it, and the text of its file."""
    board = draw(boards(splits=splits))
    return board, draw(states(board)), to_toml(board, draw(st.integers(0, 999)))


UNITS = {
    **dict.fromkeys(("inductance", "primary_inductance", "leakage_inductance"), "H"),
    **dict.fromkeys(("low_pass", "high_pass"), "Hz"),
    **dict.fromkeys(
        ("track", "volume_track", "tone_track", "bass_cut_track", "treble_bleed_resistor"), "Ω"
    ),
    **dict.fromkeys(
        (
            "capacitance",
            "input_capacitor",
            "output_capacitor",
            "tone_capacitor",
            "treble_bleed_capacitor",
            "bass_cut_capacitor",
        ),
        "F",
    ),
    **dict.fromkeys(("bypass_input_capacitor", "bypass_output_capacitor"), "F"),
    **dict.fromkeys(("gain", "bypass_gain"), "dB"),
    "length": "m",
    "input_noise_voltage": "V/rtHz",
    "input_noise_current": "A/rtHz",
}
PREFIXES = {-15: "f", -12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M"}


def _unit(key: str, place: str) -> str:
    """Return the SI unit of a key, empty for a plain number."""
    ends = {"resistance": "Ω", "capacitance": "F"}
    unit = UNITS.get(key) or ends.get(key.rpartition("_")[2], "")
    per_metre = place.startswith("cables.") and key in ("capacitance", "resistance", "inductance")
    return unit + "/m" if per_metre else unit


def _quantity(value: float, unit: str, spelling: random.Random) -> str:
    """Write a value in one of the ways a person would."""
    way = spelling.choice(["bare", "spaced", "joined", "prefix only", "tolerance", "imperial"])
    if not unit or way == "bare":
        return repr(value)
    if unit == "dB":
        return json.dumps(f"{value!r} dB")
    if unit == "m":
        name, size = spelling.choice([("m", 1.0), ("ft", FOOT), ("in", INCH), ("cm", 0.01)])
        return json.dumps(f"{value / size:.15g} {name}")
    if way == "imperial" and unit.endswith("/m"):
        value, unit = value * FOOT, unit.removesuffix("m") + "ft"
    power = 3 * math.floor(math.log10(value) / 3) if value else 0
    power = min(max(power, min(PREFIXES)), max(PREFIXES))
    # A bare "6 m" is a length and not milli of something: without a unit the prefix is joined.
    gap = "" if way in ("joined", "prefix only") else " "
    text = f"{value / 10.0**power:.15g}{gap}{PREFIXES[power]}"
    if way != "prefix only" or power == 0:
        text += unit
    return _text(text + (" ± 10 %" if way == "tolerance" else ""))


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _value(key: str, value: object, place: str, spelling: random.Random) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return _quantity(value, _unit(key, place), spelling)
    return json.dumps(value, ensure_ascii=False)


def _table(header: str, table: Mapping[str, Any], place: str, spelling: random.Random) -> list[str]:
    lines = ["", header]
    below: list[str] = []
    for key, value in table.items():
        name = key if key.isidentifier() and key.isascii() else _text(key)
        if isinstance(value, list) and value and isinstance(value[0], dict):
            for entry in value:
                below += _table(f"[[{place}.{key}]]", entry, f"{place}.{key}", spelling)
        elif not isinstance(value, dict):
            lines.append(f"{name} = {_value(key, value, place, spelling)}")
        elif spelling.random() < 0.5:
            inline = (f"{k} = {_value(k, v, place, spelling)}" for k, v in value.items())
            lines.append(f"{name} = {{ {', '.join(inline)} }}")
        else:
            own = _table(f"[{place}.{key}]", value, f"{place}.{key}", spelling)
            below = below + own if spelling.random() < 0.5 else own + below
    return lines + below


def to_toml(board: Table, seed: int = 0) -> str:
    """Write a board as the text of its file; `seed` decides how each quantity is spelt."""
    spelling = random.Random(seed)
    lines = [f"title = {_text(board['title'])}"]
    for name in ("instrument", "destination", "wiring", "layout", "scenes"):
        if name in board:
            lines += _table(f"[{name}]", board[name], name, spelling)
    for name, table in board["cables"].items():
        lines += _table(f"[cables.{_text(name)}]", table, f"cables.{name}", spelling)
    for name, table in board.get("boxes", {}).items():
        lines += _table(f"[boxes.{_text(name)}]", table, f"boxes.{name}", spelling)
    for item in board["chain"]:
        lines += _table("[[chain]]", item, "chain", spelling)
    for name, table in board.get("supplies", {}).items():
        lines += _table(f"[supplies.{_text(name)}]", table, f"supplies.{_text(name)}", spelling)
    return "\n".join(lines) + "\n"

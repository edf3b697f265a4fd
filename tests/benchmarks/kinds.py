"""Boards of many things that switch, of each kind and mixed."""

from __future__ import annotations

import random
from typing import Final

_PAD: Final = """[[chain]]
stage = "{name}"
kind = "pad"
always_on = false
series_resistance = "{series:.3g}k"
shunt_resistance = "{shunt:.3g}k"
"""
_PART: Final = '[[chain]]\nstage = "{name}"\npart = "{part}"\n'
_LOOP: Final = (
    '[[chain]]\nloop = "{name} loop"\n'
    '[[chain.inside]]\nstage = "{name}"\npart = "pedal-true-bypass"\n'
)
_POWERED: Final = (
    "pedal-true-bypass", "drive-high-impedance", "modulation-true-bypass", "pedal-buffered",
)  # fmt: skip
_MIXED: Final = ("pads", "powered", "hardwired", "loops")
_HEAD: Final = """
[instrument]
part = "bass-split-coil"
[destination]
part = "instrument-input"
[cables.lead]
part = "cable-standard"
[cables.patch]
part = "cable-patch"
[wiring]
cable = "patch"
length = "25 cm"
"""
_LEAD: Final = '[[chain]]\ncable = "lead"\nlength = "6 m"\n'


def kind_text(kind: str, count: int) -> str:
    """Return a board of so many things: pads, powered, hardwired, loops with a pedal, or mixed."""
    draw = random.Random(5)
    chain = "".join(_thing(kind, number, draw) for number in range(count))
    return f"{_HEAD}{_LEAD}{chain}{_LEAD}"


def _thing(kind: str, number: int, draw: random.Random) -> str:
    name = f"s{number}"
    if kind == "mixed":
        kind = _MIXED[number % len(_MIXED)]
    if kind == "pads":
        return _PAD.format(name=name, series=draw.uniform(5, 60), shunt=draw.uniform(50, 500))
    if kind == "loops":
        return _LOOP.format(name=name)
    part = "vintage-hardwire" if kind == "hardwired" else _POWERED[number % len(_POWERED)]
    return _PART.format(name=name, part=part)

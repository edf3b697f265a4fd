"""Boards with splits, for what a person sees of them."""

from __future__ import annotations

from pathlib import Path
from typing import Final

HEAD: Final = """
title = "two amps"
[instrument]
part = "bass-split-coil"
[destination]
part = "valve-amplifier-input"
[cables.lead]
part = "cable-standard"
"""
WIRING: Final = '[wiring]\ncable = "lead"\nlength = "20 cm"\n'


def cable(length: str, depth: int = 0) -> str:
    return f'[[chain{".inside" * depth}]]\ncable = "lead"\nlength = "{length}"\n'


def stage(name: str, part: str = "pedal-true-bypass", depth: int = 0, more: str = "") -> str:
    return f'[[chain{".inside" * depth}]]\nstage = "{name}"\npart = "{part}"\n{more}'


def split(name: str, end: str = '{ part = "instrument-input" }', depth: int = 0) -> str:
    return f'[[chain{".inside" * depth}]]\nsplit = "{name}"\ndestination = {end}\n'


def loop(name: str) -> str:
    return f'[[chain]]\nloop = "{name}"\n'


INTERFACE: Final = '{ part = "instrument-input", name = "interface" }'
# A Y behind the first pedal, with a pedal on each way.
TWO_AMPS: Final = (
    HEAD + WIRING + cable("6 m") + stage("drive") + split("second amp", INTERFACE)
    + cable("3 m", 1) + stage("echo", depth=1) + cable("6 m", 1) + stage("wah") + cable("4 m")
    + '[scenes]\nboth = ["echo", "wah"]\n'
)  # fmt: skip
# The same Y inside a loop.
IN_A_LOOP: Final = (
    HEAD + WIRING + cable("6 m") + stage("drive") + loop("L") + stage("fuzz", depth=1)
    + split("second amp", INTERFACE, 1) + cable("3 m", 2) + stage("echo", depth=2)
    + cable("6 m", 2) + stage("wah") + cable("4 m")
    + '[scenes]\nboth = ["echo", "wah"]\n'
)  # fmt: skip


def written(folder: Path, text: str, name: str = "board.toml") -> Path:
    """Return where the text of a board stands."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path

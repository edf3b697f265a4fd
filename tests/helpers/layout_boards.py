"""A laid-out board of our own, in pieces that a test changes."""

from __future__ import annotations

from pathlib import Path
from typing import Final

HEAD: Final = """title = "{title}"
[instrument]
part = "bass-split-coil"
[destination]
part = "solid-state-amplifier-input"
[cables.lead]
part = "cable-standard"
[cables.patch]
part = "cable-patch"
{sold}
[wiring]
cable = "patch"
[layout]
size = ["60 cm", "32 cm"]
rows = {rows}
gap = "4 cm"
slack = "3 cm"
entry = "right"
exit = "left"
"""
SOLD: Final = 'sold = ["10 cm", "20 cm", "30 cm", "60 cm"]'
LEAD: Final = '[[chain]]\ncable = "lead"\nlength = "{}"\n'
NAMES: Final = ("tuner", "fuzz", "octave", "drive", "swell", "wheel", "echo")
ROWS: Final = [["echo", "wheel", "swell"], ["drive", "octave", "fuzz", "tuner"]]


def box(name: str, more: str = "", *, width: str = "8 cm", depth: str = "12 cm") -> str:
    """Return a stage of the chain with its outline."""
    size = f'width = "{width}"\ndepth = "{depth}"\n'
    return f'[[chain]]\nstage = "{name}"\npart = "pedal-true-bypass"\n{size}{more}'


def laid_out(
    rows: list[list[str]] | None = None,
    chain: str = "",
    *,
    sold: str = SOLD,
    title: str = "Rig",
    more: str = "",
) -> str:
    """Return the text of a board: seven boxes in two rows, signal from right to left."""
    toml = str([*(ROWS if rows is None else rows)]).replace("'", '"')
    head = HEAD.format(title=title, sold=sold, rows=toml)
    return (
        head + more + LEAD.format("5 m") + (chain or "".join(map(box, NAMES))) + LEAD.format("6 m")
    )


def saved(folder: Path, text: str, name: str = "rig.toml") -> Path:
    """Write a board file and return its path."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path

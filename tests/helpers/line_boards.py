"""Boards to draw: short and long, with loops, taps and splits, with odd names. All invented."""

from __future__ import annotations

import random
from typing import Final

HEAD: Final = (
    '[instrument]\npart = "bass-split-coil"\n[destination]\npart = "solid-state-amplifier-input"\n'
    'name = "amp"\n[cables.lead]\npart = "cable-standard"\n[cables.patch]\npart = "cable-patch"\n'
    '[wiring]\ncable = "patch"\nlength = "25 cm"\n'
)
NAMES: Final = (
    "tuner", "bilge fuzz", "engine room", "octave below", "porthole filter", "swell",
    "paddle wheel", "gravel", "lantern chorus", "whirl", "ripple tremolo", "far shore echo",
    "anchor", "foghorn wah", "night watch", "even keel", "steam", "haze", "car deck reverb",
    "last dance preamp",
)  # fmt: skip
ODD: Final = (
    "An extraordinarily long name that nobody would ever write upon a strip of tape, ok",
    "<b onclick=alert(1)>bold</b>&amp;", "صندوق الصدى الطويل", "\N{GUITAR} fuzz \N{GUITAR}",
    "Nachtfährenkapitänskajütenschlüsselverwaltungsgehilfenverstärker", "x",
)  # fmt: skip


def cable(length: str, where: str = "chain", kind: str = "lead") -> str:
    """Return a cable of a board file."""
    return f'[[{where}]]\ncable = "{kind}"\nlength = "{length}"\n'


def box(name: str, where: str = "chain", part: str = "pedal-true-bypass") -> str:
    """Return a box of a board file."""
    return f'[[{where}]]\nstage = "{name}"\npart = "{part}"\n'


def row(count: int) -> str:
    """Return a board of boxes in a row."""
    names = [NAMES[i % 20] if i < 20 else f"{NAMES[i % 20]} {i}" for i in range(count)]
    return HEAD + cable("5 m") + "".join(map(box, names)) + cable("9 m")


def busy() -> str:
    """Return twenty boxes with a loop of four, a tap and a split."""
    loop = '[[chain]]\nloop = "rough loop"\n' + "".join(
        box(name, "chain.inside") for name in ("foghorn two", "grain", "spark", "undertow")
    )
    tap = '[[chain]]\ntap = "tuner out"\ncable = "patch"\nlength = "1.5 m"\nopen = true\n'
    split = (
        '[[chain]]\nsplit = "second amp"\n'
        'destination = { part = "valve-amplifier-input", name = "amp 2" }\n'
        + cable("4 m", "chain.inside") + box("spring box", "chain.inside")
        + cable("2 m", "chain.inside")
    )  # fmt: skip
    parts = [box(name) for name in NAMES]
    return HEAD + cable("5 m") + "".join(
        (*parts[:4], loop, *parts[4:9], tap, *parts[9:14], split, *parts[14:], cable("9 m"))
    )  # fmt: skip


def odd() -> str:
    """Return names and lengths as odd as a file may have them."""
    rng = random.Random(7)
    made = HEAD + cable("30 m")
    for name in ODD:
        made += box(name, part="buffer-jfet" if name == "x" else "pedal-true-bypass")
        made += cable(f"{rng.choice((3, 5, 33, 79, 80, 81, 120, 700))} cm", kind="patch")
    taps = "".join(
        f'[[chain]]\ntap = "side {length}"\ncable = "lead"\nlength = "{length}"\nopen = true\n'
        for length in ("10 cm", "3 m", "12 m")
    )
    return made + box("last") + taps + cable("30 m")


def nested() -> str:
    """Return loops in loops and splits in splits."""
    deep, where = "", "chain"
    for level in range(4):
        deep += f'[[{where}]]\nloop = "loop {level}"\n'
        where += ".inside"
        deep += box(f"before {level}", where)
    splits, where = "", "chain"
    for level in range(3):
        splits += f'[[{where}]]\nsplit = "way {level}"\n'
        splits += 'destination = { part = "valve-amplifier-input" }\n'
        where += ".inside"
        splits += cable("2 m", where) + box(f"aside {level}", where)
    return HEAD + cable("5 m") + deep + box("between") + splits + cable("4 m")


def loop(name: str, where: str, inside: str) -> str:
    """Return a loop of a board file, with what is inside as TOML."""
    return f'[[{where}]]\nloop = "{name}"\n{inside}'


def wide() -> str:
    """Return loops and taps side by side, each wide enough to stand below the others."""

    def filled(name: str, where: str) -> str:
        within = f"{where}.inside"
        return loop(name, where, "".join(box(f"{name} {n}", within) for n in NAMES[:6]))

    inner = "".join(filled(f"inner {n}", "chain.inside") for n in range(3))
    tap = '[[chain]]\ntap = "side"\ncable = "patch"\nlength = "4 m"\nopen = true\n'
    three = "".join(filled(f"loop {n}", "chain") for n in range(3))
    return HEAD + cable("2 m") + three + tap + loop("outer", "chain", inner) + cable("3 m")


BOARDS: Final = {
    "8": row(8), "20": row(20), "40": row(40), "busy": busy(), "odd": odd(), "nested": nested(),
    "wide": wide(),
}  # fmt: skip

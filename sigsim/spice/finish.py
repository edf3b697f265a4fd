"""From a network to the lines of a netlist: names chosen, loops broken, paths to ground added."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from sigsim.spice.network import GROUND, LOOP_RESISTANCE, OUT, PATH_INDUCTANCE, Entry, Groups
from sigsim.spice.text import number

if TYPE_CHECKING:
    from sigsim.spice.network import Network


def lines(net: Network) -> Iterator[str]:
    """Yield the lines of all elements, then what the simulator needs besides."""
    shown = _names(net)
    kept = _kept(net)
    looping = _looping(net, kept)
    for element in kept:
        if not element.ends:
            yield f"* {element.name}"
        elif element.name in looping:
            yield from _with_resistance(element, shown, net)
        else:
            nodes = " ".join(shown[net.root(end)] for end in element.ends)
            yield f"{element.name} {nodes} {element.tail}"
    yield from _paths(net, kept, shown)
    if net.root(net.names.index(OUT)) == GROUND:
        yield "* The output is shorted: nothing comes out."
        yield f"Vsilent {OUT} 0 DC 0"
    for holds, name in net.models.items():
        yield f".model {name} ltra {holds}"


def driving(net: Network) -> str | None:
    """Return the name of a source that is not left out, None if all are."""
    kept = {element.name for element in _kept(net)}
    return next((name for name in net.sources if name in kept), None)


def aliases(net: Network) -> Iterator[str]:
    """Yield a sentence for every node that goes by another's name."""
    shown = _names(net)
    for node, name in enumerate(net.names):
        if shown[net.root(node)] != name:
            yield f"{name} is {shown[net.root(node)]}"


def shown(net: Network, node: int) -> str | None:
    """Return the name by which a node goes, None where it is ground."""
    root = net.root(node)
    return None if root == GROUND else _names(net)[root]


def _names(net: Network) -> dict[int, str]:
    """Return a name for every root: the output's, else that of the first of the joined nodes."""
    shown = {root: net.names[root] for root in {net.root(n) for n in range(len(net.names))}}
    out = net.root(net.names.index(OUT))
    if out != GROUND:
        shown[out] = OUT
    return shown


def _kept(net: Network) -> list[Entry]:
    """Return the elements without those that are shorted and sources that double another."""
    kept, sources = [], set()
    for element in net.entries:
        if element.ends:
            a, b = _ends(net, element)
            if a == b:
                kept.append(Entry(f"{element.name} is left out: both its ends are one node"))
                continue
            if element.name in net.sources:
                if (a, b) in sources:
                    kept.append(Entry(f"{element.name} is left out: another like it is there"))
                    continue
                sources.add((a, b))
        kept.append(element)
    return kept


def _ends(net: Network, element: Entry) -> tuple[int, int]:
    """Return the two nodes between which direct current passes."""
    far = 2 if element.name[0] == "O" else 1
    return net.root(element.ends[0]), net.root(element.ends[far])


def _looping(net: Network, kept: list[Entry]) -> set[str]:
    """Return the names of the inductors that close a loop without resistance."""
    shorts = Groups()
    found = set()
    passing = [e for e in kept if e.ends and e.path == "short"]
    for element in sorted(passing, key=lambda e: e.inductance > 0):
        if shorts.join(*_ends(net, element)) and element.inductance:
            found.add(element.name)
    return found


def _with_resistance(element: Entry, shown: dict[int, str], net: Network) -> Iterator[str]:
    """Yield an inductor with a nanoohm in series, written as a controlled voltage."""
    a, b = (shown[net.root(end)] for end in element.ends)
    name, one, two = element.name, f"{element.name}_1", f"{element.name}_2"
    yield "* The next inductor closes a loop of no resistance; a nanoohm makes it solvable."
    yield f"V{name} {a} {one} DC 0"
    yield f"H{name} {one} {two} V{name} {number(LOOP_RESISTANCE)}"
    yield f"{name} {two} {b} {element.tail}"


def _paths(net: Network, kept: list[Entry], shown: dict[int, str]) -> Iterator[str]:
    """Yield a path to ground for every group of nodes that has none for direct current."""
    groups = Groups()
    used: dict[int, None] = {}
    for element in kept:
        for end in element.ends:
            used[net.root(end)] = None
        if element.path:
            groups.join(*_ends(net, element))
    floating = [n for n in used if groups.root(n) == n and n != GROUND]
    if floating:
        yield "* No direct current reaches these nodes; an inductor of over 1e15 ohms at 20 Hz"
        yield "* lets a simulator find its operating point and changes nothing else."
    for node in floating:
        yield f"L_path_{shown[node]} {shown[node]} 0 {number(PATH_INDUCTANCE)}"

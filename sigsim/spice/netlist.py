"""A board in one state as the text of a netlist."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim.metrics import HIGHEST_HZ, LOWEST_HZ
from sigsim.physics.noise import ROOM_TEMPERATURE
from sigsim.spice.emit import Span, describe, destination, emit
from sigsim.spice.emit_instrument import instrument
from sigsim.spice.emit_line import LineStyle
from sigsim.spice.emit_noise import ZERO_CELSIUS
from sigsim.spice.finish import aliases, driving, lines
from sigsim.spice.network import OUT, Network
from sigsim.spice.text import folded, number, safe
from sigsim.states.path import Met, path, reference_path

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.metrics import Reference

POINTS_PER_DECADE: Final = 30
_MOST_NAMED: Final = 200


@dataclass(frozen=True)
class Netlist:
    """A circuit as text.

    Attributes
    ----------
    text : of the file
    left_out : what a netlist cannot say of this board, in plain sentences
    approximated : what it says by other parts that come near, in plain sentences
    """

    text: str
    left_out: tuple[str, ...]
    approximated: tuple[str, ...] = ()


def netlist(
    board: Board,
    state: State | None = None,
    *,
    reference: Reference | None = None,
    style: LineStyle | None = None,
    noise: bool = False,
    points: int = POINTS_PER_DECADE,
) -> Netlist:
    """Write a board in one state as a netlist with an AC analysis of the voltage at `out`.

    Parameters
    ----------
    board : the board
    state : of the board; every stage off without
    reference : write the circuit of this reference instead of the board's own
    style : how cables are written; as the simulator's lossy lines without
    noise : add the noise of stages and a noise analysis
    points : frequencies per decade

    Raises
    ------
    SigsimError : the board holds a kind of item of which no circuit is known
    """
    state = state or board.state(())
    net = Network(noise=noise)
    if reference is None:
        met = list(path(board.chain, state.on))
    else:
        met = list(reference_path(board, state.on, reference))
    _circuit(net, board, met, style or LineStyle())
    body = list(lines(net))
    heading = _heading(board, state, reference, net)
    text = [*heading, *body, *_joined(net), *_analyses(net, points), ".end"]
    whole = (piece for line in text for piece in folded(line))
    return Netlist("\n".join(whole) + "\n", tuple(net.left_out), tuple(net.approximated))


def _circuit(net: Network, board: Board, met: list[Met], style: LineStyle) -> None:
    """Write all items; the node before each is named after it."""
    width = max(2, len(str(len(met) + 1)))
    label = f"{len(met) + 1:0{width}}"
    before = []
    for index, (item, _) in enumerate(met, 1):
        net.item(f"{index:0{width}}", item.label, "item")
        before.append(net.node("in"))
    out = net.named(OUT)
    net.item(label, "destination", "destination")
    ends = [*before, net.node("in") if board.destination.input.stopper else out]
    net.item("0" * width, "instrument", "instrument")
    net.comment(f"{'0' * width} instrument, 1 V in each of its sources")
    instrument(board.instrument, net, ends[0])
    for index, (item, is_on) in enumerate(met, 1):
        net.item(f"{index:0{width}}", item.label, "item")
        net.comment(f"{index:0{width}} {safe(item.label)}: {describe(item, is_on)}")
        emit(item, Span(net, ends[index - 1], ends[index], is_on, style))
    net.item(label, "destination", "destination")
    net.comment(f"{label} {safe(board.destination.name)}")
    destination(board.destination, net, ends[-1], out)


def _heading(
    board: Board, state: State, reference: Reference | None, net: Network
) -> Iterator[str]:
    yield f"* sigsim: {safe(board.name)}"
    yield f"* State: {safe(state.name)}"
    if reference is not None:
        yield f"* This is the {reference} reference of that state, not the board itself."
    yield "* The chain from instrument to destination, each item under its number. The node before"
    yield f"* an item has its name and ends in _in; the voltage at the destination is v({OUT})."
    yield "* Units: ohm, henry, farad, metre. Values are plain numbers."
    for sentence in net.left_out:
        yield f"* Not in this netlist: {sentence}."
    for sentence in net.approximated:
        yield f"* Nearly: {sentence}."
    yield "*"


def _joined(net: Network) -> Iterator[str]:
    """Yield which nodes are one, so that every name of the chain can be found."""
    named = list(aliases(net))
    if named:
        yield "*"
        yield "* Nodes that are joined by a wire and go by one name:"
    for sentence in named[:_MOST_NAMED]:
        yield f"*   {sentence}"
    if len(named) > _MOST_NAMED:
        yield f"*   and {len(named) - _MOST_NAMED} more"


def _analyses(net: Network, points: int) -> Iterator[str]:
    sweep = f"dec {points} {number(LOWEST_HZ)} {number(HIGHEST_HZ)}"
    yield "*"
    yield (
        f"* {LOWEST_HZ:g} Hz to {HIGHEST_HZ:g} Hz; vdb is in decibels, vp the phase, "
        "in radians where"
    )
    yield "* the simulator is ngspice."
    # Some simulators carry out the lines in order, so that .print must come before .ac.
    yield f".print ac vdb({OUT}) vp({OUT})"
    yield f".ac {sweep}"
    source = driving(net)
    if net.noise and source is not None:
        yield (
            f"* Noise at {ROOM_TEMPERATURE:g} K, as a density: onoise is at the output, in V per "
            "root Hz."
        )
        yield f".options temp={number(round(ROOM_TEMPERATURE - ZERO_CELSIUS, 2))}"
        yield f".noise v({OUT}) {source} {sweep}"
        yield ".print noise all"

"""A board in one state as the text of a netlist."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim.metrics import HIGHEST_HZ, LOWEST_HZ
from sigsim.physics.noise import ROOM_TEMPERATURE
from sigsim.spice.emit_line import LineStyle
from sigsim.spice.emit_noise import ZERO_CELSIUS
from sigsim.spice.finish import aliases, driving, lines, shown
from sigsim.spice.network import OUT, Network
from sigsim.spice.text import folded, number, safe
from sigsim.spice.tree import of_board, of_reference, write

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

    All of its ends are written; `out` is the one where one listens.

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
    way = (
        of_board(board, state.on) if reference is None else of_reference(board, state.on, reference)
    )
    ends = write(net, board, way, style or LineStyle())
    body = list(lines(net))
    heading = _heading(board, state, reference, net, ends)
    text = [*heading, *body, *_joined(net), *_analyses(net, points), ".end"]
    whole = (piece for line in text for piece in folded(line))
    return Netlist("\n".join(whole) + "\n", tuple(net.left_out), tuple(net.approximated))


def _heading(
    board: Board, state: State, reference: Reference | None, net: Network, ends: Mapping[str, int]
) -> Iterator[str]:
    yield f"* sigsim: {safe(board.title or board.file)}"
    if board.changes:
        yield f"* Changed: {safe(board.changes.said)}"
    yield f"* State: {safe(state.name)}"
    if reference is not None:
        yield f"* This is the {reference} reference of that state, not the board itself."
    yield "* The chain from instrument to destination, each item under its number. The node before"
    yield f"* an item has its name and ends in _in; the voltage at the destination is v({OUT})."
    if reference is None:
        yield from (f"* {sentence}" for sentence in _other_ends(board, net, ends))
    yield "* Units: ohm, henry, farad, metre. Values are plain numbers."
    for sentence in net.left_out:
        yield f"* Not in this netlist: {sentence}."
    for sentence in net.approximated:
        yield f"* Nearly: {sentence}."
    yield "*"


def _other_ends(board: Board, net: Network, ends: Mapping[str, int]) -> Iterator[str]:
    """Yield at which end the voltage is `out` where there are several, and where the others are."""
    if len(board.ends) == 1:
        return
    yield f"That is {safe(board.end.name)}; the other ends:"
    for at in board.ends:
        if at == board.at:
            continue
        name = safe(board.heard_at(at).end.name)
        if at not in ends:
            yield f"  {name} is not in the circuit: the loop around it is out."
        elif (node := shown(net, ends[at])) is None:
            yield f"  {name} is shorted."
        else:
            yield f"  the voltage at {name} is v({node})."


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

"""What an experienced player would ask about before building a board."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.board.ends import MAIN
from sigsim.decide.check.caution import Caution
from sigsim.decide.check.feeding import feeding_cautions
from sigsim.decide.check.joints import hangs_open, joint_cautions
from sigsim.decide.check.standing import standing_cautions
from sigsim.decide.check.unheard import (
    always_on_in_scenes,
    ends_of_one_name,
    source_cautions,
    unused_cautions,
)
from sigsim.decide.cures import remedies
from sigsim.decide.limits import exceeded
from sigsim.decide.order.obeyed import unmet
from sigsim.decide.pickup import has_pickup, hidden_pickups, wanting
from sigsim.items.cable import Cable
from sigsim.items.instrument import PassiveInstrument
from sigsim.items.loop import Loop
from sigsim.items.passive_stage import Transformer, VolumePedal
from sigsim.items.split import Branch, Split
from sigsim.items.stage import ActiveStage
from sigsim.items.tap import Tap
from sigsim.physics.arrays import scalar
from sigsim.physics.source import Source
from sigsim.states.circuit import Circuit
from sigsim.states.path import branch, path, segments

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.items.base import Item
    from sigsim.items.destination import Destination
    from sigsim.items.split import Meeting

# A load should be ten times its source (bridging; common practice, no source).
BRIDGING: Final = 10.0
# Just ten times is ten times, whatever a few picofarads take of it.
_TOO_LOW: Final = 0.999 * BRIDGING
LONG_CABLE_M: Final = 10.0
_LOW_HZ: Final = 100.0


def cautions(board: Board) -> tuple[Caution, ...]:
    """Return all cautions of a board, in the order in which the signal meets them.

    They are of the whole board, whatever end one listens at.
    """
    board = board.heard_at(MAIN)
    return (
        *source_cautions(board),
        *joint_cautions(board),
        *standing_cautions(board),
        *_knobs(board),
        *_long_cable(board),
        *_pickup_wanted(board),
        *_order_broken(board),
        *_loading(board),
        *_open_taps(board),
        *ends_of_one_name(board),
        *unused_cautions(board),
        *_hidden_in_scenes(board),
        *always_on_in_scenes(board),
        *feeding_cautions(board),
        *_too_large(board),
    )


def _knobs(board: Board) -> Iterator[Caution]:
    for knob in knobs_at_zero(board, board.switches()):
        yield Caution("knob-at-zero", knob)


def knobs_at_zero(board: Board, on: On) -> Iterator[str]:
    """Yield the knobs at 0 that let nothing through while these things are on."""
    instrument = board.instrument
    if isinstance(instrument, PassiveInstrument):
        if instrument.volume_track is not None and instrument.volume == 0:
            yield "the instrument's volume knob"
        yield from _pickup_knobs(instrument)
    for item in board.items():
        heard = item.switch is None or item.switch in on
        if isinstance(item, VolumePedal) and item.position == 0 and heard:
            yield f"the volume pedal '{item.stage}'"


def _pickup_knobs(instrument: PassiveInstrument) -> Iterator[str]:
    """Look for pickups that are turned down and take the others with them, or that are alone."""
    down = [p for p in instrument.pickups if p.volume_track is not None and p.volume == 0]
    for pickup in down:
        shorts = pickup.volume_wiring == "output at wiper" or len(down) == len(instrument.pickups)
        if shorts and instrument.pickups_wiring == "parallel":
            yield f"the volume knob of pickup '{pickup.name}'"


def _long_cable(board: Board) -> Iterator[Caution]:
    """Look at the cable before the first isolator while everything is off."""
    first = next(segments(path(board.chain, ())))
    lengths = [(cable.cable, scalar(cable.length)) for cable in _cables(first.run)]
    longest = max(lengths, key=lambda entry: entry[1], default=("", 0.0))
    total = sum(length for _, length in lengths)
    if longest[1] > LONG_CABLE_M:
        yield Caution("long-cable", longest[0], {"length": longest[1]})
    elif total > LONG_CABLE_M:
        yield Caution("long-run", "", {"lengths": tuple(length for _, length in lengths)})


def _cables(run: Iterable[Meeting]) -> Iterator[Cable]:
    """Yield the cables of a passive run, those of the other ways at its splits as well.

    Behind a step-down transformer a cable is driven by far less than the instrument's impedance.
    """
    for item, is_on in run:
        if isinstance(item, Transformer) and is_on and np.all(np.asarray(item.ratio) > 1):
            return
        if isinstance(item, Cable):
            yield item
        elif isinstance(item, Branch):
            yield from _cables(item.run)


def _pickup_wanted(board: Board) -> Iterator[Caution]:
    """Look for what isolates a stage that wants to see the pickup, and for what cures that."""
    wants = wanting(board)
    if wants and not has_pickup(board):
        yield Caution("no-pickup", wants[0], {"names": wants})
    found = {remedy.hidden.stage: remedy for remedy in remedies(board)}
    for hidden in hidden_pickups(board):
        yield Caution(
            "pickup-hidden", hidden.stage, {"hidden": hidden, "remedy": found.get(hidden.stage)}
        )


def _order_broken(board: Board) -> Iterator[Caution]:
    for stage, rule, other in unmet(board):
        yield Caution("order-broken", stage, {"rule": rule, "other": other})


def _loading(board: Board) -> Iterator[Caution]:
    """Look for inputs under ten times their source, for every source that can come before them."""
    circuit = Circuit(board, np.array([_LOW_HZ]))
    walk = _Sources(circuit)
    yield from walk.over(board.chain)
    yield from walk.into(board.destination)


def _loaded(subject: str, ratio: float, source: str, Z: float) -> Caution:
    return Caution("low-input", subject, {"ratio": ratio, "source": source, "impedance": Z})


class _Sources:
    """Every source that can stand before the point reached, with all between switched off."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.names = ["the instrument"]
        self.Z = np.atleast_1d(np.asarray(circuit.start.Z, dtype=complex))[:1]

    def over(self, items: tuple[Item, ...]) -> Iterator[Caution]:
        for item in items:
            if isinstance(item, Loop):
                yield from self._loop(item)
            elif isinstance(item, Split):
                yield from self._split(item)
            else:
                yield from self._item(item)

    def _loop(self, loop: Loop) -> Iterator[Caution]:
        before_names, before_Z = list(self.names), self.Z
        yield from self.over(loop.inside)
        inside = slice(len(before_names), None)
        self.names, self.Z = before_names + self.names[inside], np.append(before_Z, self.Z[inside])
        self._pass(loop, False)

    def _split(self, split: Split) -> Iterator[Caution]:
        """Look into the other way, then go on with what of it hangs on this one."""
        names, Z = list(self.names), self.Z
        yield from self.over(split.inside)
        yield from self.into(split.destination)
        self.names, self.Z = names, Z
        self._pass(branch(split, ()), True)

    def into(self, end: Destination) -> Iterator[Caution]:
        """Look at the input at an end."""
        ratio, source, Z = self.least(end.load(self.circuit.jw).Y)
        if ratio < _TOO_LOW:
            yield _loaded(end.name, ratio, source, Z)

    def _item(self, item: Item) -> Iterator[Caution]:
        if not isinstance(item, ActiveStage):
            self._pass(item, item.switch is None)
            if item.switch is None and item.divides(True):
                self.names = [f"{name} through '{item.label}'" for name in self.names]
            return
        ratio, source, Z = self.least(self.circuit.step(item, True).input)
        if ratio < _TOO_LOW and not item.needs_pickup:
            yield _loaded(item.stage, ratio, source, Z)
        if item.always_on:
            self.names, self.Z = [], self.Z[:0]
        else:
            self._pass(item, False)
        self._add(item)

    def _add(self, item: ActiveStage) -> None:
        self.names.append(f"'{item.stage}'")
        Z = np.ravel(np.asarray(self.circuit.step(item, True).output.Z, dtype=complex))
        self.Z = np.append(self.Z, Z[:1])

    def _pass(self, item: Item, on: bool) -> None:
        behind = self.circuit.step(item, on).drive(Source(np.ones_like(self.Z), self.Z)).Z
        self.Z = np.broadcast_to(np.asarray(behind, dtype=complex), self.Z.shape)

    def least(self, Y: Any) -> tuple[float, str, float]:
        """Return the smallest ratio of load to source, with that source and its impedance [Ω]."""
        if not self.names:
            return np.inf, "", 0.0
        product = np.abs(self.Z * np.ravel(np.asarray(Y))[0])
        i = int(np.argmax(product))
        return float(1 / product[i]) if product[i] else np.inf, self.names[i], float(abs(self.Z[i]))


def _open_taps(board: Board) -> Iterator[Caution]:
    for item in board.items():
        if isinstance(item, Tap) and item.input_resistance is None and not item.input_capacitance:
            capacitance = scalar(item.shunt_capacitance(True))
            yield Caution("open-tap", item.tap, {"capacitance": capacitance})
        elif isinstance(item, Split) and hangs_open(item):
            loose = branch(item, ())
            if loose.end is None:
                capacitance = scalar(loose.shunt_capacitance(True))
                yield Caution("open-split", item.split, {"capacitance": capacitance})


def _too_large(board: Board) -> Iterator[Caution]:
    for excess in exceeded(board):
        limit = excess.limit
        values = {"what": limit.what, "found": excess.found, "most": limit.most}
        yield Caution("too-large", limit.command, values | {"advice": limit.advice})


def _hidden_in_scenes(board: Board) -> Iterator[Caution]:
    for name in board.scenes:
        on = board.scene(name).on
        hidden = board.state(set(on) - board.heard(on)).on
        if hidden:
            yield Caution("hidden-in-scene", name, {"names": hidden})

"""An independent answer: the whole board as one network, solved all at once.

Works from the plain dictionary of a board (see `boards.py`) and imports nothing of the program,
which walks a source down the chain instead.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from helpers.network import GROUND, KILO, Complex, Network

Table: TypeAlias = dict[str, Any]
Version: TypeAlias = Literal["as built", "ideal", "direct", "bare"]


def solve(
    board: Table,
    on: frozenset[str],
    frequency: NDArray[np.float64],
    version: Version = "as built",
    at: str = "",
) -> Complex:
    """Return H [-] of a board in a state, or of one of its references.

    It is listened at the end of the chain, or at that of the split named `at`: silence where a loop
    that is out has it inside.
    """
    net, ends = built(board, on, frequency, version, at)
    return net.voltage(ends[at]) if at in ends else np.zeros_like(net.jw)


def built(
    board: Table,
    on: frozenset[str],
    frequency: NDArray[np.float64],
    version: Version = "as built",
    at: str = "",
) -> tuple[Network, dict[str, int]]:
    """Return the network of a board in a state, and the node of each end that is in it."""
    net = Network(frequency)
    here = _instrument(net, board["instrument"])
    if version == "as built":
        ends: dict[str, int] = {}
        here = _tree(net, here, board, board["chain"], on, ends, (False, False))
        return net, {**ends, "": _end(net, here, board["destination"])}
    for item in _reference(board, on, version, at):
        here = _item(net, here, item, True, board["cables"])
    return net, {at: _end(net, here, _destination(board, at))}


def _tree(
    net: Network,
    here: int,
    board: Table,
    items: list[Table],
    on: frozenset[str],
    ends: dict[str, int],
    bare: tuple[bool, bool],
) -> int:
    """Build items, all that branches off them too, and return the node behind them.

    Parameters
    ----------
    net, here : the network, and the node before them
    board, items, on : the board, some of its items, and the names of what is on
    ends : the node at the end of each split, filled in
    bare : whether a stage or loop stands right before them, and right behind them
    """
    for item in _wired(items, board.get("wiring"), bare):
        if "split" in item:
            far = _tree(net, here, board, item["inside"], on, ends, (True, False))
            ends[item["split"]] = _end(net, far, item["destination"])
        elif "loop" in item and item["loop"] in on:
            here = _tree(net, here, board, item["inside"], on, ends, (True, True))
        else:
            here = _item(net, here, item, _is_on(item, on), board["cables"])
    return here


def noise_density(
    board: Table, on: frozenset[str], frequency: NDArray[np.float64], at: str
) -> NDArray[np.float64]:
    """Return the density [V²/Hz] at an end at 290 K; nothing where it is not in the circuit.

    Of stages on other ways the current noise is counted, the voltage noise is not. The resistors of
    a stage's own corners would be: the board has none.
    """
    net, ends = built(board, on, frequency)
    if at not in ends:
        return np.zeros(frequency.shape)
    passive, inputs = net.noise(ends[at], 290.0)
    total = np.real(passive)
    heard = {id(item) for item, _ in _way(board["chain"], at)}
    for item in _within(board["chain"]):
        if "stage" in item and item["stage"] in inputs:
            of_current, of_voltage = inputs[item["stage"]]
            total += np.abs(of_current * item.get("input_noise_current", 0.0)) ** 2
            en = item.get("input_noise_voltage", 0.0) if id(item) in heard else 0.0
            total += np.abs(of_voltage * en) ** 2
    return total


def _end(net: Network, here: int, destination: Table) -> int:
    return _load(net, here, destination)


def _destination(board: Table, at: str) -> Table:
    """Return the table of an end."""
    if not at:
        return dict(board["destination"])
    (found,) = (item for item in _within(board["chain"]) if item.get("split") == at)
    return dict(found["destination"])


def _within(items: list[Table]) -> Iterator[Table]:
    for item in items:
        yield item
        yield from _within(item.get("inside", []))


def _is_on(item: Table, on: frozenset[str]) -> bool:
    if "stage" in item:
        always = item.get("always_on", item.get("kind", "active") != "active")
        return bool(always or item["stage"] in on)
    return "loop" not in item


def _reference(board: Table, on: frozenset[str], version: Version, at: str) -> list[Table]:
    """Return what is in a reference: the instrument's own lead, and the stages that are on."""
    way = list(_way(board["chain"], at))
    first = next((item for item, _ in way if "tap" not in item and "split" not in item), None)
    lead = [first] if first is not None and _is_cable(first) else []
    if version == "direct":
        return lead
    stages = [
        item for item, loops in way if "stage" in item and _is_on(item, on) and on.issuperset(loops)
    ]
    return stages if version == "bare" else lead + stages


def _way(
    items: list[Table], at: str, loops: tuple[str, ...] = ()
) -> Iterator[tuple[Table, tuple[str, ...]]]:
    """Yield the items on the way to an end, a loop before what is in it, with the loops around."""
    for item in items:
        leads = bool(at) and any(i.get("split") == at for i in _within([item]))
        if "split" in item:
            if leads:
                yield from _way(item["inside"], "" if item["split"] == at else at, loops)
                return
            continue
        yield item, loops
        if "loop" in item:
            yield from _way(item["inside"], at if leads else "", (*loops, item["loop"]))
        if leads:
            return


def _wired(items: list[Table], wiring: Table | None, bare: tuple[bool, bool]) -> list[Table]:
    """Put the wiring into every gap between neighbours in which no cable is named.

    Parameters
    ----------
    items : as listed
    wiring : a piece of it, None for a direct connection
    bare : whether a neighbour stands right before them, and right behind them
    """
    neighbours = [n for n, item in enumerate(items) if "stage" in item or "loop" in item]
    if wiring is None:
        return items
    before, behind = [-1] * bare[0], [len(items)] * bare[1]
    gaps = pairwise([*before, *neighbours, *behind])
    wanted = {end for start, end in gaps if not any(map(_is_cable, items[start + 1 : end]))}
    filled = []
    for n in range(len(items) + 1):
        filled += [wiring] * (n in wanted) + items[n : n + 1]
    return filled


def _is_cable(item: Table) -> bool:
    return "cable" in item and "tap" not in item


def _instrument(net: Network, table: Table) -> int:
    """Build the instrument and return the node of its jack."""
    if table.get("type", "passive") == "active":
        source = net.node()
        net.emf(source, GROUND)
        return _output(net, source, table)
    if "pickups" not in table:
        joined = _coil(net, table, GROUND)
    elif table.get("pickups_wiring", "parallel") == "series":
        joined = GROUND
        for pickup in table["pickups"]:
            cold, joined = joined, _coil(net, pickup, joined)
            _tone(net, joined, pickup, cold)
    else:
        joined = net.node()
        for pickup in table["pickups"]:
            net.wire(joined, _knobs(net, _coil(net, pickup, GROUND), pickup))
    jack = _bass_cut(net, _knobs(net, joined, table), table)
    net.admittance(jack, net.jw * table.get("wiring_capacitance", 0.0))
    return jack


def _knobs(net: Network, here: int, table: Table) -> int:
    """Put a tone control and a volume pot behind a node and return the node behind them."""
    if table.get("tone_position", "before volume") == "before volume":
        _tone(net, here, table)
        return _volume(net, here, table)
    behind = _volume(net, here, table)
    _tone(net, behind, table)
    return behind


def _coil(net: Network, table: Table, cold: int) -> int:
    induced = net.node()
    if table.get("polarity", "normal") == "normal":
        net.emf(induced, cold)
    else:
        net.emf(cold, induced)
    return _winding(net, table, induced, cold)


def _winding(net: Network, table: Table, induced: int, cold: int) -> int:
    """Put a winding behind the node of what is induced in it, and return its hot end."""
    middle, hot = net.node(), net.node()
    net.impedance(induced, middle, table.get("resistance", 0.0))
    net.impedance(middle, hot, net.jw * table.get("inductance", 0.0))
    if "loss_resistance" in table:
        # Magnitude and phase apart: R·(f/1 kHz)^n, ahead by n of a right angle.
        n = table.get("loss_exponent", 0.0)
        size = table["loss_resistance"] * (net.jw.imag / (2 * np.pi * 1e3)) ** n
        net.admittance(middle, np.exp(-0.5j * np.pi * n) / size, hot)
    net.admittance(hot, net.jw * table.get("capacitance", 0.0), cold)
    return hot


def _below_wiper(position: float, taper: str) -> float:
    """Return the fraction of a track below its wiper."""
    if taper == "linear":
        return position / 10
    middle = float(taper.removeprefix("audio").strip(" %") or 10) / 100
    b = (1 / middle - 1) ** 2
    return float((b ** (position / 10) - 1) / (b - 1))


def _pot(net: Network, top: int, track: float, position: float, taper: str) -> int:
    wiper = net.node()
    a = _below_wiper(position, taper)
    net.impedance(top, wiper, (1 - a) * track)
    net.impedance(wiper, GROUND, a * track)
    return wiper


def _volume(net: Network, here: int, table: Table) -> int:
    if "volume_track" not in table:
        return here
    a = _below_wiper(table.get("volume", 10.0), table.get("volume_taper", "audio"))
    there, track = net.node(), table["volume_track"]
    # The upper part lies between the two whichever of them is the wiper.
    net.impedance(here, there, (1 - a) * track)
    backward = table.get("volume_wiring", "output at wiper") == "output at track"
    net.impedance(here if backward else there, GROUND, a * track)
    _bleed(net, here, there, table)
    return there


def _bleed(net: Network, here: int, there: int, table: Table) -> None:
    C, R = table.get("treble_bleed_capacitor", 0.0), table.get("treble_bleed_resistor", 0.0)
    if not C:
        return
    if not R or table.get("treble_bleed", "parallel") == "parallel":
        net.admittance(here, net.jw * C, there)
        if R:
            net.admittance(here, 1 / R, there)
    else:
        middle = net.node()
        net.impedance(here, middle, 1 / (net.jw * C))
        net.impedance(middle, there, R)


def _tone(net: Network, here: int, table: Table, cold: int = GROUND) -> None:
    if not table.get("tone_capacitor", 0.0):
        return
    a = _below_wiper(table.get("tone", 10.0), table.get("tone_taper", "audio"))
    behind = net.node()
    net.impedance(here, behind, a * table.get("tone_track", 0.0))
    net.admittance(behind, net.jw * table["tone_capacitor"], cold)


def _bass_cut(net: Network, here: int, table: Table) -> int:
    if "bass_cut_capacitor" not in table:
        return here
    there = net.node()
    across = 1 / (net.jw * table["bass_cut_capacitor"])
    if "bass_cut_track" in table:
        a = _below_wiper(table.get("bass_cut", 10.0), table.get("bass_cut_taper", "audio"))
        R = (1 - a) * table["bass_cut_track"]
        across = across * R / (across + R)
    net.impedance(here, there, across)
    return there


def _load(net: Network, here: int, table: Table) -> int:
    """Put an input across a node and return the node that it reads, behind its stopper."""
    if "input_resistance" in table:
        net.admittance(here, 1 / table["input_resistance"])
    read = net.node()
    net.impedance(here, read, table.get("input_series_resistance", 0.0))
    net.admittance(read, net.jw * table.get("input_capacitance", 0.0))
    return read


def _output(net: Network, here: int, table: Table) -> int:
    middle, out = net.node(), net.node()
    net.impedance(here, middle, table.get("output_resistance", 0.0))
    if "output_capacitor" in table:
        net.impedance(middle, out, 1 / (net.jw * table["output_capacitor"]))
    else:
        net.wire(middle, out)
    return out


def _item(net: Network, here: int, item: Table, on: bool, cables: Table) -> int:
    """Put one item behind a node and return the node behind it."""
    if "tap" in item:
        _load(net, _cable(net, here, cables[item["cable"]], item["length"]), item)
        return here
    if "cable" in item:
        return _cable(net, here, cables[item["cable"]], item["length"])
    kind = item.get("kind", "active")
    if "loop" in item or (not on and kind != "active"):
        return _bypassed(net, here, item)
    if kind == "active":
        if on or item.get("bypass", "true") == "buffered":
            here = net.input(item["stage"], here)
        return _amplifies(net, here, item) if on else _off(net, here, item)
    if kind == "volume pedal":
        position, taper = item.get("position", 10.0), item.get("taper", "audio")
        return _pot(net, here, item["track"], position, taper)
    behind = net.node()
    if kind == "pad":
        net.impedance(here, behind, item.get("series_resistance", 0.0))
        if "shunt_resistance" in item:
            net.admittance(behind, 1 / item["shunt_resistance"])
        return behind
    leading = net.node()
    net.admittance(here, net.jw * item.get("winding_capacitance", 0.0))
    net.impedance(here, leading, net.jw * item.get("leakage_inductance", 0.0))
    net.impedance(leading, behind, item.get("primary_resistance", 0.0))
    if "primary_inductance" in item:
        net.admittance(behind, 1 / (net.jw * item["primary_inductance"]))
    secondary, out = net.node(), net.node()
    net.transformer(behind, secondary, item["ratio"])
    net.impedance(secondary, out, item.get("secondary_resistance", 0.0))
    return out


def _cable(net: Network, near: int, table: Table, length: float) -> int:
    """Put a distributed line between its plugs, as its exact equivalent pi (Pozar, from memory)."""
    far = net.node()
    C = table.get("capacitance", 0.0)
    z = (table.get("resistance", 0.0) + net.jw * table.get("inductance", 0.0)) * length
    y = (net.jw + np.abs(net.jw) * table.get("loss_tangent", 0.0)) * C * length
    if not np.any(z) or not np.any(y):
        net.impedance(near, far, z)
        net.admittance(far, y)
    else:
        propagation, characteristic = np.sqrt(z * y), np.sqrt(z / y)
        net.impedance(near, far, characteristic * np.sinh(propagation))
        for end in (near, far):
            net.admittance(end, np.tanh(propagation / 2) / characteristic)
    for end in (near, far):
        net.admittance(end, net.jw * table.get("plug_capacitance", 0.0))
    return far


def _bypassed(net: Network, here: int, item: Table) -> int:
    behind = net.node()
    net.impedance(here, behind, item.get("contact_resistance", 0.0))
    net.admittance(behind, net.jw * item.get("wiring_capacitance", 0.0))
    return behind


def _input(net: Network, here: int, item: Table) -> int:
    """Put a stage's input across a node and return the node that it amplifies."""
    inner = here
    if "input_capacitor" in item:
        inner = net.node()
        net.impedance(here, inner, 1 / (net.jw * item["input_capacitor"]))
    return _load(net, inner, item)


def _amplifies(net: Network, here: int, item: Table) -> int:
    out = net.node()
    net.amplifier(_input(net, here, item), out, 10 ** (item.get("gain", 0.0) / 20))
    for key in ("low_pass", "high_pass"):
        if key in item:
            out = _pole(net, out, item[key], high=key == "high_pass")
    return _output(net, out, item)


def _pole(net: Network, here: int, corner: float, *, high: bool) -> int:
    """Put a resistor and a capacitor of this corner [Hz] behind a node, and a follower."""
    middle, out = net.node(), net.node()
    resistor, reactance = KILO, KILO * 2 * np.pi * corner / net.jw
    net.impedance(here, middle, reactance if high else resistor)
    net.impedance(middle, GROUND, resistor if high else reactance)
    net.amplifier(middle, out, 1.0)
    return out


def _off(net: Network, here: int, item: Table) -> int:
    bypass = item.get("bypass", "true")
    if bypass == "buffered":
        as_on = ("input_resistance", "input_capacitance", "output_resistance")
        off = {key: item[key] for key in as_on if key in item}
        off |= {
            key.removeprefix("bypass_"): value
            for key, value in item.items()
            if key.startswith("bypass_")
        }
        out = net.node()
        net.amplifier(_input(net, here, off), out, 10 ** (off.get("gain", 0.0) / 20))
        return _output(net, out, off)
    if bypass == "hardwire":
        _input(net, here, item)
    return _bypassed(net, here, item)

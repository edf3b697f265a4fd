"""An independent answer: the whole board as one network, solved all at once.

Works from the plain dictionary of a board (see `boards.py`) and imports nothing of the program,
which walks a source down the chain instead.
"""

from __future__ import annotations

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
) -> Complex:
    """Return H [-] at the destination of a board in a state, or of one of its references."""
    net = Network(frequency)
    here = _instrument(net, board["instrument"])
    for item, is_on in _path(board, on, version):
        here = _item(net, here, item, is_on, board["cables"])
    return net.voltage(_load(net, here, board["destination"]))


def _path(board: Table, on: frozenset[str], version: Version) -> list[tuple[Table, bool]]:
    """Return what the signal meets, each with whether it is on."""
    first = next((item for item in board["chain"] if "tap" not in item), None)
    lead = first if first is not None and _is_cable(first) else None
    if version == "direct":
        return [] if lead is None else [(lead, True)]
    met = _meets(board["chain"], on, board.get("wiring"), inside=False)
    if version in ("ideal", "bare"):
        kept = lead if version == "ideal" else None
        return [(i, is_on) for i, is_on in met if i is kept or ("stage" in i and is_on)]
    return met


def _meets(
    items: list[Table], on: frozenset[str], wiring: Table | None, *, inside: bool
) -> list[tuple[Table, bool]]:
    met: list[tuple[Table, bool]] = []
    for item in items if wiring is None else _with_wiring(items, wiring, inside=inside):
        if "loop" in item and item["loop"] in on:
            met += _meets(item["inside"], on, wiring, inside=True)
        elif "stage" in item:
            always = item.get("always_on", item.get("kind", "active") != "active")
            met.append((item, always or item["stage"] in on))
        else:
            met.append((item, "loop" not in item))
    return met


def _with_wiring(items: list[Table], wiring: Table, *, inside: bool) -> list[Table]:
    """Fill every gap between neighbours in which no cable is named, and a loop's two ends."""
    neighbours = [n for n, item in enumerate(items) if "stage" in item or "loop" in item]
    if not neighbours:
        return items
    gaps = list(pairwise(neighbours))
    if inside:
        gaps = [(-1, neighbours[0]), *gaps, (neighbours[-1], len(items))]
    bare = {end for start, end in gaps if not any(map(_is_cable, items[start + 1 : end]))}
    filled = []
    for n in range(len(items) + 1):
        filled += [wiring] * (n in bare) + items[n : n + 1]
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
    induced, middle, hot = net.node(), net.node(), net.node()
    if table.get("polarity", "normal") == "normal":
        net.emf(induced, cold)
    else:
        net.emf(cold, induced)
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

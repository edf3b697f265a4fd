"""What the page computes with: coefficients and curves packed small, and the chain as boxes."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.board.state import ALL_OFF_TITLE
from sigsim.decide.page.coefficients import POINTS
from sigsim.decide.page.report import DRAWN, MOST_ITEMS
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.metrics import (
    HALF_POWER_DB,
    LEAST_RESONANCE_DB,
    LEVEL_SAID_DB,
    LOSS_HZ,
    SEARCH,
    SILENT_DB,
    WORDS,
)
from sigsim.physics.arrays import scalar
from sigsim.quantities import length_text
from sigsim.show.ends import ended, why_silent
from sigsim.show.names import shortened, told_apart
from sigsim.show.render.text import plain
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sigsim.board.model import Board
    from sigsim.decide.page.coefficients import Coefficients
    from sigsim.decide.page.report import Overlay, ReportData
    from sigsim.decide.spread.report import SpreadReport
    from sigsim.items.base import Item
    from sigsim.physics.arrays import FloatArray

_NAME: Final = 80
# Open strings: the bass's [Hz] as published, the guitar's by equal temperament from A 440 Hz.
_SEMITONES: Final = {"E2": -29, "A2": -24, "D3": -19, "G3": -14, "B3": -10, "E4": -5}
RULERS: Final = {
    "bass": [["B0", 30.868], ["E1", 41.204], ["A1", 55.0], ["D2", 73.416], ["G2", 97.999]],
    "guitar": [[name, 440 * 2 ** (semitones / 12)] for name, semitones in _SEMITONES.items()],
}
# What the page's model finds corner, resonance and silence by: as `metrics` does.
METRICS: Final = {
    "search": SEARCH.tolist(),
    "halfPower": HALF_POWER_DB,
    "leastResonance": LEAST_RESONANCE_DB,
    "silent": SILENT_DB,
}


class Pool:
    """Arrays of complex numbers as text, each different one once.

    Parameters
    ----------
    size : of every array
    """

    def __init__(self, size: int) -> None:
        self.size = size
        self.texts: list[str] = []
        self._known: dict[bytes, int] = {}

    def add(self, value: Any) -> int | list[float]:
        """Return the number of an array, or a constant as its real and imaginary part."""
        values = np.asarray(value, dtype="<c16").ravel()
        if np.isfinite(values[0]) and (values == values[0]).all():
            return [float(values[0].real), float(values[0].imag)]
        return self.array(np.broadcast_to(values, self.size))

    def array(self, values: Any) -> int:
        """Return the number of an array."""
        raw = np.ascontiguousarray(values, dtype="<c16").tobytes()
        if raw not in self._known:
            self._known[raw] = len(self.texts)
            self.texts.append(base64.b64encode(raw).decode())
        return self._known[raw]


def page_data(data: ReportData) -> dict[str, Any]:
    """Return what the page needs to draw any state, or only the scenes."""
    board = data.question.board
    part = board.instrument.part
    pool = Pool(data.frequency.size)
    exact = POINTS + np.arange(data.frequency.size - POINTS)
    document: dict[str, Any] = {
        "live": data.coefficients is not None,
        "size": data.frequency.size,
        "points": POINTS,
        "low": float(data.frequency[0]),
        "high": float(data.frequency[POINTS - 1]),
        "drawn": [float(DRAWN[0]), float(DRAWN[-1]), DRAWN.size],
        "exact": {
            "level": int(exact[0]),
            "loss": exact[1 : 1 + len(LOSS_HZ)].tolist(),
            "treble": exact[1 + len(LOSS_HZ) :].tolist(),
        },
        "lossAt": list(LOSS_HZ),
        "words": [[limit if np.isfinite(limit) else None, word] for limit, word in WORDS],
        "trebleBand": [float(f) for f in data.question.basis.band],
        "levelSaid": LEVEL_SAID_DB,
        "metrics": METRICS,
        "reference": data.question.basis.reference,
        "factor": pool.add(data.factor),
        "allOff": ALL_OFF_TITLE,
        "silence": ended(why_silent(board, ())),
        "instrument": f"instrument ({part})" if part else "instrument",
        "destination": plain(board.end.name, _NAME),
        "states": _states(data),
        "overlays": [
            curves
            for other, name in zip(data.overlays, board_names(data, 30)[1:], strict=True)
            for curves in _overlay(other, name)
        ],
        "rulers": RULERS,
    }
    if data.coefficients is not None:
        document |= _machine(board, data.coefficients, pool)
    else:
        document["chain"] = _Boxes(board).boxes(board.chain[:MOST_ITEMS])
        left = len(board.chain) - MOST_ITEMS
        if left > 0:
            document["chain"].append({"kind": "tap", "name": f"{left:,} more"})
        for state, scene in zip(document["states"], data.scenes, strict=True):
            state["board"] = pool.array(scene.board)
            state["splits"] = pool.add(scene.splits)
            state["reference"] = pool.array(scene.reference)
            state["bare"] = pool.array(scene.bare)
    return document | {"pool": pool.texts}


def _states(data: ReportData) -> list[dict[str, Any]]:
    """Return the buttons: every stage off, each scene, and the worst."""
    numbers = {name: i for i, name in enumerate(data.question.board.switches())}

    def button(name: str, title: str, on: Sequence[str]) -> dict[str, Any]:
        return {"name": name, "title": title, "on": [numbers[n] for n in on]}

    off, *scenes = (measured.state for measured in data.losses.states)
    worst = data.losses.worst.state
    return [
        button(off.title, "", off.on),
        *(button(plain(s.title, 40), f"scene {plain(s.title, _NAME)}", s.on) for s in scenes),
        button("Worst of all", plain(worst.title, 200), worst.on),
    ]


def _machine(board: Board, found: Coefficients, pool: Pool) -> dict[str, Any]:
    numbers: dict[Any, int] = {}
    table: list[Any] = []
    known: dict[str, int] = {}
    for key, step in found.steps.items():
        four = [pool.add(part) for part in step]
        if str(four) not in known:
            known[str(four)] = len(table)
            table.append(four)
        numbers[key] = known[str(four)]
    lead = board.lead
    return {
        "steps": table,
        "start": [pool.add(part) for part in found.start],
        "load": pool.add(found.load),
        "direct": [] if lead is None else [numbers[id(lead), True]],
        "chain": _Boxes(board, numbers, {k: pool.add(Y) for k, Y in found.inputs.items()}).boxes(
            board.chain
        ),
    }


class _Boxes:
    """The chain as the page draws it.

    Parameters
    ----------
    board : the board
    steps : the number of every item's step by its identity and position, None without any
    inputs : what ends the load of a split, by the identity of the item and its position
    """

    def __init__(
        self,
        board: Board,
        steps: Mapping[Any, int] | None = None,
        inputs: Mapping[Any, Any] | None = None,
    ) -> None:
        self.steps, self.inputs = steps, inputs or {}
        self.switches = {name: i for i, name in enumerate(board.switches())}

    def boxes(self, items: Sequence[Item]) -> list[dict[str, Any]]:
        """Return one entry for each item."""
        return [self._box(item) for item in items]

    def _box(self, item: Item) -> dict[str, Any]:
        box: dict[str, Any] = _named(item)
        if item.switch is not None:
            box["s"] = self.switches[item.switch]
        if self.steps is not None:
            for on, key, kept in ((True, "on", "ion"), (False, "off", "ioff")):
                if (id(item), on) in self.steps:
                    box[key] = self.steps[id(item), on]
                    box[kept] = item.in_ideal(on)
                if (id(item), on) in self.inputs:
                    box[f"y{key}"] = self.inputs[id(item), on]
        if isinstance(item, Cable) and item.is_lead:
            box["lead"] = True
        if isinstance(item, Split):
            box["turned"] = item.turned
            box["end"] = plain(item.destination.name, _NAME)
        if isinstance(item, Loop | Split):
            box["inside"] = self.boxes(item.inside)
        return box


def _named(item: Item) -> dict[str, Any]:
    if isinstance(item, Cable):
        name = f"{plain(item.cable, 24)} {length_text(scalar(item.length))}"
        return {"kind": "cable", "name": name}
    if isinstance(item, Tap):
        end = "open end"
        if item.input_resistance is not None:
            end = render(scalar(item.input_resistance), "Ω")
        length = length_text(item.cable.length)
        return {"kind": "tap", "name": f"side cable {plain(item.tap, 40)}: {length}, {end}"}
    if isinstance(item, Split):
        return {"kind": "split", "name": plain(item.split, _NAME)}
    return {"kind": "box", "name": plain(item.label, _NAME)}


def board_names(data: ReportData, longest: int) -> list[str]:
    """Return names of the board and those compared with, told apart by files if need be."""
    boards = [data.losses.board, *(other.report.board for other in data.overlays)]
    titles = shortened([board.name for board in boards], longest)
    names = told_apart(boards, longest)
    return [
        title if title == name else f"{title} ({name})"
        for title, name in zip(titles, names, strict=True)
    ]


def _overlay(other: Overlay, name: str) -> list[dict[str, Any]]:
    return [
        {"name": f"{name}, {what}", "gain": _numbers(gain), "loss": _numbers(loss)}
        for what, gain, loss in zip((ALL_OFF_TITLE, "worst"), other.gain, other.loss, strict=True)
    ]


def bands(report: SpreadReport) -> list[dict[str, Any]]:
    """Return the band of every state's curves as the page draws it."""
    switches = {name: i for i, name in enumerate(report.question.board.switches())}
    return [
        {
            "state": number,
            "on": [switches[name] for name in state.state.on],
            "frequency": [round(f, 3) for f in curves.frequency.tolist()],
            "low": _numbers(curves.low),
            "high": _numbers(curves.high),
        }
        for number, state in enumerate((*report.states, report.worst))
        if state is not None and (curves := state.curves) is not None
    ]


def _numbers(values: FloatArray) -> list[float | None]:
    """Return a curve for the page: 0.001 dB is finer than any screen."""
    return [round(v, 3) if np.isfinite(v) else None for v in values.tolist()]

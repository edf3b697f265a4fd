"""Which values of a figure are worth trying, and how likely a change is for how large it is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.quantities import KINDS

if TYPE_CHECKING:
    from sigsim.items.fields import Spec
    from sigsim.physics.arrays import FloatArray

# Strays: what a file often leaves out at 0.
_STRAYS: Final = (
    "wiring_capacitance",
    "plug_capacitance",
    "input_capacitance",
    "bypass_input_capacitance",
    "winding_capacitance",
    "capacitance",
)
_STRAY_F: Final = np.geomspace(3e-12, 5e-9, 12)
_METRES: Final = np.array([0.1, 0.3, 1.0, 3.0, 6.0, 10.0, 15.0])
_PARTS: Final = np.array([0.0, 0.2, 0.4, 0.6, 0.75, 0.9, 1.1, 1.25, 1.5, 2.0, 3.0, 4.0])
_DECADES: Final = np.geomspace(0.02, 50.0, 14)
_OCTAVES: Final = np.geomspace(0.2, 5.0, 12)
_DECIBELS: Final = np.linspace(-20.0, 20.0, 17)
_WHOLE_RANGE: Final = {"knob": np.linspace(0.25, 10.0, 14), "exponent": np.linspace(0.0, 1.0, 9)}
_PER_METRE: Final = np.linspace(20e-12, 500e-12, 12)
_FACTORS: Final = {
    "capacitance per length": _PARTS,
    "inductance": _OCTAVES,
    "ratio": _OCTAVES,
    **dict.fromkeys(("resistance", "frequency", "capacitance"), _DECADES),
    **dict.fromkeys(("resistance per length", "inductance per length"), _DECADES),
}

# What is tried where the file says 0 or nothing; what is not listed is then taken as not there.
_FROM_NOTHING: Final = {
    "contact_resistance": np.geomspace(0.3, 1e6, 14),
    "output_resistance": np.geomspace(10.0, 1e5, 12),
    "loss_tangent": np.geomspace(1e-3, 0.3, 8),
}
_OPEN: Final = np.geomspace(1e7, 1e4, 12)

# Of what people get wrong, what they do so most comes first.
_CLASSES: Final = (
    ("length",),
    ("capacitance per metre",),
    ("wiring_capacitance", "plug_capacitance"),
    ("on",),
    ("volume", "tone", "bass_cut", "position"),
)
_INPUTS: Final = "input_"
INSTRUMENT: Final = "instrument"
_INSTRUMENT_FIGURES, _REST = len(_CLASSES) + 1, len(_CLASSES) + 2
# How much a class a change is later for its size: up to twice, up to five times, beyond.
_TWICE, _FIVE_TIMES = 2.0, 5.0
_RATHER_LARGE: Final = 1.5
_VERY_LARGE: Final = 4.0
# From here on a stray is no longer one [F].
_LARGE_STRAY: Final = 1e-9


def tried(key: str, spec: Spec, written: float) -> FloatArray:
    """Return values of a figure to try, rising, the written one among them.

    Parameters
    ----------
    key : of the board file
    spec : as it is declared
    written : the figure of the file, infinite for an open input [SI]
    """
    with np.errstate(invalid="ignore"):
        values = np.append(_around(key, spec.kind, written), written)
    kind = KINDS[spec.kind]
    most = kind.ceiling if spec.most is None else spec.most
    low = -kind.ceiling if kind.signed else 0.0
    values = values[(values >= low) & ((values <= most) | (values == written))]
    if spec.above_zero:
        values = values[values > 0]
    return np.unique(values)


def _around(key: str, kind: str, written: float) -> FloatArray:
    nothing = np.empty(0)
    if not np.isfinite(written):
        return _OPEN
    if kind == "length":
        return np.concatenate((written * _PARTS, written + _METRES))
    if kind == "capacitance" and key in _STRAYS:
        return _stray(written)
    if kind in _WHOLE_RANGE:
        return _WHOLE_RANGE[kind]
    if kind == "gain":
        return written + _DECIBELS
    if not written:
        return _FROM_NOTHING.get(key, nothing) if kind != "capacitance per length" else _PER_METRE
    return written * _FACTORS.get(kind, nothing)


def _stray(written: float) -> FloatArray:
    around = np.concatenate((written + _STRAY_F, written - _STRAY_F, [0.0]))
    return around[around >= 0]


def lateness(key: str, kind: str, *, owned_by: str, written: float, value: float) -> float:
    """Return how far behind others a change is to be named: what people get wrong comes first.

    Parameters
    ----------
    key : of the board file, or "on"
    kind : of the quantity
    owned_by : the name of what it belongs to
    written, value : what the file says, and what would explain the measurement [SI]
    """
    return _class(key, kind, owned_by) + _for_size(key, kind, written, value)


def _class(key: str, kind: str, owned_by: str) -> float:
    asked = "capacitance per metre" if kind == "capacitance per length" else key
    for number, keys in enumerate(_CLASSES):
        if asked in keys and not (owned_by == INSTRUMENT and asked == "wiring_capacitance"):
            return number
    if _INPUTS in key:
        return len(_CLASSES)
    return _INSTRUMENT_FIGURES if owned_by == INSTRUMENT else _REST


def _for_size(key: str, kind: str, written: float, value: float) -> float:
    if kind in ("", "knob", "exponent", "gain") or not np.isfinite(written):
        return 0.0
    if key in _STRAYS and kind == "capacitance":
        return 0.0 if abs(value - written) <= _LARGE_STRAY else _VERY_LARGE
    if not value:
        return _RATHER_LARGE
    times = float(np.exp(abs(np.log(value / written)))) if written else 1.0
    if times <= _TWICE:
        return 0.0
    return _RATHER_LARGE if times <= _FIVE_TIMES else _VERY_LARGE

"""Where the recordings contradict what was told: which of it, and what that means for the rest.

A fit that can only be had against what was told is tried again with one thing at a time left open.
What then explains the recordings is named; a gain among them is a knob that was moved.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from sigsim.errors import SigsimError, shown_path
from sigsim.measure.solving import Solved, again, relieved
from sigsim.units import render

if TYPE_CHECKING:
    from sigsim.measure.unknowns import Unknown

# Of ten thousand numbers with a normal distribution one is further off [standard errors].
_STRAINED: Final = 4.0
# What is left open takes this much off the sum of squares, or it explains nothing; and this much
# more than another thing, or either may be meant.
_EXPLAINS, _EITHER = 25.0, 10.0
# What is left is then no more than errors explain, this many times over; or a gain this many times
# what is left of the level.
_SETTLED, _CLEAR = 2.0, 4.0
# From here on no error of what was told makes the circuit fit [dB].
_HOPELESS: Final = 1.0
# The likeliest that are tried.
_TRIED: Final = 3
# A gain that nobody moved stays within this [ln]: 0.1 dB.
_MOVED: Final = 0.1 * math.log(10) / 20
# What is left open may be anything: a gain by a factor of e, a part by its own value.
_OPEN_GAIN: Final = 1.0
# A part this many times larger or smaller than told is another part.
_ANOTHER: Final = 1.5
_GAIN: Final = "gain "
# What a person calls what was told, and its unit.
_CALLED: Final[Mapping[str, tuple[str, str]]] = {
    "resistor": ("the resistor (--resistor)", "Ω"),
    "output": ("the interface's output (--output-resistance)", "Ω"),
    "plug": ("a plug (--plug-capacitance)", "F"),
    "track": ("the volume pot (--volume-track)", "Ω"),
    "tone_track": ("the tone pot (--tone-track)", "Ω"),
    "tone_capacitor": ("the tone capacitor (--tone-capacitor)", "F"),
    "input resistance": ("the interface's input (--interface-input)", "Ω"),
    "load": ("the load (--load)", "Ω"),
    "probe resistance": ("the probe's resistance (--probe)", "Ω"),
    "probe capacitance": ("the probe's capacitance (--probe)", "F"),
}
_KNOB: Final = (
    "a knob or a pad was moved between them. Make all recordings anew, and touch nothing but the "
    "plugs"
)


def believed(solved: Solved, beside: str = "--loop") -> Solved:
    """Return a fit of which nothing that was told is held against the recordings.

    Parameters
    ----------
    solved : a fit with all that was told
    beside : the option of the recording that all others are divided by

    Raises
    ------
    SigsimError : a knob was moved, or another part was there than was told
    """
    # A table does not say how sure it is: what its circuit leaves may be its own.
    tables = any(o.sigma is None for o in solved.observed)
    if tables or (solved.explains and not _strained(solved)):
        return solved
    likely = sorted(_told(solved), key=lambda u: relieved(solved, {u.name: _open(u)}))[-_TRIED:]
    tried = sorted(
        ((again(solved, {u.name: _open(u)}), u) for u in likely), key=lambda one: one[0].cost
    )
    if not tried:
        return solved
    best = tried[0][0]
    if solved.cost - best.cost < _EXPLAINS * best.inflation or not _settled(*tried[0]):
        if not _strained(solved) or solved.residual_db > _HOPELESS:
            return solved
        return again(solved, {}, math.sqrt(solved.inflation))
    may = [(one, u) for one, u in tried if one.cost - best.cost < _EITHER * best.inflation]
    moved = [(one, u) for one, u in may if abs(_off(one, u)) > _MOVED and _is_gain(u)]
    if len(moved) == len(may):
        raise _knob(moved, beside)
    parts = [(one, u) for one, u in may if not _is_gain(u)]
    if len(parts) == len(may) and all(_another(one, u) for one, u in parts):
        raise _other_part(parts)
    # Something may be wrong with each that helps at all: the intervals allow for all of them.
    help_too = [one for one in tried if solved.cost - one[0].cost > _EXPLAINS * one[0].inflation]
    found = again(solved, {u.name: abs(_off(one, u)) for one, u in help_too})
    return replace(found, doubts=(_doubt(may),))


def _settled(best: Solved, u: Unknown) -> bool:
    """Return whether so little is left that it was this, and not a circuit that is another."""
    decibels = abs(_off(best, u)) * 20 / math.log(10)
    return best.misfit < _SETTLED * len(best.J) or (
        _is_gain(u) and decibels > _CLEAR * best.residual_db
    )


def _told(solved: Solved) -> list[Unknown]:
    """Return what was told and can be said to a person."""
    return [
        u
        for u in solved.unknowns
        if u.prior is not None and (_is_gain(u) or _called(u) is not None)
    ]


def _strained(solved: Solved) -> bool:
    return any(
        abs(_off(solved, u)) > _STRAINED * u.sigma for u in _told(solved) if u.sigma is not None
    )


def _off(solved: Solved, u: Unknown) -> float:
    """Return how much an unknown is off what was told [SI]."""
    return solved.value(u.name) - (u.centre or 0.0)


def _open(u: Unknown) -> float:
    return _OPEN_GAIN if _is_gain(u) else abs(u.centre or 0.0) or 10 * (u.sigma or 0.0)


def _is_gain(u: Unknown) -> bool:
    return u.name.startswith(_GAIN)


def _called(u: Unknown) -> tuple[str, str] | None:
    """Return what a person calls a part, and its unit; None for what nobody told."""
    if u.name.startswith("load") and u.name != "load":
        name, _, key = u.name.partition(" ")
        which = name.partition("_")[2]
        return (
            f"{f'load {which}' if which else 'the load'} (--load)",
            "F" if key == "capacitance" else "Ω",
        )
    return _CALLED.get(u.name)


def _another(solved: Solved, u: Unknown) -> bool:
    value, told = solved.value(u.name), u.centre or 0.0
    return told > 0 and not told / _ANOTHER <= value <= told * _ANOTHER


def _knob(moved: Sequence[tuple[Solved, Unknown]], beside: str) -> SigsimError:
    one, u = moved[0]
    names = [shown_path(_recording(which, gain)) for which, gain in moved]
    what = f"beside {beside} this is {_louder(one, u)} than any circuit of this recipe makes it"
    if len(moved) > 1:
        decibels = abs(_off(one, u)) * 20 / math.log(10)
        what = f"one of these is about {decibels:.1g} dB too loud or too quiet beside {beside}"
    return SigsimError(f"{what}: {_KNOB}", where=" or ".join(names))


def _recording(solved: Solved, gain: Unknown) -> str:
    return solved.observed[int(gain.name.removeprefix(_GAIN))].ratio.name


def _louder(solved: Solved, u: Unknown) -> str:
    off = _off(solved, u) * 20 / math.log(10)
    return f"{abs(off):.2g} dB {'louder' if off > 0 else 'quieter'}"


def _other_part(parts: Sequence[tuple[Solved, Unknown]]) -> SigsimError:
    return SigsimError(
        f"the recordings and what was told do not agree: {_wanted(parts)}. See which part was "
        "there, that each recording was made as its option says, and that no knob or pad was moved",
        where="measure",
    )


def _wanted(may: Sequence[tuple[Solved, Unknown]]) -> str:
    """Return what each would have to be, were it the only thing that is wrong."""
    return ", or ".join(_would(one, u) for one, u in may)


def _would(solved: Solved, u: Unknown) -> str:
    if _is_gain(u):
        return f"{shown_path(_recording(solved, u))} would have to be {_louder(solved, u)}"
    name, unit = _called(u) or (u.name, "")
    return (
        f"{name} would have to be {render(solved.value(u.name), unit, 3)} and not "
        f"{render(u.centre or 0.0, unit, 3)}"
    )


def _doubt(may: Sequence[tuple[Solved, Unknown]]) -> str:
    return (
        f"The recordings fit what was told only if {_wanted(may)}. The intervals allow for it; "
        f"measure it again, or make the recordings anew without touching a knob."
    )

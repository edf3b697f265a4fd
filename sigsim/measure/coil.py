"""A pickup behind its jack as a fit looks for it, for both ways to measure one."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.errors import SigsimError
from sigsim.items.instrument import PassiveInstrument
from sigsim.measure.coil_limits import doubts
from sigsim.measure.figures import half_width, not_told_apart, plain, reciprocal, rests_on
from sigsim.measure.result import Figure
from sigsim.measure.unknowns import Unknown, told
from sigsim.physics.pot import LINEAR
from sigsim.units import Quantity

if TYPE_CHECKING:
    from sigsim.measure.known import Known
    from sigsim.measure.result import Assumed
    from sigsim.measure.solving import Solved
    from sigsim.measure.unknowns import Values

# What most volume pots are: pots are sold with 20 %.
_USUAL_TRACK: Final = Quantity(250e3, 0.2)
# Thick metal is 0.5, a plain resistance 0; what coils were measured to be lies around and between.
_EXPONENT, _EXPONENT_WITHIN = 0.5, 0.15
# Coils of guitars and basses have some henries, by a factor of e [H]: next to nothing beside what a
# recording says, but where loss hides the inductance it keeps from thousands of henries.
_HENRIES: Final = (4.0, 1.0)
# A figure this open is worth a word.
_OPEN: Final = 0.05
_FULL: Final = 10.0
_NO_LOSS: Final = 1e-12

# Unknowns of the circuit by key of the board file.
_KEYS: Final = {
    "resistance": "resistance",
    "inductance": "inductance",
    "capacitance": "capacitance",
    "loss_conductance": "loss_resistance",
    "exponent": "loss_exponent",
    "track": "volume_track",
}


@dataclass(frozen=True)
class Pickup:
    """What is known of a pickup before anything is fitted.

    Attributes
    ----------
    track : of the volume pot [Ω], None for none
    tone_track, tone_capacitor : [Ω], [F], None for no tone control
    exponent : of the loss, None where it is to be found
    half : whether there is a recording at about half volume
    assumed : what was told or taken, as the result shows it
    """

    track: Unknown | None
    tone_track: Quantity | None
    tone_capacitor: Quantity | None
    exponent: Quantity | None
    half: bool
    assumed: Mapping[str, Assumed]

    def unknowns(self) -> tuple[Unknown, ...]:
        """Return what a fit has to find of the pickup."""
        found = [
            Unknown("resistance", 7e3, 10.0, 200e3),
            Unknown("inductance", 3.0, 1e-3, 300.0, True, 1.0, *_HENRIES),
            Unknown("capacitance", 100e-12, 0.0, 20e-9, False, 10e-12),
            Unknown("loss_conductance", 5e-6, 0.0, 1e-2, False, 1e-6),
        ]
        if self.track is not None:
            found.append(self.track)
        if self.tone_track is not None and self.tone_capacitor is not None:
            found += [
                told("tone_track", self.tone_track),
                told("tone_capacitor", self.tone_capacitor),
            ]
        if self.exponent is None:
            found.append(
                Unknown("exponent", 0.4, 0.0, 1.0, False, 0.1, _EXPONENT, _EXPONENT_WITHIN)
            )
        if self.half:
            found.append(Unknown("fraction", 0.3, 0.02, 0.98, False, 0.1))
            found.append(Unknown("wiring", 20e-12, 0.0, 2e-9, False, 10e-12))
        return tuple(found)

    def starts(self) -> Sequence[Mapping[str, float]]:
        """Return where searches begin: coils of many turns and of few, little loss and much."""
        coils = (
            (6e3, 3.0, 100e-12, 3e-6),
            (9e3, 6.0, 50e-12, 1e-6),
            (5e3, 1.5, 200e-12, 12e-6),
            (12e3, 10.0, 300e-12, 20e-6),
            (300.0, 0.1, 200e-12, 100e-6),
        )
        names = ("resistance", "inductance", "capacitance", "loss_conductance")
        return [
            {**dict(zip(names, coil, strict=True)), **({"fraction": a} if self.half else {})}
            for coil in coils
            for a in ((0.12, 0.5) if self.half else (1.0,))
        ]

    def instrument(self, v: Values, *, half: bool = False) -> PassiveInstrument:
        """Return the instrument of some values, at full volume or at about half."""
        wiring = v.get("wiring", np.zeros(1))
        made = PassiveInstrument(
            resistance=v["resistance"],
            inductance=v["inductance"],
            capacitance=v["capacitance"] - wiring,
            loss_resistance=1 / np.maximum(v["loss_conductance"], _NO_LOSS),
            loss_exponent=v["exponent"] if self.exponent is None else float(self.exponent.value),
            volume_track=v.get("track"),
            tone_track=v.get("tone_track", 0.0),
            tone_capacitor=v.get("tone_capacitor", 0.0),
            wiring_capacitance=wiring,
        )
        if not half:
            return made
        return dataclasses.replace(made, volume=_FULL * v["fraction"], volume_taper=LINEAR)

    def figures(self, solved: Solved) -> Mapping[str, Figure]:
        """Return the figures of the pickup, by key."""
        found = {
            "resistance": plain(solved, "resistance", "Ω"),
            "inductance": plain(solved, "inductance", "H"),
            "capacitance": plain(solved, "capacitance", "F"),
            "loss_resistance": reciprocal(solved, "loss_conductance", "Ω"),
        }
        if self.exponent is None:
            found["loss_exponent"] = _within_one(plain(solved, "exponent", ""))
        else:
            n = float(self.exponent.value)
            found["loss_exponent"] = Figure(n, n, n, "")
        if self.track is not None:
            found["volume_track"] = plain(solved, "track", "Ω")
        return found

    def together(self, solved: Solved) -> tuple[tuple[str, str], ...]:
        """Return which figures cannot be told apart by the recordings."""
        names = {u.name for u in solved.unknowns}
        keys = {name: key for name, key in _KEYS.items() if name in names}
        return not_told_apart(solved, keys, ("track", "exponent"))

    def notes(self, figures: Mapping[str, Figure], pairs: Sequence[tuple[str, str]]) -> list[str]:
        """Return what should be known of the figures."""
        said = doubts(figures)
        if self.tone_track is None and self.track is not None:
            said.append(
                "No tone control was counted. If the instrument has one, give its pot and "
                "capacitor (--tone-track, --tone-capacitor): at 10 it takes as much as a second "
                "volume pot, which is counted as loss of the pickup: the inductance then comes "
                "out some 10 % small, and the truth is outside the intervals printed here."
            )
        if (
            self.track is not None
            and not self.half
            and half_width(figures["loss_resistance"]) > 0.05
        ):
            said.append(
                "Volume pot and loss look nearly alike with the volume at 10. A third recording "
                "with the volume about half (--half) tells them apart."
            )
        if ("inductance", "loss_resistance") in pairs and self.exponent is None:
            said.append(
                "So much is lost in metal near this coil that inductance and loss look alike. "
                "With --loss-exponent 0.5, as of thick metal, each has a figure of its own."
            )
        return said


def pickup(known: Known, *, half: bool, pot: bool) -> Pickup:
    """Return what was told of a pickup.

    Parameters
    ----------
    known : what the user said
    half : whether there is a recording at about half volume
    pot : whether there is a volume pot if none was said

    Raises
    ------
    SigsimError : half a tone control
    """
    _whole_tone(known)
    assumed = {
        option: rests_on(found, unit, given=True)
        for option, unit in (("tone_track", "Ω"), ("tone_capacitor", "F"), ("loss_exponent", ""))
        if (found := getattr(known, option)) is not None
    }
    track = None
    if known.volume_track is not None:
        track = told("track", known.volume_track)
        assumed["volume_track"] = rests_on(known.volume_track, "Ω", given=True)
    elif half:
        track = Unknown("track", 300e3, 10e3, 5e6)
    elif pot:
        track = told("track", _USUAL_TRACK)
        assumed["volume_track"] = rests_on(_USUAL_TRACK, "Ω", given=False)
    return Pickup(track, known.tone_track, known.tone_capacitor, known.loss_exponent, half, assumed)


def _whole_tone(known: Known) -> None:
    track, capacitor = known.tone_track, known.tone_capacitor
    if (track is None) == (capacitor is None):
        return
    here, missing = ("--tone-track", "--tone-capacitor")[:: -1 if track is None else 1]
    raise SigsimError(
        f"a tone control is a pot and a capacitor: {missing} is needed beside it", where=here
    )


def _within_one(figure: Figure) -> Figure:
    low, high = max(figure.low or 0.0, 0.0), min(figure.high or 1.0, 1.0)
    return dataclasses.replace(figure, low=low, high=high)

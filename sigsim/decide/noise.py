"""How quiet: the noise a board brings to its destination, and who makes it."""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.decide.folding import COMPARED_HZ, SAME_DB, Fold, folded
from sigsim.decide.limits import refuse_beyond
from sigsim.decide.power.report import Joined, joined_where_told
from sigsim.metrics import AUDIBLE_HZ
from sigsim.physics.noise import ROOM_TEMPERATURE, band_power
from sigsim.physics.weighting import a_weighting_power
from sigsim.states.circuit import Circuit
from sigsim.states.noise import Contributor, Noise, noise
from sigsim.states.response import grid

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On, State
    from sigsim.physics.arrays import FloatArray

NOMINAL_LEVEL: Final = 0.1  # V rms
# 205 points an octave: a resonance with a quality of 100 is added up to 0.0001 dB.
_POINTS: Final = 2049
# Parts of the noise power under this are not told one by one.
_LEAST_TOLD: Final = 0.0005

# Words for how far the A-weighted noise at the destination lies under the nominal level: under
# the first limit [dB] the first word holds, and so on. Common practice, no source.
WORDS: Final = (
    (60.0, "loud hiss"),
    (75.0, "clear hiss"),
    (90.0, "quiet"),
    (math.inf, "very quiet"),
)


class Totals(NamedTuple):
    """Noise from 20 Hz to 20 kHz at one point.

    Attributes
    ----------
    flat, a_weighted : [V rms], the second A-weighted; not a number where nothing gets through
    """

    flat: float
    a_weighted: float


@dataclass(frozen=True)
class Share:
    """What one contributor brings to the destination.

    Attributes
    ----------
    who : the contributor
    flat, a_weighted : its part of the noise power [-], the second A-weighted
    density : at the destination [V/√Hz], shape (frequency,)
    """

    who: Contributor
    flat: float
    a_weighted: float
    density: FloatArray

    @property
    def large(self) -> bool:
        """Whether it is worth telling by itself."""
        return max(self.flat, self.a_weighted) >= _LEAST_TOLD


@dataclass(frozen=True)
class StateNoise:
    """The noise of one state.

    Attributes
    ----------
    state : which things are on, and what that is called
    destination : the noise at the destination
    instrument : the noise in the pickup that would make as much, point by point in frequency
    shares : of every contributor, the largest A-weighted first
    quiet : the stages in the signal's way of which no noise figure is known
    incomplete : those of which one is known, and which is not
    frequency : [Hz], shape (frequency,)
    density : at the destination [V/√Hz]
    referred : the same at the instrument [V/√Hz]
    """

    state: State
    destination: Totals
    instrument: Totals
    shares: tuple[Share, ...]
    quiet: tuple[str, ...]
    incomplete: dict[str, str]
    frequency: FloatArray
    density: FloatArray
    referred: FloatArray

    @property
    def told(self) -> list[Share]:
        """The shares that are worth telling one by one."""
        return [share for share in self.shares if share.large]

    @property
    def rest(self) -> Totals | None:
        """What all other shares are together [-]; None if that is not worth telling."""
        left = [share for share in self.shares if not share.large]
        rest = Totals(sum(s.flat for s in left), sum(s.a_weighted for s in left))
        return rest if max(rest) >= _LEAST_TOLD else None


@dataclass(frozen=True)
class NoiseReport:
    """What `noise` answers.

    Attributes
    ----------
    board : the board
    level : nominal, that the noise is held against [V rms]
    temperature : of everything passive [K]
    states : the states asked for
    joined : the pedals whose returns meet in a supply without isolated outputs
    """

    board: Board
    level: float
    temperature: float
    states: tuple[StateNoise, ...]
    joined: tuple[Joined, ...] = ()

    def below(self, volts: float) -> float:
        """Return how far a noise [V] lies under the nominal level [dB]."""
        return dbv(self.level) - dbv(volts)

    def verdict(self, state: StateNoise) -> str:
        """Return the word for the A-weighted noise of a state at the destination."""
        return verdict(self.below(state.destination.a_weighted))

    @property
    def merged(self) -> list[Fold[StateNoise]]:
        """The states in their order, those that hiss the same as one."""
        return folded(self.states, _same_noise, kind=_makers, within=SAME_DB)

    @property
    def quiet(self) -> tuple[str, ...]:
        """The stages in the signal's way, in any state, of which no noise figure is known."""
        return tuple(dict.fromkeys(name for state in self.states for name in state.quiet))

    @property
    def incomplete(self) -> dict[str, tuple[str, ...]]:
        """By noise figure the stages that lack only this one, in any state."""
        missing = {name: key for state in self.states for name, key in state.incomplete.items()}
        return {
            key: tuple(name for name, its in missing.items() if its == key)
            for key in sorted(set(missing.values()))
        }

    @property
    def noisiest(self) -> StateNoise:
        """The state with the most A-weighted noise at the destination."""
        return max(self.states, key=_loudness)


def _same_noise(found: StateNoise) -> list[float]:
    """Return what two states have alike if nobody can tell their noise apart [dB]."""
    totals = (*found.destination, *found.instrument)
    densities = (
        np.interp(COMPARED_HZ, found.frequency, density)
        for density in (found.density, found.referred)
    )
    return [dbv(volts) for volts in (*totals, *np.concatenate(list(densities)).tolist())]


def _makers(found: StateNoise) -> Hashable:
    """Return who is told of as making the noise, and of whom figures are missing."""
    told = frozenset(share.who for share in found.told)
    return told, found.quiet, tuple(sorted(found.incomplete.items()))


def _loudness(found: StateNoise) -> tuple[float, str]:
    return float(np.nan_to_num(found.destination.a_weighted)), found.state.name


def noise_report(
    board: Board,
    states: Sequence[State],
    *,
    level: float = NOMINAL_LEVEL,
    temperature: float = ROOM_TEMPERATURE,
) -> NoiseReport:
    """Return the noise of some states.

    Parameters
    ----------
    board : the board
    states : of the board
    level : nominal, that the noise is held against [V rms]
    temperature : of everything passive [K]
    """
    refuse_beyond(board, "noise")
    circuit = Circuit(board, grid(*AUDIBLE_HZ, _POINTS))
    found = tuple(_assess(circuit, state, temperature) for state in states)
    return NoiseReport(board, level, temperature, found, joined_where_told(board))


def a_weighted_noise(board: Board, on: On) -> float:
    """Return the A-weighted noise at the destination [dBV] with these names on, all else off."""
    found = noise(Circuit(board, grid(*AUDIBLE_HZ, _POINTS)), on, ROOM_TEMPERATURE)
    return dbv(_totals(found.total, found.frequency).a_weighted)


def dbv(volts: float) -> float:
    """Return a voltage [V rms] in dBV; minus infinity for nothing at all."""
    if math.isnan(volts):
        return math.nan
    return 20 * math.log10(volts) if volts > 0 else -math.inf


def verdict(below_db: float) -> str:
    """Return the word for how far the noise lies under the nominal level [dB]."""
    if math.isnan(below_db):
        return ""
    return next((word for limit, word in WORDS if below_db < limit), WORDS[-1][1])


def _assess(circuit: Circuit, state: State, temperature: float) -> StateNoise:
    found = noise(circuit, state.on, temperature)
    return StateNoise(
        state=state,
        destination=_totals(found.total, found.frequency),
        instrument=_totals(found.referred, found.frequency),
        shares=_shares(found),
        quiet=found.quiet,
        incomplete=found.incomplete,
        frequency=found.frequency,
        density=np.sqrt(found.total),
        referred=np.sqrt(found.referred),
    )


def _totals(density: FloatArray, frequency: FloatArray) -> Totals:
    """Return the totals of a noise power density [V²/Hz]."""
    with np.errstate(all="ignore"):
        weighted = density * a_weighting_power(frequency)
    powers = band_power(np.stack((density, weighted)), frequency)
    return Totals(*(math.sqrt(p) if math.isfinite(p) else math.nan for p in powers))


def _shares(found: Noise) -> tuple[Share, ...]:
    parts = np.stack(list(found.parts.values()))
    with np.errstate(all="ignore"):
        flat = band_power(parts, found.frequency)
        weighted = band_power(parts * a_weighting_power(found.frequency), found.frequency)
    rows = zip(found.parts, _fractions(flat), _fractions(weighted), np.sqrt(parts), strict=True)
    return tuple(sorted((Share(*row) for row in rows), key=lambda share: -share.a_weighted))


def _fractions(powers: FloatArray) -> list[float]:
    """Return the part that each has of the sum; of nothing, or of infinity, there are no parts."""
    total = float(powers.sum())
    known = 0 < total < math.inf
    fractions: list[float] = (powers / total if known else np.zeros_like(powers)).tolist()
    return fractions

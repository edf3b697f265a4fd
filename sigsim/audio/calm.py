"""Which filter a recording gets: the closest to the model, or a calmer one for what it holds.

A close filter has much gain between its edge, 0.45 times the sample rate, and half the rate
(`audio.treble`). A take that was low-passed for its rate has nothing there, and nothing comes out.
One with hiss or sharp cuts has, and then most of what comes out might be a tone that nobody hears,
which spoils the level and costs headroom. It gets a filter with less gain there, which follows the
model as closely but less far up.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim.audio.filter import build_filter
from sigsim.audio.loudness import HEARD_HZ
from sigsim.audio.treble import CALM_DB, EDGE

if TYPE_CHECKING:
    from sigsim.audio.audition import Levels
    from sigsim.audio.filter import Filter
    from sigsim.audio.loudness import Spectrum
    from sigsim.audio.treble import Ratio

# A filter whose gain above the edge is less [dB] is never shrill.
_SHRILL_DB: Final = 20.0
# More is, if this share of the power that comes out is above the edge all the time: little where
# it is heard, and where not, what would spoil the level.
_STEADY_HEARD, _STEADY_UNHEARD = 0.01, 0.05
# So is this share with its bursts; and where the level is matched, as much as of what is steady.
_WITH_BURSTS: Final = 0.75
# So are bursts of less, for which everything must be turned down by so much [-].
_TURNED_DOWN, _IN_BURSTS = 0.97, 1e-5
# A note at the edge is not above it: the spectrum is so far blurred [of the sample rate].
_ASIDE: Final = 0.01


@dataclass(frozen=True)
class _Above:
    """How much of the power that comes out of a filter is above the edge [-].

    Attributes
    ----------
    steady : all the time
    whole : with its bursts
    """

    steady: float
    whole: float

    @classmethod
    def of(cls, found: Filter, spectrum: Spectrum, rate: int) -> _Above:
        """Return what comes out of a filter; with little gain there, nothing counts."""
        if found.above_edge < _SHRILL_DB:
            return cls(0.0, 0.0)
        gain = found.gain(spectrum.size) ** 2
        above = spectrum.frequency > (EDGE + _ASIDE) * rate
        out = spectrum.power * gain
        below, whole = max(float(out[~above].sum()), 1e-300), float(out[above].sum())
        steady = float((spectrum.steady() * gain)[above].sum())
        return cls(steady / (below + steady), whole / (below + whole))

    def is_shrill(self, rate: int, matched: bool) -> bool:
        """Say whether this is too much, whatever its level."""
        most = _STEADY_HEARD if EDGE * rate < HEARD_HZ else _STEADY_UNHEARD
        return self.steady > most or self.whole > (most if matched else _WITH_BURSTS)

    def has_bursts(self, scale: float) -> bool:
        """Say whether bursts above the edge may be what everything is turned down for."""
        return scale < _TURNED_DOWN and self.whole > _IN_BURSTS


def suited_filter(
    ratio: Ratio, rate: int, measured: Callable[[Filter], Levels], *, matched: bool
) -> tuple[Filter, Levels]:
    """Return the filter for a recording, and how loud what comes out of it is.

    Parameters
    ----------
    ratio : gives the response [-] at frequencies [Hz]
    rate : sample rate [Hz]
    measured : sends the recording through a filter and measures it
    matched : whether the power that comes out decides the level
    """
    found = build_filter(ratio, rate)
    levels = measured(found)
    above = _Above.of(found, levels.spectrum, rate)
    for most in CALM_DB:
        shrill = above.is_shrill(rate, matched)
        if not shrill and not above.has_bursts(levels.scale):
            break
        if most >= found.above_edge:
            continue
        calmer = build_filter(ratio, rate, most)
        its_above = _Above.of(calmer, levels.spectrum, rate)
        if most > CALM_DB[-1] and its_above.is_shrill(rate, matched):
            continue  # there is no need to measure it
        its_levels = measured(calmer)
        # Bursts are put up with where they are not what costs the level.
        if not shrill and its_levels.scale * _TURNED_DOWN <= levels.scale:
            break
        found, levels, above = calmer, its_levels, its_above
    return found, levels

"""Which filter a recording gets: the closest to the model, or a calmer one for what it holds.

A close filter has much gain between its edge, 0.45 times the sample rate, and half the rate
(`audio.treble`). A take that was low-passed for its rate has nothing there, and nothing comes out.
One with hiss or sharp cuts has, and then most of what comes out might be a tone that nobody hears,
which spoils the level and costs headroom. It gets a filter with less gain there, which follows the
model as closely but less far up.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from sigsim.audio.filter import build_filter
from sigsim.audio.treble import CALM_DB, EDGE

if TYPE_CHECKING:
    from sigsim.audio.audition import Levels
    from sigsim.audio.filter import Filter
    from sigsim.audio.loudness import Spectrum
    from sigsim.audio.treble import Ratio

# A filter whose gain above the edge is less [dB] is never shrill. More is, if this share of what
# comes out is above the edge: little where it is heard, and where not, what would spoil the level.
_SHRILL_DB, _SHRILL_HEARD, _SHRILL_UNHEARD = 20.0, 0.01, 0.05
# So is less of it that comes in bursts for which everything must be turned down by so much [-].
_TURNED_DOWN, _IN_BURSTS = 0.97, 1e-5
# Above this it is not heard [Hz].
_HEARD_HZ: Final = 16_000.0
# A note at the edge is not above it: the spectrum is so far blurred [of the sample rate].
_ASIDE: Final = 0.01


def _share_above(found: Filter, spectrum: Spectrum, rate: int) -> float:
    """Return how much of the power that comes out of a filter is above the edge [-].

    Parameters
    ----------
    found : the filter; of one with little gain there nothing counts
    spectrum : of the recording
    rate : its sample rate [Hz]
    """
    if found.above_edge < _SHRILL_DB:
        return 0.0
    above = spectrum.frequency > (EDGE + _ASIDE) * rate
    power = spectrum.power * found.gain(spectrum.size) ** 2
    return float(power[above].sum() / max(power.sum(), 1e-300))


def _is_shrill(share: float, rate: int) -> bool:
    """Say whether a share of the power above the edge is too much."""
    return share > (_SHRILL_HEARD if EDGE * rate < _HEARD_HZ else _SHRILL_UNHEARD)


def _has_bursts(share: float, scale: float) -> bool:
    """Say whether bursts above the edge may be what everything is turned down for."""
    return scale < _TURNED_DOWN and share > _IN_BURSTS


def _is_relieved(before: float, after: float) -> bool:
    """Say whether a calmer filter lets everything be that much louder."""
    return after * _TURNED_DOWN > before


def choose(ratio: Ratio, rate: int, measured: Callable[[Filter], Levels]) -> tuple[Filter, Levels]:
    """Return the filter for a recording, and how loud what comes out of it is.

    Parameters
    ----------
    ratio : gives the response [-] at frequencies [Hz]
    rate : sample rate [Hz]
    measured : sends the recording through a filter and measures it
    """
    found = build_filter(ratio, rate)
    levels = measured(found)
    share = _share_above(found, levels.spectrum, rate)
    for most in CALM_DB:
        shrill = _is_shrill(share, rate)
        if not shrill and not _has_bursts(share, levels.scale):
            break
        if most >= found.above_edge:
            continue
        calmer = build_filter(ratio, rate, most)
        its_share = _share_above(calmer, levels.spectrum, rate)
        if most > CALM_DB[-1] and _is_shrill(its_share, rate):
            continue  # there is no need to measure it
        its_levels = measured(calmer)
        if not shrill and not _is_relieved(levels.scale, its_levels.scale):
            break
        found, levels, share = calmer, its_levels, its_share
    return found, levels

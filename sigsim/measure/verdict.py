"""What a comparison of a built board with its plan found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State

# The plan has to lose this much, on the whole, for its sign to be seen [dB]; and turned round it
# has to leave this part of the squares that it leaves as it is.
_SEEN_DB, _TURNED = 0.5, 0.15
# A suspect that explains less of a difference than this is not the one to check first.
_FIRST: Final = 0.4


@dataclass(frozen=True)
class Between:
    """A number with the interval that holds it in 95 of 100 cases [dB]."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class BandLoss:
    """The loss of one third octave.

    Attributes
    ----------
    frequency : its centre [Hz]
    measured, predicted : [dB]
    """

    frequency: float
    measured: Between
    predicted: Between

    @property
    def difference(self) -> float:
        """Measured less predicted [dB]."""
        return self.measured.value - self.predicted.value

    @property
    def surely(self) -> float:
        """How much of it is beyond both uncertainties, in whichever direction [dB]; 0 for none."""
        more = self.measured.low - self.predicted.high
        less = self.predicted.low - self.measured.high
        return max(more, less, 0.0)


@dataclass(frozen=True)
class StateVerdict:
    """One state, measured beside predicted.

    Attributes
    ----------
    state : which
    bands : third octaves from 100 Hz to 10 kHz, without those left out of the measurement
    measured, predicted : the treble loss [dB]
    """

    state: State
    bands: tuple[BandLoss, ...]
    measured: Between
    predicted: Between


@dataclass(frozen=True)
class Suspect:
    """Figures of the board of which one, changed alone, explains what was measured.

    Attributes
    ----------
    names : what a person calls them, in the order of what people get wrong
    key : of the board file, or "on" for a pedal that is on where it should be off
    change : of the first of them: what is there less what the file says [`unit`]
    unit : SI
    explains : how much of the difference it takes away, 0 to 1
    things : the stages and cables by their names in the file, or "instrument", in the same order
    """

    names: tuple[str, ...]
    key: str
    change: float
    unit: str
    explains: float
    things: tuple[str, ...] = ()


@dataclass(frozen=True)
class Verified:
    """A built board beside its plan.

    Attributes
    ----------
    board : the plan
    driven_by : resistance that drives it [Ω], None for the instrument
    without_means : what the recording without the board went through
    states : one for each recording
    largest_difference : of all bands [dB], None where there is none
    limit : [dB]
    within_limit : whether no band is further off than the limit by more than its uncertainty
    agrees_to : up to here no band is further off than the limit by more than its uncertainty [Hz],
        None where the lowest is already
    suspects : the likeliest first; empty where nothing differs
    record_next : names that are on in the state to record next, None where it would not help
    files : of the recordings by role
    notes : what should be known, each a sentence
    agrees_within : the largest difference up to `agrees_to` [dB], None for none
    """

    board: Board
    driven_by: float | None
    without_means: str
    states: tuple[StateVerdict, ...]
    largest_difference: float | None
    limit: float
    within_limit: bool
    agrees_to: float | None
    suspects: tuple[Suspect, ...] = ()
    record_next: tuple[str, ...] | None = None
    files: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()
    agrees_within: float | None = None

    @property
    def is_swapped(self) -> bool:
        """Whether what was measured is about the plan with its sign turned round."""
        pairs = [(b.measured.value, b.predicted.value) for s in self.states for b in s.bands]
        if self.within_limit or sum(p**2 for _, p in pairs) < _SEEN_DB**2 * len(pairs):
            return False
        return sum((m + p) ** 2 for m, p in pairs) < _TURNED * sum((m - p) ** 2 for m, p in pairs)

    @property
    def has_first(self) -> bool:
        """Whether a suspect explains enough of the difference to be checked before all else."""
        return any(suspect.explains >= _FIRST for suspect in self.suspects)

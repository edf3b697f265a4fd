"""What is between two circuits for the ear: a state, and what a recording went through."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim import metrics
from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray

_POINTS: Final = 400
# A reference this faint [-] (-180 dB) holds nothing that could be recorded.
_SILENT: Final = 1e-9


@dataclass(frozen=True)
class Change:
    """A state and a reference, both from the same strings.

    Attributes
    ----------
    state : gives H of what is to be heard
    reference : gives H of what the recording went through
    """

    state: metrics.Measurable
    reference: metrics.Measurable

    def __call__(self, frequency: FloatArray) -> ComplexArray:
        """Return H [-] of the state at frequencies [Hz]."""
        return self.state(frequency)

    def ratio(self, frequency: FloatArray) -> ComplexArray:
        """Return `H_state / H_reference` [-] at frequencies [Hz], more than 0.

        Raises
        ------
        SigsimError : one of them is infinite there
        """
        with np.errstate(divide="ignore", invalid="ignore"):
            divided = self.state(frequency) / self.reference(frequency)
        ratio: ComplexArray = np.array(np.broadcast_to(divided, frequency.shape))
        if not np.isfinite(ratio).all():
            where = frequency[int(np.argmin(np.isfinite(ratio)))]
            raise SigsimError(
                "a circuit without any loss rings for ever; such a filter cannot be built",
                found=f"an infinite response at {where:.4g} Hz",
                accepted="a board in which coils and cables have resistance",
            )
        return ratio

    def check_reference(self, highest: float) -> None:
        """See that the reference is nowhere silent.

        Parameters
        ----------
        highest : frequency [Hz] up to which it must sound

        Raises
        ------
        SigsimError : it is silent somewhere
        """
        frequency = np.geomspace(metrics.LOWEST_HZ, highest, _POINTS)
        size = np.abs(np.broadcast_to(self.reference(frequency), frequency.shape))
        silent = np.flatnonzero(~(size >= _SILENT))
        if not silent.size:
            return
        everywhere = silent.size == frequency.size
        raise SigsimError(
            "the reference is silent, so nothing can have been recorded through it",
            where="--recorded-through",
            found="silence" if everywhere else f"silence at {frequency[silent[0]]:.4g} Hz",
            accepted="a reference that lets the instrument through; is a volume knob at 0?",
        )


@dataclass(frozen=True)
class ChangeReport:
    """What changes, whatever the recording.

    Attributes
    ----------
    level : at 100 Hz against the reference [dB]
    treble_loss : [dB]; not a number where nothing comes out
    losses : by frequency [Hz] in [dB]
    verdict : the word for the treble loss, "silent" where nothing comes out
    """

    level: float
    treble_loss: float
    losses: dict[float, float]
    verdict: str


def assess_change(change: Change) -> ChangeReport:
    """Measure a change."""
    losses = metrics.loss(change, np.array(metrics.LOSS_HZ))
    treble = metrics.treble_loss(change)
    return ChangeReport(
        level=-float(metrics.loss(change, np.array([metrics.LEVEL_HZ]))[0]),
        treble_loss=treble,
        losses=dict(zip(metrics.LOSS_HZ, losses.tolist(), strict=True)),
        verdict=metrics.verdict(treble) or "silent",
    )

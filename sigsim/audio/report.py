"""What listening found, as plain results for tables and plots."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sigsim import metrics
from sigsim.audio.loudness import HEARD_HZ
from sigsim.audio.treble import EDGE

if TYPE_CHECKING:
    from sigsim.audio.audition import Levels
    from sigsim.audio.files import Recording
    from sigsim.audio.filter import Filter
    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.decide.listen import Change, ChangeReport
    from sigsim.physics.arrays import FloatArray


@dataclass(frozen=True)
class Listening:
    """A recording, what was done to it, and how much it loses.

    Attributes
    ----------
    board : listened at one of its ends
    state : which things are on, and what that is called
    reference, reference_title : what the recording went through, for data and for a reader
    recording : the input
    files : what was written, by role
    change : the two circuits, and `report` what is between them
    filter : what was applied
    levels : how loud things are
    """

    board: Board
    state: State
    reference: str
    reference_title: str
    recording: Recording
    files: Mapping[str, Path]
    change: Change
    report: ChangeReport
    filter: Filter
    levels: Levels

    @property
    def edge(self) -> float:
        """The frequency up to which the filter follows the model [Hz]."""
        return EDGE * self.recording.rate

    @property
    def follows_what_is_heard(self) -> bool:
        """Whether nothing above that frequency is heard."""
        return self.edge >= HEARD_HZ

    @property
    def loss_in_take(self) -> float | None:
        """How much less energy this recording has above 2 kHz [dB]; None if it has none there."""
        spectrum = self.levels.spectrum
        frequency = np.maximum(spectrum.frequency, spectrum.frequency[1])
        gain = np.abs(self.change.ratio(frequency))
        return spectrum.treble_loss(gain, self.edge)

    def bands(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return centres [Hz] of sixth octaves, the recording there [dB], and the loss [dB].

        The recording is relative to its strongest band.
        """
        centre, power = self.levels.spectrum.bands()
        inside = centre <= self.edge
        centre, power = centre[inside], power[inside]
        level = 10 * np.log10(power / power.max()) if power.size else power
        return centre, level, metrics.loss(self.change, centre)

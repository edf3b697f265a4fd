"""A recording sent through a filter: measured first, so that what is written never clips."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from sigsim.audio.files import Recording, Writer, container_for
from sigsim.audio.loudness import Extremes, Spectrum
from sigsim.audio.stream import Convolver
from sigsim.audio.treble import EDGE
from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from sigsim.audio.filter import Filter

    Counter: TypeAlias = Callable[[int], None]

# The roles of what can be written: the processed recording, the reference, and what the one lacks
# of the other; and what each adds to the name of a file.
PROCESSED, REFERENCE, LOST = "processed", "reference", "lost"
_ADDED: Final = {PROCESSED: "", REFERENCE: "-reference", LOST: "-lost"}


def file_names(out: str | Path, *, pair: bool, difference: bool) -> dict[str, Path]:
    """Return the file of each thing to be written: OUT, OUT-reference and OUT-lost."""
    path = Path(out)
    wanted = [PROCESSED, *([REFERENCE] if pair else []), *([LOST] if difference else [])]
    return {role: path.with_name(f"{path.stem}{_ADDED[role]}{path.suffix}") for role in wanted}


@dataclass(frozen=True)
class Levels:
    """How loud things are and will be.

    Attributes
    ----------
    extremes : of what will be written, by role, before `scale`
    matched : gain of the processed recording that makes both equally loud [-]; 1 if not asked for
    scale : common gain of everything that is written, at most 1 [-]
    spectrum : of the recording
    """

    extremes: Mapping[str, Extremes]
    matched: float
    scale: float
    spectrum: Spectrum

    @property
    def matched_db(self) -> float:
        """The gain that makes both equally loud [dB]."""
        return 20 * math.log10(self.matched)

    @property
    def scale_db(self) -> float:
        """The common gain [dB]; 0 or less."""
        return 20 * math.log10(self.scale)


def measure(
    recording: Recording,
    found: Filter,
    names: Mapping[str, Path],
    count: Counter,
    *,
    match: bool = False,
) -> Levels:
    """Send a recording through a filter and see how loud it becomes, without writing it.

    Parameters
    ----------
    recording : the recording
    found : the filter
    names : what will be written, by role
    count : told how many samples more are done
    match : whether the processed recording is to be as loud as the reference

    Raises
    ------
    SigsimError : nothing comes out that could be matched
    """
    spectrum = Spectrum(recording.rate, recording.channels, EDGE * recording.rate)
    extremes = _extremes(recording, found, 1.0, count, spectrum)
    before, after = extremes[REFERENCE].energy, extremes[PROCESSED].energy
    matched = 1.0
    if match and before:
        if not after:
            raise SigsimError(
                "nothing comes out that could be as loud as the reference",
                where="--match-level",
                accepted="a combination that lets the instrument through; is a volume knob at 0?",
            )
        matched = math.sqrt(before / after)
        if matched != 1.0:
            extremes = _extremes(recording, found, matched, count, None)
    written = {role: extremes[role] for role in names}
    scale = min(_fitting(recording, one, extremes[REFERENCE].peak) for one in written.values())
    return Levels(written, matched, scale, spectrum)


def _extremes(
    recording: Recording, found: Filter, gain: float, count: Counter, spectrum: Spectrum | None
) -> dict[str, Extremes]:
    extremes = {role: Extremes() for role in _ADDED}
    through = Convolver(found.taps, recording.channels)
    for block in recording.blocks(through.longest):
        heard = through(block) * gain
        for role, samples in _sounds(block, heard).items():
            extremes[role].add(samples)
        if spectrum is not None:
            spectrum.add(block)
        count(len(block))
    if spectrum is not None:
        spectrum.finish()
    return extremes


def _sounds(block: np.ndarray, heard: np.ndarray) -> dict[str, np.ndarray]:
    return {PROCESSED: heard, REFERENCE: block, LOST: block - heard}


def _fitting(recording: Recording, extremes: Extremes, peak: float) -> float:
    """Return the gain, at most 1, with which something fits under full scale [-].

    A recording in floating point may itself lie over full scale; what is no louder may stay there.
    """
    if recording.is_float and extremes.peak <= peak:
        return 1.0
    high = recording.highest
    return min(high / max(extremes.highest, high), 1 / max(-extremes.lowest, 1.0))


def write(
    recording: Recording,
    found: Filter,
    levels: Levels,
    files: Mapping[str, Path],
    names: Mapping[str, Path],
    count: Counter,
) -> None:
    """Send a recording through a filter into files.

    Parameters
    ----------
    recording, found, levels : as measured
    files : where to, by role
    names : the names that decide the format, by role
    count : told how many samples more are done

    Raises
    ------
    OutputError : a format cannot hold the samples, or a file cannot be written
    """
    through = Convolver(found.taps, recording.channels)
    with ExitStack() as stack:
        writers = {
            role: stack.enter_context(
                Writer(file, container_for(names[role], recording), recording)
            )
            for role, file in files.items()
        }
        for block in recording.blocks(through.longest):
            sounds = _sounds(block, through(block) * levels.matched)
            for role, writer in writers.items():
                writer.write(sounds[role] * levels.scale)
            count(len(block))

"""What is heard: a phrase through the board as it is, and as it was saved, equally loud."""

from __future__ import annotations

import math
import tempfile
from collections.abc import Collection
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.errors import SigsimError, quote

if TYPE_CHECKING:
    from sigsim.audio.audition import Levels
    from sigsim.audio.files import Recording
    from sigsim.audio.filter import Filter
    from sigsim.board.model import Board
    from sigsim.physics.arrays import FloatArray

# No more of a recording is heard than this [s].
_LONGEST_S: Final = 60.0
# It begins so quietly [-] and comes up to its level in so long [s]: nobody is startled.
_QUIET, _COMING_UP_S = 0.03, 2.0
_PEAK: Final = 0.5
_WHICH: Final = ("now", "saved")


def listen(
    now: Board, saved: Board, on: Collection[str], recording: Path | None, which: str
) -> bytes:
    """Return a recording as it sounds through one of two boards, as a WAV file.

    Both are equally loud, so that what differs is the sound alone.

    Parameters
    ----------
    now, saved : the boards
    on : the names of what is on
    recording : that the player picked, None for the phrase of our own
    which : "now" or "saved"

    Raises
    ------
    SigsimError : nothing comes out, or the recording cannot be read
    """
    if which not in _WHICH:
        raise SigsimError("there is nothing of this name to hear", found=quote(which))
    asked = (now, saved, frozenset(on), recording, _stamp(recording))
    if _last.asked != asked:
        _last.asked, _last.heard = None, {}
        _last.heard, _last.asked = _both(now, saved, on, recording), asked
    return _last.heard[which]


class _Last:
    """The pair that was asked for last: who compares goes to and fro between the two."""

    def __init__(self) -> None:
        self.asked: tuple[object, ...] | None = None
        self.heard: dict[str, bytes] = {}


_last = _Last()


def _stamp(recording: Path | None) -> object:
    found = recording.stat() if recording is not None else None
    return found and (found.st_mtime_ns, found.st_size)


def _both(
    now: Board, saved: Board, on: Collection[str], recording: Path | None
) -> dict[str, bytes]:
    """Return both sounds as WAV files."""
    from sigsim.audio.files import open_recording, write_wav

    with tempfile.TemporaryDirectory(prefix="sigsim-") as folder:
        played = recording
        if played is None:
            played = Path(folder) / "phrase.wav"
            write_wav(played, *_phrase())
        opened = open_recording(played)
        sounds = {"now": _heard(now, now, on, opened)}
        sounds["saved"] = sounds["now"] if saved is now else _heard(saved, now, on, opened)
        made = {}
        for name, sound in _equal(sounds).items():
            out = Path(folder) / f"{name}.wav"
            write_wav(out, _rising(sound, opened.rate), opened.rate)
            made[name] = out.read_bytes()
        return made


@cache
def _phrase() -> tuple[FloatArray, int]:
    from sigsim.audio.phrase import RATE, phrase

    return phrase(), RATE


def _heard(board: Board, now: Board, on: Collection[str], recording: Recording) -> FloatArray:
    """Return a recording through a board, shape (frames, channels)."""
    from sigsim.audio.audition import PROCESSED, measure
    from sigsim.audio.calm import suited_filter
    from sigsim.audio.stream import Convolver
    from sigsim.audio.treble import EDGE
    from sigsim.decide.listen import Change
    from sigsim.states.response import Response, Solver, grid

    # Both are played on the instrument as it is now, through its lead alone.
    straight = Response(Solver(now), _of(now, on), grid(), "direct").reference
    change = Change(Response(Solver(board), _of(board, on), grid(), "direct"), straight)
    change.check_reference(EDGE * recording.rate)

    def measured(found: Filter) -> Levels:
        names = {PROCESSED: Path("heard.wav")}
        return measure(recording, found, names, lambda _: None, match=True)

    found, _ = suited_filter(change.ratio, recording.rate, measured, matched=True)
    through = Convolver(found.taps, recording.channels)
    blocks, frames = [], 0
    for block in recording.blocks(through.longest):
        blocks.append(through(block))
        frames += len(block)
        if frames >= _LONGEST_S * recording.rate:
            break
    return np.concatenate(blocks) if blocks else np.zeros((1, recording.channels))


def _of(board: Board, on: Collection[str]) -> frozenset[str]:
    return frozenset(on) & frozenset(board.switches())


def _equal(sounds: dict[str, FloatArray]) -> dict[str, FloatArray]:
    """Return sounds of the same power, the louder peak at half of full scale."""
    scaled = {name: sound / _power(sound) for name, sound in sounds.items()}
    peak = max(float(np.abs(sound).max()) for sound in scaled.values())
    return {name: sound * (_PEAK / peak) for name, sound in scaled.items()}


def _power(sound: FloatArray) -> float:
    found = math.sqrt(float(np.mean(sound**2)))
    if not found > 0:
        raise SigsimError(
            "nothing comes out of this board, so that there is nothing to hear",
            accepted="every volume knob above 0, and the loop in at whose end one listens",
        )
    return found


def _rising(sound: FloatArray, rate: int) -> FloatArray:
    """Return a sound that begins quietly."""
    frames = min(len(sound), round(_COMING_UP_S * rate))
    gain = np.ones((len(sound), 1))
    gain[:frames, 0] = np.geomspace(_QUIET, 1.0, frames) if frames else 1.0
    return sound * gain

"""Playing and recording at once through an audio interface."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from threading import Event
from time import monotonic
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np

from sigsim.audio.devices import failure, library
from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from sigsim.audio.devices import Line
    from sigsim.physics.arrays import FloatArray

    # Told the peak of the last moments and how much is done [s].
    Told = Callable[[float, float], None]

# Until a stream has filled what its latency asks for, nothing comes in and it may crackle, so
# silence comes before the sound; and what is on its way must arrive [s].
BEFORE: Final = 0.8
BEHIND: Final = 1.5
# Later is safer, and no recording is the worse for it [s].
_LATENCY: Final = 0.3
# Without a block for so long an interface stands still [s].
_PATIENCE: Final = 5.0
_LOOK: Final = 0.1
# So many equal samples at full scale are no top of a wave.
_FLAT: Final = 3
_FULL: Final = 0.999


class ClippingError(SigsimError):
    """An input that is turned up too far."""

    def __init__(self, found: str) -> None:
        super().__init__(
            "the input clips: turn its gain down, and record all of them again with the same "
            "setting",
            where="audio interface",
            found=found,
        )


class _Flags(Protocol):
    """What a sound system says of a block that came late."""

    input_overflow: bool
    input_underflow: bool
    output_overflow: bool
    output_underflow: bool


@dataclass(frozen=True, eq=False)
class Take:
    """What came in while a sound was played.

    Attributes
    ----------
    samples : full scale 1, shape (frames,)
    rate : [Hz]
    dropped : blocks that the machine was too late for
    """

    samples: FloatArray
    rate: int
    dropped: int = 0

    @property
    def peak(self) -> float:
        """The highest sample, full scale 1."""
        return float(np.abs(self.samples).max())


def _is_flat(samples: Any) -> bool:
    """Return whether samples, shape (frames,), stay at full scale for longer than a wave's top."""
    full = np.abs(samples) >= _FULL
    run = full[_FLAT - 1 :].copy()
    for back in range(1, _FLAT):
        run &= full[_FLAT - 1 - back : len(full) - back]
    return bool(run.any())


@dataclass
class _Tape:
    """What is played and recorded, block by block as the sound system asks.

    Attributes
    ----------
    played : shape (frames,)
    heard : as long
    input, output : channels, from 0
    sounding : frames between which a late block does harm
    """

    played: Any
    heard: Any
    input: int
    output: int
    sounding: tuple[int, int]
    done: int = 0
    dropped: int = 0
    ended: Event = field(default_factory=Event)

    def turn(self, came: Any, goes: Any, frames: int, flags: _Flags) -> bool:
        """Take and give one block, and return whether there is more."""
        first, last = self.done, min(self.done + frames, len(self.played))
        goes.fill(0)
        goes[: last - first, self.output] = self.played[first:last]
        self.heard[first:last] = came[: last - first, self.input]
        late = (
            flags.input_overflow
            or flags.input_underflow
            or flags.output_overflow
            or flags.output_underflow
        )
        if late and self.sounding[0] <= last and first < self.sounding[1]:
            self.dropped += 1
        self.done = last
        return last < len(self.played)


def play_and_record(line: Line, sound: FloatArray, rate: int, told: Told | None = None) -> Take:
    """Play a sound and return what comes in meanwhile.

    Parameters
    ----------
    line : where to
    sound : full scale 1, shape (frames,)
    rate : [Hz]
    told : how it goes, ten times a second

    Raises
    ------
    ClippingError : what comes in clips
    SigsimError : the sound system fails or stands still
    """
    before, behind = round(BEFORE * rate), round(BEHIND * rate)
    tape = _Tape(
        np.concatenate([np.zeros(before), sound, np.zeros(behind)]).astype(np.float32),
        np.zeros(before + len(sound) + behind, dtype=np.float32),
        line.input - 1,
        line.output - 1,
        (before, before + len(sound)),
    )
    library_error = library().PortAudioError
    try:
        stream = _stream(line, tape, rate)
        try:
            stream.start()
            _wait(tape, rate, told)
        finally:
            # At once: also when somebody has had enough of the sound.
            stream.abort()
            stream.close()
    except library_error as error:
        raise failure(error) from None
    return Take(tape.heard.astype(float), rate, tape.dropped)


def _stream(line: Line, tape: _Tape, rate: int) -> Any:
    sound = library()

    def callback(came: Any, goes: Any, frames: int, _time: object, flags: _Flags) -> None:
        if not tape.turn(came, goes, frames, flags):
            raise sound.CallbackStop

    return sound.Stream(
        samplerate=rate,
        device=(line.source.number, line.sink.number),
        channels=(line.input, line.output),
        dtype="float32",
        latency=_LATENCY,
        callback=callback,
        finished_callback=tape.ended.set,
    )


def _wait(tape: _Tape, rate: int, told: Told | None) -> None:
    """Wait until all is played, look at what comes in, and say how it goes."""
    seen, moved = 0, monotonic()
    while True:
        ended = tape.ended.wait(_LOOK)
        done = tape.done
        if done > seen:
            part = tape.heard[max(0, seen - _FLAT) : done]
            if _is_flat(part):
                raise ClippingError(f"full scale at {done / rate:.1f} s")
            if told is not None:
                told(float(np.abs(part).max()), done / rate)
            seen, moved = done, monotonic()
        if ended:
            break
        if monotonic() - moved > _PATIENCE:
            raise SigsimError(
                "the interface stands still: see that it is switched on and that no other program "
                "holds it",
                where="audio interface",
                found=f"nothing for {_PATIENCE:g} s",
            )
    if tape.done < len(tape.played):
        raise SigsimError(
            "the interface stopped before the sound was over: see that it is still plugged in",
            where="audio interface",
            found=f"{tape.done / rate:.1f} of {len(tape.played) / rate:.1f} s",
        )

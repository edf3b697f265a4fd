"""A sound library that plays into a circuit in place of an interface, as fast as it can.

It has the names of the library that the program uses, and imports nothing of the program. What is
plugged in is a response; somebody at the terminal changes it between their answers.
"""

from __future__ import annotations

import io
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import numpy as np

Response = Callable[[np.ndarray], np.ndarray]

# How many samples later everything comes back.
DELAY = 700
_TAPS = 1 << 14
_MIDDLE = 2000  # of an impulse response, so that it may begin before its time
_BLOCK = 4096


class PortAudioError(Exception):
    """What the sound system says."""


class CallbackStop(Exception):
    """Nothing more is to be played."""


def wire(f: np.ndarray) -> np.ndarray:
    """Return what passes a wire: all."""
    return np.ones(len(f), dtype=complex)


def device(name: str, inputs: int, outputs: int, system: int = 0) -> dict[str, Any]:
    """Return a device as the library lists it."""
    return {
        "name": name, "hostapi": system, "max_input_channels": inputs,
        "max_output_channels": outputs, "default_samplerate": 48000.0,
    }  # fmt: skip


@dataclass
class Sound:
    """Stands for the module; its streams go through `plugged`.

    Attributes
    ----------
    plugged : the response of all between output and input
    gain : of the input knob; what is beyond full scale is cut off
    noise : root mean square, full scale 1
    listed : devices
    runs : sample rates
    late : numbers of blocks that come late in each stream
    lost : whether a late block is missing in what is recorded
    stalls : whether streams never ask for anything
    refuses : what is said where a stream is to be opened
    later : by how much each stream answers later than the one before [samples]
    played : what each stream has played, in order
    """

    plugged: Response = wire
    gain: float = 1.0
    noise: float = 1e-5
    listed: list[dict[str, Any]] = field(
        default_factory=lambda: [device("Fader box", 2, 2), device("Webcam", 1, 0)]
    )
    runs: tuple[int, ...] = (44_100, 48_000)
    late: tuple[int, ...] = ()
    lost: bool = False
    stalls: bool = False
    refuses: str = ""
    usual: tuple[int, int] = (0, 0)
    later: float = 0.0
    played: list[np.ndarray] = field(default_factory=list)
    PortAudioError: type[Exception] = PortAudioError
    CallbackStop: type[Exception] = CallbackStop

    @property
    def default(self) -> SimpleNamespace:
        return SimpleNamespace(device=self.usual)

    def query_devices(self) -> list[dict[str, Any]]:
        return self.listed

    def query_hostapis(self) -> list[dict[str, Any]]:
        return [{"name": "Test bench"}, {"name": "Older way"}]

    def check_input_settings(self, *, samplerate: int, **_: Any) -> None:
        if samplerate not in self.runs:
            raise PortAudioError("Invalid sample rate")

    check_output_settings = check_input_settings

    def Stream(self, **given: Any) -> Stream:
        if self.refuses:
            raise PortAudioError(self.refuses)
        return Stream(self, **given)


class Stream:
    """One run of playing and recording."""

    def __init__(
        self,
        bench: Sound,
        *,
        samplerate: int,
        channels: tuple[int, int],
        callback: Callable[..., None],
        finished_callback: Callable[[], None],
        **_: Any,
    ) -> None:
        self.bench, self.channels = bench, channels
        self.callback, self.finished = callback, finished_callback
        self.ended = threading.Event()
        self.thread = threading.Thread(target=self._run, daemon=True)
        f = np.fft.rfftfreq(_TAPS, 1 / samplerate)
        late = (_MIDDLE + bench.later * len(bench.played)) / samplerate
        shifted = bench.plugged(f) * np.exp(-2j * np.pi * f * late)
        # One response for input and output knobs alike.
        self.taps = bench.gain * np.fft.irfft(shifted, _TAPS)
        self.draw = np.random.default_rng(len(bench.played))

    def start(self) -> None:
        self.thread.start()

    def abort(self) -> None:
        self.ended.set()
        self.thread.join(10)

    def close(self) -> None:
        self.abort()

    def _run(self) -> None:
        if self.bench.stalls:
            self.ended.wait()
            return
        inputs, outputs = self.channels
        played: list[np.ndarray] = []
        coming = np.zeros(DELAY + _TAPS + _BLOCK)
        spectrum = np.fft.rfft(self.taps, 2 * _TAPS)
        number, goes_on = 0, True
        while goes_on and not self.ended.is_set():
            late = number in self.bench.late
            came = np.zeros((_BLOCK, inputs), dtype=np.float32)
            heard = coming[:_BLOCK] + self.bench.noise * self.draw.standard_normal(_BLOCK)
            came[:, inputs - 1] = np.clip(heard, -1, 1)
            if late and self.bench.lost:
                came[:] = 0
            goes = np.zeros((_BLOCK, outputs), dtype=np.float32)
            flags = SimpleNamespace(
                input_overflow=late, input_underflow=False, output_overflow=False,
                output_underflow=False,
            )  # fmt: skip
            try:
                self.callback(came, goes, _BLOCK, None, flags)
            except CallbackStop:
                goes_on = False
            sound = goes[:, outputs - 1].astype(float)
            played.append(sound)
            # It comes back later than it is played, by more than the middle of the taps.
            coming = np.concatenate([coming[_BLOCK:], np.zeros(_BLOCK)])
            answer = np.fft.irfft(np.fft.rfft(sound, 2 * _TAPS) * spectrum, 2 * _TAPS)
            coming[DELAY : DELAY + _TAPS + _BLOCK] += answer[: _TAPS + _BLOCK]
            number += 1
            if number % 50 == 0:
                time.sleep(0)
        self.bench.played.append(np.concatenate(played))
        self.finished()


class Somebody(io.StringIO):
    """Somebody at the terminal: each answer is typed after something has been done.

    Parameters
    ----------
    turns : what is done and then typed, each a pair; a text alone is typed only
    """

    def __init__(self, turns: Sequence[str | tuple[Callable[[], object], str]]) -> None:
        super().__init__()
        self.turns = list(turns)

    def isatty(self) -> bool:
        return True

    def readline(self, *_: Any) -> str:
        if not self.turns:
            return ""
        turn = self.turns.pop(0)
        if isinstance(turn, str):
            return turn + "\n"
        turn[0]()
        return turn[1] + "\n"

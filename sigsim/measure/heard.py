"""Hearing: a recording of the sweep, or a table, becomes the response that it holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.audio.files import open_recording
from sigsim.errors import SigsimError, shown_path
from sigsim.measure import faults, misfits, noise, overtones
from sigsim.measure.deconvolve import (
    Pulse,
    band_seen,
    cut,
    deconvolve,
    response,
    window_of,
)
from sigsim.measure.finding import Found, find, off_period
from sigsim.measure.played import Played, Sweep
from sigsim.measure.response import Heard
from sigsim.measure.spectra import Windows
from sigsim.measure.tabled import read_table

if TYPE_CHECKING:
    from sigsim.audio.files import Recording
    from sigsim.physics.arrays import ComplexArray

    Counter = Callable[[int], None]

_TABLE: Final = ".csv"
# Samples of all channels that are read: ten minutes of one, or five of two, at 48 kHz.
_MOST_SAMPLES: Final = 30_000_000
_AT_ONCE: Final = 1 << 18
# A recording that is nowhere louder is taken for silent [full scale]: -66 dBFS.
_SILENT: Final = 5e-4
# Where it is not told what was played, all begin to be alike from here on [Hz]: the sweep of the
# defaults is here after a second, and no fade is that long.
_FADED_HZ: Final = 40.0


def hear(
    path: str | Path,
    played: Played | None = None,
    *,
    loop: bool = False,
    progress: Counter | None = None,
) -> Heard:
    """Return the response that a recording, or by the ending .csv a table, holds.

    Parameters
    ----------
    path : of the file
    played : what was played; None for the sweep of the defaults at the recording's rate
    loop : whether it is the loop, in which a second arrival is looked for too
    progress : told how many samples more are read

    Raises
    ------
    SigsimError : it cannot be read, or something is wrong with it that no sum can mend
    """
    if Path(path).suffix.lower() == _TABLE:
        return read_table(path)
    where = shown_path(path)
    recording = open_recording(path)
    assumed, played = played is None, _for(recording, played, where)
    sound = _read(recording, where, progress)
    channel, found = _channel(sound, played)
    notes = [f"The sweep is in channel {channel + 1} of {len(sound)}."] if len(sound) > 1 else []
    samples = sound[channel]
    del sound
    faults.check_found(samples, found, played, where)
    faults.check_full_scale(samples, found, played, recording, where)
    heard = _heard(samples, found, played, where, loop)
    if assumed:
        heard = _above_fade(heard)
    notes.extend(_repeats_said(len(found.starts), played))
    return Heard(
        str(path),
        notes=(*notes, *heard.pop("notes")),
        rate=recording.rate,
        growth=played.folding,
        **heard,
    )


def _above_fade(heard: dict[str, Any]) -> dict[str, Any]:
    """Leave out where a sweep of the defaults may have been faded in otherwise than ours."""
    kept = heard["frequency"] >= _FADED_HZ
    return heard | {key: heard[key][kept] for key in ("frequency", "H", "sigma")}


def _for(recording: Recording, played: Played | None, where: str) -> Played:
    if played is None:
        try:
            return Played.of(Sweep(rate=recording.rate))
        except SigsimError:
            raise SigsimError(
                "the usual sweep needs a higher sample rate: record at 44.1 kHz or more",
                where=where,
                found=f"{recording.rate} Hz",
                accepted="44100 to 192000 Hz",
            ) from None
    if played.rate != recording.rate:
        raise SigsimError(
            "this was recorded at another sample rate than the sweep has: set the interface to "
            "that of the sweep, and record again",
            where=where,
            found=f"{recording.rate} Hz",
            accepted=f"{played.rate} Hz, as {played.name}",
        )
    return played


def _read(recording: Recording, where: str, progress: Counter | None) -> Any:
    """Return the samples of all channels in single precision, shape (channels, frames)."""
    if recording.frames * recording.channels > _MOST_SAMPLES:
        raise SigsimError(
            "this recording is too long: cut it, so that only the sweeps are left",
            where=where,
            found=f"{recording.seconds:.0f} s of {recording.channels} channels",
            accepted=f"{_MOST_SAMPLES / recording.channels / recording.rate:.0f} s",
        )
    # Single precision holds 24 bits, more than a converter gives.
    sound = np.empty((recording.channels, recording.frames), dtype=np.float32)
    done = 0
    for block in recording.blocks(_AT_ONCE):
        sound[:, done : done + len(block)] = block.T
        done += len(block)
        if progress is not None:
            progress(len(block))
    if float(np.abs(sound).max()) < _SILENT:
        raise faults.silent(float(np.abs(sound).max()), where)
    return sound


def _channel(sound: Any, played: Played) -> tuple[int, Found]:
    """Return which channel has the sweep loudest, and where it begins there."""
    loudest = [float(np.abs(channel).max()) for channel in sound]
    found = {
        k: find(channel, played)
        for k, channel in enumerate(sound)
        if loudest[k] >= max(_SILENT, 1e-3 * max(loudest))
    }
    best = max(found, key=lambda k: (found[k].clear, found[k].whole, found[k].peak))
    return best, found[best]


@lru_cache(maxsize=4)
def _windows(played: Played) -> Windows:
    return Windows(played.rate, played.grid, window_of(played))


def _heard(samples: Any, found: Found, played: Played, where: str, loop: bool) -> dict[str, Any]:
    """Return the fields of what is heard, but for its name and place."""
    _check_period(samples, found, played, where)
    blocks = cut(samples, found, played)
    faults.check_even(blocks, where)
    faults.check_gain(blocks, where)
    pulse = deconvolve(blocks)
    windows = _windows(played)
    grid = windows.grid
    H = response(pulse, windows)
    sigma = _sigma(pulse, windows, H)
    left_out = noise.louder(grid, sigma)
    clear = noise.left(grid, left_out)
    above = overtones.harmonics(pulse, grid, H, left_out)
    overtones.check_overdrive(above, where, everywhere=True)
    if single := len(blocks.spectra) == 1:
        misfits.check_whole(pulse, grid[clear], H[clear], where)
    else:
        misfits.check_gaps(samples, pulse, grid, H, where)
    if loop:
        misfits.check_echo(pulse, where)
    misfits.check_sweep(pulse, grid[clear], H[clear], where)
    if single:
        misfits.check_gaps(samples, pulse, grid, H, where)
    overtones.check_overdrive(above, where, everywhere=False)
    note = noise.said(left_out)
    return {
        "frequency": grid,
        "H": H * np.exp(2j * np.pi * grid * _delay(grid, H)),
        "sigma": sigma,
        "repeats": len(blocks.spectra),
        "clock_ppm": None if blocks.clock is None else 1e6 * blocks.clock,
        "third": next((one.level for one in above if one.order == 3), 0.0),
        "left_out": left_out,
        "notes": () if note is None else (note,),
    }


def _check_period(samples: Any, found: Found, played: Played, where: str) -> None:
    """See that the sweeps are as far apart as they were played.

    Raises
    ------
    SigsimError : a piece is missing between them, or each of them is another sweep
    """
    off = off_period(found, played)
    if not off.any():
        return
    worst = f"two sweeps {1000 * float(max(off, key=abs)):+.1f} ms further apart than played"
    if len(off) > 1 and np.ptp(off) < 1e-3:
        raise faults.another(played, where, worst)
    for start in found.starts:
        # One that is as it was played shows that it is not another.
        pulse = deconvolve(cut(samples, replace(found, starts=(start,)), played))
        H = response(pulse, _windows(played))
        misfits.check_whole(pulse, played.grid, H, where)
        try:
            misfits.check_sweep(pulse, played.grid, H, where)
        except SigsimError as error:
            wrong = error
        else:
            raise faults.broken(where, worst)
    raise wrong


def _sigma(pulse: Pulse, windows: Windows, H: ComplexArray) -> Any:
    """Return the standard error of the real and the imaginary part of ln H."""
    power = noise.variance(pulse, windows) / np.abs(band_seen(pulse.blocks.played, windows)) ** 2
    size = np.abs(H)
    return np.sqrt(power / 2) / np.where(size > 0, size, np.finfo(float).tiny)


def _delay(grid: Any, H: ComplexArray) -> float:
    """Return the delay that most of a response has [s]."""
    turn = H[1:] * H[:-1].conj()
    step = np.diff(grid)
    delays = -np.angle(turn) / (2 * np.pi * step)
    order = np.argsort(delays)
    weight = np.cumsum((np.abs(turn) * step)[order])
    return float(delays[order][np.searchsorted(weight, weight[-1] / 2)])


def _repeats_said(count: int, played: Played) -> list[str]:
    if count == 1 and played.repeats > 1:
        return [
            "Only one sweep of the recording is whole: what repeats would show, such as a "
            "difference of clocks, is not known."
        ]
    if count < played.repeats:
        return [f"Only {count} of {played.repeats} sweeps of the recording are whole."]
    return []

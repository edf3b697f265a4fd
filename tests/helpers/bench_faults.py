"""What goes wrong with recordings: each fault done to the samples of a good one."""

from __future__ import annotations

import numpy as np
from scipy.signal import lfilter

from helpers.bench import Floats, Sweep


def clipped(sound: Floats, over: float, at: float = 1.0) -> Floats:
    """Turn up until the loudest is `over` [dB] beyond a limit, and limit it."""
    loud = sound * (at * 10 ** (over / 20) / np.max(np.abs(sound)))
    return np.clip(loud, -at, at)


def silence(sound: Floats, level: float) -> Floats:
    """Return noise [dBFS rms] of the same length."""
    return 10 ** (level / 20) * np.random.default_rng(1).standard_normal(sound.size)


def with_gains(sound: Floats, sweep: Sweep, gains: tuple[float, ...]) -> Floats:
    """Give each repeat a gain of its own [dB], with ramps of 20 ms between."""
    steps = np.repeat(10 ** (np.array(gains) / 20), np.diff(_borders(sound, sweep)))
    width = sweep.rate // 50
    padded = np.concatenate([np.full(width, steps[0]), steps])
    smooth = np.convolve(padded, np.ones(width) / width)[width : width + sound.size]
    return sound * smooth


def levelled(sound: Floats, rate: int, ratio: float, release: float) -> Floats:
    """Turn down what is loud as an automatic gain does, and up again after it.

    Parameters
    ----------
    sound, rate : what was recorded, and its rate [Hz]
    ratio : how much of its level is taken off, 0 to 1
    release : time in which it follows [s]
    """
    pole = np.exp(-1 / (release * rate))
    power = lfilter([1 - pole], [1, -pole], sound**2, zi=[pole * np.mean(sound**2)])[0]
    return sound * (power / power.max() + 1e-3) ** (-ratio / 2)


def monitored(sound: Floats, rate: int, level: float, delay: float) -> Floats:
    """Send what is recorded out again, so much weaker [dB] and later [s], round and round."""
    later = round(delay * rate)
    feedback = np.zeros(later + 1)
    feedback[0], feedback[later] = 1.0, -(10 ** (level / 20))
    return np.asarray(lfilter([1.0], feedback, sound))


def missing(sound: Floats, start: int, length: int) -> Floats:
    """Leave a block out, so that all behind it comes earlier."""
    return np.delete(sound, slice(start, start + length))


def zeroed(sound: Floats, start: int, length: int) -> Floats:
    """Put zeros in the place of a block."""
    made = sound.copy()
    made[start : start + length] = 0.0
    return made


def repeated(sound: Floats, start: int, length: int) -> Floats:
    """Put the block before in the place of a block."""
    made = sound.copy()
    made[start : start + length] = sound[start - length : start]
    return made


def hummed(sound: Floats, rate: int, mains: float, level: float) -> Floats:
    """Add hum of a level [dBFS peak] with harmonics."""
    time = np.arange(sound.size) / rate
    waves = [np.sin(2 * np.pi * n * mains * time + n) / n for n in (1, 2, 3, 5)]
    return sound + 10 ** (level / 20) * np.sum(waves, axis=0)


def _borders(sound: Floats, sweep: Sweep) -> list[int]:
    """Return where the gain of each repeat begins: a second before it, and the end."""
    first = first_sample(sound) - sweep.rate
    period = round((sweep.duration + sweep.pause) * sweep.rate)
    inner = [first + n * period for n in range(1, sweep.repeats)]
    return [0, *inner, sound.size]


def first_sample(sound: Floats) -> int:
    """Return where it becomes loud."""
    return int(np.argmax(np.abs(sound) > 0.3 * np.abs(sound).max()))

"""What is wrong with a recording, said before anything is made of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.errors import SigsimError, quote

if TYPE_CHECKING:
    from sigsim.audio.files import Recording
    from sigsim.measure.deconvolve import Blocks
    from sigsim.measure.finding import Found
    from sigsim.measure.played import Played

# So many equal samples in a row at full scale are no top of a wave.
_FLAT: Final = 3
_FULL: Final = 0.999
# A recording is taken for silent where its loudest twentieth of a second has less [full scale].
_HUSH: Final = 2e-3
# Repeats differ by less than this where no automatic gain is at work [dB].
_STEADY: Final = 0.1
# A band by which gains are told needs such a surplus over what repeats do not share.
_SURE: Final = 8.0
_LOWEST: Final = 250.0
# Sweeps that begin later or earlier than an even clock has them are not of one piece [s].
_EVEN: Final = 2e-5


def silent(peak: float, where: str) -> SigsimError:
    """Return the error of a recording with next to nothing in it."""
    level = f"{20 * np.log10(peak):.0f} dBFS" if peak > 0 else "nothing at all"
    return SigsimError(
        "this recording is silent: see that the right input is recorded, that its gain is up, and "
        "that the sweep plays",
        where=where,
        found=f"a peak of {level}",
    )


def broken(where: str, found: str) -> SigsimError:
    """Return the error of a recording of which a piece is missing."""
    return SigsimError(
        "a piece of this recording is missing or out of place, as when a computer cannot keep up: "
        "choose a larger buffer for the interface, close other programs, and record again",
        where=where,
        found=found,
    )


def check_found(samples: Any, found: Found, played: Played, where: str) -> None:
    """See that the sweep is in a recording, whole, and in even steps.

    Raises
    ------
    SigsimError : it is not
    """
    if not found.clear:
        if (peak := _loudest(samples, played.rate)) < _HUSH:
            raise silent(peak, where)
        raise another(played, where, "no trace of it")
    if not found.whole or not found.starts:
        raise SigsimError(
            "no sweep of this recording is whole: start recording before it plays, and stop when "
            "it is over",
            where=where,
            found=f"{len(samples) / played.rate:.1f} s",
            accepted=f"at least one sweep of {played.duration:.1f} s from start to end",
        )


def another(played: Played, where: str, found: str) -> SigsimError:
    """Return the error of a recording of something else than what was played."""
    return SigsimError(
        f"{quote_free(played.name)} is not in this recording: play that one, or name the file that "
        "was played with --sweep",
        where=where,
        found=found,
    )


def quote_free(name: str) -> str:
    """Return the name of what was played as a sentence begins with it."""
    return (
        name[:1].upper() + name[1:] if name.startswith("the sweep") else f"What {quote(name)} holds"
    )


def _loudest(samples: Any, rate: int) -> float:
    """Return the peak of an ordinary moment of the louder part: a click alone is no sound."""
    each = max(1, rate // 20)
    count = len(samples) // each
    if not count:
        return float(np.abs(samples).max())
    peaks = np.abs(samples[: count * each]).reshape(count, each).max(axis=1)
    return float(np.quantile(peaks, 0.95))


def check_full_scale(
    samples: Any, found: Found, played: Played, recording: Recording, where: str
) -> None:
    """See that no sweep reaches full scale and stays there.

    Raises
    ------
    SigsimError : one does
    """
    full = min(recording.highest, 1.0) * _FULL
    for start in found.starts:
        first = max(0, round(start))
        part = np.abs(samples[first : first + len(played.wave)])
        if float(part.max()) < full:
            continue
        run = part[_FLAT - 1 :] >= full
        for back in range(1, _FLAT):
            run &= part[_FLAT - 1 - back : len(part) - back] == part[_FLAT - 1 :]
        if run.any():
            at = (first + int(np.argmax(run))) / played.rate
            raise clipping(where, f"full scale at {at:.2f} s")


def clipping(where: str, found: str) -> SigsimError:
    """Return the error of a recording that is too loud."""
    return SigsimError(
        "this recording clips: turn the input's gain down, or play the sweep more quietly, and "
        "record all of them again with the same setting",
        where=where,
        found=found,
    )


def check_even(blocks: Blocks, where: str) -> None:
    """See that the sweeps follow each other as evenly as clocks run.

    Raises
    ------
    SigsimError : they do not
    """
    if (off := blocks.uneven) > _EVEN:
        raise broken(where, f"a sweep {1000 * off:.2f} ms from its place")


def check_gain(blocks: Blocks, where: str) -> None:
    """See that all repeats are equally loud.

    Raises
    ------
    SigsimError : they differ by 0.1 dB or more, over most of the band
    """
    if len(blocks.spectra) < 2:
        return
    step = blocks.rate / blocks.size
    played = blocks.played
    lowest = min(max(_LOWEST, 1.5 * played.low), 0.2 * played.high)
    edges = np.geomspace(lowest, 0.95 * played.high, 13)
    mean = sum(blocks.spectra[1:], start=blocks.spectra[0]) / len(blocks.spectra)
    gains = []
    for first, last in np.lib.stride_tricks.sliding_window_view(
        np.rint(edges / step).astype(int), 2
    ):
        part = mean[first:last]
        energy = float(np.vdot(part, part).real)
        each = [spectrum[first:last] for spectrum in blocks.spectra]
        gain = np.array([np.vdot(part, one).real / energy for one in each])
        rest = [one - g * part for one, g in zip(each, gain, strict=True)]
        noise = max(float(np.vdot(r, r).real) for r in rest) / energy / (last - first)
        if np.sqrt(noise) * _SURE < _STEADY / 8.7 and gain.min() > 0:
            gains.append(20 * np.log10(gain))
    if gains:
        spread = np.ptp(np.median(gains, axis=0))
        if spread >= _STEADY:
            raise SigsimError(
                "the sweeps of this recording are not equally loud: switch off the automatic gain, "
                "compressor or noise gate of interface and computer, and record again",
                where=where,
                found=f"{spread:.2f} dB between them",
                accepted=f"less than {_STEADY} dB",
            )

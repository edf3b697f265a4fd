"""Recordings as files: what can be read, and the same kind written again.

Whole-number samples are written as the integers they are and rounded here, once, so that what is
not changed comes back bit by bit; the library would scale them by another number than it read.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.audio.headers import check_whole
from sigsim.audio.quiet import quiet_library
from sigsim.board.source import nearest_file
from sigsim.errors import OutputError, SigsimError, nearest, quote, shown_path

if TYPE_CHECKING:
    from sigsim.physics.arrays import FloatArray

LOWEST_RATE, HIGHEST_RATE = 8000, 192_000
MOST_CHANNELS: Final = 8
# Containers by the ending of a file's name; the first is written unless the input is another.
CONTAINERS: Final[dict[str, tuple[str, ...]]] = {
    ".wav": ("WAV", "WAVEX", "RF64"),
    ".flac": ("FLAC",),
    ".aiff": ("AIFF",),
    ".aif": ("AIFF",),
    ".ogg": ("OGG",),
}
# Whole-number formats and their bits.
_BITS: Final = {"PCM_S8": 8, "PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32}
_FLOATS: Final = ("FLOAT", "DOUBLE")
_LOSSY: Final = ("VORBIS", "OPUS")
# A WAV file counts its bytes in 32 bits; beyond, its large form is written.
_LARGE: Final = 4_000_000_000
# What the library calls a missing file, also where a decoder gives up.
_DECODER: Final = 7
# An encoder gets no more at once: one of them keeps it all on the stack.
_AT_ONCE: Final = 1 << 14


@dataclass(frozen=True)
class Recording:
    """A recording in a file.

    Attributes
    ----------
    path : where it is
    rate : sample rate [Hz]
    channels, frames : how many; a frame is one sample of every channel
    container, subtype : its format
    """

    path: Path
    rate: int
    channels: int
    frames: int
    container: str
    subtype: str

    @property
    def seconds(self) -> float:
        """Its length [s]."""
        return self.frames / self.rate

    @property
    def bits(self) -> int | None:
        """The bits of a sample, None if samples are no whole numbers."""
        return _BITS.get(self.subtype)

    @property
    def highest(self) -> float:
        """The largest positive sample that can be written; the smallest is -1."""
        return 1.0 if self.bits is None else 1 - 2.0 ** (1 - self.bits)

    @property
    def is_float(self) -> bool:
        """Whether samples beyond full scale can be written."""
        return self.subtype in _FLOATS

    @property
    def is_lossy(self) -> bool:
        """Whether writing samples changes them by more than rounding."""
        return self.subtype in _LOSSY

    def blocks(self, longest: int) -> Iterator[FloatArray]:
        """Yield the samples in order, shape (frames, channels), full scale 1.

        Raises
        ------
        SigsimError : a sample is not a number or infinite, or the file ends early
        """
        import soundfile

        done = 0
        try:
            with quiet_library():
                file = soundfile.SoundFile(self.path)
            with file:
                while done < self.frames:
                    block = file.read(min(longest, self.frames - done), always_2d=True)
                    if not len(block):
                        break
                    self._check(block, done)
                    done += len(block)
                    yield block
        except soundfile.SoundFileError as error:
            raise _unreadable(self.path, error) from None
        if done < self.frames:
            raise SigsimError(
                "the recording ends before its header says",
                where=shown_path(self.path),
                found=f"{done:,} of {self.frames:,} samples",
            )

    def _check(self, block: FloatArray, before: int) -> None:
        if not (good := np.isfinite(block)).all():
            place = before + int(np.argmin(good.all(axis=1)))
            bad = block[place - before][~good[place - before]][0]
            raise SigsimError(
                "a sample of this recording is not a finite number",
                where=shown_path(self.path),
                found=f"{bad} at sample {place:,} ({place / self.rate:.3f} s)",
                accepted="a recording whose samples are all numbers",
            )


def open_recording(path: str | Path) -> Recording:
    """Return what a file holds.

    Raises
    ------
    SigsimError : it is not a recording, is empty, or is of a kind that is not dealt with
    """
    import soundfile

    file, where = Path(path), shown_path(path)
    if not file.exists():
        near = nearest_file(file, CONTAINERS)
        raise SigsimError("there is no such file", where=where, nearest=near)
    if not file.is_file():
        raise SigsimError("this is no ordinary file", where=where)
    if not file.stat().st_size:
        raise SigsimError("this file is empty", where=where)
    try:
        with quiet_library():
            info = soundfile.info(str(file))
    except (soundfile.SoundFileError, TypeError, OSError, ValueError) as error:
        raise _unreadable(path, error) from None
    _check_format(info, where)
    try:
        check_whole(file)
    except OSError as error:
        raise _unreadable(path, error) from None
    return Recording(file, info.samplerate, info.channels, info.frames, info.format, info.subtype)


def _check_format(info: Any, where: str) -> None:
    wrong: tuple[str, object, str]
    if info.format not in {name for names in CONTAINERS.values() for name in names}:
        wrong = "this kind of file is not dealt with", info.format, "WAV, FLAC, AIFF, OGG"
    elif not info.channels:
        wrong = "there is no channel in this recording", 0, f"1 to {MOST_CHANNELS}"
    elif info.channels > MOST_CHANNELS:
        wrong = "too many channels", info.channels, f"1 to {MOST_CHANNELS}"
    elif not LOWEST_RATE <= info.samplerate <= HIGHEST_RATE:
        wrong = "this sample rate is not dealt with", f"{info.samplerate} Hz", "8000 to 192000 Hz"
    elif info.frames < 1:
        wrong = "this recording is empty", "no sample", ""
    else:
        return
    what, found, accepted = wrong
    raise SigsimError(what, where=where, found=str(found), accepted=accepted)


def _unreadable(path: object, error: Exception) -> SigsimError:
    reason = str(getattr(error, "error_string", error)).strip().rstrip(".")
    if getattr(error, "code", None) == _DECODER:  # the file is there: that was seen before
        reason = "no sound in it can be decoded"
    return SigsimError(
        "this is not an audio file that can be read",
        where=shown_path(path),
        found=quote(reason),
        accepted="WAV, FLAC, AIFF or OGG, 1 to 8 channels",
    )


def container_for(path: str | Path, recording: Recording) -> str:
    """Return the container in which a file of this name keeps the recording's sample format.

    Raises
    ------
    OutputError : the ending is not known, or its format cannot hold such samples or so many
    """
    import soundfile

    ending = Path(path).suffix.lower()
    fits = [
        known
        for known, names in CONTAINERS.items()
        if soundfile.check_format(names[0], recording.subtype)
    ]
    if ending not in fits:
        known = ending in CONTAINERS
        raise OutputError(
            f"a {ending} file cannot hold {recording.subtype} samples, which the input has"
            if known
            else "the ending of the output's name says no format",
            where=shown_path(path),
            found=quote(ending or str(Path(path).name)),
            accepted=" ".join(fits),
            nearest=None if known else nearest(ending, fits) if ending else None,
        )
    names = CONTAINERS[ending]
    container = recording.container if recording.container in names else names[0]
    size = recording.frames * recording.channels * (recording.bits or 64) // 8
    if container in ("WAV", "WAVEX") and size > _LARGE:
        return "RF64"
    return container


class Writer:
    """A file of the same kind as a recording.

    Parameters
    ----------
    path : where to
    container : from `container_for`
    like : the recording
    """

    def __init__(self, path: Path, container: str, like: Recording) -> None:
        import soundfile

        self._bits = like.bits
        self._error = soundfile.SoundFileError
        try:
            self._file = soundfile.SoundFile(
                path, "w", like.rate, like.channels, like.subtype, format=container
            )
        except self._error as error:
            raise _unwritable(error) from None

    def __enter__(self) -> Writer:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()

    def write(self, block: FloatArray) -> None:
        """Write samples, shape (frames, channels), full scale 1; rounded where they are whole.

        Raises
        ------
        OutputError : they cannot be written
        """
        samples = block if self._bits is None else _whole(block, self._bits)
        try:
            for start in range(0, len(samples), _AT_ONCE):
                self._file.write(np.ascontiguousarray(samples[start : start + _AT_ONCE]))
        except self._error as error:
            raise _unwritable(error) from None


def write_wav(path: Path, sound: FloatArray, rate: int) -> None:
    """Write a sound of our own as WAV of 24 bits, shape (frames, channels)."""
    like = Recording(path, rate, sound.shape[1], len(sound), "WAV", "PCM_24")
    with Writer(path, "WAV", like) as file:
        file.write(sound)


def _unwritable(error: Exception) -> OutputError:
    return OutputError(f"the sound cannot be written: {getattr(error, 'error_string', error)}")


def _whole(block: FloatArray, bits: int) -> Any:
    """Return samples as integers of so many bits at the top of 32."""
    full = 2.0 ** (bits - 1)
    whole = np.clip(np.rint(block * full), -full, full - 1)
    return whole.astype(np.int64).astype(np.int32) << np.int32(32 - bits)

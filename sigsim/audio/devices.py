"""What the machine can play and record with, and which of it is meant.

The library that talks to the sound system is imported here and nowhere else: it is optional.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from sigsim.errors import SigsimError, nearest_name, quote

# Rates that interfaces have [Hz].
RATES: Final = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)
_FORMAT: Final = "float32"
_LIST: Final = '"sigsim record --list" says what there is'
_WAYS: Final = {"input": "in", "output": "out"}


@dataclass(frozen=True)
class Device:
    """One thing of the sound system.

    Attributes
    ----------
    number : by which the sound system knows it
    name, system : its name, and what it is reached through; both are text from outside
    inputs, outputs : channels
    rate : at which it usually runs [Hz]
    is_usual : whether it is taken where none is named, for input or output
    """

    number: int
    name: str
    system: str
    inputs: int
    outputs: int
    rate: float
    is_usual: bool = False

    def channels(self, way: str) -> int:
        """Return the channels of one way, "input" or "output"."""
        return self.inputs if way == "input" else self.outputs


@dataclass(frozen=True)
class Line:
    """Where a sound goes out and comes in.

    Attributes
    ----------
    source, sink : what records and what plays
    input, output : channels of theirs, from 1
    """

    source: Device
    sink: Device
    input: int
    output: int

    def accepts(self, rate: int) -> bool:
        """Return whether both run at a rate [Hz]."""
        return runs_at(self.source, "input", rate, self.input) and runs_at(
            self.sink, "output", rate, self.output
        )


def library() -> Any:
    """Return the library that plays and records.

    Raises
    ------
    SigsimError : it is not installed, or what it rests on is not
    """
    try:
        import sounddevice
    except ImportError:
        raise SigsimError(
            "to play and record, Python needs one more library: pip install 'sigsim[audio]'",
            where="audio interface",
        ) from None
    except OSError:
        raise SigsimError(
            "to play and record, this machine needs PortAudio; on Debian: apt install "
            "libportaudio2",
            where="audio interface",
        ) from None
    return sounddevice


def devices() -> tuple[Device, ...]:
    """Return what the machine has, as the sound system lists it.

    Raises
    ------
    SigsimError : the library is missing, or the sound system does not answer
    """
    sound = library()
    try:
        systems = [str(system["name"]) for system in sound.query_hostapis()]
        usual = set(sound.default.device)
        return tuple(
            Device(
                number,
                str(found["name"]),
                systems[found["hostapi"]],
                int(found["max_input_channels"]),
                int(found["max_output_channels"]),
                float(found["default_samplerate"]),
                number in usual,
            )
            for number, found in enumerate(sound.query_devices())
        )
    except sound.PortAudioError as error:
        raise failure(error) from None


def rates(device: Device) -> tuple[int, ...]:
    """Return the usual rates at which a device runs, in all ways that it has [Hz]."""
    ways = [way for way in _WAYS if device.channels(way)]
    return tuple(rate for rate in RATES if ways and all(runs_at(device, w, rate) for w in ways))


def runs_at(device: Device, way: str, rate: int, channels: int = 1) -> bool:
    """Return whether a device runs at a rate.

    Parameters
    ----------
    device : which
    way : "input" or "output"
    rate : [Hz]
    channels : as many of them
    """
    sound = library()
    check = sound.check_input_settings if way == "input" else sound.check_output_settings
    try:
        check(device=device.number, channels=channels, dtype=_FORMAT, samplerate=rate)
    except sound.PortAudioError:
        return False
    return True


def failure(error: Exception) -> SigsimError:
    """Return the error of a sound system that says no."""
    return SigsimError(
        "the sound system says no: see that no other program holds the interface",
        where="audio interface",
        found=quote(str(error.args[0] if error.args else error)),
    )


def chosen(name: str | None, into: int, out: int) -> Line:
    """Return where to play and record.

    Parameters
    ----------
    name : of the device, a part of it that no other has, or its number; None for the usual one
    into, out : channels, from 1

    Raises
    ------
    SigsimError : there is none of this name, more than one, or no such channel
    """
    every = devices()
    if not any(device.inputs for device in every) or not any(device.outputs for device in every):
        raise SigsimError(
            "there is nothing here that can both play and record: plug the interface in and "
            "switch it on",
            where="audio interface",
            found=f"{len(every)} devices" if every else "no device",
        )
    source, sink = (_usual(every), _usual(every, "output")) if name is None else _named(name, every)
    for way, device, channel in (("input", source, into), ("output", sink, out)):
        _check_channel(device, way, channel)
    return Line(source, sink, into, out)


def _usual(every: tuple[Device, ...], way: str = "input") -> Device:
    """Return the device that the sound system takes where none is named."""
    number = int(library().default.device[0 if way == "input" else 1])
    if 0 <= number < len(every) and every[number].channels(way):
        return every[number]
    raise SigsimError(
        f"the sound system has no usual {way}: name the interface; {_LIST}",
        where="--device",
        accepted=_listed(every),
    )


def _named(name: str, every: tuple[Device, ...]) -> tuple[Device, Device]:
    """Return what records and what plays of a name."""
    if name.isascii() and name.isdecimal() and len(name) < 6 and int(name) < len(every):
        return every[int(name)], every[int(name)]
    folded = name.strip().casefold()
    exact = [device for device in every if device.name.casefold() == folded]
    found = exact or [device for device in every if folded in device.name.casefold()]
    if not found:
        names = dict.fromkeys(device.name for device in every)
        raise SigsimError(
            "there is no audio interface of this name",
            where="--device",
            found=quote(name),
            accepted=_listed(every),
            nearest=nearest_name(name, names),
        )
    if len({device.name for device in found}) > 1:
        raise SigsimError(
            f"more than one device may be meant; {_LIST}, and its number is a name too",
            where="--device",
            found=quote(name),
            accepted=_listed(tuple(found)),
        )
    # One box may be listed once for each way, and once for each path through the sound system.
    for system in dict.fromkeys(device.system for device in found):
        ways = [d for d in found if d.system == system]
        pair = [next((d for d in ways if d.channels(way)), None) for way in _WAYS]
        if pair[0] is not None and pair[1] is not None:
            return pair[0], pair[1]
    return found[0], found[0]


def _check_channel(device: Device, way: str, channel: int) -> None:
    most = device.channels(way)
    if not most:
        raise SigsimError(
            f"this device has no {way}: playing and recording needs both; {_LIST}",
            where="--device",
            found=quote(device.name),
        )
    if not 1 <= channel <= most:
        raise SigsimError(
            f"{quote(device.name)} has no such {way}",
            where=f"--{_WAYS[way]}",
            found=str(channel),
            accepted=f"1 to {most}" if most > 1 else "1",
        )


def check_rate(line: Line, rate: int) -> None:
    """See that a line runs at a rate [Hz].

    Raises
    ------
    SigsimError : it does not
    """
    if line.accepts(rate):
        return
    fits = ", ".join(f"{other} Hz" for other in RATES if line.accepts(other))
    raise SigsimError(
        "the interface does not run at the sample rate of the sweep: set it to that rate, or make "
        'a sweep of another with "sigsim sweep --rate"',
        where=quote(line.sink.name),
        found=f"{rate} Hz",
        accepted=fits or "none of the usual rates",
    )


def _listed(every: tuple[Device, ...], most: int = 12) -> str:
    names = list(dict.fromkeys(quote(device.name) for device in every))
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more

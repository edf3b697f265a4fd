"""Straight from the interface: its options, the cautions, the quiet piece first, the recording."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from sigsim.cli.interview import is_terminal
from sigsim.cli.meter import Meter
from sigsim.cli.output import note_input
from sigsim.cli.ranges import Whole
from sigsim.errors import SigsimError
from sigsim.text import escaped

if TYPE_CHECKING:
    from sigsim.audio.devices import Line
    from sigsim.audio.interface import Take
    from sigsim.measure.played import Played
    from sigsim.measure.rehearsal import Rehearsed
    from sigsim.physics.arrays import FloatArray

_F = TypeVar("_F", bound=Callable[..., Any])

# The parameters of `interface_options`.
INTERFACE: Final = ("device", "into", "outof", "yes")
_CAUTION: Final = (
    "Ears and loudspeakers first: monitors and headphones off or muted, and nobody wears them. No "
    "amp is plugged in, phantom power is off, direct monitoring is off. Open nothing that is "
    "mains-powered."
)
_WIDTH: Final = 78
_FAINTEST_DB: Final = -40.0
# Below this peak nothing has come back, as `measure` has it [full scale].
_SILENT: Final = 5e-4
_BEST: Final = "between -12 and -6 dBFS"
_LOWER: Final = "it would clip: turn the input's gain down"
_HIGHER: Final = f"too quiet: turn the input's gain up, to a peak {_BEST}"
_NOTHING: Final = (
    "nothing comes back: see that the right input and output are used (--in, --out, --device), "
    "that the plugs are in, and that the input's gain is up"
)


def interface_options(command: _F) -> _F:
    """Add --device, --in, --out and --yes; gives what `INTERFACE` lists."""
    made: Any = command
    for added in (
        click.option(
            "--yes", is_flag=True, help="Do not ask before the full level; all is muted and off."
        ),
        click.option(
            "--out",
            "outof",
            type=Whole("the number of a socket, such as 1"),
            default=1,
            show_default=True,
            metavar="N",
            help="The output that plays.",
        ),
        click.option(
            "--in",
            "into",
            type=Whole("the number of a socket, such as 1"),
            default=1,
            show_default=True,
            metavar="N",
            help="The input that records.",
        ),
        click.option(
            "--device",
            metavar="NAME",
            help='The interface, as "sigsim record --list" has it: its name, a part of it, '
            "its number.",
        ),
    ):
        made = added(made)
    kept: _F = made
    return kept


@dataclass(frozen=True, eq=False)
class Signal:
    """What is played.

    Attributes
    ----------
    samples : all of it, full scale 1, shape (frames,)
    played : one sweep of it
    """

    samples: FloatArray
    played: Played

    @property
    def rate(self) -> int:
        """Its sample rate [Hz]."""
        return self.played.rate


def signal_of(path: str) -> Signal:
    """Return the signal that a file holds: of its channels the loudest.

    Raises
    ------
    SigsimError : there is no sweep in it
    """
    import numpy as np

    from sigsim.audio.files import open_recording
    from sigsim.measure.played import read_played

    note_input(path)
    played = read_played(path)
    recording = open_recording(path)
    sound = np.concatenate(list(recording.blocks(recording.frames)))
    return Signal(sound[:, int(np.argmax(np.abs(sound).max(axis=0)))], played)


def usual_signal(line: Line) -> Signal:
    """Return the usual sweep, at a rate that the interface runs at: 48 kHz if that is one."""
    from sigsim.audio.devices import RATES
    from sigsim.measure.played import Played, Sweep

    usual = Sweep()
    if not line.accepts(usual.rate):
        fits = [rate for rate in RATES if line.accepts(rate)]
        usual = Sweep(rate=fits[0]) if fits else usual
    return Signal(usual.samples(), Played.of(usual))


def check_somebody(yes: bool) -> None:
    """Refuse to play where nobody can be asked.

    Raises
    ------
    SigsimError : there is no terminal, and no --yes
    """
    if yes or is_terminal():
        return
    raise SigsimError(
        "nobody can be asked here whether the monitors are muted, so nothing is played",
        where="--yes",
        accepted="a terminal; or --yes, once monitors, headphones and direct monitoring are off",
    )


def desk(device: str | None, into: int, outof: int, yes: bool, sweep: str | None) -> Desk:
    """Return what is needed to play and record, with nothing played yet.

    Parameters
    ----------
    device, into, outof, yes : as the options give them
    sweep : the file that is played, None for the usual sweep

    Raises
    ------
    SigsimError : something is not there, or nobody can be asked
    """
    from sigsim.audio.devices import check_rate, chosen

    signal = None if sweep is None else signal_of(sweep)
    check_somebody(yes)
    line = chosen(device, into, outof)
    signal = signal or usual_signal(line)
    check_rate(line, signal.rate)
    return Desk(line, signal, yes)


def tell(text: str) -> None:
    """Write sentences to standard error, in lines that fit."""
    click.echo(click.wrap_text(escaped(text), _WIDTH), err=True)


def ask(text: str) -> str | None:
    """Ask at the terminal and return the answer in small letters; None where no more come."""
    click.echo(f"{click.wrap_text(escaped(text), _WIDTH)} ", err=True, nl=False)
    line = sys.stdin.readline()
    return line.strip().lower() if line else None


def wait(text: str) -> str:
    """Ask at the terminal, and stop where nobody answers.

    Raises
    ------
    Abort : the answers are at their end
    """
    answer = ask(text)
    if answer is None:
        raise click.Abort
    return answer


@dataclass(frozen=True)
class Desk:
    """Somebody at an interface.

    Attributes
    ----------
    line : where it plays and records
    signal : what it plays
    yes : whether nothing is asked before the full level
    """

    line: Line
    signal: Signal
    yes: bool

    def get_ready(self) -> None:
        """Play a quiet piece, say how loud the whole would be, and ask before that.

        Raises
        ------
        SigsimError : nobody is there to turn what has to be turned
        """
        from sigsim.measure.rehearsal import LOWER_DB

        tell(_CAUTION)
        tell(f"A piece of the sweep comes first, {LOWER_DB:g} dB lower.")
        while (wrong := self._rehearse()) is not None:
            fault, may_go_on = wrong
            if not is_terminal():
                if may_go_on:
                    click.echo(f"note: {fault}", err=True)
                    break
                raise SigsimError(fault, where="audio interface")
            go = ', or "go" and Enter to leave it so' if may_go_on else ""
            if wait(f"{_sentence(fault)} Then Enter for the piece once more{go}:") == "go":
                break
        if not self.yes:
            wait("Monitors muted? Direct monitoring off? Enter to go on at the full level:")

    def _rehearse(self) -> tuple[str, bool] | None:
        """Return what is wrong with the level, and whether one may go on with it."""
        from sigsim.audio.interface import BEFORE, ClippingError, play_and_record
        from sigsim.measure.rehearsal import quiet_piece, rehearsed

        rate = self.signal.rate
        try:
            take = play_and_record(self.line, quiet_piece(self.signal.played), rate)
        except ClippingError:
            return "this clips already: turn the input's gain down", False
        return self._judged(rehearsed(take.samples, rate, BEFORE))

    @staticmethod
    def _judged(heard: Rehearsed) -> tuple[str, bool] | None:
        if heard.peak_db is None:
            return _NOTHING, False
        tell(f"At the full level it will peak near {heard.peak_db:.0f} dBFS.")
        if heard.clips:
            return _LOWER, False
        return (_HIGHER, True) if heard.is_quiet else None

    def record(self, where: str) -> Take:
        """Play the whole signal and return what comes in.

        Parameters
        ----------
        where : how a message calls the recording

        Raises
        ------
        ClippingError : it clips
        SigsimError : it is silent, or the interface fails
        """
        from sigsim.audio.interface import BEFORE, BEHIND, play_and_record
        from sigsim.measure import faults

        rate, samples = self.signal.rate, self.signal.samples
        meter = Meter(len(samples) / rate + BEFORE + BEHIND)
        try:
            take = play_and_record(self.line, samples, rate, meter)
        finally:
            meter.finish()
        if take.peak < _SILENT:
            raise faults.silent(take.peak, where)
        self._say(take)
        return take

    @staticmethod
    def _say(take: Take) -> None:
        if take.dropped:
            times = "once" if take.dropped == 1 else f"{take.dropped} times"
            click.echo(
                f"note: the computer was too late {times}, so a piece may be missing: choose a "
                "larger buffer for the interface, close other programs, and record again",
                err=True,
            )
        if take.peak < 10 ** (_FAINTEST_DB / 20):
            click.echo(f"note: {_HIGHER}", err=True)


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."

"""`sigsim record`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click

from sigsim.cli import live, options
from sigsim.cli.said import was_given
from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from sigsim.audio.interface import Take

_ENDINGS: Final = (".wav",)


@click.command("record")
@click.argument("out", metavar="OUT.wav", type=click.Path(), required=False)
@click.option(
    "--play", metavar="SWEEP.wav", type=click.Path(), help='What to play, of "sigsim sweep".'
)
@live.interface_options
@click.option("--list", "listing", is_flag=True, help="What this machine can play and record with.")
@options.force_option
def command(
    out: str | None,
    play: str | None,
    device: str | None,
    into: int,
    outof: int,
    yes: bool,
    listing: bool,
    force: bool,
) -> None:
    """Play the test signal through an audio interface and record what comes back.

    A piece of it comes first, 20 dB lower, and you are asked before the full level. The recording
    is a WAV of 24 bits, mono, at the rate of the sweep, for "sigsim measure" and "sigsim verify".

    Ears and loudspeakers first: monitors and headphones off, direct monitoring off. No amp is part
    of this, and nothing that is mains-powered is opened.
    """
    if listing:
        _refuse_beside_list()
        _list()
        return
    if out is None or play is None:
        missing, where = ("OUT.wav", "OUT.wav") if out is None else ("--play SWEEP.wav", "--play")
        what = "this says where to record to" if out is None else "this says what to play"
        raise SigsimError(f"{what}, and is missing", where=where, accepted=missing)
    _record(out, play, device, into, outof, yes, force)


def _refuse_beside_list() -> None:
    context = click.get_current_context()
    for parameter in context.command.params:
        if parameter.name != "listing" and was_given(parameter.name or ""):
            name = parameter.opts[0] if isinstance(parameter, click.Option) else "OUT.wav"
            raise SigsimError("this does nothing beside --list", where=name)


def _list() -> None:
    from sigsim.audio.devices import devices, rates
    from sigsim.show.record import devices_document
    from sigsim.show.render.terminal import print_document

    every = [
        (d.number, d.name, d.system, d.inputs, d.outputs, rates(d), d.is_usual) for d in devices()
    ]
    print_document(devices_document(every))


def _record(
    out: str, play: str, device: str | None, into: int, outof: int, yes: bool, force: bool
) -> None:
    from sigsim.cli.output import check_writable, checked_ending
    from sigsim.errors import shown_path

    check_writable(out, force)
    checked_ending(out, _ENDINGS, "what is recorded is a WAV file", "OUT.wav")
    desk = live.desk(device, into, outof, yes, play)
    desk.get_ready()
    _write(desk.record(shown_path(out)), out, force)


def _write(take: Take, out: str, force: bool) -> None:
    from sigsim.audio.files import write_wav
    from sigsim.cli.meter import level
    from sigsim.cli.output import whole_file
    from sigsim.show.record import recorded_document
    from sigsim.show.render.terminal import print_document

    with whole_file(out, force) as part:
        write_wav(part, take.samples[:, None], take.rate)
    seconds = len(take.samples) / take.rate
    print_document(recorded_document(out, seconds, take.rate, level(take.peak)))

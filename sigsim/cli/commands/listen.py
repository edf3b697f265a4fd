"""`sigsim listen`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import say
from sigsim.cli.ends import at_option
from sigsim.text import escaped

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State


@click.command("listen")
@options.board_argument
@at_option
@click.argument("recording", metavar="IN", type=click.Path())
@click.option(
    "-o",
    "--output",
    "out",
    metavar="OUT",
    type=click.Path(),
    required=True,
    help="Where to; the ending says the format.",
)
@options.one_state_options
@options.setting(
    "--recorded-through",
    "through",
    default="direct",
    metavar="direct|ideal|bare|BOARD2[:scene]",
    help="What the recording already went through.",
)
@click.option("--pair", is_flag=True, help="Also write OUT-reference, with the same gain.")
@click.option("--difference", is_flag=True, help="Also write OUT-lost: only what was lost.")
@click.option("--match-level", is_flag=True, help="Make both equally loud (root mean square).")
@options.json_option
@options.plot_option
@options.force_option
def command(
    board: Board,
    recording: str,
    out: str,
    state: State | None,
    through: str,
    pair: bool,
    difference: bool,
    match_level: bool,
    as_json: bool,
    plot: str | None,
    force: bool,
) -> None:
    """Hear it: a recording as it would sound through the chain.

    IN is a dry recording: WAV, FLAC, AIFF or OGG, 8 to 192 kHz, up to 8 channels. OUT keeps its
    rate, channels and sample format. All off without a choice; BOARD2 likewise.

    direct: it was recorded through the lead alone. ideal: through the same pedals without wiring.
    bare: as ideal, but not even the lead; with all off the instrument straight into the input.
    Nothing clips: what would exceed full scale is turned down, all files alike, and it says so.

    The filter is H of the combination over H of the reference, with its phase: causal, so that
    nothing rings before the note, aligned with the input (no latency), within 0.05 dB and 1 degree
    of the model from 20 Hz to 0.45 times the sample rate (a note says where that cannot be had).
    It is as long as the circuit rings; at 0 Hz it is the model's limit; above 0.45 times the rate
    it runs on freely. Whole-number samples are rounded, without dither.

    Caution: turn down before you play a comparison, and come up slowly. A moved resonance can be
    several dB louder where the ear is most sensitive, and --difference and --match-level raise
    what was faint. Keep to local rules on sound levels.
    """
    from sigsim.audio.audition import file_names
    from sigsim.audio.files import open_recording
    from sigsim.cli.drawing import save_plot
    from sigsim.cli.listening import Wish, listen
    from sigsim.cli.output import checked_name, note_input
    from sigsim.show import listen as show

    note_input(recording)
    checked_name(out)
    save = save_plot(plot, force)
    heard = listen(
        Wish(board, state or board.state(()), through, match_level),
        open_recording(recording),
        file_names(out, pair=pair, difference=difference),
        force,
        save,
    )
    for note in show.notes(heard):
        click.echo(escaped(f"note: {note}"), err=True)
    say(as_json, lambda: show.as_json(heard), lambda: show.document(heard))

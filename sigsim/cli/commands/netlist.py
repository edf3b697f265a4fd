"""`sigsim netlist`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.ends import at_option
from sigsim.cli.said import refuse_idle

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.metrics import Reference
    from sigsim.spice.emit_line import LineForm


@click.command("netlist")
@options.board_argument
@at_option
@options.one_state_options
@click.option(
    "--reference",
    type=click.Choice(["ideal", "direct", "bare"]),
    help="Write the reference circuit of that combination instead.",
)
@options.setting(
    "--line",
    type=click.Choice(["ltra", "sections"]),
    default="ltra",
    help="Cables as lossy lines, or as sections of R, L and C.",
)
@options.setting(
    "--sections",
    type=click.IntRange(1, 1000),
    default=20,
    help="Sections per cable, with --line sections.",
)
@click.option("--noise", is_flag=True, help="Add the noise of the pedals and a noise analysis.")
@click.option("-o", "--output", metavar="FILE", help="Where to; standard output without.")
@options.force_option
def command(
    board: Board,
    state: State | None,
    reference: Reference | None,
    line: LineForm,
    sections: int,
    noise: bool,
    output: str | None,
    force: bool,
) -> None:
    """Write the circuit of one combination for a SPICE simulator.

    All off without a choice. The file runs as it is with "ngspice -b FILE" and prints
    the voltage at the amp for 1 V in the pickup, 20 Hz to 40 kHz.
    """
    from sigsim.cli.output import check_writable, write_file
    from sigsim.spice.emit_line import LineStyle
    from sigsim.spice.netlist import netlist

    refuse_idle("sections", "--line sections", has_needed=line == "sections")
    if output is not None:
        check_writable(output, force)
    style = LineStyle(line, sections)
    state = state or board.state(())
    written = netlist(board, state, reference=reference, style=style, noise=noise)
    for sentence in (*written.left_out, *written.approximated):
        click.echo(f"note: {sentence}", err=True)
    if output is None:
        click.echo(written.text, nl=False)
    else:
        write_file(output, written.text, force)

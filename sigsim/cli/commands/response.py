"""`sigsim response`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.ends import at_option
from sigsim.cli.said import ONE_TO_OUTPUT, refuse_together
from sigsim.cli.streams import echo_json
from sigsim.errors import SigsimError
from sigsim.metrics import HIGHEST_HZ, LOWEST_HZ

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.metrics import Reference


@click.command("response")
@options.board_argument
@at_option
@options.one_state_options
@options.reference_option
@options.setting(
    "--from", "low", type=options.FREQUENCY, default=LOWEST_HZ, help="The lowest frequency."
)
@options.setting(
    "--to", "high", type=options.FREQUENCY, default=HIGHEST_HZ, help="The highest frequency."
)
@options.setting(
    "--points",
    type=click.IntRange(1, 100_000),
    default=200,
    help="How many, evenly spaced in pitch.",
)
@click.option(
    "--csv",
    metavar="FILE|-",
    help="Where to; - is standard output.  [default: -; none with --json]",
)
@options.json_option
@options.plot_option
@options.force_option
def command(
    board: Board,
    state: State | None,
    reference: Reference,
    low: float,
    high: float,
    points: int,
    csv: str | None,
    as_json: bool,
    plot: str | None,
    force: bool,
) -> None:
    """The frequency response of one combination as a table of numbers.

    All off without a choice. Columns: frequency_hz, gain_db, phase_deg,
    reference_gain_db, loss_db; -inf where nothing comes out.
    """
    from sigsim.cli.drawing import save_plot
    from sigsim.cli.output import check_writable, write_file
    from sigsim.show import response as show
    from sigsim.states.response import grid, response

    if low > high:
        raise SigsimError("--from is above --to", found=f"{low:g} and {high:g} Hz")
    refuse_together({"--csv -": csv == "-", "--json": as_json}, ONE_TO_OUTPUT)
    state = state or board.state(())
    if csv is None and not as_json:
        csv = "-"
    if csv is not None and csv != "-":
        check_writable(csv, force)
    save = save_plot(plot, force)
    result = response(board, state.on, grid(low, high, points), reference)
    if csv is not None and csv != "-":
        write_file(csv, show.as_csv(result), force)
    if save is not None:
        from sigsim.decide.loss.report import assess
        from sigsim.metrics import Basis
        from sigsim.show.plots.response import drawing
        from sigsim.states.response import Solver

        basis = Basis(reference)
        save(drawing(result, assess(Solver(board), state, basis), basis))
    if csv == "-":
        click.echo(show.as_csv(result), nl=False)
    if as_json:
        echo_json(show.as_json(result, state))

"""`sigsim crosscheck`."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import say
from sigsim.cli.ends import at_option
from sigsim.cli.said import refuse_together, was_given
from sigsim.errors import SigsimError, quote

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State

MOST_RANDOM = 1000
WHICH = "combinations are chosen by name, or drawn"
_FIXED: dict[str, int | None] = {"all": None, "scenes": 0}


def _states(ctx: click.Context, param: click.Parameter, value: str) -> int | None:
    """Return how many states to draw besides the scenes, None for all."""
    if value in _FIXED:
        return _FIXED[value]
    if not value.isascii() or not value.isdigit() or int(value[:9]) > MOST_RANDOM:
        accepted = f"all, scenes, or a number up to {MOST_RANDOM}"
        raise options.unfit(
            "--states", value, "it is not clear which combinations are meant", accepted
        )
    return int(value)


@click.command("crosscheck")
@options.board_argument
@at_option
@options.state_options
@options.setting(
    "--states",
    "count",
    default="10",
    metavar="ALL|SCENES|N",
    callback=_states,
    help=f"Besides all off and the scenes: how many at random, or all (to {MOST_RANDOM}).",
)
@options.setting("--seed", type=click.IntRange(min=0), default=0, help="Of --states.")
@options.setting(
    "--limit",
    type=click.FloatRange(min=0),
    default=0.001,
    metavar="DB",
    help="The largest difference in level that is accepted.",
)
@options.setting(
    "--limit-degrees",
    type=click.FloatRange(min=0),
    default=0.01,
    metavar="DEG",
    help="The largest difference in phase that is accepted.",
)
@options.setting(
    "--engine",
    type=click.Choice(["ngspice", "pyspice"]),
    default="ngspice",
    help="The program, or the library through PySpice.",
)
@click.option("--ngspice", "program", metavar="PATH", help="Where the program is.")
@options.setting(
    "--timeout",
    type=click.FloatRange(min=0, min_open=True, max=86_400),
    default=60.0,
    metavar="SECONDS",
    help="End a simulation that takes longer.",
)
@options.json_option
def command(
    board: Board,
    states: list[State],
    count: int | None,
    seed: int,
    limit: float,
    limit_degrees: float,
    engine: str,
    program: str | None,
    timeout: float,
    as_json: bool,
) -> int:
    """Compare the response with ngspice, combination by combination.

    Without a choice: all off, each scene and what --states says; else only those. Exit status 1 if
    a combination differs by more than a limit. A cable's loss tangent cannot be said in a netlist;
    where there is one, both sides leave it out and a note says so. A coil's loss with an exponent
    is written as a ladder of resistors and inductors that comes near; a note says how near.
    """
    from sigsim.show import crosscheck as show
    from sigsim.spice.compare import CrossCheck, differences
    from sigsim.spice.engines import make_engine
    from sigsim.spice.pick import picked
    from sigsim.states.distinct import distinct_states

    if states:
        refuse_together({"--states": was_given("count"), "--scene, --on, --all-off": True}, WHICH)
    numbers = {"--limit": limit, "--limit-degrees": limit_degrees, "--timeout": timeout}
    for option, value in numbers.items():
        if math.isnan(value):
            raise SigsimError("this is no number", where=option, found=quote("nan"))
    simulator = make_engine(engine, program, timeout)
    chosen = states or picked(board, count, seed)
    version = simulator.version
    found = tuple(differences(board, chosen, simulator))
    check = CrossCheck(board, version, limit, limit_degrees, distinct_states(board), found)
    for sentence in check.left_out:
        click.echo(f"note: {sentence}, on both sides", err=True)
    for sentence in check.approximated:
        click.echo(f"note: {sentence}; this program's own side is exact", err=True)
    say(as_json, lambda: show.as_json(check), lambda: show.document(check))
    return 1 if check.failed else 0

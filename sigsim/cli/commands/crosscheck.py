"""`sigsim crosscheck`."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import click

from sigsim.cli import options
from sigsim.errors import SigsimError, quote

if TYPE_CHECKING:
    from sigsim.board.model import Board

    _Param = click.ParamType[Any]
else:
    _Param = click.ParamType

MOST_RANDOM = 1000


class States(_Param):
    """`all`, `scenes`, or how many states to draw besides the scenes."""

    name = "all|scenes|N"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the number of states to draw, None for all."""
        fixed = {"all": None, "scenes": 0}
        if value in fixed:
            return (fixed[value],)
        if isinstance(value, tuple):
            return value
        if not value.isascii() or not value.isdigit() or int(value[:9]) > MOST_RANDOM:
            raise SigsimError(
                "it is not clear which states are meant",
                where="--states",
                found=quote(value),
                accepted=f"all, scenes, or a number up to {MOST_RANDOM}",
            )
        return (int(value),)


@click.command("crosscheck")
@options.board_argument
@click.option(
    "--states",
    type=States(),
    default="10",
    show_default=True,
    help=f"Besides every stage off and the scenes: how many at random, or all (to {MOST_RANDOM}).",
)
@click.option(
    "--seed", type=click.IntRange(min=0), default=0, show_default=True, help="Of --states."
)
@click.option(
    "--limit",
    type=click.FloatRange(min=0),
    default=0.001,
    show_default=True,
    metavar="DB",
    help="The largest difference in level that is accepted.",
)
@click.option(
    "--limit-degrees",
    type=click.FloatRange(min=0),
    default=0.01,
    show_default=True,
    metavar="DEG",
    help="The largest difference in phase that is accepted.",
)
@click.option(
    "--engine",
    type=click.Choice(["ngspice", "pyspice"]),
    default="ngspice",
    show_default=True,
    help="The program, or the library through PySpice.",
)
@click.option("--ngspice", "program", metavar="PATH", help="Where the program is.")
@click.option(
    "--timeout",
    type=click.FloatRange(min=0, min_open=True, max=86_400),
    default=60.0,
    show_default=True,
    metavar="SECONDS",
    help="End a simulation that takes longer.",
)
@options.json_option
def command(
    board: Board,
    states: tuple[int | None],
    seed: int,
    limit: float,
    limit_degrees: float,
    engine: str,
    program: str | None,
    timeout: float,
    as_json: bool,
) -> int:
    """Compare the response with ngspice, state by state.

    Exit status 1 if a state differs by more than a limit. A cable's loss tangent cannot be said
    in a netlist; where there is one, both sides leave it out and a note says so.
    """
    from sigsim.show import crosscheck as show
    from sigsim.show.render.terminal import print_document
    from sigsim.spice.compare import CrossCheck, differences
    from sigsim.spice.engines import make_engine
    from sigsim.spice.pick import picked
    from sigsim.spice.run import ended_by_signal
    from sigsim.states.distinct import distinct_states

    numbers = {"--limit": limit, "--limit-degrees": limit_degrees, "--timeout": timeout}
    for option, value in numbers.items():
        if math.isnan(value):
            raise SigsimError("this is no number", where=option, found=quote("nan"))
    simulator = make_engine(engine, program, timeout)
    chosen = picked(board, states[0], seed)
    with ended_by_signal():
        version = simulator.version
        found = tuple(differences(board, chosen, simulator))
    check = CrossCheck(board, version, limit, limit_degrees, distinct_states(board), found)
    for sentence in check.left_out:
        click.echo(f"note: {sentence}, on both sides", err=True)
    if as_json:
        click.echo(show.as_json(check))
    else:
        print_document(show.document(check))
    return 1 if check.failed else 0

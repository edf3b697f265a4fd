"""`sigsim spread`."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import Answer, answered
from sigsim.cli.ends import at_option
from sigsim.cli.progress import Progress
from sigsim.cli.said import listed, refuse_idle
from sigsim.errors import SigsimError, nearest, quote

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.metrics import Basis


def _tolerances(ctx: click.Context, param: click.Parameter, value: str | None) -> dict[str, float]:
    """Return tolerances [fraction] by kind from `resistance=10,length=2` in %."""
    from sigsim.states.varied import KINDS

    found: dict[str, float] = {}
    wanted = f"KIND=PERCENT,… with {', '.join(KINDS)}"
    for entry in [] if value is None else listed(value, "--tolerance", wanted):
        kind, _, percent = (text.strip() for text in entry.partition("="))
        if kind not in KINDS or kind in found:
            what = "this kind is given twice" if kind in found else "there is no such kind"
            raise SigsimError(
                what,
                where="--tolerance",
                found=quote(kind),
                accepted=wanted,
                nearest=None if kind in found else nearest(kind, KINDS),
            )
        figure = options.number(percent.removesuffix("%"))
        if not 0 <= figure <= 100:
            what = "a tolerance lies between 0 and 100 %"
            raise options.unfit("--tolerance", entry.strip(), what, 'such as "resistance=10"')
        found[kind] = figure / 100
    return found


def _draws(ctx: click.Context, param: click.Parameter, value: int) -> int:
    """Return how many boards to draw, 1 to the most that makes sense."""
    from sigsim.decide.spread.report import MOST_DRAWS

    if not 1 <= value <= MOST_DRAWS:
        what = "at least one board must be drawn"
        if value > MOST_DRAWS:
            what = (
                "so many boards are not worth the wait: 2,000 give the loss to a few hundredths "
                "of a decibel, a hundred times as many to a tenth of that"
            )
        accepted = f"1 to {MOST_DRAWS:,}"
        raise SigsimError(what, where="--draws", found=f"{value:,}", accepted=accepted)
    return value


def _limit(ctx: click.Context, param: click.Parameter, value: float) -> float:
    if not math.isfinite(value):
        what = "a limit is a number of decibels"
        raise SigsimError(what, where="--limit", found=f"{value:g}", accepted="such as 3")
    return value


@click.command("spread")
@options.board_argument
@at_option
@options.state_options
@options.setting(
    "--draws",
    type=int,
    default=2000,
    callback=_draws,
    help="How many boards to draw within the tolerances.",
)
@options.setting(
    "--seed",
    type=click.IntRange(0),
    default=1,
    help="Of the random numbers; the same seed gives the same answer.",
)
@click.option(
    "--tolerance",
    metavar="KIND=PERCENT,…",
    callback=_tolerances,
    help="For figures that carry none: resistance=10,length=2 …",
)
@click.option("--normal", is_flag=True, help="Draw normally within the tolerance, not evenly.")
@options.setting(
    "--limit",
    type=float,
    default=3.0,
    metavar="DB",
    callback=_limit,
    help="Count the boards whose treble loss is over this.",
)
@click.option("--worst-case", is_flag=True, help="Add the ends of every number at the corners.")
@options.setting(
    "--corners",
    type=click.IntRange(1, 12),
    default=8,
    help="With --worst-case: how many figures to try in every combination.",
)
@options.basis_options
@click.option("--explain", is_flag=True, help="Add what the columns mean.")
@answered
def command(
    board: Board,
    states: list[State],
    draws: int,
    seed: int,
    tolerance: dict[str, float],
    normal: bool,
    limit: float,
    worst_case: bool,
    corners: int,
    basis: Basis,
    explain: bool,
    plotted: bool,
) -> Answer:
    """How sure the losses are, given what parts and cables may be off by.

    Without a choice: all off, each scene of the file, and the combination that is
    worst as written. Tolerances stand in the file ("250 kΩ ± 20 %") and in the parts.
    """
    from sigsim.decide.spread.report import SpreadQuestion, spread_report
    from sigsim.show import spread as show

    refuse_idle("corners", "--worst-case", has_needed=worst_case)
    question = SpreadQuestion(
        board=board,
        basis=basis,
        draws=draws,
        seed=seed,
        normal=normal,
        defaults=tolerance,
        limit=limit,
        corners=corners if worst_case else None,
        curves=plotted,
    )
    progress = Progress(draws, "boards")
    asked, states = bool(states), states or list(board.named_states())
    report = spread_report(question, states, with_worst=not asked, progress=progress)
    progress.finish()
    return Answer(
        lambda: show.document(report, explain=explain),
        lambda: show.as_json(report),
        lambda: (report,),
    )

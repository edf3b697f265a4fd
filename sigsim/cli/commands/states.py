"""`sigsim states`."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import say
from sigsim.cli.ends import at_option
from sigsim.cli.progress import Progress
from sigsim.cli.said import ONE_TO_OUTPUT, refuse_together, split_names_or_scene
from sigsim.errors import QuantityError, SigsimError, nearest, quote

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.states.question import StatesQuestion
    from sigsim.metrics import Basis

MEASURES = ("treble", "corner", "level")
# Each is solved on the exact model and kept; beyond, the CSV lists every state faster.
MOST_TOP = 20_000


def _by(ctx: click.Context, param: click.Parameter, value: str) -> str | float:
    if value in MEASURES:
        return value
    try:
        return options.FREQUENCY.convert(value, param, ctx)
    except QuantityError:
        raise QuantityError(
            "combinations cannot be ranked by this",
            where="--by",
            found=quote(value),
            accepted="treble, corner, level, or a frequency such as 4000",
            nearest=nearest(value, MEASURES),
        ) from None


def _top(ctx: click.Context, param: click.Parameter, value: int) -> int:
    if not 1 <= value <= MOST_TOP:
        raise SigsimError(
            "so many combinations are not listed",
            where="--top",
            found=f"{value:,}",
            accepted=f"1 to {MOST_TOP:,}; --csv lists every combination",
        )
    return value


@click.command("states")
@options.board_argument
@at_option
@options.setting(
    "--by",
    default="treble",
    metavar="treble|corner|level|HZ",
    callback=_by,
    help="What to rank by; HZ is the loss at that frequency.",
)
@options.setting(
    "--top", type=int, default=10, callback=_top, help="How many of the worst to list."
)
@click.option(
    "--scene-like",
    multiple=True,
    metavar="A,B",
    help="Hold these (or a scene's) on; the rest varies.",
)
@click.option("--off", multiple=True, metavar="C", help="Hold these off; the rest varies.")
@click.option("--below", type=options.FREQUENCY, help="Count the combinations with a lower corner.")
@options.basis_options
@options.setting(
    "--seed",
    type=click.IntRange(0),
    default=1,
    help="Of what is drawn at random, where something is.",
)
@options.seconds_option
@options.every_option
@click.option("--explain", is_flag=True, help="Add what the columns mean.")
@click.option("--csv", metavar="FILE|-", help="Write every combination; - is standard output.")
@options.json_option
@options.plot_option
@options.force_option
def command(
    board: Board,
    by: str | float,
    top: int,
    scene_like: tuple[str, ...],
    off: tuple[str, ...],
    below: float | None,
    basis: Basis,
    seed: int,
    seconds: float,
    every: bool,
    explain: bool,
    csv: str | None,
    as_json: bool,
    plot: str | None,
    force: bool,
) -> None:
    """Every combination of boxes on and off: how they spread, which is worst.

    The worst, the best and all those ranked are proven, whatever switches and however many: where
    --seconds are not enough, it is said how much worse one may be. Up to 16.8 million combinations
    are counted one by one. More are counted by sums, so that medians and shares are within the few
    thousandths of a dB that are said; only where very many passive boxes or loops follow one
    another is the summary drawn at random, and then it says so, and how sure it is. With --csv -
    only the CSV is printed.

    Combinations that sound alike within 0.1 dB at every frequency are one row of the ranked lists,
    so that these say as many different things; --every, JSON and CSV list each.
    """
    from sigsim.cli.drawing import save_plot
    from sigsim.cli.output import check_writable
    from sigsim.decide.states.question import StatesQuestion, hold
    from sigsim.decide.states.report import passes, states_report
    from sigsim.show import states as show
    from sigsim.states.distinct import distinct_states

    held = [
        {name for text in texts for name in split_names_or_scene(text, board, option)}
        for option, texts in (("--scene-like", scene_like), ("--off", off))
    ]
    refuse_together({"--csv -": csv == "-", "--json": as_json}, ONE_TO_OUTPUT)
    question = StatesQuestion(board, basis, by, hold(board, *held), below, seed, seconds)
    if csv is not None and csv != "-":
        check_writable(csv, force)
    save = save_plot(plot, force)
    total = distinct_states(board, question.fixed)
    progress = Progress(total, "states")
    if csv is not None:
        _write_csv(question, csv, force, progress)
    if csv == "-" and save is None:
        return
    progress.finish()
    progress = Progress(passes(question) * total, "states")
    report = states_report(question, min(top, total), progress, fold=not (every or as_json))
    progress.finish()
    if save is not None:
        from sigsim.decide.states.band import states_band
        from sigsim.show.plots.states import drawing

        save(drawing(report, states_band(question)))
    if csv == "-":
        return
    say(as_json, lambda: show.as_json(report), lambda: show.document(report, explain=explain))


def _write_csv(question: StatesQuestion, csv: str, force: bool, progress: Progress) -> None:
    """Stream every state; a file appears only when it is whole."""
    from sigsim.cli.output import whole_file
    from sigsim.decide.states.report import listing
    from sigsim.show.states_csv import csv_lines

    every, blocks = listing(question)
    if csv == "-":
        for states, text in csv_lines(every.bit, blocks):
            sys.stdout.write(text)
            progress(states)
        return
    with whole_file(csv, force) as part, part.open("w", encoding="utf-8", newline="") as file:
        for states, text in csv_lines(every.bit, blocks):
            file.write(text)
            progress(states)

"""`sigsim verify`."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

import click

from sigsim.cli import measuring, options, recordings
from sigsim.cli.answers import Answer, answered
from sigsim.cli.ends import at_option
from sigsim.cli.progress import Progress
from sigsim.cli.ranges import Range
from sigsim.cli.said import refuse_idle, split_names_or_scene
from sigsim.cli.wiring import is_table
from sigsim.errors import SigsimError, quote

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.measure.comparison import Compared
    from sigsim.measure.played import Played

_INSTRUMENT: Final = "instrument"


class _Taken(NamedTuple):
    """A recording through the board, with the option and the state it was made in."""

    option: str
    path: str
    state: State


def _driven_by(ctx: click.Context, param: click.Parameter, value: str) -> float | None:
    """Return the resistance [Ω] that drives the board, None for its instrument."""
    if value.strip().casefold() == _INSTRUMENT:
        return None
    measuring.refuse_bare(value, "--driven-by", 'a resistance such as "100 kΩ", or instrument')
    return measuring.quantity(value, "resistance", "--driven-by").value


@click.command("verify")
@options.board_argument
@at_option
@click.option(
    "--through",
    metavar="T.wav",
    type=click.Path(),
    required=True,
    help="Recorded through the board.",
)
@click.option(
    "--without",
    metavar="W.wav",
    type=click.Path(),
    help="Recorded without it, nothing else changed.",
)
@options.one_state_options
@click.option(
    "--also",
    multiple=True,
    metavar="A,B=T2.wav",
    help="Another recording through it, with A and B on; =T2.wav for all off. Repeatable.",
)
@options.setting(
    "--driven-by",
    default=_INSTRUMENT,
    metavar="R|instrument",
    callback=_driven_by,
    help="What drives the board: its instrument, or a resistor.",
)
@click.option(
    "--input",
    "interface",
    metavar="R,C",
    help='What reads it in place of the amp, both times: "1 MΩ, 150 pF".',
)
@click.option(
    "--without-means",
    type=click.Choice(["direct", "bare", "ideal"]),
    help="What --without went through: the lead (direct, as with the instrument), nothing (bare, "
    "as with a resistor), or the pedals without wiring (ideal).",
)
@options.setting(
    "--limit",
    type=Range(0, 60),
    default=1.0,
    metavar="DB",
    help="The largest difference that is accepted.",
)
@recordings.sweep_option
@answered
def command(
    board: Board,
    through: str,
    without: str | None,
    state: State | None,
    also: tuple[str, ...],
    driven_by: float | None,
    interface: str | None,
    without_means: str | None,
    limit: float,
    sweep: str | None,
) -> Answer:
    """Does the built board do what was planned? A measurement beside the plan.

    Record the same sweep through the board and without it, in all else alike. The loss measured is
    compared with the loss of the file, with the uncertainty of both; where they differ it says what
    to check first and what to record next. Nothing is written.

    Exit status 1 where they differ by more than --limit and their uncertainty.
    """
    from sigsim.measure.comparison import verify
    from sigsim.show import verify as show

    across = None if interface is None else measuring.across(interface, "--input")
    main = _Taken("--through", through, state or board.state(()))
    taken = [main, *(_also(text, board) for text in also)]
    _check(taken, without, sweep)
    compared, notes = _compared(taken, without, recordings.read_sweep(sweep))
    progress = Progress(_figures(board, taken), "figures")
    try:
        found = verify(
            board,
            compared,
            driven_by=driven_by,
            interface=across,
            without_means=without_means,
            limit=limit,
            progress=progress,
        )
    finally:
        progress.finish()
    below = () if without is None else (("without", without),)
    files = (*((t.option.lstrip("-"), t.path) for t in taken), *below)
    # A swap is what to know first, and a note of two recordings is one.
    said = (*found.notes, *notes) if found.is_swapped else (*notes, *found.notes)
    found = replace(found, files=files, notes=tuple(dict.fromkeys(said)))
    recordings.say_notes(found.notes)
    return Answer(
        lambda: show.document(found),
        lambda: show.as_json(found),
        lambda: (found,),
        status=0 if found.within_limit else 1,
    )


def _also(text: str, board: Board) -> _Taken:
    """Return a recording with its state: names and paths may themselves hold `=`."""
    places = [place for place, letter in enumerate(text) if letter == "="]
    for place in places:
        names, path = text[:place], text[place + 1 :]
        if _is_file(path):
            break
    else:
        if not places:
            what = "it is not clear which pedals were on"
            accepted = "names of pedals, = and a file: A,B=T2.wav"
            raise options.unfit("--also", text, what, accepted)
        names, path = text[: places[0]], text[places[0] + 1 :]
    on = split_names_or_scene(names, board, "--also") if names.strip() else set()
    return _Taken("--also", path, board.checked(on, "--also"))


def _is_file(path: str) -> bool:
    try:
        return Path(path).is_file()
    except (OSError, ValueError):
        return False


def _check(taken: Sequence[_Taken], without: str | None, sweep: str | None) -> None:
    """Refuse files that do not go together, before any is read."""
    files = [(each.option, each.path) for each in taken]
    if without is not None:
        files.append(("--without", without))
    else:
        for name, path in files:
            if not is_table(path):
                what = "a recording says something only beside one without the board: --without"
                accepted = "--without W.wav, or a table of the ratio as .csv"
                raise SigsimError(what, where=name, found=quote(path), accepted=accepted)
    recordings.check_files(files)
    refuse_idle("sweep", "a recording", has_needed=not all(is_table(path) for _, path in files))


def _figures(board: Board, taken: Sequence[_Taken]) -> int:
    """Return how many figures and switches may have to be tried."""
    from sigsim.measure.candidates import candidates, switched

    on = [each.state.on for each in taken]
    return sum(1 for tried in (candidates, switched) for _ in tried(board, on))


def _compared(
    taken: Sequence[_Taken], without: str | None, played: Played | None
) -> tuple[list[Compared], list[str]]:
    """Return each state with what was measured in it, and what must be said of the recordings."""
    from sigsim.measure.comparison import Compared
    from sigsim.measure.heard import hear
    from sigsim.measure.noise import notes_of
    from sigsim.measure.ratios import alone, ratio

    paths = [each.path for each in taken] + ([] if without is None else [without])
    heard = [path for path in paths if not is_table(path)]
    progress = recordings.hearing(heard)
    try:
        below = None if without is None else hear(without, played, progress=progress)
        every = [] if below is None else [below]
        compared = []
        for each in taken:
            above = hear(each.path, played, progress=progress)
            every.append(above)
            found = alone(above) if below is None else ratio(above, below)
            compared.append(Compared(each.state, found))
    finally:
        progress.finish()
    return compared, notes_of(every)

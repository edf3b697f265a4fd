"""`sigsim measure`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from sigsim.cli import live as at_interface
from sigsim.cli import measuring, plugs, recordings
from sigsim.cli.answers import Answer, answered
from sigsim.cli.said import refuse_idle
from sigsim.cli.unwritable import check_bypass, check_known
from sigsim.cli.wiring import WIRING, check_loads, is_table, option, recorded_way
from sigsim.errors import SigsimError, nearest, quote

if TYPE_CHECKING:
    from sigsim.measure.known import Known
    from sigsim.measure.played import Played
    from sigsim.measure.result import Measured

_F = TypeVar("_F", bound=Callable[..., Any])

_RECIPE: Final = "the recipe that help is asked for"
# Options of all recipes.
_ALWAYS: Final = (
    "sweep", "write", "as_name", "as_json", "plot", "plot_size", "force", "help", "live", "keep",
    *at_interface.INTERFACE,
)  # fmt: skip


class RecipeCommand(click.Command):
    """A command whose help, behind a recipe's name, is about that recipe."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Keep the recipe, which the help needs before anything is read."""
        ctx.meta[_RECIPE] = next((word for word in args if word in WIRING), None)
        return super().parse_args(ctx, args)

    def format_usage(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write how the command is called, with the recipe that is asked for."""
        recipe = ctx.meta.get(_RECIPE)
        pieces = self.collect_usage_pieces(ctx)
        named = [recipe if recipe and piece == "RECIPE" else piece for piece in pieces]
        formatter.write_usage(ctx.command_path, " ".join(named))

    def format_help_text(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write what the command does, or how one thing is measured."""
        recipe = ctx.meta.get(_RECIPE)
        if recipe is None:
            super().format_help_text(ctx, formatter)
            return
        from sigsim.measure.recipes import RECIPES

        formatter.write_paragraph()
        with formatter.indentation():
            what = RECIPES[recipe].what
            formatter.write_text(f"{what[:1].upper()}{what[1:]}.")
        for number, way in enumerate(RECIPES[recipe].ways):
            with formatter.section("Or else" if number else "Record, in this order"):
                formatter.write_dl([(option(r), WIRING[recipe][r]) for r in way.roles])

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the options, behind a recipe's name those that it takes."""
        recipe = ctx.meta.get(_RECIPE)
        taken = None if recipe is None else _taken(recipe)
        records = [
            record
            for parameter in self.get_params(ctx)
            if isinstance(parameter, click.Option) and (taken is None or parameter.name in taken)
            if (record := parameter.get_help_record(ctx)) is not None
        ]
        with formatter.section("Options"):
            formatter.write_dl(records)


def _taken(recipe: str) -> set[str]:
    """Return the parameters that a recipe takes beside its recordings."""
    from sigsim.measure.recipes import RECIPES

    fields = {"load" if field == "loads" else field for field in RECIPES[recipe].options}
    return fields | set(_ALWAYS)


def _recipe(ctx: click.Context, param: click.Parameter, value: str) -> str:
    if value not in WIRING:
        raise SigsimError(
            "there is no such recipe",
            where="measure",
            found=quote(value),
            accepted=", ".join(WIRING),
            nearest=nearest(value, WIRING),
        )
    return value


def _recording(role: str, help_text: str, *, multiple: bool = False) -> Callable[[_F], _F]:
    return click.option(
        option(role),
        f"{role}_" if role in ("with", "open") else role,
        metavar="FILE",
        type=click.Path(),
        multiple=multiple,
        help=help_text,
    )


@click.command("measure", cls=RecipeCommand)
@click.argument("recipe", metavar="RECIPE", callback=_recipe)
@_recording("loop", "Output, bridged resistor, lead, input.")
@_recording("before", "The resistor not bridged, nothing to measure; output: no load.")
@_recording("with", "The same with what is measured; output: with the load.")
@_recording("half", "pickup: the volume at about half.")
@_recording("open", "pickup, by a coil beside it: no load.")
@_recording("loaded", "pickup: with a --load across. Repeatable.", multiple=True)
@measuring.known_options
@recordings.sweep_option
@click.option(
    "--live", is_flag=True, help="Play and record now, through the audio interface, plug by plug."
)
@click.option(
    "--keep", metavar="DIR", type=click.Path(), help="With --live: keep the recordings there."
)
@at_interface.interface_options
@click.option(
    "--write",
    metavar="BOARD.toml",
    type=click.Path(),
    help="Change this board file: the figures of one table, in place.",
)
@click.option(
    "--as",
    "as_name",
    metavar="NAME",
    help="With --write: a cable, a pedal, instrument or destination.",
)
@answered
def command(
    recipe: str,
    loop: str | None,
    before: str | None,
    with_: str | None,
    half: str | None,
    open_: str | None,
    loaded: tuple[str, ...],
    known: Known,
    sweep: str | None,
    live: bool,
    keep: str | None,
    device: str | None,
    into: int,
    outof: int,
    yes: bool,
    write: str | None,
    as_name: str | None,
    as_json: bool,
    force: bool,
) -> Answer:
    """Measure a cable, a pickup, a pedal: recordings of a sweep become figures.

    RECIPE is cable, pickup, input (of a pedal that is on), bypass (of a box that is off) or output.
    "sigsim measure cable --help" says what to record and what to know. A recording is what came
    back of "sigsim sweep", as WAV; or a table frequency_hz,gain_db,phase_deg as CSV.

    Each figure comes with the interval that holds it in 95 of 100 measurements, and as the lines of
    a board file. Nothing that is mains-powered is opened for any of this.
    """
    from sigsim.show import measure as show

    single = {"loop": loop, "before": before, "with": with_, "half": half, "open": open_}
    given: dict[str, tuple[str, ...]] = {
        role: () if path is None else (path,) for role, path in single.items()
    }
    given["loaded"] = loaded
    plugs.refuse_idle_options(live, given)
    if live:
        series = plugs.planned(recipe, known)[1]
        given |= plugs.files_of(series)
    _check(recipe, given, known, write, as_name, live)
    if write is not None:
        check_known(recipe, known)
    if live:
        at = at_interface.desk(device, into, outof, yes, sweep)
        with plugs.kept_in(keep, series, force) as folder:
            found = plugs.measured_live(recipe, series, known, at, folder, keep is not None, force)
    else:
        found = _measured(recipe, given, known, recordings.read_sweep(sweep))
    recordings.say_notes(found.notes)
    lines = _written(found, write, as_name)
    if as_json:
        recordings.say_notes(lines)
    return Answer(
        lambda: show.document(found, as_name, lines),
        lambda: show.as_json(found, as_name),
        lambda: (found,),
    )


def _check(
    recipe: str,
    given: Mapping[str, tuple[str, ...]],
    known: Known,
    write: str | None,
    as_name: str | None,
    live: bool,
) -> None:
    """Refuse what does not go together, before anything is read."""
    from sigsim.measure.recipes import RECIPES
    from sigsim.measure.recipes.measure import chosen

    way = recorded_way(recipe, given)
    chosen(RECIPES[recipe], given, known)
    check_loads(recipe, way, given, len(known.loads))
    files = [(option(role), path) for role in given for path in given[role]]
    if not live:
        recordings.check_files(files)
    refuse_idle("sweep", "a recording", has_needed=not all(is_table(path) for _, path in files))
    refuse_idle("as_name", "--write", has_needed=write is not None)
    if write is None:
        return
    if as_name is None:
        what = "--write changes one table of a file, and --as says which"
        accepted = "--as with the name of a cable or pedal, instrument or destination"
        raise SigsimError(what, where="--write", accepted=accepted)
    from sigsim.cli.writing import check_target

    check_target(write, as_name, recipe)


def _measured(
    recipe: str, given: Mapping[str, tuple[str, ...]], known: Known, played: Played | None
) -> Measured:
    from sigsim.measure.recipes.measure import measure

    files = {role: paths for role, paths in given.items() if paths}
    heard = [path for paths in files.values() for path in paths if not is_table(path)]
    progress = recordings.hearing(heard)
    try:
        return measure(recipe, files, known, played, progress)
    finally:
        progress.finish()


def _written(found: Measured, write: str | None, as_name: str | None) -> list[str]:
    """Write what was measured where it was asked for, and return what to say of it."""
    if write is None or as_name is None:
        return []
    check_bypass(found)
    from sigsim.cli.writing import write_measured

    return write_measured(found, write, as_name)

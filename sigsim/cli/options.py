"""Options that several commands share, declared once."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial, wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar, cast

import click

from sigsim.board.changes import NO_CHANGES
from sigsim.cli.changing import change_options, changes, refuse_changed
from sigsim.cli.ends import listened
from sigsim.cli.numbers import number as number
from sigsim.cli.numbers import number_or_text as number_or_text
from sigsim.cli.output import note_input
from sigsim.cli.ranges import Range
from sigsim.cli.said import split_names
from sigsim.errors import QuantityError, SigsimError, quote, shown_path
from sigsim.units import parse

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.metrics import Reference

    _FloatParam = click.ParamType[float]
else:
    _FloatParam = click.ParamType  # generic only in recent releases

_F = TypeVar("_F", bound=Callable[..., Any])

LOWEST_HZ, HIGHEST_HZ = 1.0, 100_000.0

BOARD_PATH = "path of the board"

# An option with a default that its help shows.
setting = partial(click.option, show_default=True)
# A day [s].
LONGEST_S: Final = 86_400.0


def unfit(option: str, value: object, what: str, accepted: str) -> SigsimError:
    """Return the error of an option whose value cannot be used."""
    return SigsimError(what, where=option, found=quote(value), accepted=accepted)


class Frequency(_FloatParam):
    """A frequency as a person writes it: `2000`, `"2 kHz"`, `2k`."""

    name = "HZ"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the frequency [Hz], 1 Hz to 100 kHz."""
        where = param.opts[0] if param is not None else ""
        try:
            hertz = parse(number_or_text(value), "frequency").value
        except QuantityError as error:
            raise error.at(where) from None
        if not LOWEST_HZ <= hertz <= HIGHEST_HZ:
            raise unfit(where, value, "this frequency is out of range", "1 Hz to 100 kHz")
        return hertz


FREQUENCY = Frequency()


def board_argument(command: _F, *, lacking: bool = False) -> _F:
    """Add BOARD, --variant and --set; it is read with these, warnings go to standard error."""
    read = partial(_board, lacking=lacking)
    board = click.argument("board", metavar="BOARD", callback=read, type=click.Path())
    return board(change_options(command))


# As `board_argument`, for commands that need no length of its cables.
board_as_laid_argument = partial(board_argument, lacking=True)


def _board(ctx: click.Context, param: click.Parameter, value: str, *, lacking: bool) -> Board:
    ctx.meta[BOARD_PATH] = value
    return read_with_warnings(Path(value), lacking=lacking)


def board_text() -> str:
    """Return the text of the command's board, for commands that write it with a change.

    Raises
    ------
    SigsimError : it is no ordinary file, so that it cannot be read again, or it was read with
        changes that it does not have
    """
    refuse_changed()
    path = Path(click.get_current_context().meta[BOARD_PATH])
    where = shown_path(path)
    if not path.is_file():
        what = "a board that is to be changed must be an ordinary file"
        raise SigsimError(what, where=where)
    try:
        # Not read_text, which would make one kind of line end of all.
        return path.read_bytes().decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise SigsimError(f"the file cannot be read: {error}", where=where) from None


def read_with_warnings(path: Path, *, as_written: bool = False, lacking: bool = False) -> Board:
    """Return a board; what is accepted in it but probably not meant goes to standard error.

    Parameters
    ----------
    path : of its file
    as_written : whether it is another board than the command is about: it is not changed by
        `--variant` and `--set`, and need not have the end that `--at` names
    lacking : whether its cables may be without lengths that the layout cannot give
    """
    from sigsim.board.reader import read_board

    note_input(path)
    board = read_board(path, NO_CHANGES if as_written else changes(), lacking=lacking)
    for file in board.files[1:]:
        note_input(file)
    say_warnings((board,))
    return listened(board, needs_end=not as_written)


def say_warnings(boards: Iterable[Board]) -> None:
    """Say on standard error what is probably not meant in boards, each thing once."""
    said = [
        f"{shown_path(board.file)}: {warning}" for board in boards for warning in board.warnings
    ]
    for warning in dict.fromkeys(said):
        click.echo(f"warning: {warning}", err=True)


def state_options(command: _F) -> _F:
    """Add --scene, --on and --all-off for any number of states; gives `states`, empty for none."""
    return _state_options(command, " Repeatable.", lambda states: {"states": states})


def one_state_options(command: _F) -> _F:
    """Add --scene, --on and --all-off for one state; gives `state`, None without a choice."""

    def one(states: list[State]) -> dict[str, Any]:
        if len(states) > 1:
            raise SigsimError(
                "this command takes one combination",
                found=", ".join(quote(state.name) for state in states),
                accepted="one of --scene NAME, --on A,B, --all-off",
            )
        return {"state": states[0] if states else None}

    return _state_options(command, "", one)


def _state_options(command: _F, more: str, give: Callable[[list[State]], dict[str, Any]]) -> _F:
    @wraps(command)
    def with_states(
        *, board: Board, scene: tuple[str, ...], on: tuple[str, ...], all_off: bool, **given: Any
    ) -> Any:
        states = chosen_states(board, scene, on, all_off)
        return command(board=board, **give(states), **given)

    made: Any = with_states
    for option in (
        click.option("--all-off", is_flag=True, help="All off."),
        click.option(
            "--on",
            multiple=True,
            metavar="A,B",
            help=f"A combination: the names that are on.{more}",
        ),
        click.option("--scene", multiple=True, metavar="NAME", help=f"A scene.{more}"),
    ):
        made = option(made)
    return cast("_F", made)


def chosen_states(
    board: Board, scene: tuple[str, ...], on: tuple[str, ...], all_off: bool
) -> list[State]:
    """Return the states asked for by options, empty if none was.

    Parameters
    ----------
    board : the board
    scene, on, all_off : as the options give them

    Returns
    -------
    in the order: every stage off, scenes, --on

    Raises
    ------
    UnknownNameError : a name that the board does not have
    """
    states = [board.state(())] if all_off else []
    states += [board.scene(name) for name in scene]
    return states + [board.checked(split_names(text, board, "--on"), "--on") for text in on]


def reference_option(command: _F) -> _F:
    """Add --reference."""
    return setting(
        "--reference",
        type=click.Choice(["ideal", "direct", "bare"]),
        default="ideal",
        help="Measure against the same pedals without wiring (ideal; bare: not even the lead), or "
        "the lead alone (direct).",
    )(command)


def seconds_option(command: _F) -> _F:
    """Add --seconds."""
    return setting(
        "--seconds",
        type=Range(0, LONGEST_S),
        default=60.0,
        metavar="S",
        help="How long to look for the worst; then the worst found, and a bound.",
    )(command)


def basis_options(command: _F) -> _F:
    """Add --reference and --band; gives `basis`, what a loss is measured against and over."""

    @wraps(command)
    def with_basis(*, reference: Reference, band: tuple[float, float], **given: Any) -> Any:
        from sigsim.metrics import Basis

        return command(basis=Basis(reference, band), **given)

    return cast("_F", reference_option(band_option(with_basis)))


def band_option(command: _F) -> _F:
    """Add --band."""
    return click.option(
        "--band",
        nargs=2,
        type=FREQUENCY,
        default=(2000.0, 8000.0),
        metavar="LOW HIGH",
        callback=_band,
        help="Band of the treble loss.  [default: 2000 8000]",
    )(command)


def _band(ctx: click.Context, param: click.Parameter, value: Any) -> tuple[float, float]:
    from sigsim.metrics import third_octaves

    low, high = value
    if low > high or not third_octaves(low, high).size:
        raise SigsimError(
            "the band holds no third-octave centre",
            where="--band",
            found=f"{low:g} {high:g}",
            accepted="a low and a higher frequency, such as 2000 8000",
        )
    return low, high


def every_option(command: _F) -> _F:
    """Add --every."""
    return click.option(
        "--every", is_flag=True, help="A row for each, also where rows say the same."
    )(command)


def json_option(command: _F) -> _F:
    """Add --json."""
    return click.option("--json", "as_json", is_flag=True, help="One JSON document instead.")(
        command
    )


PLOT_SIZE = "plot size [cm]"
_SMALLEST_CM, _LARGEST_CM = 8.0, 60.0


def plot_option(command: _F) -> _F:
    """Add --plot and --plot-size; the size is kept in the context for `drawing.save_plot`."""
    size = click.option(
        "--plot-size",
        metavar="WxH",
        expose_value=False,
        callback=_plot_size,
        help="Size of the plot in cm, such as 12x9.",
    )
    plot = click.option("--plot", type=click.Path(), metavar="FILE", help="Draw: .png .svg .pdf.")
    return plot(size(command))


def _plot_size(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
    if value is None:
        return
    try:
        width, height = (float(part) for part in value.lower().replace("×", "x").split("x"))
    except ValueError:
        width = height = 0.0
    if not all(_SMALLEST_CM <= side <= _LARGEST_CM for side in (width, height)):
        what = "a plot's size is its width and height in centimetres"
        accepted = f"such as 12x9, each side {_SMALLEST_CM:g} to {_LARGEST_CM:g}"
        raise unfit("--plot-size", value, what, accepted)
    ctx.meta[PLOT_SIZE] = width, height


def force_option(command: _F) -> _F:
    """Add --force."""
    return click.option("--force", is_flag=True, help="Overwrite files that exist.")(command)

"""Options that several commands share, declared once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from sigsim.board.model import ALL_OFF
from sigsim.errors import QuantityError, SigsimError, quote
from sigsim.units import parse

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.states.circuit import Reference

_F = TypeVar("_F", bound=Callable[..., Any])

LOWEST_HZ, HIGHEST_HZ = 1.0, 100_000.0


if TYPE_CHECKING:
    _FloatParam = click.ParamType[float]
else:
    _FloatParam = click.ParamType  # generic only in recent releases


class Frequency(_FloatParam):
    """A frequency as a person writes it: `2000`, `"2 kHz"`, `2k`."""

    name = "HZ"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the frequency [Hz], 1 Hz to 100 kHz."""
        where = param.opts[0] if param is not None else ""
        try:
            hertz = parse(_number(value), "frequency").value
        except QuantityError as error:
            raise QuantityError(**(vars(error.problem) | {"where": where})) from None
        if not LOWEST_HZ <= hertz <= HIGHEST_HZ:
            raise SigsimError(
                "this frequency is out of range",
                where=where,
                found=quote(value),
                accepted="1 Hz to 100 kHz",
            )
        return hertz


def _number(value: Any) -> Any:
    try:
        return float(value)
    except ValueError:
        return value


FREQUENCY = Frequency()


def board_argument(command: _F) -> _F:
    """Add BOARD, read and checked; its warnings go to standard error."""
    return click.argument("board", metavar="BOARD", callback=_board, type=click.Path())(command)


def _board(ctx: click.Context, param: click.Parameter, value: str) -> Board:
    from sigsim.board.reader import read_board

    board = read_board(Path(value))
    for warning in board.warnings:
        click.echo(f"warning: {board.file}: {warning}", err=True)
    return board


def state_options(command: _F) -> _F:
    """Add --scene, --on and --all-off, to choose any number of states."""
    return _state_options(command, " Repeatable.")


def one_state_options(command: _F) -> _F:
    """Add --scene, --on and --all-off, to choose one state."""
    return _state_options(command, "")


def _state_options(command: _F, more: str) -> _F:
    for option in (
        click.option("--all-off", is_flag=True, help="Every stage off."),
        click.option(
            "--on", multiple=True, metavar="A,B", help=f"A state: the names that are on.{more}"
        ),
        click.option("--scene", multiple=True, metavar="NAME", help=f"A scene.{more}"),
    ):
        command = option(command)
    return command


def reference_option(command: _F) -> _F:
    """Add --reference."""
    return click.option(
        "--reference",
        type=click.Choice(["ideal", "direct"]),
        default="ideal",
        show_default=True,
        help="Measure against the same stages without wiring, or the lead alone.",
    )(command)


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
        raise SigsimError(
            "a plot's size is its width and height in centimetres",
            where="--plot-size",
            found=quote(value),
            accepted=f"such as 12x9, each side {_SMALLEST_CM:g} to {_LARGEST_CM:g}",
        )
    ctx.meta[PLOT_SIZE] = width, height


def force_option(command: _F) -> _F:
    """Add --force."""
    return click.option("--force", is_flag=True, help="Overwrite files that exist.")(command)


def chosen_states(
    board: Board, scene: tuple[str, ...], on: tuple[str, ...], all_off: bool
) -> list[tuple[str, frozenset[str]]]:
    """Return the states asked for by options, empty if none was.

    Parameters
    ----------
    board : the board
    scene, on, all_off : as the options give them

    Returns
    -------
    name and what is on, in the order: every stage off, scenes, --on

    Raises
    ------
    UnknownNameError : a name that the board does not have
    """
    states: list[tuple[str, frozenset[str]]] = [(ALL_OFF, frozenset())] if all_off else []
    states += [(name, board.scene(name)) for name in scene]
    for text in on:
        state = board.state(split_names(text, board), "--on")
        states.append((" + ".join(board.in_order(state)) or ALL_OFF, state))
    return states


def default_states(board: Board) -> list[tuple[str, frozenset[str]]]:
    """Return every stage off and each scene."""
    return [(ALL_OFF, frozenset()), *((name, board.scene(name)) for name in board.scenes)]


def split_names(text: str, board: Board) -> set[str]:
    """Split `A,B` at commas; a name that itself holds commas may stand alone."""
    if text in board.stage_names():
        return {text}
    return {name.strip() for name in text.split(",") if name.strip()}


def split_names_or_scene(text: str, board: Board) -> set[str]:
    """Split `A,B` at commas; the name of a scene stands for what is on in it."""
    if text in board.scenes and text not in board.stage_names():
        return set(board.scene(text))
    return split_names(text, board)


def one_state(
    board: Board, scene: tuple[str, ...], on: tuple[str, ...], all_off: bool
) -> tuple[str, frozenset[str]]:
    """Return the one state asked for; every stage off without a choice.

    Raises
    ------
    SigsimError : more than one was asked for
    """
    states = chosen_states(board, scene, on, all_off) or [(ALL_OFF, frozenset())]
    if len(states) > 1:
        raise SigsimError(
            "this command takes one state",
            found=", ".join(quote(name) for name, _ in states),
            accepted="one of --scene NAME, --on A,B, --all-off",
        )
    return states[0]


def typed_reference(reference: str) -> Reference:
    """Return the reference as its literal type."""
    return "direct" if reference == "direct" else "ideal"

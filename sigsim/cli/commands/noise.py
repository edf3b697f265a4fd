"""`sigsim noise`."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Final

import click

from sigsim.cli import options
from sigsim.cli.answers import Answer, answered
from sigsim.cli.ends import at_option
from sigsim.errors import QuantityError, SigsimError, quote

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State

_TEMPERATURE = re.compile(r"^\s*(?P<number>[+−-]?\d+(?:\.\d*)?)\s*(?P<unit>K|°?\s*C)?\s*$")
_ZERO_CELSIUS: Final = 273.15
_HOTTEST: Final = 500.0
# More than any signal in a chain of pedals [V]: millivolts are meant.
_MOST_BARE_V: Final = 10.0
# A number without a unit below this [K] is meant in degrees Celsius.
_COLDEST_BARE: Final = 100.0


def _level(ctx: click.Context, param: click.Parameter, value: str) -> float:
    """Return a level [V rms], more than nothing."""
    from sigsim.units import parse

    try:
        level = parse(value, "voltage").value
    except QuantityError as error:
        raise error.at("--level") from None
    if level > _MOST_BARE_V and "v" not in value.lower():
        raise SigsimError(
            "so large a level needs its unit",
            where="--level",
            found=quote(value),
            accepted='such as "100 mV" or "1 V"',
            nearest=f"{value.strip()} mV" if math.isfinite(options.number(value)) else None,
        )
    if level == 0:
        what = "the level must be more than 0"
        raise options.unfit("--level", value, what, 'such as "100 mV"')
    return level


def _kelvin(ctx: click.Context, param: click.Parameter, value: str) -> float:
    """Return a temperature [K] from kelvins, or degrees Celsius if it says so."""
    match = _TEMPERATURE.match(value)
    if match:
        number = float(match["number"].replace("−", "-"))
        kelvin = number + (_ZERO_CELSIUS if "C" in (match["unit"] or "") else 0.0)
        if not match["unit"] and 0 < number < _COLDEST_BARE:
            raise SigsimError(
                "so low a temperature needs its unit",
                where="--temperature",
                found=quote(value),
                accepted='such as "20 C" or "77 K"',
                nearest=f"{value.strip()} C",
            )
        if 0 < kelvin <= _HOTTEST:
            return kelvin
    accepted = f'kelvins up to {_HOTTEST:g}, or degrees such as "20 C"'
    raise options.unfit("--temperature", value, "this cannot be a temperature here", accepted)


@click.command("noise")
@options.board_argument
@at_option
@options.state_options
@options.setting(
    "--level",
    default="100 mV",
    metavar="VOLTAGE",
    callback=_level,
    help="Nominal level, rms, that the noise is held against.",
)
@options.setting(
    "--temperature",
    default="290",
    metavar="KELVIN",
    callback=_kelvin,
    help='Of everything passive; "20 C" for degrees.',
)
@click.option("--explain", is_flag=True, help="Add what the columns mean.")
@options.every_option
@answered
def command(
    board: Board,
    states: list[State],
    level: float,
    temperature: float,
    explain: bool,
    every: bool,
) -> Answer:
    """How much the chain hisses, combination by combination, and which part of it does.

    Without a choice: all off and each scene of the file. Passive parts hiss by
    their resistance, pedals by the noise figures in their part or in the board file.
    Combinations that hiss the same are one row; JSON has each.
    """
    from sigsim.decide.noise import noise_report
    from sigsim.show import noise as show

    report = noise_report(
        board, states or board.named_states(), level=level, temperature=temperature
    )
    return Answer(
        lambda: show.document(report, explain=explain, every=every),
        lambda: show.as_json(report),
        lambda: (report,),
    )

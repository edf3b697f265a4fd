"""A volume pot that was not said, in what an exciter was held to: the recordings tell of it."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from sigsim.measure.leak import strain
from sigsim.measure.result import Figure
from sigsim.measure.unknowns import Unknown

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sigsim.measure.coil import Pickup
    from sigsim.measure.solving import Solved

    Solve = Callable[[Pickup], Solved]

# Volume pots are 250 kΩ and 500 kΩ, some a megohm: a factor of two either way.
_POT: Final = Unknown("track", 300e3, 30e3, 5e6, True, 1.0, 350e3, 0.5)
# What takes so much off the sum of squares is there: five standard deviations.
_SHOWS: Final = 25.0
# What leaves this many times more unexplained is not what was recorded.
_WORSE: Final = 1.5
# The loss of metal has an exponent about 0.5; a pot with a coil that has none looks like less.
_PLAIN: Final = 0.35
FOUND: Final = (
    "No --volume-track was said, and the recordings show a volume pot: it was counted, and its "
    "size is found as well. Said, it makes all figures surer."
)
NONE: Final = (
    "No volume pot was counted: the recordings show none. If there is one, give --volume-track."
)
UNTOLD: Final = (
    "No --volume-track was said, and the recordings do not tell whether there is a volume pot: the "
    "intervals hold both. For anything but a bare pickup give --volume-track."
)


def with_pot_if_shown(
    bare: Pickup, solve: Solve
) -> tuple[Pickup, Solved, Mapping[str, Figure], str]:
    """Return a pickup of which no pot was said with the pot that it has, if it has one.

    Parameters
    ----------
    bare : without a pot
    solve : fits a pickup

    Returns
    -------
    the pickup, its fit, its figures, and what should be known
    """
    solved = solve(bare)
    figures = bare.figures(solved)
    if solved.explains and _is_metal(figures):
        return bare, solved, figures, NONE
    behind = dataclasses.replace(bare, track=_POT)
    with_pot = solve(behind)
    # A real coil is never quite that of the circuit, and a pot too many makes up for some of it:
    # only what explains all that was heard can be taken for the truth.
    if with_pot.explains:
        gained = strain(solved) - strain(with_pot)
        if gained > _SHOWS:
            return behind, with_pot, behind.figures(with_pot), FOUND
        is_bare = gained < -_SHOWS
    else:
        is_bare = solved.explains or with_pot.left > _WORSE * solved.left
    if is_bare:
        return bare, solved, figures, NONE
    return bare, solved, _both(figures, behind.figures(with_pot)), UNTOLD


def _is_metal(figures: Mapping[str, Figure]) -> bool:
    low = figures["loss_exponent"].low
    return low is not None and low > _PLAIN


def _both(figures: Mapping[str, Figure], others: Mapping[str, Figure]) -> dict[str, Figure]:
    """Return figures whose intervals hold those of others as well."""
    return {key: _wider(figure, others[key]) for key, figure in figures.items()}


def _wider(one: Figure, other: Figure) -> Figure:
    lows = [f.low for f in (one, other) if f.low is not None]
    highs = [f.high for f in (one, other) if f.high is not None]
    return dataclasses.replace(
        one,
        low=min(lows) if len(lows) > 1 else None,
        high=max(highs) if len(highs) > 1 else None,
    )

"""Whether there is a resistance in what should be a cable that is free at its far end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from sigsim.errors import SigsimError, shown_path
from sigsim.measure.figures import half_width, plain
from sigsim.measure.solving import promised, solve
from sigsim.measure.unknowns import Unknown
from sigsim.units import render

if TYPE_CHECKING:
    from sigsim.measure.solving import Solved

LEAK: Final = "leak"
# What a cable may have from tip to sleeve, as through damp or dirty plugs [Ω].
_DRY: Final = 5e6
# A leak shows where it takes this much off the sum of squares and its interval is not wider: one in
# a thousand by chance, as the 0.999 quantile of chi-squared with one degree of freedom.
_SHOWS, _WIDEST = 10.83, 0.3
_SIZES: Final = (1e-7, 1e-6, 1e-5)


def refuse_leak(dry: Solved, starts: Sequence[Mapping[str, float]]) -> None:
    """Refuse what has a resistance from tip to sleeve.

    Parameters
    ----------
    dry : the fit of a cable that has none, whose circuit can have a `LEAK` [S]
    starts : where searches begin, for the other unknowns

    Raises
    ------
    SigsimError : it has one
    """
    leak = Unknown(LEAK, 0.0, 0.0, 1e-2, False, 1e-7)
    # Far from the truth linear theory promises nothing that could be relied on.
    if dry.explains and promised(dry, leak) < _SHOWS:
        return
    begun = [{**start, LEAK: size} for start in (dry.start(), *starts) for size in _SIZES]
    leaking = solve((*dry.circuit, leak), dry.observed, begun)
    found = plain(leaking, LEAK, "S")
    if not found.low or half_width(found) > _WIDEST or leaking.value(LEAK) < 1 / _DRY:
        return
    if (strain(dry) - strain(leaking)) / leaking.inflation < _SHOWS:
        return
    raise SigsimError(
        "this is no cable with a free far end, which has no resistance: it ends in something, it "
        'is a pedal or an instrument (see "sigsim measure input" and "sigsim measure pickup"), or '
        "a knob or a pad was moved after --before",
        where=shown_path(dry.observed[-1].ratio.name),
        found=f"some {render(1 / leaking.value(LEAK), 'Ω', 2)} from tip to sleeve",
        accepted=f"more than {render(_DRY, 'Ω', 2)}",
    )


def strain(solved: Solved) -> float:
    """Return the sum of squares of what is left, and of how far told parts are from what was told.

    Parameters
    ----------
    solved : a fit
    """
    told = [(x, u.prior) for x, u in zip(solved.x, solved.unknowns, strict=True)]
    off = sum(((x - prior[0]) / prior[1]) ** 2 for x, prior in told if prior is not None)
    return solved.misfit + float(off)

"""What a measurement found: figures with their intervals, and what they rest on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sigsim.measure.response import Ratio, Stretches
    from sigsim.physics.arrays import ComplexArray


@dataclass(frozen=True)
class Figure:
    """One figure with the interval that holds it in 95 of 100 measurements.

    Attributes
    ----------
    value : [`unit`], or a word of the board file; None where only a bound can be told
    low, high : ends of the interval; None where there is none on this side
    unit : SI, as in `quantities`, empty for a plain number or a word
    """

    value: float | str | None
    low: float | None
    high: float | None
    unit: str


@dataclass(frozen=True)
class Assumed:
    """Something that was given, or taken for want of being given.

    Attributes
    ----------
    value : [SI]
    tolerance : half the width of its range as a fraction of the value
    given : whether the user said it
    unit : SI
    """

    value: float
    tolerance: float
    given: bool
    unit: str


@dataclass(frozen=True, eq=False)
class Curve:
    """One ratio as it was measured, and as the circuit that was found has it.

    Attributes
    ----------
    ratio : measured, its delay taken out
    fitted : at the same frequencies [-]
    """

    ratio: Ratio
    fitted: ComplexArray


@dataclass(frozen=True, eq=False)
class Measured:
    """All that came out of one recipe.

    Attributes
    ----------
    recipe : its name
    files : of the recordings by role, such as `loop` or `with`; those of `loaded` in order
    figures : by key of the board file, in the order to show them
    point : lead and interface input, by key; empty for recipes without a loop
    assumed : what the figures rest on, by option without dashes (`resistor`, `volume_track` …)
    not_told_apart : pairs of figures of which only a combination is known
    residual_db : what the circuit leaves unexplained, root mean square
    clock_ppm : None for tables
    left_out : stretches of frequency that were left out of the fit [Hz]
    notes : what should be known, each a sentence
    curves : for the plot
    """

    recipe: str
    files: Mapping[str, tuple[str, ...]]
    figures: Mapping[str, Figure]
    point: Mapping[str, Figure] = field(default_factory=dict)
    assumed: Mapping[str, Assumed] = field(default_factory=dict)
    not_told_apart: tuple[tuple[str, str], ...] = ()
    residual_db: float = 0.0
    clock_ppm: float | None = None
    left_out: Stretches = ()
    notes: tuple[str, ...] = ()
    curves: tuple[Curve, ...] = ()

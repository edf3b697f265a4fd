"""How long the cables of a board file are that follow from where its boxes stand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, TypeAlias

if TYPE_CHECKING:
    from sigsim.items.cable import Cable
    from sigsim.layout.model import Layout, Socket

# Why a layout cannot give a length: an end that stands nowhere, no way between boxes, or a run that
# is longer than all lengths that are sold.
Why: TypeAlias = Literal["", "no place", "no way", "too long"]


@dataclass(frozen=True)
class Taken:
    """What a layout says of one cable.

    Attributes
    ----------
    run : from jack to jack, slack included [m]; None where there is none
    length : to take [m]; None where it cannot be told
    why : there is no length, empty where there is one
    """

    run: float | None
    length: float | None
    why: Why = ""


@dataclass(frozen=True, eq=False)
class Laying:
    """The layout of one board file, with the lengths in which its cables are sold.

    Attributes
    ----------
    layout : where things stand
    sold : ready-made lengths [m] by cable, as the outermost board calls it; none where it is cut
    """

    layout: Layout
    sold: Mapping[str, tuple[float, ...]] = field(default_factory=dict)

    def laid(self, cable: Cable, begin: Socket | None, end: Socket | None) -> Cable | None:
        """Return a cable with its length, None where two loops are joined inside one box.

        Where no length can be told it is that of the other runs in the mean: who reads a board
        has asked `taken` for all that is in it.
        """
        raise NotImplementedError

    def taken(self, cable: str, begin: Socket | None, end: Socket | None) -> Taken:
        """Return what a cable between two places has to be.

        Parameters
        ----------
        cable : its name, as the outermost board calls it
        begin, end : of it; None for what stands nowhere, such as a joint of two cables
        """
        raise NotImplementedError

"""What `measure --write` cannot write, because something that it needs was not said."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from sigsim.measure.known import Known
    from sigsim.measure.result import Measured

_WHERE: Final = "--write"


def check_known(recipe: str, known: Known) -> None:
    """See before anything is heard whether figures for a board file will come out.

    Parameters
    ----------
    recipe : its name
    known : what the user said

    Raises
    ------
    SigsimError : a board file has its cables by the metre, and the length was not said
    """
    if recipe == "cable" and known.length is None:
        raise SigsimError(
            "a board file has the picofarads of a cable by the metre: say how long this one is",
            where=_WHERE,
            accepted='--length "6 m" beside it',
        )


def check_bypass(measured: Measured) -> None:
    """See whether it is known what kind of bypass was measured.

    Parameters
    ----------
    measured : what a recipe found

    Raises
    ------
    SigsimError : it is one with a resistance, of which there are two kinds
    """
    if measured.recipe == "bypass" and "bypass" not in measured.figures:
        raise SigsimError(
            "something with a resistance hangs on the line while the box is off, and the file has "
            "to say which kind of bypass that is: hardwire if these figures are those of "
            '"sigsim measure input" (the input stays connected), otherwise buffered',
            where=_WHERE,
            accepted="--bypass hardwire or --bypass buffered beside it",
        )

"""A number between limits, as an option takes it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import click

from sigsim.errors import SigsimError, quote

if TYPE_CHECKING:
    _IntParam = click.ParamType[int]
    _FloatParam = click.ParamType[float]
else:
    _IntParam = _FloatParam = click.ParamType  # generic only in recent releases


class Number(_FloatParam):
    """A number.

    Parameters
    ----------
    accepted : what is accepted, in words
    """

    name = "float"

    def __init__(self, accepted: str) -> None:
        self._accepted = accepted

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the number."""
        try:
            return float(value)
        except ValueError:
            raise _no_number("this is no number", value, param, self._accepted) from None


class Whole(_IntParam):
    """A whole number.

    Parameters
    ----------
    accepted : what is accepted, in words
    """

    name = "integer"

    def __init__(self, accepted: str) -> None:
        self._accepted = accepted

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Return the number."""
        try:
            return int(value)
        except ValueError:
            raise _no_number("this is no whole number", value, param, self._accepted) from None


class Range(click.FloatRange):
    """A range of numbers; what is no number lies in none, though no comparison says so."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the number."""
        accepted = f"{self.min:g} to {self.max:g}"
        if math.isnan(Number(accepted).convert(value, param, ctx)):
            raise _no_number("this is no number", value, param, accepted)
        number: float = super().convert(value, param, ctx)
        return number


def _no_number(
    what: str, value: object, param: click.Parameter | None, accepted: str
) -> SigsimError:
    where = param.opts[0] if param is not None else ""
    return SigsimError(what, where=where, found=quote(value), accepted=accepted)

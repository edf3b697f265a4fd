"""A number between limits, as an option takes it."""

from __future__ import annotations

import math
from typing import Any

import click

from sigsim.errors import SigsimError, quote


class Range(click.FloatRange):
    """A range of numbers; what is no number lies in none, though no comparison says so."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the number."""
        number: float = super().convert(value, param, ctx)
        if math.isnan(number):
            where = param.opts[0] if param is not None else ""
            accepted = f"{self.min:g} to {self.max:g}"
            raise SigsimError(
                "this is no number", where=where, found=quote(value), accepted=accepted
            )
        return number

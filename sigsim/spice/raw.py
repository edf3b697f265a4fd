"""Reading what ngspice writes with -r: every number at full precision."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

_BINARY: Final = b"Binary:\n"


@dataclass(frozen=True)
class Plot:
    """The results of one analysis.

    Attributes
    ----------
    name : such as "AC Analysis"
    vectors : by name, real or complex
    """

    name: str
    vectors: Mapping[str, NDArray[np.generic]]


def read_raw(content: bytes) -> list[Plot]:
    """Return the plots of a binary raw file.

    Raises
    ------
    SigsimError : it is cut off or is no such file
    """
    plots = []
    while content.strip():
        head, mark, content = content.partition(_BINARY)
        try:
            if not mark:
                raise ValueError("no binary part")
            plot, size = _plot(head.decode("utf-8", "replace"), content)
        except (ValueError, KeyError, IndexError) as error:
            raise SigsimError(f"the simulator's results cannot be read: {error}") from None
        plots.append(plot)
        content = content[size:]
    return plots


def _plot(head: str, content: bytes) -> tuple[Plot, int]:
    """Return one plot and how many bytes of numbers it took."""
    head, _, listed = head.partition("Variables:\n")
    fields = dict(line.split(":", 1) for line in head.splitlines() if ":" in line)
    width, points = int(fields["No. Variables"]), int(fields["No. Points"])
    names = [line.split()[1].lower() for line in listed.splitlines()[:width]]
    number = np.dtype("<c16" if "complex" in fields["Flags"] else "<f8")
    size = width * points * number.itemsize
    numbers = np.frombuffer(content[:size], number).reshape(points, width)
    vectors = dict(zip(names, numbers.T, strict=True))
    return Plot(fields["Plotname"].strip(), vectors), size

"""Whether anything moved between the first recording of a series and the same once more."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.errors import SigsimError, shown_path
from sigsim.measure.ratios import ratio

if TYPE_CHECKING:
    from sigsim.measure.response import Heard

# An interface at rest keeps its gain to a few thousandths of a dB; a knob does not.
_LIMIT_DB: Final = 0.02
# Where a lead with its capacitance, a knob and a plug all show [Hz].
_BAND: Final = (100.0, 10_000.0)
_DB: Final = 20 / np.log(10)


def check_unmoved(first: Heard, again: Heard) -> None:
    """See that two recordings of the same wiring are the same.

    Parameters
    ----------
    first, again : the recordings; when they began does not count

    Raises
    ------
    SigsimError : they differ by more than 0.02 dB and their own noise, over the middle of the band
    """
    both = ratio(again, first)
    inside = (both.frequency >= _BAND[0]) & (both.frequency <= _BAND[1])
    if not inside.any():
        inside = np.ones(len(both.frequency), dtype=bool)
    difference = float(np.median(np.abs(_DB * np.log(np.abs(both.T[inside])))))
    noise = 0.0 if both.sigma is None else float(np.median(_DB * both.sigma[inside]))
    if difference <= _LIMIT_DB + noise:
        return
    raise SigsimError(
        f"this is not what {shown_path(first.name)} was: a knob, a plug or a cable moved in "
        "between; record all of them again",
        where=shown_path(again.name),
        found=f"{difference:.2g} dB of difference",
        accepted=f"at most {_LIMIT_DB + noise:.2g} dB",
    )

"""Where no limit helps a filter, not all of them are tried."""

from __future__ import annotations

import numpy as np
import pytest

from sigsim.audio.treble import CALM_DB, ShortFit


@pytest.mark.parametrize("most", [None, CALM_DB[0]])
def test_a_filter_without_hope_is_sought_three_times_at_most(
    most: float | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A delay of half a second has no short filter that is aligned."""
    fit = ShortFit(lambda f: np.exp(-1j * np.pi * f), 8000.0, 256)
    solved: list[float] = []
    solve = ShortFit._solve

    def counted(*arguments: object) -> object:
        found = solve(*arguments)  # type: ignore[arg-type]
        solved.append(found.error)
        return found

    monkeypatch.setattr(ShortFit, "_solve", counted)
    found = fit.best(np.zeros(256), most)
    assert found.error > 1
    assert len(solved) <= 3

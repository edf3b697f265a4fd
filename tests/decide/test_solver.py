"""The solver of integer programmes says nothing by itself."""

from __future__ import annotations

import os

import numpy as np
import pytest
import scipy.optimize

from sigsim.decide.solver import solved


def test_a_library_that_writes_is_not_heard(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it writes past Python would stand before an answer; afterwards all is heard again."""
    own = scipy.optimize.milp

    def talking(*args: object, **given: object) -> object:
        os.write(1, b"a second look at a solution")
        return own(*args, **given)

    monkeypatch.setattr(scipy.optimize, "milp", talking)
    found = solved(np.array([-1.0]), integrality=np.ones(1), bounds=scipy.optimize.Bounds(0, 3.5))
    print("heard")
    assert found.x == pytest.approx([3.0])
    assert capfd.readouterr().out == "heard\n"

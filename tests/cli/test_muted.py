"""A library that writes past Python does not stand in an answer."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext

import numpy as np
import pytest
from scipy.optimize import Bounds

from sigsim.cli.streams import muted
from sigsim.decide import solver


def test_what_a_library_writes_is_not_heard(capfd: pytest.CaptureFixture[str]) -> None:
    """What is printed before and afterwards is."""
    print("before")
    with muted():
        os.write(1, b"a second look at a solution\n")
    print("after")
    assert capfd.readouterr().out == "before\nafter\n"


def test_the_solver_runs_within_what_it_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solver, "_AROUND", [nullcontext])
    heard = []

    @contextmanager
    def listening() -> Iterator[None]:
        heard.append("begun")
        yield
        heard.append("ended")

    solver.solve_within(listening)
    # By hand: the largest whole number up to 3.5.
    found = solver.solved(np.array([-1.0]), integrality=np.ones(1), bounds=Bounds(0, 3.5))
    assert found.x == pytest.approx([3.0])
    assert heard == ["begun", "ended"]

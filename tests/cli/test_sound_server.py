"""`sigsim record` with a real sound server: what is played comes back as it must.

The reference is arithmetic: a wire changes nothing, and of a filter with one pole between two
sinks the response is known in closed form.
"""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
import soundfile
from helpers.in_process import sigsim_here
from helpers.program import sigsim
from helpers.sound_server import POLE, RATE, Server, missing, sound_server

from sigsim.errors import SigsimError
from sigsim.measure.heard import hear
from sigsim.measure.played import read_played
from sigsim.measure.ratios import ratio
from sigsim.measure.response import Heard

pytestmark = pytest.mark.skipif(bool(missing()), reason=missing() or "never")

# A machine that does other things as well may be late; then a recording is made once more.
TRIES = 3
# What a user is told of it.
LATE = ("nothing comes back", "before the sound was over", "stands still")


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with sound_server() as running:
        yield running


@pytest.fixture
def sweep(tmp_path: Path) -> Path:
    path = tmp_path / "sweep.wav"
    assert sigsim_here("sweep", path, "--seconds", "1", "--repeat", "1").status == 0
    return path


def recorded(path: Path, sweep: Path, server: Server, source: str) -> Heard:
    """Record once, and again where the machine was late, and return what was heard."""
    for _ in range(TRIES):
        run = sigsim(
            "record", path, "--play", sweep, "--yes", "--force", env=server.around("out", source)
        )
        assert run.status == 0 or any(said in run.err for said in LATE), run.err
        if run.status or "too late" in run.err:
            continue
        # The sound server itself, or the filter, may have been late.
        with suppress(SigsimError):
            return hear(path, read_played(sweep))
    pytest.skip("this machine is too busy to play and record")


def test_what_is_played_comes_back(sweep: Path, server: Server, tmp_path: Path) -> None:
    recorded(tmp_path / "loop.wav", sweep, server, "out")
    heard, _ = soundfile.read(tmp_path / "loop.wav")
    played, _ = soundfile.read(sweep)
    size = 1 << 19
    both = np.fft.irfft(np.fft.rfft(heard, size) * np.fft.rfft(played, size).conj(), size)
    at = int(np.argmax(both))
    # Single precision on the way, and one step of 24 bits.
    assert np.abs(heard[at : at + len(played)] - played).max() < 1e-6


def test_the_list_names_the_server(server: Server) -> None:
    run = sigsim("record", "--list", env=server.around("out", "out"))
    assert run.status == 0, run.err
    assert "pulse" in run.out


def test_a_filter_between_two_sinks_is_heard_as_it_is(
    sweep: Path, server: Server, tmp_path: Path
) -> None:
    """y[n] = (1-a)·x[n] + a·y[n-1] has the response (1-a)/(1 - a·exp(-jω/rate))."""
    loop = recorded(tmp_path / "loop.wav", sweep, server, "out")
    with server.filtering():
        through = recorded(tmp_path / "through.wav", sweep, server, "back")
    found = ratio(through, loop)
    turn = np.exp(-2j * np.pi * found.frequency / RATE)
    expected = 20 * np.log10(np.abs((1 - POLE) / (1 - POLE * turn)))
    inside = (found.frequency > 100) & (found.frequency < 15_000)
    # A twentieth of what would be heard, and a thirtieth of the 9 dB that the filter takes.
    assert 20 * np.log10(np.abs(found.T[inside])) == pytest.approx(expected[inside], abs=0.05)


def test_a_signal_in_the_middle_leaves_no_file(sweep: Path, server: Server, tmp_path: Path) -> None:
    there = sorted(tmp_path.iterdir())
    process = subprocess.Popen(
        [sys.executable, "-m", "sigsim", "record", "out.wav", "--play", str(sweep), "--yes"],
        cwd=tmp_path, env=server.around("out", "out"), stderr=subprocess.PIPE, encoding="utf-8",
    )  # fmt: skip
    assert process.stderr is not None
    for line in process.stderr:
        if line.startswith("At the full level"):
            break
    time.sleep(1.0)
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 130, err
    assert "Traceback" not in err
    assert sorted(tmp_path.iterdir()) == there

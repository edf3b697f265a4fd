"""Signals end the program at any moment: the usual status, no traceback, nothing left."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from helpers.refusals import ENDS, LEAD, STAGE
from helpers.thinned import tries

SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
# The command `sigsim` as it is installed. It tells the test when its first line runs: what the
# interpreter does before belongs to nobody's program.
ENTRY = """
import os, sys
os.write(1, b"!")
from sigsim.__main__ import main
sys.argv = ["sigsim", *sys.argv[1:]]
main()
"""


def stopped(arguments: list[str], number: int, wait: float, folder: Path) -> tuple[int, bytes]:
    process = subprocess.Popen(
        [sys.executable, "-c", ENTRY, *arguments],
        cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    assert process.stdout is not None
    process.stdout.read(1)
    time.sleep(wait)
    process.send_signal(number)
    _, err = process.communicate(timeout=60)
    return process.returncode, err


@pytest.mark.parametrize("number", SIGNALS)
@pytest.mark.parametrize(
    ("longest", "arguments"),
    [
        (0.4, ["loss", "b.toml"]),
        (1.5, ["states", "b.toml", "--csv", "x.csv", "--plot", "x.svg"]),
    ],
)
def test_at_any_moment(arguments: list[str], longest: float, number: int, tmp_path: Path) -> None:
    (tmp_path / "b.toml").write_text(ENDS + LEAD + STAGE, encoding="utf-8")
    moments = random.Random(number)
    for _ in range(tries(4, 8)):
        wait = 0.005 + moments.uniform(0, longest)
        status, err = stopped(arguments, number, wait, tmp_path)
        # A program that has just started may be ended by the signal itself.
        assert status in (0, 128 + number, -number), err
        assert b"Traceback" not in err
        assert b"KeyboardInterrupt" not in err
        assert not [name for name in os.listdir(tmp_path) if name.startswith(".")]
        for name in ("x.csv", "x.svg"):
            (tmp_path / name).unlink(missing_ok=True)


def test_what_is_ignored_stays_ignored(tmp_path: Path) -> None:
    """As under `nohup`."""
    (tmp_path / "b.toml").write_text(ENDS + LEAD + STAGE, encoding="utf-8")
    process = subprocess.Popen(
        ["sh", "-c", f"trap '' HUP; exec '{sys.executable}' -m sigsim loss b.toml"],
        cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    time.sleep(0.1)
    process.send_signal(signal.SIGHUP)
    process.communicate(timeout=60)
    assert process.returncode == 0


PATIENT = """
import os, time
from sigsim import stopping
stopping.install()
with stopping.unwinding(), stopping.patient():
    os.write(1, b"!")
    while not stopping.was_noted():
        time.sleep(0.01)
    os.write(1, b"heard")
    time.sleep(20)
"""


def test_the_first_from_the_keyboard_may_be_noted_the_second_ends_it() -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", PATIENT], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert process.stdout is not None
    assert process.stdout.read(1) == b"!"
    process.send_signal(signal.SIGINT)
    assert process.stdout.read(5) == b"heard"
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=10)
    assert process.returncode == 130
    assert b"Traceback" not in err

"""Time and memory of measuring: a recipe on three recordings, with the start of the program."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from statistics import median
from typing import NamedTuple

from helpers.bench import Sweep
from helpers.bench_cases import random_bench

ROOT = Path(__file__).resolve().parents[2]
_CHILD = """
import resource, subprocess, sys, time
start = time.perf_counter()
subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL)
print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
"""


class Taken(NamedTuple):
    """What a command took: the median of its repeats [s], and its largest memory [bytes]."""

    seconds: float
    peak_bytes: int


def recordings(kind: str, folder: Path) -> list[str]:
    """Write the recordings of a bench, three sweeps of 10 s each, and return their options."""
    case, recorder = random_bench(kind, 1, Sweep())
    files = case.play(recorder, folder)
    return [word for role, paths in files.items() for path in paths for word in (f"--{role}", path)]


def taken(arguments: list[str], repeats: int = 3) -> Taken:
    """Run the program as a user does."""
    command = [sys.executable, "-m", "sigsim", *arguments]
    times, peaks = [], []
    for _ in range(repeats):
        # A process between the two, whose only child is the program: time and peak are its own.
        run = subprocess.run(
            [sys.executable, "-c", _CHILD, *command],
            check=True, capture_output=True, text=True, cwd=ROOT,
        )  # fmt: skip
        seconds, kilobytes = run.stdout.split()
        times.append(float(seconds))
        peaks.append(int(kilobytes) * 1024)
    return Taken(median(times), max(peaks))

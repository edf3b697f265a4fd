"""Running the program as a user does, in a process of its own."""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples"
_PROGRESS = re.compile(
    r"^(?:[\d,]+ of [\d,]+ .* a second, \d+ s left|\d+ s: (?:no order|best so far) .*)\n", re.M
)


@dataclass(frozen=True)
class Run:
    """What a run left: exit status, standard output, standard error without lines of progress."""

    status: int
    out: str
    err: str


def sigsim(
    *arguments: object, cwd: Path | None = None, text: str = "", env: dict[str, str] | None = None
) -> Run:
    """Run `sigsim` with arguments; `text` is its standard input."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "sigsim", *map(str, arguments)],
        capture_output=True,
        cwd=cwd,
        input=text,
        encoding="utf-8",
        env=env,
        timeout=120,
    )
    return Run(done.returncode, done.stdout, without_progress(done.stderr))


def without_progress(text: str) -> str:
    """Leave out how far it is: that is said where the machine is slow, no test may depend on it."""
    return _PROGRESS.sub("", text)

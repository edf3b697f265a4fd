"""Running the program as a user does, in a process of its own."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parent.parent
EXAMPLES = ROOT / "examples"


@dataclass(frozen=True)
class Run:
    """What a run left: exit status, standard output, standard error."""

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
    return Run(done.returncode, done.stdout, done.stderr)

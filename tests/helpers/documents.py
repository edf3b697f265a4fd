"""The documents as data: the commands they show with their output, their headings and links.

Commands stand in fenced blocks. In a `console` block a line `$ sigsim …` is followed by what it
prints; an `…` as the last line says that more follows. In a `sh` block lines that begin with
`sigsim` only have to run. `# exit status 2` at the end of a line says which status is right when
it is not 0. What is made from the code stands in `made.py`.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

from helpers.program import EXAMPLES, ROOT, without_progress

README: Final = ROOT / "README.md"
DEVELOPERS: Final = ROOT / "DEVELOPERS.md"
REFERENCE: Final = ROOT / "reference"
MANUAL: Final = REFERENCE / "manual"
COMMAND_PAGE: Final = MANUAL / "commands.md"
DOCUMENTS: Final = (
    README, DEVELOPERS, EXAMPLES / "README.md", ROOT / "tests" / "acceptance" / "README.md",
    *sorted(REFERENCE.rglob("*.md")),
)  # fmt: skip
CUT: Final = "…"

_FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.M | re.S)
_STATUS = re.compile(r"\s+# exit status (\d)$")
# Full double precision: the last digits differ from processor to processor.
_LONG = re.compile(r"\d+\.\d{10,}")
_NUMBER = re.compile(r"\d+(?:\.\d+)?(?:e[-+]?\d+)?")
_HEADING = re.compile(r"^#+ (.*)$", re.M)
_LINK = re.compile(r"\]\(([^)\s]+)\)")


@dataclass(frozen=True)
class Command:
    """One command line of a document.

    Attributes
    ----------
    line : as shown, without its prompt
    shown : the lines of output under it, none if the document shows no output
    """

    line: str
    shown: tuple[str, ...] = ()

    @property
    def status(self) -> int:
        """The exit status that the document says."""
        said = _STATUS.search(self.line)
        return int(said[1]) if said else 0

    @property
    def name(self) -> str:
        """The command of the program."""
        return self.line.split()[1]


@dataclass(frozen=True)
class Result:
    """What a command line left: exit status, and all it printed, in order."""

    status: int
    printed: tuple[str, ...]


def commands(document: Path) -> list[Command]:
    """Return the command lines of a document in order."""
    return [
        command
        for fence in _FENCE.finditer(document.read_text(encoding="utf-8"))
        for command in _in_fence(fence[1], fence[2])
    ]


def python_examples(document: Path) -> list[str]:
    """Return the `python` blocks of a document, written as a session at the prompt."""
    fences = _FENCE.finditer(document.read_text(encoding="utf-8"))
    return [fence[2] for fence in fences if fence[1] == "python"]


def outside_fences(document: Path) -> str:
    """Return a document's text without its fenced blocks."""
    return _FENCE.sub("", document.read_text(encoding="utf-8"))


def headings(document: Path) -> list[str]:
    """Return the headings of a document as a link names them."""
    found = _HEADING.findall(outside_fences(document))
    return [re.sub(r"[^\w -]", "", heading).lower().replace(" ", "-") for heading in found]


def links(document: Path) -> list[str]:
    """Return where the links of a document lead, as written."""
    return _LINK.findall(outside_fences(document))


def section(document: Path, heading: str) -> str:
    """Return what stands under a heading of the second level, up to the next of them."""
    text = document.read_text(encoding="utf-8")
    (found,) = re.findall(rf"^## {re.escape(heading)}\n(.*?)(?=^## |\Z)", text, re.M | re.S)
    return found


def _in_fence(language: str, body: str) -> Iterator[Command]:
    if language == "sh":
        yield from (Command(line) for line in body.splitlines() if line.startswith("sigsim "))
    elif language == "console":
        for block in re.split(r"^\$ ", body, flags=re.M)[1:]:
            line, *shown = block.rstrip("\n").splitlines()
            if line.startswith("sigsim "):
                yield Command(line, tuple(s.rstrip() for s in shown))


def copy_examples(folder: Path) -> None:
    """Copy the example boards into a folder."""
    for path in EXAMPLES.glob("*.toml"):
        (folder / path.name).write_bytes(path.read_bytes())


@cache
def results(document: Path) -> tuple[Result, ...]:
    """Run a document's command lines, one after another, in a copy of the examples."""
    with tempfile.TemporaryDirectory() as folder:
        copy_examples(Path(folder))
        return tuple(_run(command.line, Path(folder)) for command in commands(document))


def _run(line: str, folder: Path) -> Result:
    start = f'sigsim() {{ "{sys.executable}" -W error -m sigsim "$@"; }}\n'
    done = subprocess.run(
        ["bash", "-c", start + line],
        cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        encoding="utf-8", timeout=120, env=_environment(),
    )  # fmt: skip
    printed = without_progress(done.stdout)
    return Result(done.returncode, tuple(line.rstrip() for line in printed.splitlines()))


def _environment() -> dict[str, str]:
    return os.environ | {"PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}


def fitted(printed: tuple[str, ...], shown: tuple[str, ...]) -> tuple[str, ...]:
    """Return what a document should show: as many lines as it does if it leaves the rest out."""
    if shown and shown[-1] == CUT:
        return (*printed[: len(shown) - 1], CUT)
    while printed and not printed[-1]:
        printed = printed[:-1]
    return printed


def agrees(command: Command, printed: tuple[str, ...]) -> bool:
    """Whether what is shown is what was printed; a simulator's answer varies in its numbers."""
    if command.name != "crosscheck":
        return _rounded(command.shown) == _rounded(fitted(printed, command.shown))
    shown, said = _words(command.shown), _words(printed)
    return shown[:-1] == said[: len(shown) - 1] if shown[-1] == CUT else shown == said


def _rounded(lines: tuple[str, ...]) -> list[str]:
    return [_LONG.sub(lambda number: f"{float(number[0]):.10g}", line) for line in lines]


def _words(lines: tuple[str, ...]) -> list[str]:
    return [_NUMBER.sub("0", word) for line in lines for word in line.split() if word.strip("─")]


def with_output(text: str, document: Path) -> str:
    """Return a document's text with the output under each command line as it is now."""
    pairs = zip(commands(document), results(document), strict=True)

    def renewed(fence: re.Match[str]) -> str:
        found = list(_in_fence(fence[1], fence[2]))
        body = fence[2]
        for command in found:
            _, result = next(pairs)
            # What went wrong is no output to show.
            assert result.status == command.status, (command.line, result.printed[-1:])
            if fence[1] == "console" and command.shown:
                old = "\n".join((f"$ {command.line}", *command.shown))
                new = "\n".join((f"$ {command.line}", *fitted(result.printed, command.shown)))
                body = body.replace(old, new)
        return f"```{fence[1]}\n{body}```"

    return _FENCE.sub(renewed, text)

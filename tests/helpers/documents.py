"""The documents as data: the commands they show with their output, and what is made from the code.

Commands stand in fenced blocks. In a `console` block a line `$ sigsim …` is followed by what it
prints; an `…` as the last line says that more follows. In a `sh` block lines that begin with
`sigsim` only have to run. `# exit status 2` at the end of a line says which status is right when
it is not 0.

Between `<!-- NAME -->` and `<!-- /NAME -->` stands text that is made here.
"""

from __future__ import annotations

import dataclasses
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, dataclass
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import Final

from helpers.layers import BELOW
from helpers.program import EXAMPLES, ROOT
from sigsim.board import chain_reader as _registers_all_stages  # noqa: F401
from sigsim.board.parts import library
from sigsim.cli.main import COMMANDS
from sigsim.items.base import STAGE_KINDS
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.destination import Destination
from sigsim.items.fields import Spec, specs
from sigsim.items.instrument import ActiveInstrument, PassiveInstrument, Pickup
from sigsim.items.loop import Loop
from sigsim.items.tap import Tap
from sigsim.units import KINDS

README: Final = ROOT / "README.md"
DEVELOPERS: Final = ROOT / "DEVELOPERS.md"
DOCUMENTS: Final = (README, DEVELOPERS, EXAMPLES / "README.md")
CUT: Final = "…"

_FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.M | re.S)
_STATUS = re.compile(r"\s+# exit status (\d)$")
# Full double precision: the last digits differ from processor to processor.
_LONG = re.compile(r"\d+\.\d{10,}")
_NUMBER = re.compile(r"\d+(?:\.\d+)?(?:e[-+]?\d+)?")


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
    return Result(done.returncode, tuple(line.rstrip() for line in done.stdout.splitlines()))


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
            if fence[1] == "console" and command.shown:
                old = "\n".join((f"$ {command.line}", *command.shown))
                new = "\n".join((f"$ {command.line}", *fitted(result.printed, command.shown)))
                body = body.replace(old, new)
        return f"```{fence[1]}\n{body}```"

    return _FENCE.sub(renewed, text)


def with_blocks(text: str) -> str:
    """Return a document's text with all that is made from the code as it is now."""
    for name, make in BLOCKS.items():
        marks = re.compile(rf"(<!-- {name} -->\n).*?(<!-- /{name} -->)", re.S)
        made = make() if marks.search(text) else ""
        text = marks.sub(lambda m, made=made: f"{m[1]}\n{made}\n{m[2]}", text)  # type: ignore[misc]
    return text


def _table(header: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    lines = [f"| {' | '.join(header)} |", f"|{'---|' * len(header)}"]
    lines += [f"| {' | '.join(cells)} |".replace("|  |", "| |") for cells in rows]
    return "\n".join(lines) + "\n"


def command_block() -> str:
    """Return the table of commands."""
    return _table(
        ("command", "what it answers"),
        [(f"[`sigsim {name}`](#sigsim-{name})", line) for name, line in COMMANDS.items()],
    )


def part_block() -> str:
    """Return the table of parts."""
    rows = [
        (f"*{kind}*" if i == 0 else "", f"`{part.name}`", part.summary)
        for kind, parts in groupby(library().values(), key=lambda part: part.kind)
        for i, part in enumerate(parts)
    ]
    return _table(("kind", "part", "what it is"), rows)


def room_block() -> str:
    """Return the table of rooms and what each may import."""
    rows = []
    for room, below in BELOW.items():
        folder = ROOT / "sigsim" / room
        home = folder / "__init__.py" if folder.is_dir() else folder.with_suffix(".py")
        first = home.read_text(encoding="utf-8").split('"""')[1].strip().splitlines()[0]
        names = ", ".join(f"`{name}`" for name in BELOW if name in below) or "nothing"
        rows.append((f"`{room}{'/' if folder.is_dir() else '.py'}`", first, names))
    return _table(("room", "what lives there", "may import"), rows)


_TABLES: Final[Mapping[str, tuple[type, Mapping[str, Spec]]]] = {
    "`[instrument]`, passive": (PassiveInstrument, {}),
    '`[instrument]` with `type = "active"`': (ActiveInstrument, {}),
    "`[[instrument.pickups]]`, one for each of several pickups": (Pickup, {}),
    "`[destination]`": (Destination, {}),
    "`[cables.NAME]`": (CableSpec, {}),
    "`[wiring]`, and a cable in `[[chain]]`": (Cable, {}),
}
_STAGE_TITLE: Final = '`[[chain]]`: a stage with `kind = "{}"`'
_LAST_TABLES: Final[Mapping[str, tuple[type, Mapping[str, Spec]]]] = {
    "`[[chain]]`: a loop; what is in it follows as `[[chain.inside]]`": (Loop, {}),
    "`[[chain]]`: a tap": (Tap, specs(Cable)),
}


def key_block() -> str:
    """Return the tables of keys, one for each table of a board file."""
    kinds = sorted(STAGE_KINDS, key=lambda kind: kind != "active")
    stages = {_STAGE_TITLE.format(kind): (STAGE_KINDS[kind], {}) for kind in kinds}
    parts = []
    for title, (item, extra) in {**_TABLES, **stages, **_LAST_TABLES}.items():
        own = specs(item)
        naming = [key for key in ("stage", "loop", "tap") if key in own]
        keys = {key: own[key] for key in naming} | dict(extra) | own
        rows = [
            (f"`{key}`", spec.help, _written(spec), _without(item, key, spec))
            for key, spec in keys.items()
        ]
        parts.append(f"{title}\n\n{_table(('key', 'meaning', 'written', 'if not given'), rows)}")
    return "\n".join(parts)


_WORDS: Final = {
    "flag": "`true`, `false`",
    "text": "a name in quotes",
    "taper": '`"audio"`, `"linear"`, `"audio 15 %"`',
    "knob": "0 to 10",
    "ratio": "a plain number",
    "length": "m, cm, ft, in",
}


def _written(spec: Spec) -> str:
    if spec.kind == "choice":
        return ", ".join(f'`"{word}"`' for word in spec.choices)
    if spec.kind in _WORDS:
        return _WORDS[spec.kind]
    unit = KINDS[spec.kind].symbol
    return f"{unit} or {unit.removesuffix('m')}ft" if unit.endswith("/m") else unit


def _without(item: type, key: str, spec: Spec) -> str:
    default = next((f.default for f in dataclasses.fields(item) if f.name == key), MISSING)
    if default is MISSING:
        return "must be given"
    if default is None:
        return "none"
    if isinstance(default, bool):
        return str(default).lower()
    if spec.kind == "taper":
        return "audio"
    if isinstance(default, float):
        unit = KINDS[spec.kind].symbol
        return f"{default:g} {unit}".strip() if default else "0"
    return str(default)


BLOCKS: Final[Mapping[str, Callable[[], str]]] = {
    "commands": command_block,
    "keys": key_block,
    "parts": part_block,
    "rooms": room_block,
}

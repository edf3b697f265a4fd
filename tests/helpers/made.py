"""What the documents hold that is made from the code.

Between `<!-- NAME -->` and `<!-- /NAME -->` in a document stands text that is made here.
"""

from __future__ import annotations

import dataclasses
import inspect
import re
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import MISSING, replace
from functools import cache, partial
from importlib import import_module
from inspect import cleandoc
from itertools import groupby
from typing import Final

import click

import sigsim
from helpers.documents import COMMAND_PAGE, ROOT
from helpers.layers import BELOW
from sigsim.board import chain_reader as _registers_all_stages  # noqa: F401
from sigsim.board.parts import library
from sigsim.board.quantity_schema import range_text
from sigsim.board.tables import required
from sigsim.cli.main import COMMANDS
from sigsim.items.base import STAGE_KINDS
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.destination import Destination
from sigsim.items.fields import Spec, specs
from sigsim.items.instrument import ActiveInstrument, PassiveInstrument, Pickup
from sigsim.items.layout import BoxTable, LayoutTable
from sigsim.items.loop import BOARD_SPECS, Loop
from sigsim.items.needs import told
from sigsim.items.split import Split
from sigsim.items.supply import OUTPUT_SPECS, Output, Supply
from sigsim.items.tap import Tap
from sigsim.quantities import KINDS


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


_PAGE: Final = COMMAND_PAGE.relative_to(ROOT).as_posix()


def command_block() -> str:
    """Return the table of commands."""
    return _table(
        ("command", "what it answers"),
        [(f"[`sigsim {name}`]({_PAGE}#sigsim-{name})", line) for name, line in COMMANDS.items()],
    )


# An option that so many commands have is described once, and only named in their own tables.
_SHARED_BY: Final = 5
_REPEATABLE: Final = " Repeatable."


@cache
def loaded(name: str) -> click.Command:
    """Return a command of the program by its name."""
    command: click.Command = import_module(f"sigsim.cli.commands.{name}").command
    return command


def options(name: str) -> list[click.Option]:
    """Return the options of a command."""
    return [option for option in loaded(name).params if isinstance(option, click.Option)]


def _written_option(option: click.Option) -> str:
    value = "" if option.is_flag else f" {option.metavar or _value(option.type)}"
    return f"`{', '.join(option.opts)}{value}`".replace("|", "\\|")


def _value(kind: click.ParamType) -> str:
    if isinstance(kind, click.Choice):
        return "|".join(map(str, kind.choices))
    if isinstance(kind, click.Path):
        return "FILE"
    return "N" if kind.name.startswith(("integer", "float")) else kind.name.upper()


def _does(option: click.Option) -> str:
    """Return the help of an option with its range and its default, which no version words anew."""
    said = [" ".join(cleandoc(option.help or "").split())]
    if isinstance(option.type, (click.IntRange, click.FloatRange)):
        low, high = option.type.min, option.type.max
        least = f"over {low:g}" if option.type.min_open else f"{low:g}"
        said.append(f"{least} or more." if high is None else f"{least} to {high:g}.")
    if isinstance(option.show_default, str):
        said.append(f"[default: {option.show_default}]")
    elif option.show_default:
        said.append(f"[default: {option.default}]")
    return " ".join(said)


def _key(option: click.Option) -> tuple[str, str]:
    return _written_option(option), _does(option).removesuffix(_REPEATABLE)


@cache
def _shared() -> tuple[tuple[str, str], ...]:
    """Return name and help of each option that many commands share, in the order they come."""
    counted = Counter(_key(option) for name in COMMANDS for option in options(name))
    return tuple(key for key, count in counted.items() if count >= _SHARED_BY)


def shared_option_block() -> str:
    """Return the table of options that many commands share."""
    return _table(("option", "what it does"), list(_shared()))


def option_block(name: str) -> str:
    """Return how a command is called, the table of its own options, and the names of the others."""
    usage = loaded(name).collect_usage_pieces(click.Context(loaded(name)))
    shared = [option for option in options(name) if _key(option) in _shared()]
    own = [(_written_option(o), _does(o)) for o in options(name) if o not in shared]
    parts = [f"`{' '.join(('sigsim', name, *usage))}`\n"]
    if own:
        parts.append(_table(("option", "what it does"), own))
    if shared:
        named = (f"`{o.opts[0]}`{_often(o)}" for o in shared)
        parts.append(f"[Shared options](#options-that-many-commands-share): {', '.join(named)}.\n")
    return "\n".join(parts)


def _often(option: click.Option) -> str:
    return " (repeatable)" if _does(option).endswith(_REPEATABLE) else ""


def python_block() -> str:
    """Return the table of what the package offers, of its metrics, and of measuring."""
    offered = {name: getattr(sigsim, name) for name in sigsim.__all__}
    measuring = {f"measure.{n}": getattr(sigsim.measure, n) for n in sigsim.measure.__all__}
    numbers = {
        f"metrics.{name}": function
        for name, function in inspect.getmembers(sigsim.metrics, inspect.isfunction)
        if function.__module__ == sigsim.metrics.__name__ and not name.startswith("_")
    }
    rows = [
        (f"`sigsim.{name}{_called(thing)}`", _first_line(thing))
        for name, thing in (offered | numbers | measuring).items()
    ]
    return _table(("name", "what it is"), rows)


def _first_line(thing: object) -> str:
    return cleandoc(thing.__doc__ or "").splitlines()[0].replace("|", r"\|")


def _called(thing: object) -> str:
    if not inspect.isfunction(thing):
        return ""
    given = inspect.signature(thing).parameters.values()
    return f"({', '.join(p.name if p.default is p.empty else f'{p.name}=…' for p in given)})"


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
    "`[layout]`": (LayoutTable, {}),
    "`[boxes.NAME]`": (BoxTable, {}),
}
_STAGE_TITLE: Final = '`[[chain]]`: a stage with `kind = "{}"`'
_LAST_TABLES: Final[Mapping[str, tuple[type, Mapping[str, Spec]]]] = {
    "`[[chain]]`: a loop; what is in it follows as `[[chain.inside]]`, or is the board of another "
    "file": (Loop, BOARD_SPECS),
    "`[[chain]]`: a split; what is in it follows as `[[chain.inside]]`, and where it ends as "
    "`destination = {…}` with the keys of `[destination]`": (Split, {}),
    "`[supplies.NAME]`": (Supply, OUTPUT_SPECS),
    "`outputs` of `[supplies.NAME]`, for each": (Output, {}),
    "`[[chain]]`: a tap": (Tap, {key: specs(Cable)[key] for key in required(Cable)}),
}


def key_block() -> str:
    """Return the tables of keys, one for each table of a board file."""
    kinds = sorted(STAGE_KINDS, key=lambda kind: kind != "active")
    stages = {_STAGE_TITLE.format(kind): (STAGE_KINDS[kind], {}) for kind in kinds}
    parts = []
    for title, (item, extra) in {**_TABLES, **stages, **_LAST_TABLES}.items():
        own = specs(item)
        naming = [key for key in ("stage", "loop", "split", "tap") if key in own]
        keys = {key: own[key] for key in naming} | dict(extra) | own
        rows = [
            (
                f"`{key}`",
                spec.help + told(item, key),
                _written(spec),
                _range(spec),
                _without(item, key, spec),
            )
            for key, spec in keys.items()
        ]
        parts.append(f"{title}\n\n{_table(_HEADINGS, rows)}")
    return "\n".join(parts)


_HEADINGS: Final = ("key", "meaning", "written", "can be meant", "if not given")
_WORDS: Final = {
    "flag": "`true`, `false`",
    "text": "a name in quotes",
    "names": '`["NAME", "NAME"]`',
    "path": "a path in quotes",
    "laid cable": "`{ cable = …, length = … }`",
    "date": '`"2026-11-28"`',
    "rows": '`[["NAME", "NAME"], ["NAME"]]`',
    "taper": '`"audio"`, `"linear"`, `"audio 15 %"`',
    "knob": "0 to 10",
    "ratio": "a plain number",
    "exponent": "a plain number",
    "share": "a plain number",
    "battery": '`"37 Wh"`, `"10 Ah"`',
    "outputs": "`[{ current = …, voltage = … }]`",
    "length": "m, cm, ft, in",
}


def _range(spec: Spec) -> str:
    return range_text(spec) if spec.kind in KINDS and spec.kind != "knob" else ""


def _written(spec: Spec) -> str:
    if spec.kind == "edge":
        words = ", ".join(f'`"{word}"`' for word in spec.choices)
        return f"{words}, or two lengths in a list"
    if spec.several:
        one = _written(replace(spec, several=""))
        several = spec.several in ("some", "rising")
        return f"{one}; one, or several in a list" if several else f"{one}; two in a list"
    if spec.kind == "choice":
        return ", ".join(f'`"{word}"`' for word in spec.choices)
    if spec.kind in _WORDS:
        return _WORDS[spec.kind]
    if spec.several:
        unit = KINDS[spec.kind].symbol
        return f"{unit}, or a list of them" if spec.several == "some" else f"two, {unit}"
    unit = KINDS[spec.kind].symbol
    return f"{unit} or {unit.removesuffix('m')}ft" if unit.endswith("/m") else unit


def _without(item: type, key: str, spec: Spec) -> str:
    default = next((f.default for f in dataclasses.fields(item) if f.name == key), MISSING)
    if key in BOARD_SPECS:
        return "none"
    if key in OUTPUT_SPECS:
        return "must be given"
    if (item, key) == (Cable, "length"):
        return "that of `[layout]`; without one it must be given"
    if default is MISSING:
        return "must be given"
    if default in (None, ()) or (default == "" and spec.kind in ("date", "choice", "text")):
        return "none"
    if isinstance(default, tuple):
        return ", ".join(f"{one:g} {KINDS[spec.kind].symbol}" for one in default)
    if isinstance(default, bool):
        return str(default).lower()
    if spec.kind == "taper":
        return "audio"
    if isinstance(default, tuple):
        return ", ".join(f"{one:g} {KINDS[spec.kind].symbol}" for one in default)
    if isinstance(default, float):
        unit = KINDS[spec.kind].symbol
        return f"{default:g} {unit}".strip() if default else "0"
    return str(default)


BLOCKS: Final[Mapping[str, Callable[[], str]]] = {
    "commands": command_block,
    "shared options": shared_option_block,
    **{f"options of {name}": partial(option_block, name) for name in COMMANDS},
    "keys": key_block,
    "python": python_block,
    "parts": part_block,
    "rooms": room_block,
}

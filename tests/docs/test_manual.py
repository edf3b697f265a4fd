"""The manual names every key of every JSON document, and no key that is not there."""

from __future__ import annotations

import json
import re
import shlex
from collections import defaultdict
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
from click.testing import CliRunner
from helpers.documents import COMMAND_PAGE, copy_examples, section
from helpers.laid_boards import laid_board
from helpers.layout_boards import box, laid_out
from helpers.made import options
from helpers.simulator import NEEDS_NGSPICE
from helpers.variants import text

from sigsim.cli.main import COMMANDS, cli

# Together they print every key: what is asked for by an option, what only some boards have.
SAMPLES: Final[Mapping[str, tuple[str, ...]]] = {
    "loss": ("ferry-bass.toml",),
    "response": ("ferry-bass.toml --points 2",),
    "states": ("ferry-bass.toml --below 3000 --top 1",),
    "buffer": (
        "ferry-bass.toml --top 1 --write new.toml --force",
        "ferry-guitar-big.toml --top 1",
        "hidden.toml",
        "kept.toml",
    ),
    "order": (
        "ferry-bass-buffered.toml --write new.toml --force",
        "hidden.toml --scenes",
        "contrary.toml",
    ),
    "cables": ("ferry-bass.toml --limit 8.5 --only rg-59,cable-low,cable-high",),
    "compare": ("ferry-bass.toml ferry-bass-buffered.toml", "ferry-bass.toml hidden.toml"),
    "blame": ("ferry-bass.toml",),
    "spread": ("ferry-bass.toml --worst-case --draws 100 --corners 2",),
    "noise": ("ferry-bass.toml", "fed.toml"),
    "power": ("fed.toml", "unfed.toml"),
    "listen": ("ferry-bass.toml sigsim-demo-reference.wav -o o.wav --pair --difference",),
    "layout": ("laid.toml --try", "over.toml --try"),
    "sheet": ("ferry-bass-two-amps.toml", "laid.toml"),
    "measure": ('cable --before before.csv --with with.csv --length "6 m"',),
    "verify": ("ferry-bass.toml --through through.csv --limit 60",),
    "check": ("ferry-bass.toml", "ferry-plan.toml", "laid.toml"),
    "parts": ("rg-59",),
    "crosscheck": ("ferry-bass.toml --states 1",),
}
# Objects whose keys are names from the board, or of parts.
NAMED: Final = {
    ("states", "held"), ("noise", "states.one_noise_figure_missing"), ("sheet", "scenes"),
    ("power", "assignment"), ("power", "hours"), ("power", "hours_range"),
    ("check", "scenes"), ("measure", "files"), ("measure", "figures"), ("measure", "point"),
    ("measure", "assumed"), ("parts", "values"), ("parts", "sources"),
}  # fmt: skip
STATE: Final = "](#sigsim-loss)"

Keys = dict[str, set[str]]


@cache
def written(name: str) -> Keys:
    """Return the keys of each object as the section of a command lists them, by its path."""
    found: Keys = {}
    rows = re.findall(r"^\| (.*?) \| (.*) \|$", section(COMMAND_PAGE, f"sigsim {name}"), re.M)
    start = rows.index(("in the JSON", "keys")) + 1
    for where, listed in rows[start:]:
        keys = set(re.findall(r"`(\w+)`", listed))
        if STATE in listed:
            keys |= written("loss")["states"]
        for path in re.findall(r"`([\w.]+)`", where) or [""]:
            assert path not in found, path
            found[path] = keys
    return found


def collect(value: Any, name: str, path: str, found: Keys) -> None:
    """Add the keys of every object under a value; those of a list are those of its objects."""
    if isinstance(value, list):
        for one in value:
            collect(one, name, path, found)
    if not isinstance(value, dict) or (name, path) in NAMED:
        return
    keys = {key for key in value if not key.isdigit()}
    if keys:
        found[path] |= keys
    for key in keys:
        collect(value[key], name, f"{path}.{key}".lstrip("."), found)


def printed(lines: Iterable[str], name: str) -> Keys:
    """Return the keys that a command prints, by the path of the object they stand in."""
    found: Keys = defaultdict(set)
    for line in lines:
        result = CliRunner().invoke(cli, [name, *shlex.split(line), "--json"])
        assert result.exit_code == 0, result.output
        document = json.loads(result.stdout)
        for part in document.values() if name == "parts" else [document]:
            collect(part, name, "", found)
    return found


def write_ratios() -> None:
    """Write what a lead of 200 pF, a cable and too much of it do behind 100 kΩ, by Ohm's law."""
    f = np.geomspace(20, 20_000, 300)
    for name, farads in (("before", 200e-12), ("with", 800e-12), ("through", 5e-9)):
        ratio = 1 / (1 + 1e5 * (1e-6 + 2j * np.pi * f * farads))
        columns = f, 20 * np.log10(np.abs(ratio)), np.degrees(np.angle(ratio))
        rows = (
            ",".join(map(repr, row)) for row in zip(*(c.tolist() for c in columns), strict=True)
        )
        table = "\n".join(("frequency_hz,gain_db,phase_deg", *rows, ""))
        Path(f"{name}.csv").write_text(table, encoding="utf-8")


def laid_text() -> str:
    """Return a board with a layout that says where its lead comes in."""
    board = laid_board(0)
    board["layout"]["entry"] = "right"
    return text(board)


def is_within_a_state(path: str, found: Keys) -> bool:
    """Whether an object belongs to a state as `loss` prints it, which is described once."""
    above = path.rpartition(".")[0]
    return bool(above) and found.get(above, set()) >= written("loss")["states"]


def test_every_command_with_json_is_tried() -> None:
    assert set(SAMPLES) == {
        name for name in COMMANDS if any("--json" in option.opts for option in options(name))
    }


@pytest.mark.parametrize(
    "name",
    [pytest.param(n, marks=NEEDS_NGSPICE if n == "crosscheck" else ()) for n in SAMPLES],
)
def test_the_manual_lists_the_keys(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy_examples(tmp_path)
    monkeypatch.chdir(tmp_path)
    # A tuner that isolates even when it is off, before a fuzz that wants to see the pickup.
    board = Path("ferry-bass.toml").read_text(encoding="utf-8")
    board = board.replace("tuner-true-bypass", "tuner-buffered")
    Path("hidden.toml").write_text(board, encoding="utf-8")
    contrary = board.replace('"tuner-buffered"', '"tuner-buffered"\nbefore = ["bilge fuzz"]')
    Path("contrary.toml").write_text(contrary, encoding="utf-8")
    # One that is always on and has to stay where it is.
    kept = 'part = "tuner-buffered"\nalways_on = true\nfixed = true'
    board = board.replace('part = "tuner-buffered"', kept)
    Path("kept.toml").write_text(board, encoding="utf-8")
    # Two outputs for all of them, and then one pedal that neither can feed.
    fed = f'{board}\n[supplies.left]\noutputs = [{{ current = "1 A" }}, {{ current = "1 A" }}]\n'
    Path("fed.toml").write_text(fed, encoding="utf-8")
    unfed = fed.replace("always_on = true", 'always_on = true\nvoltage = "18 V"')
    Path("unfed.toml").write_text(unfed, encoding="utf-8")
    # Boxes that stand somewhere, one that hangs over the edge, and plugs that face each other.
    Path("laid.toml").write_text(laid_out(), encoding="utf-8")
    over = box("tuner", 'place = ["55 cm", "1 cm"]\n')
    wrong = laid_out(
        [["echo", "fuzz"]],
        over + box("fuzz") + box("echo"),
        sold="",
        more='plug_length = "3 cm"\n',
    )
    Path("over.toml").write_text(wrong, encoding="utf-8")
    # One whose layout says where the lead comes in.
    if name == "check":
        Path("laid.toml").write_text(laid_text(), encoding="utf-8")
    if name == "listen":
        assert CliRunner().invoke(cli, ["demo", "--listen"]).exit_code == 0
    write_ratios()
    found = printed(SAMPLES[name], name)
    if name != "loss":
        found = {path: k for path, k in found.items() if not is_within_a_state(path, found)}
    assert {path: sorted(keys) for path, keys in found.items()} == {
        path: sorted(keys) for path, keys in written(name).items()
    }

"""Hostile names: the netlist stays one circuit, and nothing in it runs a command."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest
from helpers.simulator import NEEDS_NGSPICE, ngspice

from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.board.state import State
from sigsim.spice.compare import differences
from sigsim.spice.emit_line import LineStyle
from sigsim.spice.engines import ac
from sigsim.spice.netlist import netlist

pytestmark = NEEDS_NGSPICE

# MARK is replaced by the path of a file that must not come to be. ngspice runs commands between
# .control and .endc, on lines that begin with *#, and in files that begin with *ng_script.
NAMES = [
    "x\n.control\nshell touch MARK\n.endc",
    "\r\n.control\rshell touch MARK\r.endc\r",
    "\u2028.control\u2028shell touch MARK\u2028.endc",
    "\x85.control\x85shell touch MARK\x85.endc",
    "*#shell touch MARK",
    "x\n*#shell touch MARK",
    "*ng_script\nshell touch MARK",
    '"; shell touch MARK; "',
    "$(touch MARK) `touch MARK`",
    ".include /etc/passwd",
    ".title other\n.end\n.control",
    "x\nR1 out 0 1\n+ 5",
    "+ continued",
    "*",
    "; comment $ comment",
    "'{1/0}'",
    "x" * 10_000,
    "漢字 🎸 ﬀ ½ Ⅷ \u202e",
]


def quoted(text: str) -> str:
    plain = (c if " " <= c <= "~" and c not in '"\\' else f"\\U{ord(c):08x}" for c in text)
    return '"' + "".join(plain) + '"'


def text_with(name: str) -> str:
    """Return a board on which everything that can have a name has this one."""
    n = quoted(name[:9_990])
    stage, loop, tap, split = (quoted(name[:9_990] + end) for end in ("1", "2", "3", "4"))
    return f"""
title = {n}
[instrument]
resistance = "8 kΩ"
inductance = 3
[[chain]]
cable = {n}
length = 5
[[chain]]
stage = {stage}
input_resistance = "1M"
output_resistance = "1k"
[[chain]]
tap = {tap}
cable = {n}
length = 1
open = true
[[chain]]
split = {split}
destination = {{ name = {n}, input_resistance = "1M" }}
[[chain.inside]]
cable = {n}
length = 1
[[chain]]
loop = {loop}
[[chain.inside]]
cable = {n}
length = 2
[destination]
name = {n}
input_resistance = "1M"
[cables.{n}]
capacitance = 1e-10
resistance = 0.1
loss_tangent = 0.01
[scenes]
{n} = [{stage}, {loop}]
"""


def board_with(name: str) -> Board:
    """Return that board with a name no file may have: the netlist has a guard of its own."""
    names = {f"plain{end}": f"{name[:9_990]}{end}" for end in ("", "1", "2", "3", "4")}
    made: Board = renamed(parse_board(text_with("plain")), names)
    return made


def renamed(value: Any, names: Mapping[str, str]) -> Any:
    """Return a value with all names in it changed, also those of what it is made of."""
    if isinstance(value, str):
        return names.get(value, value)
    if isinstance(value, tuple):
        return tuple(renamed(inner, names) for inner in value)
    if isinstance(value, Mapping):
        return {renamed(k, names): renamed(v, names) for k, v in value.items()}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        changed = {f.name: renamed(getattr(value, f.name), names) for f in fields(value)}
        return dataclasses.replace(value, **changed)
    return value


@pytest.mark.parametrize("name", NAMES, ids=range(len(NAMES)))
@pytest.mark.parametrize("style", [LineStyle(), LineStyle("sections", 2)], ids=lambda s: s.form)
def test_a_name_is_never_a_directive(name: str, style: LineStyle, tmp_path: Path) -> None:
    mark = tmp_path / "mark"
    board = board_with(name.replace("MARK", str(mark)))
    harmless = parse_board(text_with("plain"))
    (scene,) = board.scenes
    for state in (State(scene), board.scene(scene)):
        written = netlist(board, state, style=style)
        lines = written.text.splitlines()
        assert max(map(len, lines)) <= 200
        assert [line for line in lines if line.startswith(".") and line[1:4] != "mod"] == [
            ".print ac vdb(out) vp(out)",
            ".ac dec 30 20.0 40000.0",
            ".end",
        ]
        assert not [line for line in lines if line.startswith(("*#", "*ng", "+"))]
        H = ac(ngspice().run(written.text)).H
        same = harmless.state({"plain1", "plain2"} if state.on else ())
        assert (H == ac(ngspice().run(netlist(harmless, same, style=style).text)).H).all()
    assert not mark.exists()


def test_the_trap_would_have_worked(tmp_path: Path) -> None:
    """A netlist that holds the raw text does run the command: the test above tests something."""
    mark = tmp_path / "mark"
    text = netlist(parse_board(text_with("plain"))).text
    ngspice().run(text.replace(".end\n", f".control\nshell touch {mark}\nrun\n.endc\n.end\n"))
    assert mark.exists()


def test_start_up_files_are_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    mark = tmp_path / "mark"
    (tmp_path / ".spiceinit").write_text(f"shell touch {mark}\n")
    (tmp_path / "spice.rc").write_text(f"shell touch {mark}\n")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("SPICE_SCRIPTS", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    board = parse_board(text_with("plain"))
    assert next(differences(board, [State("x")], ngspice())).db < 1e-6
    assert not mark.exists()

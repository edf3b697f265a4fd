"""What is said beside `power` where it refuses, the same answer everywhere, and odd names."""

from __future__ import annotations

import json
import os
import signal
import time
from pathlib import Path
from threading import Event, Timer
from typing import Any, Final

import numpy as np
import pytest
from helpers.in_process import sigsim_here

from sigsim.decide import solver
from sigsim.decide.power import assign

HEAD: Final = """
[instrument]
part = "bass-split-coil"
[destination]
part = "instrument-input"
[cables.lead]
part = "cable-standard"
[[chain]]
cable = "lead"
length = "5 m"
"""
TURNED: Final = "".join(
    f'[[chain]]\nstage = "fuzz {n}"\npart = "drive-high-impedance"\nsupply = "left"\n'
    'polarity = "centre positive"\n'
    for n in range(3)
)
TWO: Final = 'outputs = [{ current = "100 mA" }, { current = "100 mA" }]\n'


def one_line(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture
def not_kept(tmp_path: Path) -> Path:
    """Three plugs turned round, each alone on an isolated output, of which there are two."""
    path = tmp_path / "board.toml"
    text = f"{HEAD}{TURNED}[supplies.left]\nisolated = true\n{TWO}"
    path.write_text(text, encoding="utf-8")
    return path


def test_power_names_the_place_of_what_cannot_be_kept(not_kept: Path) -> None:
    run = sigsim_here("power", not_kept)
    assert run.status == 2
    assert 'board.toml, chain item 4, stage "fuzz 2", supply: ' in run.err


def test_sheet_and_page_say_what_cannot_be_told(not_kept: Path, tmp_path: Path) -> None:
    said = "cannot be told: the supplies that are written cannot all be kept"
    sheet = sigsim_here("sheet", not_kept)
    assert sheet.status == 0
    assert said in one_line(sheet.out)
    assert "cannot all be kept" in values("sheet", not_kept)["power"]["cannot_be_told"]
    page = tmp_path / "page.html"
    assert sigsim_here("report", not_kept, "-o", page).status == 0
    assert said in page.read_text(encoding="utf-8")
    assert "nothing is left for 'fuzz 2'" in one_line(sigsim_here("check", not_kept).out)


def values(command: str, path: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(sigsim_here(command, path, "--json").out)
    return found


def test_every_command_says_the_same_where_a_limit_ends_the_search(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each command looks anew: nothing is remembered between them."""
    chain = "".join(
        f'[[chain]]\nstage = "p{n}"\npart = "echo-buffered"\ncurrent = "{20 + 7 * n % 60} mA"\n'
        for n in range(8)
    )
    outputs = ", ".join(f'{{ current = "{mA} mA" }}' for mA in (100, 150, 200))
    path = tmp_path / "board.toml"
    path.write_text(f"{HEAD}{chain}[supplies.left]\noutputs = [{outputs}]\n", encoding="utf-8")
    monkeypatch.setattr(assign, "_MOST_NODES", 0)
    found = []
    for command in ("power", "sheet", "power"):
        assign._assigned.cache_clear()
        answer = values(command, path)
        found.append(answer["power"] if command == "sheet" else answer)
    assign._assigned.cache_clear()
    assert [answer["assignment"] for answer in found] == [found[0]["assignment"]] * 3
    assert len({answer["proven"] for answer in found}) == 1


SCENES: Final = """
[[chain]]
stage = "echo"
part = "echo-buffered"
current = "100 mA"
current_off = "50 mA"
[supplies.pack]
battery = "10 Wh"
efficiency = 0.9
outputs = [{ current = "500 mA" }]
[scenes]
all = []
"scene all" = ["echo"]
everything = []
"""


def test_a_scene_that_is_called_all_is_not_everything(tmp_path: Path) -> None:
    """By hand: 9 Wh at 9 V × 100 mA last 10 h, at 50 mA 20 h."""
    path = tmp_path / "board.toml"
    path.write_text(HEAD + SCENES, encoding="utf-8")
    hours = {
        name: round(value, 6) for name, value in values("power", path)["hours"]["pack"].items()
    }
    assert hours == {"all": 10.0, "scene scene all": 20.0, "scene all": 10.0, "everything": 20.0}
    lines = [one_line(line) for line in sigsim_here("power", path).out.splitlines()]
    assert "pack everything 10 h" in lines
    assert "pack scene everything 20 h" in lines


def test_a_case_at_plus_is_cautioned_of_whatever_the_plug(tmp_path: Path) -> None:
    path = tmp_path / "board.toml"
    fuzz = TURNED.replace("centre positive", "{}").split("[[chain]]")[1]
    outputs = "[supplies.left]\noutputs = [{ current = '100 mA', polarity = '{}' }]\n"
    for polarity, said in (("centre positive", True), ("centre negative", False)):
        text = f"{HEAD}[[chain]]{fuzz.format(polarity)}{outputs.replace('{}', polarity)}"
        path.write_text(text, encoding="utf-8")
        assert ("at plus" in one_line(sigsim_here("power", path).out)) == said
        assert ("at plus" in one_line(sigsim_here("sheet", path).out)) == said


@pytest.mark.skipif(not hasattr(signal, "raise_signal"), reason="no signals here")
def test_a_stop_is_heard_while_the_solver_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    """The solver stands still here; whoever waits for it goes on within a second."""
    ended = Event()
    monkeypatch.setattr("scipy.optimize.milp", lambda *_, **__: ended.wait(10))

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGINT, stop)
    begun = time.monotonic()
    timer = Timer(0.2, os.kill, (os.getpid(), signal.SIGINT))
    timer.start()
    try:
        with pytest.raises(KeyboardInterrupt):
            solver.solved(np.zeros(1))
    finally:
        ended.set()
        timer.join()
        signal.signal(signal.SIGINT, before)
    assert time.monotonic() - begun < 1.5

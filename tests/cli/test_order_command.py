"""`sigsim order` as a user runs it: what it says, what it writes, how it ends."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from helpers.in_process import sigsim_here
from helpers.refusals import quick, refused
from rich.cells import cell_len

HEAD = """# The rig.
title = "Rig"
[instrument]
part = "bass-split-coil"
[destination]
part = "solid-state-amplifier-input"
[cables.lead]
part = "cable-standard"
[wiring]
cable = "lead"
length = "30 cm"
"""
LEAD = '[[chain]]\ncable = "lead"\nlength = "{}"\n'
# The buffered one stands last, where it shields the least.
BOXES = (
    '# Needs the pickup.\n[[chain]]\nstage = "fuzz"\npart = "fuzz-low-impedance"\n',
    '[[chain]]\nstage = "old wah"\npart = "vintage-hardwire"\n',
    '# Two in one.\n[[chain]]\nloop = "both"\n[[chain.inside]]\nstage = "swell"\n'
    'part = "pedal-true-bypass"\n[[chain.inside]]\nstage = "glow"\npart = "pedal-buffered"\n',
    '[[chain]]\nstage = "echo"  # loud\npart = "pedal-buffered"\n',
)
SCENES = '[scenes]\nquiet = []\nstorm = ["fuzz", "echo"]\n'
RIG = HEAD + LEAD.format("5 m") + "".join(BOXES) + LEAD.format("9 m") + SCENES
# Keys at the echo that no order obeys together with what the fuzz wants.
AGAINST = RIG.replace('"echo"  # loud\n', '"echo"  # loud\nbefore = ["fuzz"]\n')


@pytest.fixture
def rig(tmp_path: Path) -> Path:
    path = tmp_path / "rig.toml"
    path.write_text(RIG, encoding="utf-8")
    return path


def changed(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def found(*arguments: object, status: int = 0) -> dict[str, Any]:
    run = sigsim_here("order", *arguments, "--json")
    assert run.status == status, run.err
    document: dict[str, Any] = json.loads(run.out)
    return document


def worst(path: Path) -> float:
    loss: float = json.loads(quick("loss", path, "--json"))["worst"]["treble_loss_db"]
    return loss


def test_the_answer_comes_first_in_80_columns(rig: Path) -> None:
    said = quick("order", rig)
    assert said.startswith("The worst treble loss is ")
    flat = " ".join(said.split())
    document = found(rig)
    (best,) = document["orders"]
    assert " → ".join(best["order"]) in flat
    assert "Proven: no order that obeys the file loses less." in flat
    assert best["order"].index("fuzz") == 0
    # Another way of summing rounds differently.
    assert document["now"]["treble_loss_db"] == pytest.approx(worst(rig), abs=1e-9)
    assert best["treble_loss_db"] < document["now"]["treble_loss_db"] - 0.1
    assert "'echo'" in flat
    assert "shields" in best["reason"]
    assert max(map(cell_len, said.splitlines())) <= 80


def test_the_numbers_are_those_of_the_files_written(rig: Path, tmp_path: Path) -> None:
    document = found(rig, "--top", 3)
    orders = [*document["orders"], document["keeps_custom"], document["moves_one"]]
    for order in orders:
        path = tmp_path / f"{order['number']}.toml"
        quick("order", rig, "--top", 3, "--write", path, "--pick", order["number"], "--force")
        assert worst(path) == pytest.approx(order["treble_loss_db"], abs=1e-6)
        assert found(path)["now"]["order"] == order["order"]
        text = path.read_text(encoding="utf-8")
        assert text.count('# Needs the pickup.\n[[chain]]\nstage = "fuzz"') == 1
        assert '"echo"  # loud' in text
        assert sorted(set(text.splitlines()) ^ set(RIG.splitlines())) in (
            [], ['title = "Rig"', 'title = "Rig, in another order"']
        )  # fmt: skip


def test_a_written_file_has_nothing_left_to_gain(rig: Path, tmp_path: Path) -> None:
    path = tmp_path / "best.toml"
    said = quick("order", rig, "--write", path)
    assert " ".join(said.split()).endswith(" → ".join(found(rig)["orders"][0]["order"]) + ".")
    again = quick("order", path, "--write", tmp_path / "again.toml")
    assert again.startswith("The order is fine as it is: ")
    assert "Not written: " in again
    assert "--pick N" in again
    assert not (tmp_path / "again.toml").exists()
    assert len([line for line in again.splitlines() if line]) <= 5
    assert found(path)["advised"] is False


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_line_ends_stay(rig: Path, tmp_path: Path, ends: str) -> None:
    rig.write_bytes(RIG.replace("\n", ends).encode())
    quick("order", rig, "--write", tmp_path / "best.toml")
    text = (tmp_path / "best.toml").read_bytes().decode()
    assert text.count(ends) == text.count("\n") == RIG.count("\n")


def test_onto_the_board_itself_only_with_force(rig: Path) -> None:
    assert "--force" in refused("order", rig, "--write", rig)
    assert rig.read_text(encoding="utf-8") == RIG
    quick("order", rig, "--write", rig, "--force")
    assert rig.read_text(encoding="utf-8") != RIG


def test_a_buffer_is_placed_and_written_too(rig: Path, tmp_path: Path) -> None:
    alone, document = found(rig), found(rig, "--buffer", "--part", "buffer-jfet")
    best = document["orders"][0]
    assert "buffer" in best["order"]
    assert document["buffer"] == "buffer-jfet"
    assert best["treble_loss_db"] <= alone["orders"][0]["treble_loss_db"]
    path = tmp_path / "buffered.toml"
    quick("order", rig, "--buffer", "--part", "buffer-jfet", "--write", path)
    assert worst(path) == pytest.approx(best["treble_loss_db"], abs=1e-6)
    text = path.read_text(encoding="utf-8")
    assert "put in by sigsim order" in text
    assert found(path)["now"]["order"] == best["order"]


def test_inside_a_loop(rig: Path, tmp_path: Path) -> None:
    document = found(rig, "--level", "both", "--top", 2)
    assert document["level"] == "both"
    assert sorted(map(tuple, (order["order"] for order in document["orders"]))) == [
        ("glow", "swell"), ("swell", "glow"),
    ]  # fmt: skip
    assert quick("order", rig, "--level", "both").startswith("Inside 'both': ")
    path = tmp_path / "inside.toml"
    numbers = {tuple(order["order"]): order["number"] for order in document["orders"]}
    turned = numbers["glow", "swell"]
    quick("order", rig, "--level", "both", "--top", 2, "--write", path, "--pick", turned)
    assert found(path, "--level", "both")["now"]["order"] == ["glow", "swell"]


def test_scenes_and_weights(rig: Path) -> None:
    scenes = found(rig, "--scenes")
    assert scenes["mean"] is False
    assert scenes["now"]["treble_loss_db"] <= found(rig)["now"]["treble_loss_db"]
    weighted = found(rig, "--scenes", "--weight", "storm=3")
    assert weighted["ranked_by"] == [
        {"scene": "quiet", "weight": 1.0}, {"scene": "storm", "weight": 3.0},
    ]  # fmt: skip
    states = json.loads(quick("loss", rig, "--scene", "quiet", "--scene", "storm", "--json"))
    quiet, storm = (state["treble_loss_db"] for state in states["states"])
    assert weighted["now"]["treble_loss_db"] == pytest.approx((quiet + 3 * storm) / 4)
    assert "The mean over the scenes: quiet × 1, storm × 3." in quick(
        "order", rig, "--scenes", "--weight", "storm=3"
    )
    alone = found(rig, "--weight", "storm=3")
    assert alone["ranked_by"] == [{"scene": "storm", "weight": 3.0}]
    assert alone["now"]["treble_loss_db"] == pytest.approx(storm)


def test_an_order_that_breaks_a_rule_is_said_first(rig: Path) -> None:
    fuzz, *others = BOXES
    changed(rig, HEAD + LEAD.format("5 m") + "".join([*others, fuzz]) + LEAD.format("9 m"))
    said = " ".join(quick("order", rig).split())
    assert said.startswith("The order of the file breaks ")
    assert "'fuzz' wants to see the pickup, but 'echo' stands before it" in said
    document = found(rig)
    assert {"stage": "fuzz", "rule": "needs_pickup", "other": "echo"} in document["now"]["breaks"]
    assert document["orders"][0]["order"][0] == "fuzz"
    assert document["advised"] is True


def test_a_contradiction_is_an_answer(rig: Path, tmp_path: Path) -> None:
    changed(rig, AGAINST)
    run = sigsim_here("order", rig, "--write", tmp_path / "x.toml")
    assert (run.status, run.err) == (1, "")
    said = " ".join(run.out.split())
    assert said.startswith("No order obeys all that the file asks.")
    assert (
        "'fuzz' wants to see the pickup, so 'echo' must stand behind it; but 'echo' says "
        'before = ["fuzz"].'
    ) in said
    assert not (tmp_path / "x.toml").exists()
    document = found(rig, status=1)
    assert document["contradiction"] == [
        {"stage": "fuzz", "rule": "needs_pickup", "other": "echo"},
        {"stage": "echo", "rule": "before", "other": "fuzz"},
    ]
    assert document["orders"] == []
    assert document["now"]["treble_loss_db"] == pytest.approx(worst(rig), abs=1e-9)


def test_an_active_instrument_has_no_pickup_to_see(rig: Path) -> None:
    changed(rig, RIG.replace("bass-split-coil", "bass-active"))
    said = " ".join(quick("order", rig).split())
    assert said.count("wants to see a pickup, but the instrument is active") == 1
    assert found(rig)["needs_pickup_dropped"] == ["fuzz"]


@pytest.mark.parametrize("boxes", [(), BOXES[:1]])
def test_fewer_than_two_boxes_have_no_order(rig: Path, boxes: tuple[str, ...]) -> None:
    changed(rig, HEAD + LEAD.format("5 m") + "".join(boxes))
    assert "an order needs 2" in quick("order", rig)
    assert found(rig)["orders"] == []


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--level", "bath"], ['did you mean "both"']),
        (["--level", "fuzz"], ["fuzz"]),
        (["--weight", "strom=2"], ["there is no scene of this name", 'did you mean "storm"']),
        (["--weight", "storm"], ["storm=3"]),
        (["--weight", "storm=-1"], ["a number from 0"]),
        (["--weight", "storm=0", "--weight", "quiet=0"], ["every scene has the weight 0"]),
        (["--weight", "storm=0"], ["every scene has the weight 0"]),
        (["--part", "buffer-jfet"], ["does nothing without --buffer"]),
        (["--buffer", "--part", "cable-low"], ["--part"]),
        (["--pick", "1"], ["--write FILE --pick 1"]),
        (["--top", "0"], ["--top"]),
        (["--seconds", "-1"], ["--seconds"]),
    ],
)
def test_bad_options(rig: Path, arguments: list[str], words: list[str]) -> None:
    message = refused("order", rig, *arguments)
    for word in words:
        assert word in message


def test_an_order_of_no_number_is_not_written(rig: Path, tmp_path: Path) -> None:
    message = refused("order", rig, "--write", tmp_path / "x.toml", "--pick", 99)
    assert "--pick" in message
    assert "--top N lists more" in message
    assert not (tmp_path / "x.toml").exists()


def test_a_loop_that_is_not_on_the_way_makes_no_difference(rig: Path) -> None:
    """What is behind a split changes nothing at the end of that split."""
    split = '[[chain]]\nsplit = "dry"\ndestination = { input_resistance = "1 MΩ" }\n'
    changed(rig, HEAD + LEAD.format("5 m") + split + "".join(BOXES) + LEAD.format("9 m"))
    now = json.loads(quick("loss", rig, "--at", "dry", "--json"))["worst"]["treble_loss_db"]
    answer = found(rig, "--level", "both", "--at", "dry")
    assert answer["now"]["treble_loss_db"] == pytest.approx(now)
    assert answer["proven"]
    assert not answer["advised"]


def test_a_buffer_without_a_place(rig: Path, tmp_path: Path) -> None:
    """Behind the fuzz, which stands last, no cable follows; before it, it would hide the pickup."""
    last = '[[chain]]\nstage = "fuzz"\npart = "fuzz-low-impedance"\n'
    keys = "needs_pickup = true\nfixed = true\n"
    pad = '[[chain]]\nstage = "pad"\nkind = "pad"\nseries_resistance = "10 kΩ"\n'
    changed(rig, HEAD + LEAD.format("5 m") + pad + last + keys)
    run = sigsim_here("order", rig, "--buffer", "--write", tmp_path / "x.toml")
    assert run.status == 1
    assert run.out.startswith("A buffer has no place here: ")
    assert "because the buffer has no place" in run.out
    assert not (tmp_path / "x.toml").exists()


def test_a_board_inside_is_named_by_its_way_from_here(rig: Path, tmp_path: Path) -> None:
    (tmp_path / "deck.toml").write_text(RIG, encoding="utf-8")
    loop = '[[chain]]\nloop = "send"\nboard = "deck.toml"\n'
    changed(rig, HEAD + LEAD.format("5 m") + loop)
    message = refused("order", rig, "--level", "send")
    assert f"sigsim order {tmp_path / 'deck.toml'}" in message


def test_where_nothing_comes_out_there_is_no_loss_to_rank_by(rig: Path) -> None:
    off = (
        '[[chain]]\nstage = "swell pedal"\nkind = "volume pedal"\ntrack = "250 kΩ"\nposition = 0\n'
    )
    mute = off + "always_on = false\n"
    changed(rig, RIG.replace(SCENES, off))
    assert sigsim_here("order", rig).out.startswith("Nothing comes out of this board, ")
    scenes = '[scenes]\nquiet = []\nmute = ["swell pedal"]\n'
    changed(rig, RIG.replace(SCENES, mute + scenes))
    more = ["--scenes", "--weight", "quiet=2"]
    assert sigsim_here("order", rig, *more).out.startswith("In one of the scenes nothing comes out")
    assert found(rig, *more, "--weight", "mute=0")["now"]["treble_loss_db"] is not None


def test_without_scenes_there_is_nothing_to_weigh(rig: Path) -> None:
    changed(rig, RIG.replace(SCENES, ""))
    assert "no scenes" in refused("order", rig, "--scenes")


def many(count: int) -> str:
    """Return a board with so many boxes of different kinds that the search takes long."""
    boxes = (
        f'[[chain]]\nstage = "s{i}"\npart = "{part}"\nwiring_capacitance = "{40 + 7 * i} pF"\n'
        for i in range(count)
        for part in [("pedal-true-bypass", "vintage-hardwire")[i % 2]]
    )
    buffered = '[[chain]]\nstage = "echo"\npart = "pedal-buffered"\n'
    return HEAD + LEAD.format("5 m") + "".join(boxes) + buffered + LEAD.format("9 m")


def started(path: Path, *more: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "sigsim", "order", str(path), "--seconds", "60", *more],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, env={**os.environ, "COLUMNS": "80"},
    )  # fmt: skip


def wait_for_progress(process: subprocess.Popen[bytes]) -> bytes:
    """Wait for the first line of progress, which says that it searches."""
    assert process.stderr is not None
    return process.stderr.readline()


def test_the_keyboard_ends_the_search_and_what_was_found_is_said(rig: Path, tmp_path: Path) -> None:
    changed(rig, many(19))
    process = started(rig, "--write", str(tmp_path / "x.toml"))
    progress = wait_for_progress(process)
    assert b" s: best so far " in progress
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=30)
    said = " ".join(out.decode().split())
    assert process.returncode == 130
    assert b"Traceback" not in err
    assert "Stopped. Not proven: " in said
    assert "Not written: " in said
    assert not (tmp_path / "x.toml").exists()


def test_other_signals_end_it_at_once(rig: Path) -> None:
    changed(rig, many(19))
    process = started(rig)
    wait_for_progress(process)
    process.send_signal(signal.SIGTERM)
    out, err = process.communicate(timeout=30)
    assert (process.returncode, out) == (143, b"")
    assert b"stopped" in err


def test_what_was_hardly_looked_for_is_not_said_to_be_lost(rig: Path) -> None:
    changed(rig, many(19))
    said = " ".join(quick("order", rig, "--seconds", "0").split())
    assert "The order is fine as far as was looked" in said
    assert "no order cures" not in said
    assert "--buffer looks for a place for a buffer too." in said


def test_time_is_up(rig: Path) -> None:
    changed(rig, many(19))
    begun = time.monotonic()
    document = found(rig, "--seconds", "0.5")
    assert time.monotonic() - begun < 20
    assert document["proven"] is False
    assert (document["bound_db"] or 0.0) <= document["orders"][0]["treble_loss_db"]
    said = quick("order", rig, "--seconds", "0.5")
    assert "Not proven: " in said or "fine as far as was looked" in said


@pytest.mark.parametrize("more", [(), ("--buffer",), ("--level", "both")])
def test_the_plot_is_titled_with_the_answer(
    rig: Path, tmp_path: Path, more: tuple[str, ...]
) -> None:
    plot = tmp_path / "x.svg"
    said = quick("order", rig, *more, "--plot", plot, "--plot-size", "12x9")
    text = plot.read_text(encoding="utf-8")
    title = text.split("<title>", 1)[-1].split("</title>")[0] if "<title>" in text else ""
    assert said.split(",")[0].split()[:5] == title.replace("&#39;", "'").split()[:5]


def test_what_is_only_more_usual_is_told_and_can_be_written(rig: Path, tmp_path: Path) -> None:
    # Boxes that are alike but for what they do: every order loses the same.
    pedal = '[[chain]]\nstage = "{}"\npart = "pedal-true-bypass"\nrole = "{}"\n'
    boxes = "".join(
        pedal.format(name, role) for name, role in (("far", "delay"), ("rust", "drive"))
    )
    changed(rig, HEAD + LEAD.format("5 m") + boxes + LEAD.format("9 m"))
    said = " ".join(quick("order", rig).split())
    assert said.startswith("The order is fine as it is: ")
    assert "More usual, and counted as equal: rust → far (--write FILE --pick 1)." in said
    path = tmp_path / "usual.toml"
    quick("order", rig, "--write", path, "--pick", 1)
    again = " ".join(quick("order", path).split())
    assert "More usual" not in again
    assert "May be swapped freely in this order (within 0.1 dB): 'rust', 'far'." in again

"""`sigsim record` and `measure --live`, with a library of our own in the place of the sound system.

What is plugged in is known by Ohm's law, written in this file. A real sound server is tried in
`test_sound_server.py`.
"""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from helpers.fake_sound import Somebody, Sound, device
from helpers.in_process import sigsim_here

RATE = 48_000
# The bench: output, resistor, lead and input together, and a cable.
RO, RS, RIN, CIN, CABLE = 150.0, 100e3, 1e6, 150e-12, 600e-12
# The sweep of these tests has its peak at -20 dBFS.
PEAK = 0.1
GIVEN = ("--resistor", "100 kΩ ± 0.5 %", "--output-resistance", "150 Ω ± 1 %")


def input_of_lead(f: np.ndarray) -> np.ndarray:
    return 1 / RIN + 2j * np.pi * f * CIN


def loop(f: np.ndarray) -> np.ndarray:
    return 1 / (1 + RO * input_of_lead(f))


def before(f: np.ndarray) -> np.ndarray:
    return 1 / (1 + (RO + RS) * input_of_lead(f))


def cable(f: np.ndarray) -> np.ndarray:
    return 1 / (1 + (RO + RS) * (input_of_lead(f) + 2j * np.pi * f * CABLE))


@pytest.fixture
def sound(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Sound:
    """Return what stands for the sound system, in a folder with a short sweep and no terminal."""
    bench = Sound()
    monkeypatch.setitem(sys.modules, "sounddevice", bench)
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    monkeypatch.chdir(tmp_path)
    assert sigsim_here("sweep", "sweep.wav", "--seconds", "1", "--repeat", "1").status == 0
    return bench


@pytest.fixture
def somebody(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Somebody]:
    """Return what puts somebody at the terminal."""

    def sits(*turns: Any) -> Somebody:
        person = Somebody(turns)
        monkeypatch.setattr(sys, "stdin", person)
        return person

    return sits


def plain(text: str) -> str:
    return " ".join(text.split())


RECORD = ("record", "out.wav", "--play", "sweep.wav")
LIVE = ("measure", "cable", "--live", "--sweep", "sweep.wav", *GIVEN)


# Recording


def test_what_is_played_comes_back_sample_by_sample(sound: Sound) -> None:
    sound.noise = 0.0
    run = sigsim_here(*RECORD, "--yes")
    assert run.status == 0, run.err
    info = soundfile.info("out.wav")
    assert (info.samplerate, info.channels, info.subtype) == (RATE, 1, "PCM_24")
    played, _ = soundfile.read("sweep.wav")
    heard, _ = soundfile.read("out.wav")
    at = int(np.argmax(np.correlate(heard, played[RATE // 2 : RATE], "valid"))) - RATE // 2
    # One step of 24 bits, and the single precision in which samples travel.
    assert np.abs(heard[at : at + len(played)] - played).max() < 3e-7
    assert run.out.startswith("out.wav: ")
    assert "peak -20 dBFS" in run.out


def test_a_quiet_piece_comes_first_and_the_caution_before_it(sound: Sound) -> None:
    run = sigsim_here(*RECORD, "--yes")
    quiet, whole = sound.played
    # 20 dB lower, as is promised.
    assert 0.08 * PEAK < np.abs(quiet).max() <= 0.1001 * PEAK
    # 24 bits of the file.
    assert np.abs(whole).max() == pytest.approx(PEAK, rel=1e-3)
    assert run.err.startswith("Ears and loudspeakers first")
    assert "peak near -20 dBFS" in plain(run.err)


def test_nothing_is_played_where_nobody_can_be_asked(sound: Sound) -> None:
    for command in (RECORD, LIVE):
        run = sigsim_here(*command)
        assert run.status == 2
        assert "--yes" in run.err
        assert run.err.count("\n") == 1
    assert not sound.played
    assert not Path("out.wav").exists()


def test_the_full_level_waits_for_an_answer(
    sound: Sound, somebody: Callable[..., Somebody]
) -> None:
    heard: list[int] = []
    somebody((lambda: heard.append(len(sound.played)), ""))
    run = sigsim_here(*RECORD)
    assert run.status == 0, run.err
    assert heard == [1]
    assert len(sound.played) == 2
    assert "Monitors muted? Direct monitoring off?" in plain(run.err)
    somebody()  # who leaves
    assert sigsim_here(*RECORD, "--force").status == 130
    assert len(sound.played) == 3


@pytest.mark.parametrize(
    ("gain", "status", "said", "streams"),
    [
        # Full scale is ten times the peak of the sweep.
        (9.5, 2, "it would clip: turn the input's gain down", 1),
        (1000.0, 2, "this clips already: turn the input's gain down", 1),
        (0.05, 0, "too quiet: turn the input's gain up", 2),
        (0.0, 2, "nothing comes back", 1),
    ],
)
def test_a_wrong_level_is_said_with_what_to_turn(
    gain: float, status: int, said: str, streams: int, sound: Sound
) -> None:
    sound.gain = gain
    run = sigsim_here(*RECORD, "--yes")
    assert run.status == status, run.err
    assert said in plain(run.err)
    assert len(sound.played) == streams
    assert Path("out.wav").exists() == (status == 0)


def test_clipping_that_the_quiet_piece_did_not_show_ends_at_once(sound: Sound) -> None:
    """A resonance at 120 Hz, below the piece: by its Q of 16 louder than all else."""

    def hump(f: np.ndarray) -> np.ndarray:
        x = 1j * f / 120.0
        return 1 + x / (1 + x / 16 + x**2)

    sound.plugged = hump
    sound.gain = 4.0
    run = sigsim_here(*RECORD, "--yes")
    assert run.status == 2
    assert "the input clips: turn its gain down" in run.err
    assert len(sound.played) == 2
    assert not list(Path().glob("*out*"))


def test_the_level_is_tried_again_after_turning(
    sound: Sound, somebody: Callable[..., Somebody]
) -> None:
    sound.gain = 50.0
    somebody(
        (lambda: setattr(sound, "gain", 0.05), ""), (lambda: setattr(sound, "gain", 4), ""), ""
    )
    run = sigsim_here(*RECORD)
    assert run.status == 0, run.err
    said = plain(run.err)
    assert said.index("gain down") < said.index("gain up") < said.index("Monitors muted?")
    assert "peak -8 dBFS" in run.out


def test_who_must_may_leave_it_quiet(sound: Sound, somebody: Callable[..., Somebody]) -> None:
    sound.gain = 0.05
    somebody("go", "")
    run = sigsim_here(*RECORD)
    assert run.status == 0
    assert "peak -46 dBFS" in run.out


def test_a_block_that_was_late_is_said(sound: Sound) -> None:
    sound.late = (0,)  # before the sound: harmless
    assert "too late" not in sigsim_here(*RECORD, "--yes").err
    sound.late = (12, 21)
    run = sigsim_here(*RECORD, "--yes", "--force")
    assert run.status == 0
    assert "too late 2 times" in run.err


def test_how_loud_it_is_is_shown_meanwhile(sound: Sound, monkeypatch: pytest.MonkeyPatch) -> None:
    from sigsim.cli import meter

    monkeypatch.setattr(meter, "_ELSEWHERE", 0.0)
    run = sigsim_here(*RECORD, "--yes")
    assert "peak -20 dBFS, " in run.err
    assert " of 6 s\n" in run.err


def test_a_stop_leaves_no_file(sound: Sound, monkeypatch: pytest.MonkeyPatch) -> None:
    from sigsim.cli import meter
    from sigsim.stopping import Stopped

    def stop(*_: object) -> None:
        raise Stopped(2)

    there = sorted(Path().iterdir())
    monkeypatch.setattr(meter.Meter, "__call__", stop)
    run = sigsim_here(*RECORD, "--yes")
    assert run.status == 130
    assert run.err.endswith("sigsim: stopped; nothing more was written\n")
    run = sigsim_here(*LIVE, "--yes", "--keep", "kept")
    assert run.status == 130
    assert sorted(Path().iterdir()) == there


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--device", "Fader bux"), 'did you mean "Fader box"?'),
        (("--device", "\x1b"), "\\u001b"),
        (("--device", "webcam"), '"Webcam"'),
        (("--in", "3"), "--in: "),
        (("--in", "3"), "accepted: 1 to 2"),
        (("--out", "0"), "--out: "),
        (("--play", "nothing.wav"), "no such file"),
        (("--play", "sweep96.wav"), "accepted: 44100 Hz, 48000 Hz"),
    ],
)
def test_what_is_not_there_is_refused_before_anything_is_played(
    arguments: tuple[str, ...], said: str, sound: Sound
) -> None:
    sigsim_here("sweep", "sweep96.wav", "--rate", "96000", "--seconds", "1", "--repeat", "1")
    there = sorted(Path().iterdir())
    run = sigsim_here(*RECORD, "--yes", *arguments)
    assert run.status == 2
    assert said in run.err
    assert run.err.count("\n") == 1
    assert not sound.played
    assert sorted(Path().iterdir()) == there


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("record",), "OUT.wav"),
        (("record", "out.wav"), "--play"),
        (("record", "out.flac", "--play", "sweep.wav", "--yes"), "WAV"),
        (("record", "sweep.wav", "--play", "sweep.wav", "--yes"), "--force"),
        (("record", "sweep.wav", "--play", "sweep.wav", "--yes", "--force"), "input itself"),
        (("record", "--list", "--play", "sweep.wav"), "--play: "),
        (("record", "out.wav", "--list"), "OUT.wav: "),
        (("record", "out.wav", "--play", ""), "--play"),
        ((*LIVE, "--loop", "sweep.wav"), "--live and --loop"),
        (("measure", "cable", "--keep", "x"), "--keep: this does nothing without --live"),
        (("measure", "cable", "--yes"), "--yes: this does nothing without --live"),
        (("measure", "cable", "--in", "1"), "--in: this does nothing without --live"),
        ((*LIVE, "--yes", "--load", "10n"), "--load"),
        ((*LIVE, "--yes", "--keep", "sweep.wav"), "--keep sweep.wav"),
        ((*LIVE, "--yes", "--keep", "a/b/c"), "--keep a/b/c"),
        (("measure", "output", "--live", "--yes"), "0 --load"),
    ],
)
def test_what_says_nothing_or_does_not_go_together_is_refused(
    arguments: tuple[str, ...], said: str, sound: Sound
) -> None:
    there = sorted(Path().iterdir())
    run = sigsim_here(*arguments)
    assert run.status == 2
    assert said in run.err
    assert run.err.count("\n") == 1
    assert not sound.played
    assert sorted(Path().iterdir()) == there


def test_a_sound_system_that_says_no_or_stands_still(
    sound: Sound, monkeypatch: pytest.MonkeyPatch
) -> None:
    from sigsim.audio import interface

    sound.refuses = "Device unavailable \x1b"
    run = sigsim_here(*RECORD, "--yes")
    assert run.status == 2
    assert "Device unavailable \\u001b" in run.err
    sound.refuses, sound.stalls = "", True
    monkeypatch.setattr(interface, "_PATIENCE", 0.3)
    run = sigsim_here(*RECORD, "--yes")
    assert run.status == 2
    assert "stands still" in run.err


# The library


def test_without_the_library_one_sentence_says_what_to_install(
    sound: Sound, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    for command in (("record", "--list"), (*RECORD, "--yes"), (*LIVE, "--yes")):
        run = sigsim_here(*command)
        assert (run.status, run.out) == (2, "")
        assert "pip install 'sigsim[audio]'" in run.err
        assert run.err.count("\n") == 1
    monkeypatch.delitem(sys.modules, "sounddevice")
    # So the library says that it does not find PortAudio.
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')\n")
    monkeypatch.syspath_prepend(tmp_path)
    run = sigsim_here("record", "--list")
    assert run.status == 2
    assert "libportaudio2" in run.err


def test_the_list_fits_a_terminal(sound: Sound) -> None:
    sound.listed.append(device("A\x1bn interface of a name that goes on " * 4, 32, 32, 1))
    run = sigsim_here("record", "--list")
    assert run.status == 0, run.err
    assert max(map(len, run.out.splitlines())) <= 80
    assert "\x1b" not in run.out
    for said in ("Fader box", "Webcam", "44.1, 48", "Without it: number 0", "Test bench"):
        assert said in plain(run.out)
    assert not sound.played


def test_nothing_there_is_a_sentence(sound: Sound) -> None:
    sound.listed.clear()
    run = sigsim_here("record", "--list")
    assert run.status == 0
    assert "nothing to play or record with" in plain(run.out)
    run = sigsim_here(*RECORD, "--yes")
    assert run.status == 2
    assert "plug the interface in" in run.err


def test_a_box_that_is_listed_once_for_each_way_is_one(sound: Sound) -> None:
    sound.listed = [
        device("Desk", 1, 0), device("Desk", 0, 2, 1), device("Desk", 2, 0, 1),
        device("Desk two", 1, 1),
    ]  # fmt: skip
    sound.usual = (-1, -1)
    assert sigsim_here(*RECORD, "--yes", "--device", "desk", "--in", "2").status == 0
    assert sigsim_here(*RECORD, "--yes", "--force", "--device", "3").status == 0
    run = sigsim_here(*RECORD, "--yes", "--force")
    assert run.status == 2
    assert "no usual input" in run.err
    run = sigsim_here(*RECORD, "--yes", "--force", "--device", "des")
    assert run.status == 2
    assert "more than one" in run.err


# Measuring


def plugging(sound: Sound, *plugs: Any) -> list[Any]:
    """Return the turns of somebody who plugs one thing after another."""
    turns: list[Any] = [(lambda p=plug: setattr(sound, "plugged", p), "") for plug in plugs]
    # Behind the first plug comes the question before the full level.
    return [turns[0], "", *turns[1:]]


def test_a_cable_is_measured_plug_by_plug(sound: Sound, somebody: Callable[..., Somebody]) -> None:
    # Recordings of one interface differ by a delay from one start to the next.
    sound.gain, sound.later = 3.0, 7.3
    person = somebody(*plugging(sound, loop, before, cable, loop))
    run = sigsim_here(*LIVE, "--length", "6 m", "--json")
    assert run.status == 0, run.err
    found = json.loads(run.out)
    assert found["files"] == {}
    # The accuracy that measuring promises for a cable: 1 %; and for an input 3 % and 3 pF.
    figures, point = found["figures"], found["point"]
    assert figures["total_capacitance"]["value"] == pytest.approx(CABLE, rel=0.01)
    assert point["input_capacitance"]["value"] == pytest.approx(CIN, abs=3e-12)
    assert point["input_resistance"]["value"] == pytest.approx(RIN, rel=0.03)
    said = plain(run.err)
    order = ("1 of 4, loop: ", "2 of 4, before: ", "3 of 4, with: ", "4 of 4, loop again: ")
    assert [said.index(text) for text in order] == sorted(said.index(text) for text in order)
    assert "third socket empty. Then Enter:" in said
    assert not person.turns
    assert sorted(path.name for path in Path().iterdir()) == ["sweep.wav"]


def test_the_usual_sweep_is_played_where_none_is_named(
    sound: Sound, somebody: Callable[..., Somebody]
) -> None:
    """At the rate that the interface has, and what is kept is measured as it was."""
    sound.runs = (44_100,)
    somebody(*plugging(sound, loop, before, cable, loop))
    run = sigsim_here("measure", "cable", "--live", *GIVEN, "--keep", "kept", "--json")
    assert run.status == 0, run.err
    names = ["before.wav", "loop-again.wav", "loop.wav", "with.wav"]
    assert sorted(path.name for path in Path("kept").iterdir()) == names
    assert soundfile.info("kept/loop.wav").samplerate == 44_100
    files = {role: f"kept/{role}.wav" for role in ("loop", "before", "with")}
    found = json.loads(run.out)
    assert found["files"] == files
    given = [word for role, file in files.items() for word in (f"--{role}", file)]
    again = json.loads(sigsim_here("measure", "cable", *given, *GIVEN, "--json").out)
    # 24 bits of what is kept are 6e-8 of full scale; where it is quiet that is some 1e-6.
    live, kept = (one["figures"]["total_capacitance"]["value"] for one in (found, again))
    assert kept == pytest.approx(live, rel=1e-5)
    assert found["figures"]["total_capacitance"]["value"] == pytest.approx(CABLE, rel=0.01)


def test_a_knob_that_moved_is_noticed_and_the_recordings_stay(
    sound: Sound, somebody: Callable[..., Somebody]
) -> None:
    """0.05 dB: a hair's breadth of a gain knob, and more than the 0.02 dB that are promised."""

    def moved(f: np.ndarray) -> np.ndarray:
        return 10 ** (0.05 / 20) * loop(f)

    def still(f: np.ndarray) -> np.ndarray:
        return 10 ** (0.01 / 20) * loop(f)

    somebody(*plugging(sound, loop, before, cable, moved))
    run = sigsim_here(*LIVE, "--keep", "kept")
    assert run.status == 2
    assert "a knob, a plug or a cable moved" in run.err
    assert "0.05 dB" in run.err
    assert len(list(Path("kept").iterdir())) == 4
    somebody(*plugging(sound, loop, before, cable, still))
    run = sigsim_here(*LIVE, "--keep", "kept")
    assert run.status == 2
    assert "--force" in run.err
    assert sigsim_here(*LIVE, "--keep", "kept", "--force").status == 0


def test_a_recording_with_a_hole_is_made_once_more(
    sound: Sound, somebody: Callable[..., Somebody]
) -> None:
    def hole() -> None:
        sound.plugged, sound.late, sound.lost = before, (21,), True

    turns = plugging(sound, loop, before, cable, loop)
    turns[2:3] = [(hole, ""), (lambda: setattr(sound, "late", ()), "")]
    somebody(*turns)
    run = sigsim_here(*LIVE, "--keep", "kept")
    assert run.status == 0, run.err
    assert "Enter to record this once more" in plain(run.err)
    sound.late, sound.lost = (), False
    turns = plugging(sound, loop, before)
    turns[2:3] = [(hole, ""), "q"]
    somebody(*turns)
    run = sigsim_here(*LIVE, "--keep", "kept", "--force")
    assert run.status == 2
    assert "kept/before.wav: " in run.err


def test_a_recording_that_may_be_left_out_is_offered(
    sound: Sound, somebody: Callable[..., Somebody]
) -> None:
    """Plugs are asked for also behind --yes, which is about the full level only."""
    asked: list[str] = []
    somebody("", "", "", (lambda: asked.append("half"), "s"), "")
    run = sigsim_here(
        "measure", "pickup", "--live", "--sweep", "sweep.wav", "--yes", "--keep", "kept"
    )
    assert "4 of 5, half: if you can" in plain(run.err)
    assert "s and Enter to leave it out" in plain(run.err)
    assert "Monitors muted?" not in run.err
    assert asked == ["half"]
    assert not Path("kept/half.wav").exists()


def test_every_load_has_its_plug(sound: Sound, somebody: Callable[..., Somebody]) -> None:
    run = sigsim_here(
        "measure", "pickup", "--live", "--yes", "--load", "10 nF", "--load", "200 kΩ",
        "--sweep", "sweep.wav", "--keep", ".",
    )  # fmt: skip
    said = plain(run.err)
    for text in ("1 of 4, open: ", "2 of 4, loaded 1: ", "this time 10 nF", "this time 200 kΩ"):
        assert text in said
    names = {"open.wav", "loaded-1.wav", "loaded-2.wav", "open-again.wav"}
    assert {path.name for path in Path().iterdir()} == {*names, "sweep.wav"}

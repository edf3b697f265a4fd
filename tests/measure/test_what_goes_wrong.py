"""Recordings with each of the faults people make: one sentence and status 2, or a note.

A fault that is not refused must not reach a figure: then what is found holds the truth.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
import soundfile
from helpers import bench_faults as faults
from helpers.bench import Floats, Recorder, Sweep
from helpers.bench_cases import RESISTOR, Case, random_bench
from helpers.in_process import sigsim_here
from helpers.program import Run
from helpers.thinned import crossed

# Three repeats of two seconds: every fault that is looked for is in them as it is in long ones.
SWEEP = Sweep(seconds=2.0)
RATE = SWEEP.rate
Fault = Callable[[Floats], Floats]


class Good(NamedTuple):
    """Good recordings of one cable: samples by role, and what is true."""

    samples: dict[str, Floats]
    case: Case
    recorder: Recorder


@pytest.fixture(scope="module")
def good() -> Good:
    case, recorder = random_bench("cable", 3, SWEEP)
    recorder = replace(recorder, lead_in=0.4)
    roles = {role: recorder.heard(listed[0], role) for role, listed in case.circuits.items()}
    return Good(roles, case, recorder)


@pytest.fixture(scope="module")
def sweep_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return SWEEP.write(tmp_path_factory.mktemp("played") / "sweep.wav")


class Bench:
    """Writes recordings, some of them spoilt, and measures the cable that is in them."""

    def __init__(self, good: Good, sweep: Path, folder: Path) -> None:
        self.good, self.sweep, self.folder = good, sweep, folder
        self.samples = dict(good.samples)
        self.rates = dict.fromkeys(self.samples, RATE)

    def spoil(self, role: str, fault: Fault) -> Bench:
        self.samples[role] = fault(self.samples[role])
        return self

    def path(self, role: str) -> Path:
        return self.folder / f"{role}.wav"

    def measure(self, *options: object) -> Run:
        for role, sound in self.samples.items():
            soundfile.write(self.path(role), sound, self.rates[role], subtype="PCM_24")
        files = [word for role in self.samples for word in (f"--{role}", self.path(role))]
        resistor = f"{RESISTOR[0]} ± {100 * RESISTOR[1]} %"
        told = self.good.case.known["output_resistance"]
        known = ["--resistor", resistor, "--output-resistance", f"{told[0]} ± 10 %"]
        return sigsim_here("measure", "cable", *files, *known, "--sweep", self.sweep, "--json",
                           *options)  # fmt: skip

    def refused(self, *words: str, role: str = "", options: tuple[object, ...] = ()) -> None:
        """See one sentence of what is wrong, with some of these words, and nothing else."""
        run = self.measure(*options)
        said = run.err.strip()
        assert run.status == 2, (run.status, run.out[:300], said)
        assert not run.out
        assert "\n" not in said.removeprefix("note: "), said
        assert any(word in said for word in words), said
        assert not role or f"{role}.wav" in said, said

    def noted(self, *words: str) -> dict[str, Any]:
        """See a note with one of these words, and the truth found all the same."""
        found = self.found()
        assert any(word in note for note in found["notes"] for word in words), found["notes"]
        return found

    def found(self) -> dict[str, Any]:
        run = self.measure()
        assert run.status == 0, run.err
        found: dict[str, Any] = json.loads(run.out)
        figure = found["figures"]["total_capacitance"]
        truth = self.good.case.truth["total_capacitance"]
        # 1 %: what chapter 4 of the contract asks of a total capacitance.
        assert abs(figure["value"] / truth - 1) < 0.01, (figure, truth)
        return found


@pytest.fixture
def bench(good: Good, sweep_file: Path, tmp_path: Path) -> Bench:
    return Bench(good, sweep_file, tmp_path)


def test_the_good_recordings_are_good(bench: Bench) -> None:
    assert not [note for note in bench.found()["notes"] if "wav" in note]


@pytest.mark.parametrize(
    ("over", "at", "role"),
    [
        (over, at, role)
        for over, (at, role) in crossed(
            [1.0, 3.0, 10.0], [(1.0, "loop"), (1.0, "with"), (0.5, "with")]
        )
    ],
)
def test_clipping(bench: Bench, over: float, at: float, role: str) -> None:
    """At full scale, and in an amplifier in front of the converter."""
    bench.spoil(role, lambda sound: faults.clipped(sound, over, at))
    bench.refused("clip", "overload", "overdriv", role=role)


@pytest.mark.parametrize(("level", "role"), crossed([-300.0, -80.0, -50.0], ["loop", "before"]))
def test_silence(bench: Bench, level: float, role: str) -> None:
    bench.spoil(role, lambda sound: faults.silence(sound, level))
    bench.refused("silent", "not in", "sweep", role=role)


def test_only_hum(bench: Bench) -> None:
    bench.spoil("with", lambda sound: faults.hummed(faults.silence(sound, -80), RATE, 50.0, -20))
    bench.refused("silent", "not in", "sweep", role="with")


@pytest.mark.parametrize(("channel", "other"), crossed([0, 1], [-300.0, -75.0, -30.0]))
def test_a_stereo_file_among_mono_files(bench: Bench, channel: int, other: float) -> None:
    """The channel that has the sweep is taken, and it is said which."""
    pair = [faults.silence(bench.samples["with"], other), bench.samples["with"]]
    bench.samples["with"] = np.stack(pair if channel else pair[::-1], axis=1)
    bench.noted("channel")


def test_both_channels_have_the_sweep(bench: Bench) -> None:
    bench.samples["loop"] = np.stack([bench.samples["loop"]] * 2, axis=1)
    bench.found()


def test_one_recording_at_another_rate(bench: Bench) -> None:
    recorder = replace(bench.good.recorder, sweep=replace(SWEEP, rate=44100))
    (circuit,) = bench.good.case.circuits["with"]
    bench.samples["with"], bench.rates["with"] = recorder.heard(circuit, "with"), 44100
    bench.refused("44.1", "44100", "44,100", role="with")


def test_a_recording_that_says_another_rate_than_it_has(bench: Bench) -> None:
    bench.rates = dict.fromkeys(bench.rates, 44100)
    bench.refused("44.1", "44100", "44,100")


@pytest.mark.parametrize(
    ("other", "role"),
    crossed(
        [
            replace(SWEEP, seconds=3.0),
            replace(SWEEP, seconds=10.0, repeats=1),
            replace(SWEEP, low=100.0, high=10000.0),
            replace(SWEEP, high=16000.0),
        ],
        ["loop", "with"],
    ),
)
def test_another_sweep_was_played(bench: Bench, other: Sweep, role: str) -> None:
    recorder = replace(bench.good.recorder, sweep=other)
    (circuit,) = bench.good.case.circuits[role]
    bench.samples[role] = recorder.heard(circuit, role)
    bench.refused("sweep", role=role)


def test_something_else_was_played(bench: Bench) -> None:
    """A sweep backwards, and a linear one."""
    bench.spoil("loop", lambda sound: sound[::-1].copy())
    bench.refused("sweep", role="loop")
    time = np.arange(bench.samples["loop"].size) / RATE
    bench.samples["loop"] = 0.1 * np.sin(2 * np.pi * 1000.0 * time**2)
    bench.refused("sweep", role="loop")


@pytest.mark.parametrize("seconds", [4.5, 6.0, 9.5])
def test_cut_at_the_end(bench: Bench, seconds: float) -> None:
    """One whole repeat is enough; three of them take 12.7 s."""
    bench.spoil("before", lambda sound: sound[: round(seconds * RATE)])
    bench.noted("cut", "end", "whole")


def test_cut_in_the_first_repeat(bench: Bench) -> None:
    bench.spoil("before", lambda sound: sound[: 2 * RATE])
    bench.refused("cut", "end", "whole", "sweep", role="before")


def test_started_late(bench: Bench) -> None:
    """The first repeat lost its beginning; the others are whole."""
    bench.spoil("with", lambda sound: sound[faults.first_sample(sound) + RATE // 2 :])
    bench.found()


@pytest.mark.parametrize(
    ("length", "fault", "repeat"),
    [
        (length, fault, repeat)
        for (length, repeat), fault in crossed(
            [(64, 0), (512, 2), (4096, 0), (64, 2), (512, 0), (4096, 2)],
            [faults.missing, faults.zeroed, faults.repeated],
        )
    ],
)
def test_a_dropped_block(
    bench: Bench, fault: Callable[[Floats, int, int], Floats], length: int, repeat: int
) -> None:
    """Anywhere in the middle and upper part of a sweep, of the first and of the last one."""
    draw = np.random.default_rng([length, repeat, *fault.__name__.encode()])
    second = repeat * (SWEEP.duration + SWEEP.pause) + draw.uniform(0.8, 1.9)
    bench.spoil(
        "with",
        lambda sound: fault(sound, faults.first_sample(sound) + round(second * RATE), length),
    )
    bench.refused("block", "gap", "missing", "drop", role="with")


@pytest.mark.parametrize("fault", [faults.missing, faults.zeroed, faults.repeated])
def test_a_short_block_where_the_sweep_is_slow(
    bench: Bench, fault: Callable[[Floats, int, int], Floats]
) -> None:
    """A millisecond of some 60 Hz is nearly nothing: it is refused, or changes nothing."""
    bench.spoil(
        "with", lambda sound: fault(sound, faults.first_sample(sound) + round(0.3 * RATE), 64)
    )
    if bench.measure().status != 2:
        bench.found()


@pytest.mark.parametrize("length", [64, 4096])
def test_a_block_dropped_between_two_sweeps(bench: Bench, length: int) -> None:
    """A second of the silence behind a sweep: what follows comes early."""
    start = faults.first_sample(bench.samples["loop"]) + round((SWEEP.duration + 1.0) * RATE)
    bench.spoil("loop", lambda sound: faults.missing(sound, start, length))
    bench.refused("block", "gap", "missing", "drop", role="loop")


@pytest.mark.parametrize("gains", [(0.0, 0.1, 0.2), (0.0, 0.0, -0.3), (3.0, 0.0, 0.0)])
def test_automatic_gain(bench: Bench, gains: tuple[float, ...]) -> None:
    bench.spoil("loop", lambda sound: faults.with_gains(sound, SWEEP, gains))
    bench.refused("gain", role="loop")


def test_a_gain_that_follows_the_level(bench: Bench) -> None:
    """Fast, it is the same in every sweep: what is left is that no circuit explains it."""
    for role in bench.samples:
        bench.spoil(role, lambda sound: faults.levelled(sound, RATE, 0.5, 0.3))
    run = bench.measure()
    assert run.status == 2 or "unexplained" in run.err


@pytest.mark.parametrize(
    ("one", "other"), [("loop", "with"), ("loop", "before"), ("before", "with")]
)
def test_two_recordings_swapped(bench: Bench, one: str, other: str) -> None:
    samples = bench.samples
    samples[one], samples[other] = samples[other], samples[one]
    bench.refused("swap", "exchang", "mixed up")


@pytest.mark.parametrize(("actual", "told"), [(10e3, 100e3), (470e3, 100e3), (1e6, 100e3)])
def test_another_resistor(bench: Bench, actual: float, told: float) -> None:
    """The interface that follows from it is impossible."""
    _wired_with(bench, actual)
    bench.refused("resistor")


@pytest.mark.parametrize("actual", [47e3, 220e3])
def test_another_resistor_that_the_interface_gives_away(bench: Bench, actual: float) -> None:
    """With what a data sheet says of the input."""
    _wired_with(bench, actual)
    bench.refused("resistor", options=("--interface-input", "1 MΩ"))


def _wired_with(bench: Bench, resistor: float) -> None:
    """Record a cable with this resistor [Ω]."""
    from helpers.bench_circuits import LEAD, Socket, cable

    socket = Socket()
    thing = cable(LEAD, 6.0)
    circuits = {"before": socket.point(resistor), "with": socket.point(resistor, thing)}
    bench.samples["loop"] = bench.good.recorder.heard(socket.point(0.0), "loop")
    for role, circuit in circuits.items():
        bench.samples[role] = bench.good.recorder.heard(circuit, role)


@pytest.mark.parametrize(("level", "delay"), crossed([-10.0, -20.0, -30.0], [50e-3, 12e-3, 3e-3]))
def test_direct_monitoring(bench: Bench, level: float, delay: float) -> None:
    bench.spoil("loop", lambda sound: faults.monitored(sound, RATE, level, delay))
    bench.refused("monitor", role="loop")


@pytest.mark.parametrize(("mains", "level"), [(50.0, -15.0), (60.0, -10.0)])
def test_hum_louder_than_the_sweep(bench: Bench, mains: float, level: float) -> None:
    """The sweep peaks at -20 dBFS."""
    bench.spoil("with", lambda sound: faults.hummed(sound, RATE, mains, level))
    found = bench.noted("hum")
    assert any(low <= mains <= high for low, high in found["left_out_hz"])


@pytest.mark.parametrize("pad", [-10.0, -20.0, 6.0])
def test_a_knob_moved_after_the_loop(bench: Bench, pad: float) -> None:
    for role in ("before", "with"):
        bench.spoil(role, lambda sound: sound * 10 ** (pad / 20))
    bench.refused("knob", "pad", "gain", "swap")


@pytest.mark.parametrize("pad", [-10.0, -3.0, 3.0, 10.0])
def test_a_knob_moved_before_the_last_recording(bench: Bench, pad: float) -> None:
    """A cable with a resistance across it there is not."""
    bench.spoil("with", lambda sound: sound * 10 ** (pad / 20))
    bench.refused("knob", "pad", "gain", "swap")


def test_a_line_input(bench: Bench) -> None:
    """A pad in front of the channel is 10 kΩ to the point."""
    from helpers.bench_circuits import LEAD, Socket, cable

    socket, heard = Socket(input_resistance=10e3), bench.good.recorder.heard
    bench.samples["loop"] = heard(socket.point(0.0), "loop")
    bench.samples["before"] = heard(socket.point(100e3), "before")
    bench.samples["with"] = heard(socket.point(100e3, cable(LEAD, 6.0)), "with")
    bench.refused("instrument", "pad")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_a_number_that_is_none_in_a_recording(bench: Bench, value: float) -> None:
    """A WAV of floating point numbers can hold it."""
    bench.samples["with"][3000] = value
    bench.measure()
    soundfile.write(bench.path("with"), bench.samples["with"], RATE, subtype="FLOAT")
    run = sigsim_here("measure", "cable", "--loop", bench.path("loop"), "--before",
                      bench.path("before"), "--with", bench.path("with"),
                      "--sweep", bench.sweep)  # fmt: skip
    assert run.status == 2
    assert "with.wav" in run.err


@pytest.mark.parametrize("cell", ["nan", "inf", "-inf", "", "one", "1,5"])
@pytest.mark.parametrize("column", ["gain_db", "phase_deg", "frequency_hz"])
def test_a_number_that_is_none_in_a_table(bench: Bench, cell: str, column: str) -> None:
    frequency = np.geomspace(20.0, 20e3, 200)
    paths = []
    for role, (circuit,) in bench.good.case.circuits.items():
        H = circuit(frequency)
        rows = np.stack([frequency, 20 * np.log10(np.abs(H)), np.degrees(np.angle(H))], axis=1)
        lines = [[repr(float(number)) for number in row] for row in rows]
        if role == "with":
            lines[100][["frequency_hz", "gain_db", "phase_deg"].index(column)] = cell
        path = bench.folder / f"{role}.csv"
        text = "\n".join(["frequency_hz,gain_db,phase_deg", *map(",".join, lines)])
        path.write_text(text + "\n", encoding="utf-8")
        paths += [f"--{role}", path]
    run = sigsim_here("measure", "cable", *paths)
    assert run.status == 2, run.out
    assert "with.csv" in run.err
    assert "102" in run.err  # the line, the header being the first

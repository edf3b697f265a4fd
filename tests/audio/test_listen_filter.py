"""The filter of `listen` against the model, and against an oracle, through written files."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from helpers.boards import boards_in_a_state, to_toml
from helpers.in_process import sigsim_here as sigsim
from helpers.nodal import solve
from helpers.program import EXAMPLES
from helpers.thinned import tries
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.signal import fftconvolve

from sigsim.audio.filter import build_filter
from sigsim.audio.stream import Convolver
from sigsim.board.reader import parse_board, read_board
from sigsim.decide.listen import Change
from sigsim.errors import SigsimError
from sigsim.states.response import response

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

LEVEL_DB, PHASE_DEG = 0.05, 1.0
# An invented bass through a short and a long cable, a buffer that couples by capacitors between.
BOARD: dict[str, Any] = {
    "title": "invented",
    "instrument": {"resistance": 9e3, "inductance": 4.2, "capacitance": 120e-12,
                   "loss_resistance": 400e3, "volume_track": 250e3, "tone_track": 250e3,
                   "tone_capacitor": 47e-9, "tone": 8.0},
    "destination": {"input_resistance": 1e6, "input_capacitance": 100e-12},
    "cables": {"lead": {"capacitance": 110e-12, "resistance": 0.1, "inductance": 0.4e-6,
                        "plug_capacitance": 8e-12}},
    "chain": [
        {"cable": "lead", "length": 4.5},
        {"stage": "box", "input_resistance": 470e3, "input_capacitor": 22e-9,
         "output_resistance": 1e3, "output_capacitor": 1e-6, "bypass": "true",
         "wiring_capacitance": 60e-12},
        {"cable": "lead", "length": 9.0},
    ],
    "scenes": {},
}  # fmt: skip


def ratio_of(on: frozenset[str], frequency: Floats) -> Complex:
    """Return state over reference, by the oracle that knows nothing of the program."""
    whole = solve(BOARD, on, frequency) / solve(BOARD, on, frequency, "direct")
    return np.asarray(whole, complex)


def listened(
    tmp_path: Path, sound: Floats, rate: int, on: frozenset[str], name: str, subtype: str
) -> Floats:
    """Send a sound through the program and back from its file."""
    board, dry, wet = (tmp_path / n for n in ("board.toml", f"dry{name}", f"wet{name}"))
    board.write_text(to_toml(BOARD), encoding="utf-8")
    soundfile.write(dry, sound, rate, subtype=subtype)
    state = ["--on", ",".join(on)] if on else ["--all-off"]
    run = sigsim("listen", board, dry, "-o", wet, *state)
    assert run.status == 0, run.err
    assert "clips" not in run.out
    info = soundfile.info(wet)
    assert (info.samplerate, info.subtype) == (rate, subtype)
    out: Floats = soundfile.read(wet, dtype="float64")[0]
    assert len(out) == len(sound)
    return out


@pytest.mark.parametrize(
    ("rate", "on", "name", "subtype"),
    [
        (8000, frozenset(), ".wav", "DOUBLE"),
        (44100, frozenset(), ".wav", "PCM_24"),
        (48000, frozenset({"box"}), ".aiff", "FLOAT"),
        (96000, frozenset(), ".flac", "PCM_24"),
        (192000, frozenset(), ".wav", "PCM_32"),
    ],
)
def test_single_sines_through_files(
    tmp_path: Path, rate: int, on: frozenset[str], name: str, subtype: str
) -> None:
    """Sines that fit a whole number of times, the second half after all has settled."""
    period = rate  # one second: whole Hz
    top = math.floor(0.45 * rate)
    sines = sorted({20, top, *np.geomspace(20, top, 24).round().astype(int).tolist()})
    time = np.arange(3 * period) / rate
    phases = np.random.default_rng(1).uniform(0, 2 * np.pi, len(sines))
    dry = sum(np.sin(2 * np.pi * f * time + p) for f, p in zip(sines, phases, strict=True))
    dry = 0.4 * dry / np.abs(dry).max() * np.minimum(time / 0.5, 1)
    wet = listened(tmp_path, dry, rate, on, name, subtype)
    before, after = (np.fft.rfft(x[-period:])[sines] for x in (dry, wet))
    error = after / before / ratio_of(on, np.array(sines, float))
    assert np.abs(20 * np.log10(np.abs(error))).max() < LEVEL_DB
    assert np.abs(np.angle(error, deg=True)).max() < PHASE_DEG


def test_sweep_through_files(tmp_path: Path) -> None:
    """An exponential sweep (A. Farina, AES 108, 2000), faded at its ends."""
    rate, low, high, seconds = 48000, 15.0, 23000.0, 4.0
    time = np.arange(int(rate * seconds)) / rate
    slowness = seconds / math.log(high / low)
    dry = 0.3 * np.sin(2 * np.pi * low * slowness * (np.exp(time / slowness) - 1))
    dry *= np.minimum(1, np.minimum(time, seconds - time) / 0.05)
    dry = np.append(dry, np.zeros(rate))
    wet = listened(tmp_path, dry, rate, frozenset(), ".wav", "DOUBLE")
    frequency = np.fft.rfftfreq(len(dry), 1 / rate)
    band = np.flatnonzero((frequency >= 20) & (frequency <= 0.45 * rate))[::50]
    error = np.fft.rfft(wet)[band] / np.fft.rfft(dry)[band]
    error /= ratio_of(frozenset(), frequency[band])
    assert np.abs(20 * np.log10(np.abs(error))).max() < LEVEL_DB
    assert np.abs(np.angle(error, deg=True)).max() < PHASE_DEG


@pytest.mark.parametrize("rate", [8000, 48000, 192000])
def test_nothing_rings_before_and_nothing_is_late(tmp_path: Path, rate: int) -> None:
    dry = np.zeros(rate // 2)
    click = rate // 4
    dry[click] = 0.005  # what is above the edge may come out much stronger
    wet = listened(tmp_path, dry, rate, frozenset(), ".wav", "DOUBLE")
    assert np.abs(wet[:click]).max() <= 1e-4 * np.abs(wet).max()  # -80 dB
    assert abs(wet[click]) > 1e-3 * np.abs(wet).max()  # it begins at once
    frequency = np.array([1000.0])
    line = round(frequency[0] * len(wet) / rate)
    late = np.angle(np.fft.rfft(np.roll(wet, -click))[line] / ratio_of(frozenset(), frequency)[0])
    assert abs(np.degrees(late)) < PHASE_DEG


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
@pytest.mark.parametrize("file", sorted(EXAMPLES.glob("*.toml")), ids=lambda p: p.stem)
def test_the_examples_keep_the_promise(file: Path, rate: int) -> None:
    board = read_board(file)
    r = response(board, reference="direct")
    found = build_filter(Change(r, r.reference).ratio, rate)
    assert found.level_error < LEVEL_DB
    assert found.phase_error < PHASE_DEG
    assert found.above_edge < 40


@settings(max_examples=tries(6, 12))
@given(boards_in_a_state(), st.sampled_from([22050, 44100, 48000, 96000]))
def test_what_a_filter_says_of_itself_is_true(
    drawn: tuple[dict[str, Any], frozenset[str], str], rate: int
) -> None:
    table, on, text = drawn
    r = response(parse_board(text), on, reference="direct")
    change = Change(r, r.reference)
    try:
        change.check_reference(0.45 * rate)
        found = build_filter(change.ratio, rate)
    except SigsimError:
        return
    # A filter that follows the model only so far up claims nothing above.
    frequency = np.geomspace(20, found.edge * rate, 60)
    oracle = solve(table, on, frequency) / solve(table, on, frequency, "direct")
    if not np.abs(oracle).all():
        assert not found.taps.any()
        return
    n = np.arange(found.taps.size)
    H = np.array([found.taps @ np.exp(-2j * np.pi * f / rate * n) for f in frequency])
    error = H / oracle
    assert np.abs(20 * np.log10(np.abs(error))).max() < 1.1 * found.level_error + 1e-3
    assert np.abs(np.angle(error, deg=True)).max() < 1.1 * found.phase_error + 1e-2


@settings(max_examples=20)
@given(st.integers(0, 2**31), st.integers(1, 40_000), st.integers(1, 3))
def test_streaming_is_linear_and_does_not_care_for_time(
    seed: int, delay: int, channels: int
) -> None:
    draw = np.random.default_rng(seed)
    taps = draw.standard_normal(int(draw.integers(2, 30_000)))
    one, two = (draw.standard_normal((50_000, channels)) for _ in range(2))
    a, b = draw.uniform(-2, 2, 2)
    first, second = _streamed(taps, one, draw), _streamed(taps, two, draw)
    scale = np.abs(first).max()
    together = _streamed(taps, a * one + b * two, draw)
    assert np.abs(together - a * first - b * second).max() < 1e-9 * scale
    later = _streamed(taps, np.concatenate([np.zeros((delay, channels)), one]), draw)
    assert np.abs(later[delay:] - first).max() < 1e-9 * scale
    assert np.abs(later[:delay]).max() < 1e-9 * scale
    at_once = fftconvolve(one, taps[:, np.newaxis])[: len(one)]
    assert np.abs(at_once - first).max() < 1e-9 * scale


def _streamed(taps: Floats, sound: Floats, draw: np.random.Generator) -> Floats:
    """Return a sound through a filter, in blocks of any length."""
    through, out, done = Convolver(taps, sound.shape[1]), [], 0
    while done < len(sound):
        length = int(draw.integers(1, min(through.longest, 20_000)))
        out.append(through(sound[done : done + length]))
        done += length
    return np.concatenate(out)


def test_a_reference_without_bass_gives_a_filter_that_stays_finite() -> None:
    """Undoing a coupling capacitor would need endless gain at 0 Hz."""

    def undone(frequency: Floats) -> Complex:
        s = 2j * np.pi * frequency
        return np.asarray((s + 2 * np.pi * 8) / s)

    found = build_filter(undone, 48000)
    assert found.level_error < LEVEL_DB
    assert found.phase_error < PHASE_DEG
    gain = np.abs(np.fft.rfft(found.taps, 1 << 21))
    assert gain[0] < gain.max() < 100


def test_a_circuit_without_loss_is_refused() -> None:
    def endless(frequency: Floats) -> Complex:
        return np.full(frequency.shape, np.inf + 0j)

    with pytest.raises(SigsimError, match="rings for ever"):
        Change(endless, np.ones_like).ratio(np.array([100.0]))

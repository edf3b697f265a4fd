"""`sigsim listen` and `sigsim demo --listen` as a user meets them."""

from __future__ import annotations

import json
import math
import tracemalloc
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from helpers.in_process import sigsim_here as sigsim
from helpers.program import EXAMPLES, Run
from helpers.thinned import only_full
from numpy.typing import NDArray

from sigsim.audio.audition import file_names, measure, write
from sigsim.audio.files import open_recording
from sigsim.audio.filter import Filter, build_filter
from sigsim.audio.loudness import Spectrum
from sigsim.audio.phrase import RATE, phrase
from sigsim.board.reader import read_board
from sigsim.cli.main import cli
from sigsim.decide.listen import Change
from sigsim.errors import SigsimError
from sigsim.states.response import response

Floats = NDArray[np.float64]

BASS = EXAMPLES / "ferry-bass.toml"
RATE_HZ = 48000


def noise(frames: int = 6000, channels: int = 2, size: float = 0.1) -> Floats:
    sound: Floats = size * np.random.default_rng(3).standard_normal((frames, channels))
    return sound


def made(path: Path, sound: Floats | None = None, rate: int = RATE_HZ, **format_: str) -> Path:
    soundfile.write(path, noise() if sound is None else sound, rate, **format_)
    return path


def samples(path: Path) -> Floats:
    sound: Floats = soundfile.read(path, dtype="float64", always_2d=True)[0]
    return sound


def listen(*arguments: object, cwd: Path) -> Run:
    run = sigsim("listen", *arguments, cwd=cwd)
    assert run.status == 0, run.err
    return run


@pytest.mark.parametrize(
    ("name", "subtype"),
    [
        ("x.wav", "PCM_16"), ("x.wav", "PCM_24"), ("x.wav", "PCM_32"), ("x.wav", "PCM_U8"),
        ("x.wav", "FLOAT"), ("x.wav", "DOUBLE"), ("x.flac", "PCM_16"), ("x.flac", "PCM_24"),
        ("x.aiff", "PCM_16"), ("x.aif", "PCM_24"), ("x.aiff", "FLOAT"),
    ],
)  # fmt: skip
def test_what_is_not_changed_comes_back_bit_by_bit(tmp_path: Path, name: str, subtype: str) -> None:
    sound = noise(size=0.3)
    sound[:2] = [[-1, 1], [1, -1]]
    container = {"aif": "AIFF"}.get(name[2:5], name[2:].upper())
    source = made(tmp_path / name, np.clip(sound, -1, 1), subtype=subtype, format=container)
    recording = open_recording(source)
    same = Filter(np.array([1.0]), 0.0, 0.0, 0.0)
    names = {"processed": tmp_path / f"out{source.suffix}"}
    levels = measure(recording, same, names, lambda _: None, match=True)
    assert levels.scale == levels.matched == 1
    write(recording, same, levels, names, names, lambda _: None)
    kind = "float64" if subtype in ("FLOAT", "DOUBLE") else "int32"
    before, after = (soundfile.read(p, dtype=kind)[0] for p in (source, names["processed"]))
    assert np.array_equal(before, after)
    assert soundfile.info(names["processed"]).subtype == subtype


def test_a_state_through_itself_is_the_input(tmp_path: Path) -> None:
    source = made(tmp_path / "in.flac", subtype="PCM_16")
    listen(BASS, source, "-o", "out.flac", "--scene", "storm", "--recorded-through",
           f"{BASS}:storm", cwd=tmp_path)  # fmt: skip
    assert np.array_equal(samples(source), samples(tmp_path / "out.flac"))


@pytest.mark.parametrize(("name", "channels"), [("x.ogg", 2), ("x.flac", 8), ("x.wav", 1)])
def test_rate_channels_and_subtype_are_kept(tmp_path: Path, name: str, channels: int) -> None:
    source = made(tmp_path / name, noise(9000, channels), 44100)
    listen(BASS, source, "-o", f"out-{name}", cwd=tmp_path)
    one, two = soundfile.info(source), soundfile.info(tmp_path / f"out-{name}")
    for key in ("samplerate", "channels", "frames", "format", "subtype"):
        assert getattr(one, key) == getattr(two, key)


def test_the_pair_has_one_gain_and_the_difference_is_what_was_lost(tmp_path: Path) -> None:
    source = made(tmp_path / "in.wav", np.clip(noise(size=0.5), -1, 1), subtype="DOUBLE")
    run = listen(BASS, source, "-o", "out.wav", "--pair", "--difference", "--json", cwd=tmp_path)
    found = json.loads(run.out)
    assert set(found["files"]) == {"processed", "reference", "lost"}
    dry = samples(source)
    wet, reference, lost = (
        samples(tmp_path / n) for n in ("out.wav", "out-reference.wav", "out-lost.wav")
    )
    gain = 10 ** (found["scale_db"] / 20)
    assert found["scale_db"] < 0
    assert np.allclose(reference, gain * dry, atol=1e-12)
    assert np.allclose(lost, reference - wet, atol=1e-12)
    assert len(wet) == len(reference) == len(lost) == len(dry)
    assert max(np.abs(x).max() for x in (wet, reference, lost)) == pytest.approx(1)


def test_match_level_leaves_only_the_tone(tmp_path: Path) -> None:
    source = made(tmp_path / "in.wav", subtype="FLOAT")
    run = listen(BASS, source, "-o", "out.wav", "--pair", "--match-level", cwd=tmp_path)
    assert "equally loud" in run.out
    energies = [float((samples(tmp_path / n) ** 2).sum()) for n in ("out.wav", "out-reference.wav")]
    assert energies[0] == pytest.approx(energies[1], rel=1e-5)


def test_nothing_clips_and_the_amount_is_printed(tmp_path: Path) -> None:
    """A sine on the resonance, which the board raises by 2.6 dB."""
    sine = 0.95 * np.sin(2 * np.pi * 1260 * np.arange(48000) / 48000)
    source = made(tmp_path / "in.wav", sine, subtype="PCM_16")
    run = listen(BASS, source, "-o", "out.wav", "--pair", cwd=tmp_path)
    assert "so that nothing clips" in run.out
    whole = soundfile.read(tmp_path / "out.wav", dtype="int16")[0]
    assert whole.max() in (32766, 32767)
    assert np.count_nonzero(np.abs(whole[20000:].astype(int)) >= 32766) < 2000  # no flat tops
    turned = np.abs(samples(tmp_path / "out-reference.wav")).max() / 0.95
    assert f"{20 * math.log10(turned):.2f} dB" in run.out


def test_floating_point_may_lie_over_full_scale_as_the_input_does(tmp_path: Path) -> None:
    source = made(tmp_path / "in.wav", noise(size=1.0), subtype="FLOAT")
    run = listen(BASS, source, "-o", "o.wav", "--recorded-through", BASS, cwd=tmp_path)
    assert "clips" not in run.out
    assert "goes over full scale" in run.err
    assert np.array_equal(samples(source), samples(tmp_path / "o.wav"))
    # The resonance makes it louder than it was: then it must fit, and what is said is so.
    sine = 1.5 * np.sin(2 * np.pi * 1260 * np.arange(48000) / 48000)
    source = made(tmp_path / "sine.wav", sine, subtype="FLOAT")
    run = listen(BASS, source, "-o", "s.wav", cwd=tmp_path)
    assert "so that nothing clips" in run.out
    assert np.abs(samples(tmp_path / "s.wav")).max() == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(
    ("hiss_db", "cut"),
    [(-80, 0), (-60, 12345), *only_full((-80, 12345), (-70, 0), (-70, 12345), (-60, 0))],
)
def test_hiss_and_cuts_do_not_change_the_level_unheard(
    tmp_path: Path, hiss_db: float, cut: int
) -> None:
    """A take with a noise floor, whole or cut in the middle of a note, and a change of 0.1 dB."""
    take = phrase()[cut : 3 * RATE + cut, 0]
    take = take + 10 ** (hiss_db / 20) * np.random.default_rng(5).standard_normal(take.size)
    source = made(tmp_path / "take.wav", take, RATE, subtype="PCM_24")
    run = listen(BASS, source, "-o", "o.wav", "--scene", "storm", "--recorded-through", "ideal",
                 "--match-level", "--json", cwd=tmp_path)  # fmt: skip
    found = json.loads(run.out)
    # 5 % of the power at most lies where nobody hears it: 0.22 dB, beside what storm itself takes.
    assert abs(found["match_level_gain_db"]) < 0.4
    assert abs(found["scale_db"]) < 0.3
    assert found["filter"]["level_error_db"] < 0.05
    assert found["filter"]["widest_level_error_db"] < 1


def test_lossy_files_are_said_to_be_so(tmp_path: Path) -> None:
    source = made(tmp_path / "in.ogg", rate=44100)
    assert "OGG keeps only what is heard" in listen(BASS, source, "-o", "a.ogg", "--difference",
                                                    cwd=tmp_path).err  # fmt: skip
    assert "OGG" not in listen(BASS, source, "-o", "b.ogg", cwd=tmp_path).err


def test_what_it_was_recorded_through_is_named_with_its_scene(tmp_path: Path) -> None:
    source = made(tmp_path / "in.wav")
    for through, name in ((f"{BASS}:storm", "storm"), (BASS, "all off")):
        run = listen(BASS, source, "-o", "o.wav", "--recorded-through", through, "--force",
                     cwd=tmp_path)  # fmt: skip
        table = run.out.split("\n\n")[1]
        assert f" {name}, " in table.replace("\n", " ")
        assert "ferry-bass.toml" in table


def test_a_slip_in_the_name_of_a_recording(tmp_path: Path) -> None:
    made(tmp_path / "verse.wav")
    run = sigsim("listen", BASS, "vers.wav", "-o", "o.wav", cwd=tmp_path)
    assert run.status == 2
    assert 'did you mean "verse.wav"?' in run.err


def test_equally_loud_files_are_described_as_they_are(tmp_path: Path) -> None:
    """What is said of the two files above 2 kHz, measured in the two files."""
    source = made(tmp_path / "in.wav", phrase(), RATE, subtype="PCM_24")
    run = listen(BASS, source, "-o", "o.wav", "--scene", "storm", "--match-level", "--pair",
                 cwd=tmp_path)  # fmt: skip
    power = [np.abs(np.fft.rfft(samples(tmp_path / name)[:, 0])) ** 2
             for name in ("o-reference.wav", "o.wav")]  # fmt: skip
    treble = slice(int(2000 * len(samples(source)) / RATE), int(0.45 * len(samples(source))))
    differ = 10 * math.log10(power[0][treble].sum() / power[1][treble].sum())
    assert f"the files then differ by {differ:.1f} dB above 2 kHz" in " ".join(run.out.split())


def test_the_loss_in_a_take_is_weighted_by_its_own_spectrum(tmp_path: Path) -> None:
    """All treble of this take is at 4 kHz, so it loses what the board takes there."""
    time_ = np.arange(RATE_HZ) / RATE_HZ
    take = 0.5 * np.sin(2 * np.pi * 100 * time_) + 0.01 * np.sin(2 * np.pi * 4000 * time_)
    source = made(tmp_path / "take.wav", take * np.hanning(take.size), subtype="PCM_24")
    run = listen(BASS, source, "-o", "o.wav", "--json", cwd=tmp_path)
    found = json.loads(run.out)
    model = response(read_board(BASS), reference="direct", frequency=np.array([4000.0]))
    loss = found["loss_in_take_above_2000_hz_db"]
    assert loss == pytest.approx(float(model.loss_db[0]), abs=0.02)
    assert loss == pytest.approx(found["loss_db"]["4000"], abs=0.02)
    run = listen(BASS, source, "-o", "o.wav", "--force", cwd=tmp_path)
    assert f"in this take {loss:.1f} dB lost above 2 kHz" in " ".join(run.out.split())
    assert all(len(line) <= 80 for line in run.out.splitlines())


def test_strong_bass_does_not_pass_for_treble() -> None:
    spectrum = Spectrum(RATE_HZ, 1, 20_000.0)
    sine = np.sin(2 * np.pi * 61.7 * np.arange(3 * RATE_HZ) / RATE_HZ) * np.hanning(3 * RATE_HZ)
    for start in range(0, sine.size, 10_000):
        spectrum.add(sine[start : start + 10_000, np.newaxis])
    spectrum.finish()
    assert spectrum.treble_loss(np.ones(spectrum.frequency.size), 21_600) is None


def test_json_agrees_with_the_loss_command(tmp_path: Path) -> None:
    source = made(tmp_path / "in.wav")
    plot = tmp_path / "p.png"
    found = json.loads(listen(BASS, source, "-o", "o.wav", "--scene", "storm", "--json",
                              "--plot", plot, cwd=tmp_path).out)  # fmt: skip
    run = sigsim("loss", BASS, "--scene", "storm", "--reference", "direct", "--json")
    state: dict[str, Any] = json.loads(run.out)["states"][0]
    for key in ("treble_loss_db", "verdict", "loss_db", "level_change_db", "on"):
        assert found[key] == state[key]
    assert found["filter"]["latency_samples"] == 0
    assert plot.stat().st_size > 10_000


def test_ideal_bare_and_another_board_as_the_reference(tmp_path: Path) -> None:
    # Notes, not noise: a calm filter for what is full of treble takes long to find.
    source = made(tmp_path / "in.wav", phrase()[:RATE], RATE, subtype="FLOAT")
    other = EXAMPLES / "ferry-bass-buffered.toml"
    ways = {"ideal": "ideal", "bare": "bare", "board": f"{other}:storm"}
    losses = {}
    for name, way in ways.items():
        run = listen(BASS, source, "-o", f"{name}.wav", "--scene", "storm", "--json",
                     "--recorded-through", way, cwd=tmp_path)  # fmt: skip
        losses[name] = json.loads(run.out)["loss_db"]["4000"]
    at = np.array([4000.0])
    board = response(read_board(BASS), read_board(BASS).scene("storm").on, at)
    through = response(read_board(other), read_board(other).scene("storm").on, at)
    assert losses["ideal"] == pytest.approx(board.loss_db[0], abs=1e-9)
    without_lead = response(read_board(BASS), read_board(BASS).scene("storm").on, at, "bare")
    assert losses["bare"] == pytest.approx(without_lead.loss_db[0], abs=1e-9)
    assert losses["bare"] != pytest.approx(losses["ideal"], abs=1e-5)
    assert losses["board"] == pytest.approx(through.gain_db[0] - board.gain_db[0], abs=1e-9)


@pytest.fixture(scope="module")
def bad_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bad")
    made(folder / "good.wav", subtype="PCM_16")
    made(folder / "float.wav", subtype="FLOAT")
    made(folder / "nan.wav", np.array([0.0, 0.1, np.nan]), subtype="FLOAT")
    made(folder / "infinite.wav", np.array([0.0, np.inf]), subtype="DOUBLE")
    made(folder / "nine.wav", noise(100, 9))
    made(folder / "slow.wav", rate=4000)
    made(folder / "fast.wav", rate=384_000)
    made(folder / "no-samples.wav", np.zeros((0, 1)))
    (folder / "text.wav").write_text("not a recording at all")
    (folder / "nothing.wav").touch()
    header = bytearray((folder / "good.wav").read_bytes())
    header[22:24] = b"\0\0"
    (folder / "no-channel.wav").write_bytes(header)
    made(folder / "there.wav", subtype="PCM_16")
    made(folder / "taken-reference.wav", subtype="PCM_16")
    silent = BASS.read_text(encoding="utf-8").replace("volume = 10", "volume = 0", 1)
    (folder / "silent.toml").write_text(silent, encoding="utf-8")
    return folder


BAD: dict[str, tuple[list[str], list[str]]] = {
    "no such file": (["missing.wav", "-o", "o.wav"], ["missing.wav", "no such file"]),
    "not audio": (["text.wav", "-o", "o.wav"], ["text.wav", "not an audio file", "WAV, FLAC"]),
    "no bytes": (["nothing.wav", "-o", "o.wav"], ["nothing.wav", "empty"]),
    "no samples": (["no-samples.wav", "-o", "o.wav"], ["empty"]),
    "no channel": (["no-channel.wav", "-o", "o.wav"], ["hannel", "1 to 8"]),
    "nine channels": (["nine.wav", "-o", "o.wav"], ["too many channels", "9", "1 to 8"]),
    "not a number": (["nan.wav", "-o", "o.wav"], ["not a finite number", "nan at sample 2"]),
    "infinite": (["infinite.wav", "-o", "o.wav"], ["not a finite number", "inf at sample 1"]),
    "slow": (["slow.wav", "-o", "o.wav"], ["4000 Hz", "8000 to 192000 Hz"]),
    "fast": (["fast.wav", "-o", "o.wav"], ["384000 Hz"]),
    "exists": (["good.wav", "-o", "there.wav"], ["there.wav", "--force"]),
    "reference exists": (
        ["good.wav", "-o", "taken.wav", "--pair"], ["taken-reference.wav", "--force"],
    ),
    "plot exists": (["good.wav", "-o", "o.wav", "--plot", "there.wav"], ["there.wav"]),
    "itself": (["good.wav", "-o", "good.wav", "--force"], ["the input itself"]),
    "itself by another way": (
        ["good.wav", "-o", "./../{folder}/good.wav", "--force"], ["the input itself"],
    ),
    "ending not known": (["good.wav", "-o", "o.wave"], ['".wave"', 'did you mean ".wav"']),
    "no ending": (["good.wav", "-o", "o"], ["says no format", ".flac"]),
    "a format that cannot": (["float.wav", "-o", "o.flac"], ["FLOAT", ".flac", ".wav"]),
    "no such folder": (["good.wav", "-o", "none/o.wav"], ["no such folder"]),
    "silent reference": (
        ["good.wav", "-o", "o.wav", "--recorded-through", "silent.toml"],
        ["--recorded-through", "silent", "volume knob at 0"],
    ),
    "no such reference": (
        ["good.wav", "-o", "o.wav", "--recorded-through", "dirct"], ['did you mean "direct"'],
    ),
    "no such scene": (
        ["good.wav", "-o", "o.wav", "--recorded-through", f"{BASS}:strm"], ['"storm"'],
    ),
    "two states": (
        ["good.wav", "-o", "o.wav", "--scene", "storm", "--all-off"], ["takes one combination"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_bad_input_writes_nothing(
    bad_folder: Path, case: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments, expected = BAD[case]
    before = {p: p.read_bytes() for p in bad_folder.iterdir()}
    monkeypatch.chdir(bad_folder)
    asked = ["listen", str(BASS), *(a.replace("{folder}", bad_folder.name) for a in arguments)]
    with pytest.raises(SigsimError) as found:
        cli(asked, standalone_mode=False)
    assert found.value.exit_status == 2
    assert capsys.readouterr().out == ""
    for word in expected:
        assert word in str(found.value)
    assert {p: p.read_bytes() for p in bad_folder.iterdir()} == before


def test_bad_input_as_the_user_sees_it(bad_folder: Path) -> None:
    run = sigsim("listen", BASS, "nan.wav", "-o", "o.wav", "--pair", cwd=bad_folder)
    assert run.status == 2
    assert run.out == ""
    assert run.err.startswith("sigsim: nan.wav: ")
    assert "Traceback" not in run.err
    assert not (bad_folder / "o.wav").exists()


def test_a_silent_state_gives_silence_and_says_so(bad_folder: Path, tmp_path: Path) -> None:
    arguments = (bad_folder / "silent.toml", bad_folder / "good.wav", "-o", "o.wav",
                 "--recorded-through", BASS)  # fmt: skip
    run = listen(*arguments, cwd=tmp_path)
    assert "nothing comes out" in run.out
    assert not samples(tmp_path / "o.wav").any()
    run = sigsim("listen", *arguments, "--force", "--match-level", cwd=tmp_path)
    assert run.status == 2
    assert "--match-level" in run.err


def test_the_help_cautions_and_says_how_the_filter_is_built() -> None:
    text = " ".join(sigsim("listen", "--help").out.split())
    for words in ("turn down before", "no latency", "0.05 dB", "0 Hz", "0.45 times"):
        assert words in text


def test_demo_listen_writes_the_pair_here(tmp_path: Path) -> None:
    run = sigsim("demo", "--listen", cwd=tmp_path)
    assert run.status == 0, run.err
    assert "invented" in run.out
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "sigsim-demo-reference.wav", "sigsim-demo.wav",
    ]  # fmt: skip
    dry = samples(tmp_path / "sigsim-demo-reference.wav")
    assert np.abs(dry - phrase()).max() < 2**-23
    assert sigsim("demo", "--listen", cwd=tmp_path).status == 2
    assert sigsim("demo", "--listen", "--force", cwd=tmp_path).status == 0


def test_the_phrase_has_overtones_to_8_khz_and_is_always_the_same() -> None:
    sound = phrase()
    assert np.array_equal(sound, phrase())
    assert not np.array_equal(sound, phrase(seed=2))
    power = np.abs(np.fft.rfft(sound[:, 0] * np.hanning(len(sound)))) ** 2
    frequency = np.fft.rfftfreq(len(sound), 1 / RATE)
    octave = (frequency > 5657) & (frequency < 8000)
    assert 10 * math.log10(power[octave].sum() / power.sum()) > -40
    assert np.abs(sound).max() == pytest.approx(0.5)
    assert abs(sound[0, 0]) < 1e-3
    assert abs(sound[-1, 0]) < 1e-3


def test_a_long_take_needs_little_memory(tmp_path: Path) -> None:
    seconds = 120
    source = made(tmp_path / "long.wav", noise(seconds * RATE_HZ), subtype="PCM_24")
    r = response(read_board(BASS), reference="direct")
    found = build_filter(Change(r, r.reference).ratio, RATE_HZ)
    recording, names = open_recording(source), file_names(tmp_path / "o.wav", pair=True,
                                                          difference=False)  # fmt: skip
    tracemalloc.start()
    levels = measure(recording, found, names, lambda _: None)
    write(recording, found, levels, names, names, lambda _: None)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 64e6  # the samples alone are 92 MB as floating point


def test_a_take_full_of_the_highest_treble_does_not_come_out_shrill(tmp_path: Path) -> None:
    """White noise, where following the model to the edge would cost 46 dB of level."""
    source = made(tmp_path / "hiss.wav", noise(RATE_HZ, 1, 0.2), subtype="PCM_16")
    every = ",".join(read_board(BASS).switches())
    run = listen(BASS, source, "-o", "o.wav", "--on", every, "--json", cwd=tmp_path)
    found = json.loads(run.out)
    assert found["scale_db"] > -6
    assert found["filter"]["highest_hz"] >= 0.2 * RATE_HZ
    assert found["filter"]["level_error_db"] < 0.05
    assert "note: the filter follows the model within" in run.err
    before, after = samples(source)[:, 0], samples(tmp_path / "o.wav")[:, 0]
    power = [np.abs(np.fft.rfft(x)) ** 2 for x in (before, after)]
    treble = slice(2000, 9000)
    loss = 10 * math.log10(power[0][treble].sum() / power[1][treble].sum()) + found["scale_db"]
    r = response(read_board(BASS), read_board(BASS).switches(), np.arange(2000.0, 9000.0, 10.0))
    model = np.abs(r.H / response(r.board, r.on, r.frequency, "direct").reference.H) ** 2
    assert loss == pytest.approx(-10 * math.log10(model.mean()), abs=0.1)


def test_bursts_are_told_from_what_is_there_all_the_time() -> None:
    """Hiss counts in full but for its own mean of logarithms, a click hardly at all."""
    hiss = noise(10 * RATE_HZ, 1)
    click = np.zeros((10 * RATE_HZ, 1))
    click[5 * RATE_HZ] = 10.0
    for sound, low, high in ((hiss, 0.5, 0.62), (hiss * 1e-6 + click, 0.0, 1e-3)):
        spectrum = Spectrum(RATE_HZ, 1, 20_000.0)
        spectrum.add(sound)
        spectrum.finish()
        top = spectrum.frequency >= 20_000
        share = spectrum.steady()[top].sum() / spectrum.power[top].sum()
        # exp(-0.577) of the mean for noise: the mean logarithm of an exponential distribution.
        assert low <= share <= high
        assert not spectrum.steady()[~top].any()

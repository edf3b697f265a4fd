"""Tables in place of recordings, and one response over another."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from helpers.played_back import rc_lowpass

from sigsim.errors import SigsimError
from sigsim.measure.heard import hear
from sigsim.measure.ratios import alone, ratio
from sigsim.measure.response import Heard

GRID = np.geomspace(20.0, 20000.0, 200)


def table(path: Path, f: np.ndarray, H: np.ndarray, *, wrapped: bool = True) -> Heard:
    phase = np.angle(H) if wrapped else np.unwrap(np.angle(H))
    rows = np.stack([f, 20 * np.log10(np.abs(H)), np.degrees(phase)], axis=1)
    lines = [",".join(f"{value:.12g}" for value in row) for row in rows]
    path.write_text("frequency_hz,gain_db,phase_deg\n" + "\n".join(lines) + "\n")
    return hear(path)


@pytest.mark.parametrize("wrapped", [True, False])
def test_a_table_is_read_as_it_stands(tmp_path: Path, wrapped: bool) -> None:
    H = rc_lowpass(GRID) * np.exp(-2j * np.pi * GRID * 1e-3)
    found = table(tmp_path / "a.csv", GRID, H, wrapped=wrapped)
    assert pytest.approx(H, rel=1e-8) == found.H
    assert (found.sigma, found.rate, found.clock_ppm) == (None, None, None)
    assert pytest.approx(H, rel=1e-8) == alone(found).T


def test_columns_may_come_in_any_order_and_more_of_them(tmp_path: Path) -> None:
    rows = "\n".join(f"{k},1.0,-90,{100 * k}" for k in range(1, 13))
    (tmp_path / "a.csv").write_text(
        f"\ufeffcoherence, Gain_dB ,phase_deg,frequency_hz\r\n{rows}\r\n\r\n"
    )
    found = hear(tmp_path / "a.csv")
    assert found.frequency[-1] == 1200.0
    assert found.H[0] == pytest.approx(-1j * 10 ** (1 / 20))
    assert "coherence" in found.notes[0]


def test_a_long_table_is_read(tmp_path: Path) -> None:
    f = np.linspace(1.0, 20000.0, 200_000)
    assert len(table(tmp_path / "a.csv", f, rc_lowpass(f)).frequency) == 200_000


HEAD = "frequency_hz,gain_db,phase_deg\n"
GOOD = "".join(f"{100 * k},0,0\n" for k in range(1, 13))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "this table is empty"),
        (GOOD, "names its columns"),
        ("frequency;gain_db;phase_deg\n1;2;3\n", "parted by commas"),
        ("frequency_hz\tgain_db\tphase_deg\n", "parted by commas"),
        ("frequenzy_hz,gain_db,phase_deg\n" + GOOD, 'did you mean "frequency_hz"'),
        ("frequency_hz,gain_db,gain_db\n" + GOOD, "gain_db is there twice"),
        ("frequency_hz,gain_db\n" + GOOD, "no column phase_deg"),
        (HEAD + GOOD[:24], "too few rows"),
        (HEAD + "100,0,0\n90,0,0\n", "line 3: the frequencies of a table rise"),
        (HEAD + "100,0,0\n100,0,0\n", "line 3: the frequencies of a table rise"),
        (HEAD + "100,nan,0\n", "line 2: gain_db is not a finite number"),
        (HEAD + "100,0,inf\n", "line 2: phase_deg is not a finite number"),
        (HEAD + "100,x,0\n", "line 2: gain_db is no number"),
        (HEAD + "1_00,0,0\n", "line 2: frequency_hz is not a finite number"),
        (HEAD + "-5,0,0\n", "line 2: frequency_hz is out of its range"),
        (HEAD + "100,900,0\n", "line 2: gain_db is out of its range"),
        (HEAD + "100,0\n", "line 2: this line is not whole"),
        (HEAD + "100,0,0,1,5,2\n", "decimal comma"),
        (HEAD + "100,5;0,1;0,2\n", "decimal comma or semicolons"),
        (HEAD + '"100,0,0\n', "cannot be taken apart"),
        (HEAD + "1" * 3000 + "\n", "too long"),
    ],
)
def test_what_is_wrong_with_a_table_is_said(tmp_path: Path, text: str, words: str) -> None:
    (tmp_path / "a.csv").write_text(text)
    with pytest.raises(SigsimError) as caught:
        hear(tmp_path / "a.csv")
    assert words in str(caught.value)
    assert str(caught.value).startswith(str(tmp_path / "a.csv"))


def test_a_file_that_is_none_is_said(tmp_path: Path) -> None:
    (tmp_path / "loop.csv").write_bytes(b"\xff\xfe\x00\x01")
    with pytest.raises(SigsimError, match="no table of text"):
        hear(tmp_path / "loop.csv")
    with pytest.raises(SigsimError, match=r'did you mean "loop\.csv"'):
        hear(tmp_path / "lop.csv")
    (tmp_path / "d.csv").mkdir()
    with pytest.raises(SigsimError, match="no ordinary file"):
        hear(tmp_path / "d.csv")


def recording(H: np.ndarray, rate: int = 48000, grid: np.ndarray = GRID) -> Heard:
    return Heard("r.wav", grid, H, np.full(len(grid), 1e-3), third=0.002, rate=rate)


def test_two_recordings_are_divided() -> None:
    own = 1 / (1 - 20j / GRID)
    below = recording(own)
    above = Heard("b.wav", GRID, own * rc_lowpass(GRID), np.full(200, 2e-3), rate=48000)
    found = ratio(above, below)
    assert pytest.approx(rc_lowpass(GRID), rel=1e-12) == found.T
    # Independent errors add by their squares.
    assert found.sigma == pytest.approx(np.full(200, np.sqrt(5) * 1e-3))
    assert (found.delayed, found.third, found.name) == (True, 0.002, "b.wav")


def test_what_either_leaves_out_is_left_out() -> None:
    one = Heard("a", GRID, rc_lowpass(GRID), left_out=((45.0, 55.0),), rate=48000)
    other = Heard("b", GRID, rc_lowpass(GRID), left_out=((50.0, 60.0), (100.0, 100.1)), rate=48000)
    kept = ratio(one, other).frequency
    assert not ((kept >= 45.0) & (kept <= 60.0)).any()
    assert len(kept) < len(GRID)


def test_a_table_and_a_recording_meet_at_the_points_of_the_table(tmp_path: Path) -> None:
    f = np.geomspace(10.0, 15000.0, 60)
    late = np.exp(-2j * np.pi * f * 2e-5)
    found = ratio(table(tmp_path / "a.csv", f, rc_lowpass(f) * late), recording(np.ones(200) + 0j))
    assert found.frequency == pytest.approx(f[f >= 20.0])
    assert pytest.approx((rc_lowpass(f) * late)[f >= 20.0], rel=1e-9) == found.T
    turned = ratio(recording(rc_lowpass(GRID)), table(tmp_path / "b.csv", f, late))
    # A straight line between points a thirtieth of an octave apart.
    assert turned.T * late[f >= 20.0] == pytest.approx(rc_lowpass(f)[f >= 20.0], rel=1e-3)


def test_two_tables_meet_at_the_points_of_the_coarser(tmp_path: Path) -> None:
    f = np.geomspace(100.0, 10000.0, 30)
    fine = table(tmp_path / "a.csv", GRID, rc_lowpass(GRID))
    coarse = table(tmp_path / "b.csv", f, np.ones(30) + 0j)
    assert ratio(fine, coarse).frequency == pytest.approx(f)
    assert pytest.approx(1 / rc_lowpass(f), rel=1e-3) == ratio(coarse, fine).T


def test_what_cannot_be_divided_is_said(tmp_path: Path) -> None:
    one = recording(rc_lowpass(GRID))
    with pytest.raises(SigsimError, match="different rates"):
        ratio(one, recording(rc_lowpass(GRID), 44100))
    with pytest.raises(SigsimError, match="different sweeps"):
        ratio(one, recording(rc_lowpass(GRID[1:]), grid=GRID[1:]))
    f = np.geomspace(19000.0, 30000.0, 20)
    apart = table(tmp_path / "a.csv", f, rc_lowpass(f))
    with pytest.raises(SigsimError, match="too few frequencies in common"):
        ratio(one, apart)
    with pytest.raises(SigsimError, match="a recording alone"):
        alone(one)

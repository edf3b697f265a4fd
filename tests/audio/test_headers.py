"""Recordings whose header says what is not so, and what a long filter costs.

The layout of a WAV file: Multimedia Programming Interface and Data Specifications 1.0 (1991).
"""

from __future__ import annotations

import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile
from helpers.refusals import refused

SOUND = bytes(range(256)) * 40
BOARD = """
[instrument]
type = "active"
output_resistance = "100"
output_capacitor = "10 nF"
[destination]
input_resistance = "1 MΩ"
[cables.lead]
capacitance = "100 pF/m"
[[chain]]
cable = "lead"
length = "3 m"
[[chain]]
stage = "slow"
input_resistance = "10 MΩ"
output_resistance = "1k"
output_capacitor = "100 µF"
always_on = true
[[chain]]
stage = "coil"
kind = "transformer"
primary_resistance = "0.1"
primary_inductance = "1 H"
ratio = 1
secondary_resistance = "0.1"
"""


def wav(
    *,
    whole: int | None = None,
    sound: int | None = None,
    frame: int = 2,
    bits: int = 16,
    body: bytes = SOUND,
    order: str = "<",
    before: bytes = b"",
) -> bytes:
    """Return a WAV file of one channel at 48 kHz, with other sizes in its header where given."""
    form = b"fmt " + struct.pack(f"{order}IHHIIHH", 16, 1, 1, 48000, 48000 * frame, frame, bits)
    size = len(body) if sound is None else sound
    data = b"data" + struct.pack(f"{order}I", size) + body
    rest = b"WAVE" + before + form + data
    claimed = len(rest) if whole is None else whole
    return (b"RIFF" if order == "<" else b"RIFX") + struct.pack(f"{order}I", claimed) + rest


BAD = {
    "four gigabytes": (wav(whole=0xFFFFFFFF, sound=0xFFFFFFDB), "4,294,967,303 bytes"),
    "four gigabytes of sound": (wav(sound=0xFFFFFF00), "ends before its header says"),
    "four gigabytes in all": (wav(whole=0xFFFFFFF0), "ends before its header says"),
    "the other byte order": (wav(sound=1 << 30, order=">"), "ends before its header says"),
    "cut off": (wav()[:5000], "5,000 of"),
    "cut off by a byte": (wav()[:-1], "ends before its header says"),
    "cut off in the header": (wav()[:30], "not an audio file that can be read"),
    "half a sample": (wav(body=SOUND + b"x"), "in the middle of a sample"),
    "another frame": (wav(frame=3), "contradicts itself"),
    "no sound": (wav(sound=0), "empty"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_header_that_lies(name: str, tmp_path: Path) -> None:
    content, words = BAD[name]
    take, out, board = tmp_path / "in.wav", tmp_path / "out.wav", tmp_path / "b.toml"
    take.write_bytes(content)
    board.write_text(BOARD, encoding="utf-8")
    message = refused("listen", board, take, "-o", out)
    assert words in message
    assert str(take) in message
    assert not out.exists()


@pytest.mark.parametrize("content", [wav(), wav(order=">"), wav(before=b"note\x03\0\0\0abc\0")])
def test_a_header_that_is_right(content: bytes, tmp_path: Path) -> None:
    from sigsim.audio.files import open_recording

    take = tmp_path / "in.wav"
    take.write_bytes(content)
    assert open_recording(take).frames == len(SOUND) // 2


def test_a_recording_is_never_its_own_output(tmp_path: Path) -> None:
    take, board = tmp_path / "in.wav", tmp_path / "b.toml"
    take.write_bytes(wav())
    board.write_text(BOARD, encoding="utf-8")
    (tmp_path / "l.wav").symlink_to("in.wav")
    for out in (take, tmp_path / "l.wav"):
        assert "the input itself" in refused("listen", board, take, "-o", out, "--force")
    assert take.read_bytes() == wav()


# As the kernel counts it from the program's start: what a child reports at its end begins with the
# size of the process that it was split off from.
PEAK = """
import sys
from pathlib import Path
from sigsim.__main__ import main
sys.argv = ["sigsim", "listen", "b.toml", "in.wav", "-o", "out.wav"]
try:
    main()
finally:
    lines = Path("/proc/self/status").read_text().splitlines()
    print(next(line for line in lines if line.startswith("VmHWM")), file=sys.stderr)
"""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="nobody counts the memory")
def test_a_filter_that_rings_long_stays_within_500_megabytes(tmp_path: Path) -> None:
    """Our own limit; without blocks this circuit took 730 MB for a tenth of a second."""
    sound = np.zeros((19_200, 8))
    sound[100] = 0.5
    soundfile.write(tmp_path / "in.wav", sound, 192_000, subtype="PCM_24")
    (tmp_path / "b.toml").write_text(BOARD, encoding="utf-8")
    run = subprocess.run(
        [sys.executable, "-c", PEAK], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr
    assert int(run.stderr.split()[-2]) * 1024 < 500e6

"""A real sound server of its own, with two sinks that nobody hears, for the length of a test."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from helpers.program import ROOT

SERVER = "pulseaudio"
RATE = 48_000
# Of the filter between the sinks: y[n] = x[n] + POLE·(y[n-1] - x[n]).
POLE = 0.7
_PATIENCE = 20.0
# Until the filter has started [s]; a recording that comes sooner is silent, and made once more.
_SETTLED = 3.0
_SINK = f"rate={RATE} format=float32le channels=1"
_SAMPLES = ("--raw", "--format=float32le", "--channels=1", f"--rate={RATE}")
# A process of its own: what is played into one sink is filtered and played into the other. What
# waits at the start is thrown away, or everything would stay as late as that.
_FILTER = f"""
import sys
import time
import numpy
from scipy.signal import lfilter

state, begins = [0.0], time.monotonic() + 1.5
while came := sys.stdin.buffer.read(4 * 512):
    if time.monotonic() < begins:
        continue
    sound = numpy.frombuffer(came, dtype="<f4")
    sound, state = lfilter([1 - {POLE}], [1, -{POLE}], sound, zi=state)
    sys.stdout.buffer.write(sound.astype("<f4").tobytes())
    sys.stdout.buffer.flush()
"""


def missing() -> str:
    """Return why no sound server can be tried here, empty if one can."""
    if shutil.which(SERVER) is None:
        return "no pulseaudio here"
    try:
        import sounddevice  # noqa: F401
    except (ImportError, OSError) as error:
        return f"no sounddevice here: {error}"
    return ""


@dataclass(frozen=True)
class Server:
    """A sound server that runs.

    Attributes
    ----------
    folder : of its own
    """

    folder: Path

    def around(self, sink: str, source: str) -> dict[str, str]:
        """Return the environment of a process that plays into one sink and hears another."""
        return os.environ | {
            "XDG_RUNTIME_DIR": str(self.folder),
            "HOME": str(self.folder),
            "PULSE_SERVER": f"unix:{self.folder}/s",
            "PULSE_SINK": sink,
            "PULSE_SOURCE": f"{source}.monitor",
            "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")]),
        }

    @contextmanager
    def filtering(self) -> Iterator[None]:
        """Have what is played into `out` filtered into `back`."""
        around = self.around("back", "out")
        commands = (
            ["parec", "--device=out.monitor", "--latency-msec=100", *_SAMPLES],
            [sys.executable, "-c", _FILTER],
            ["pacat", "--device=back", "--latency-msec=400", *_SAMPLES],
        )
        pipeline: list[subprocess.Popen[bytes]] = []
        try:
            for command in commands:
                before = pipeline[-1].stdout if pipeline else subprocess.DEVNULL
                pipeline.append(
                    subprocess.Popen(
                        command,
                        env=around,
                        stdin=before,
                        stdout=subprocess.PIPE,
                        stderr=subprocess.DEVNULL,
                    )
                )
            time.sleep(_SETTLED)
            yield
        finally:
            for process in pipeline:
                _end(process)


@contextmanager
def sound_server() -> Iterator[Server]:
    """Run a sound server until the block ends."""
    # The name of a socket may not be long.
    with tempfile.TemporaryDirectory(prefix="ss-") as name:
        server = Server(Path(name))
        modules = (
            f"module-native-protocol-unix socket={name}/s auth-anonymous=1",
            f"module-null-sink sink_name=out {_SINK}",
            f"module-null-sink sink_name=back {_SINK}",
        )
        loads = [word for module in modules for word in ("-L", module)]
        process = subprocess.Popen(
            [SERVER, "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no",
             "--high-priority=no", "--realtime=no", *loads],
            env=server.around("out", "out"), stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            until = time.monotonic() + _PATIENCE
            while not (server.folder / "s").exists():
                assert process.poll() is None, "the sound server does not start"
                assert time.monotonic() < until, "the sound server takes too long"
                time.sleep(0.05)
            yield server
        finally:
            _end(process)


def _end(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    try:
        process.communicate(timeout=5)
    except subprocess.TimeoutExpired:
        process.kill()
        process.communicate()

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
_SINK = f"rate={RATE} format=float32le channels=1"
# A process of its own: what is played into one sink is filtered and played into the other.
_FILTER = f"""
import sys
import sounddevice
from scipy.signal import lfilter

state = [0.0]

def turn(came, goes, frames, time, flags):
    goes[:, 0], state[:] = lfilter([1 - {POLE}], [1, -{POLE}], came[:, 0], zi=state)

with sounddevice.Stream(samplerate={RATE}, channels=1, latency=0.3, callback=turn):
    print("!", flush=True)
    sys.stdin.read()
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
        process = subprocess.Popen(
            [sys.executable, "-c", _FILTER], env=self.around("back", "out"),
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            assert process.stdout is not None
            assert process.stdout.read(1) == b"!", "the filter does not start"
            yield
        finally:
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

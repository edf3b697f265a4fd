"""Running the ngspice program in a folder of its own, without anyone's start-up files."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Final

from sigsim.errors import SigsimError, quote
from sigsim.spice.raw import read_raw

if TYPE_CHECKING:
    from sigsim.spice.raw import Plot

INSTALL: Final = (
    "install it (Debian and Ubuntu: apt install ngspice; macOS: brew install ngspice; Windows: "
    "ngspice.sourceforge.io), or say where it is with --ngspice PATH"
)
# Settings of a user's own that would be read besides -n, such as another set of start-up scripts.
_UNWANTED: Final = ("SPICE", "NGSPICE")
_VERSION: Final = re.compile(r"ngspice-?\s?[\w.+-]*\d[\w.+-]*", re.IGNORECASE)


@dataclass(frozen=True)
class Ngspice:
    """The program.

    Attributes
    ----------
    program : its path
    timeout : after how many seconds a run is ended
    """

    program: str
    timeout: float

    @cached_property
    def version(self) -> str:
        """What the program calls itself."""
        with _private_folder() as folder:
            shown = self._run(["--version"], folder)
        found = _VERSION.search(shown)
        return found[0].lower() if found else Path(self.program).name

    def run(self, text: str) -> list[Plot]:
        """Return the results of all analyses of a netlist."""
        with _private_folder() as folder:
            (folder / "circuit.cir").write_text(text, encoding="utf-8", newline="\n")
            said = self._run(["-n", "-b", "-r", "results.raw", "circuit.cir"], folder)
            results = folder / "results.raw"
            if not results.is_file():
                raise SigsimError(f"the simulator failed: {_reason(said)}", where=self._where)
            return read_raw(results.read_bytes())

    @property
    def _where(self) -> str:
        return quote(self.program).strip('"')

    def _run(self, arguments: list[str], folder: Path) -> str:
        """Run the program and return what it said, on either stream."""
        log = folder / "log.txt"
        with log.open("wb") as said:
            try:
                process = subprocess.Popen(
                    [self.program, *arguments],
                    cwd=folder,
                    env=_environment(folder),
                    stdin=subprocess.DEVNULL,
                    stdout=said,
                    stderr=subprocess.STDOUT,
                    start_new_session=True,
                )
            except (OSError, ValueError) as error:
                reason = getattr(error, "strerror", None) or str(error)
                raise SigsimError(
                    f"this program cannot be run: {reason}", where=self._where, accepted=INSTALL
                ) from None
            try:
                process.wait(self.timeout)
            except subprocess.TimeoutExpired:
                raise SigsimError(
                    f"the simulator was ended: it took longer than {self.timeout:g} s",
                    where=self._where,
                    accepted="a longer --timeout, if it is only slow",
                ) from None
            finally:
                _end(process)
        with log.open("rb") as said:
            return said.read(1_000_000).decode("utf-8", "replace")


def engine(program: str | None, timeout: float) -> Ngspice:
    """Return the program, found on the PATH or where it is said to be.

    Raises
    ------
    SigsimError : it is not there
    """
    try:
        found = shutil.which(program or "ngspice")
    except ValueError:  # a NUL character
        found = None
    if found is None and program is not None:
        raise SigsimError(
            "there is no such program", where="--ngspice", found=quote(program), accepted=INSTALL
        )
    if found is None:
        raise SigsimError(f"ngspice is not installed, or not on the PATH; {INSTALL}")
    return Ngspice(str(Path(found).absolute()), timeout)


@contextlib.contextmanager
def _private_folder() -> Iterator[Path]:
    """Give a folder that nobody else can read and that is gone afterwards."""
    try:
        folder = tempfile.TemporaryDirectory(prefix="sigsim-", ignore_cleanup_errors=True)
    except OSError as error:
        raise SigsimError(
            f"there is no place for temporary files: {error.strerror}", where=tempfile.tempdir or ""
        ) from None
    with folder as name:
        yield Path(name)


def _environment(folder: Path) -> dict[str, str]:
    kept = {k: v for k, v in os.environ.items() if not k.upper().startswith(_UNWANTED)}
    return kept | {"HOME": str(folder), "USERPROFILE": str(folder), "LC_ALL": "C"}


def _end(process: subprocess.Popen[bytes]) -> None:
    """End a program with all it has started."""
    if process.poll() is None:
        if hasattr(os, "killpg"):
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(process.pid, signal.SIGKILL)
        process.kill()
        process.wait()


def _reason(said: str) -> str:
    """Return the first line of a program's words that names an error."""
    spoken = [line.strip() for line in said.splitlines() if line.strip()]
    faults = [line for line in spoken if re.search("error|singular|fail", line, re.IGNORECASE)]
    return quote((faults or spoken[-1:] or ["it said nothing"])[0])

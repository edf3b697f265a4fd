"""Running ngspice as a library within this process, through PySpice."""

from __future__ import annotations

import contextlib
import logging
import os
import tempfile
import threading
import warnings
from collections.abc import Iterator
from ctypes.util import find_library
from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.errors import SigsimError, quote
from sigsim.spice.raw import Plot

if TYPE_CHECKING:
    from numpy.typing import NDArray

INSTALL: Final = (
    "install it with: pip install 'sigsim[spice]', and the library libngspice (Debian and Ubuntu: "
    "apt install libngspice0; macOS: brew install libngspice)"
)
# The analyses by the first letters of the name that the library gives their results.
_PLOTS: Final = {"ac": "AC Analysis", "noise": "Noise Spectral Density Curves"}


class PySpice:
    """The library.

    Parameters
    ----------
    timeout : after how many seconds a run is ended
    """

    def __init__(self, timeout: float) -> None:
        self.timeout = timeout
        self._library = _load()

    @property
    def version(self) -> str:
        """The version of the library."""
        return f"libngspice-{self._library.ngspice_version} (PySpice)"

    def run(self, text: str) -> list[Plot]:
        """Return the results of all analyses of a netlist."""
        library = self._library
        before = set(library.plot_names)
        try:
            library.load_circuit(text)
            self._simulate()
            made = [name for name in library.plot_names if name not in before]
            plots = [self._plot(name) for name in reversed(made)]
        except SigsimError:
            raise  # it may still be at work, so that nothing is tidied up
        except Exception as error:  # the library raises NameError for everything
            said = quote(str(error) or library.stderr)
            self._tidy()
            raise SigsimError(f"the simulator failed: {said}", where="pyspice") from None
        self._tidy()
        return [plot for plot in plots if plot.vectors]

    def _tidy(self) -> None:
        """Forget the circuit and its results."""
        with contextlib.suppress(Exception):
            self._library.destroy()
            self._library.remove_circuit()

    def _simulate(self) -> None:
        """Run in a thread, so that waiting can end; the library cannot be ended from outside."""
        failed: list[Exception] = []

        def run() -> None:
            try:
                self._library.run()
            except Exception as error:  # handed over to the thread that waits
                failed.append(error)

        thread = threading.Thread(target=run, daemon=True)
        thread.start()
        thread.join(self.timeout)
        if thread.is_alive():
            raise SigsimError(
                f"the simulator was left alone: it took longer than {self.timeout:g} s",
                where="pyspice",
                accepted="a longer --timeout, if it is only slow",
            )
        if failed:
            raise failed[0]

    def _plot(self, name: str) -> Plot:
        shown = next((full for short, full in _PLOTS.items() if name.startswith(short)), name)
        vectors = self._library.plot(None, name)
        return Plot(shown, {_name(key): _numbers(vectors[key]) for key in vectors})


def engine(program: str | None, timeout: float) -> PySpice:
    """Return the library; `program` must not be given.

    Raises
    ------
    SigsimError : PySpice or libngspice is not installed
    """
    if program is not None:
        raise SigsimError(
            "the in-process engine takes no program", where="--ngspice", found=quote(program)
        )
    return PySpice(timeout)


def _load() -> Any:
    # The library prints a warning for every version of ngspice newer than itself.
    logging.getLogger("PySpice").setLevel(logging.CRITICAL + 1)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            module = import_module("PySpice.Spice.NgSpice.Shared")
    except ImportError:
        raise SigsimError(f"PySpice is not installed; {INSTALL}") from None
    # It looks for libngspice.so, which only development packages have; the system knows better.
    if "NGSPICE_LIBRARY_PATH" not in os.environ and (found := find_library("ngspice")):
        module.NgSpiceShared.LIBRARY_PATH = found
    try:
        with _away_from_home():
            return module.NgSpiceShared.new_instance()
    except Exception as error:
        raise SigsimError(f"libngspice cannot be loaded: {quote(str(error))}; {INSTALL}") from None


@contextlib.contextmanager
def _away_from_home() -> Iterator[None]:
    """Hide start-up files from the library, which looks for them here and in the home folder."""
    here, home = os.getcwd(), os.environ.get("HOME")
    with tempfile.TemporaryDirectory(prefix="sigsim-") as folder:
        os.environ["HOME"] = folder
        os.chdir(folder)
        try:
            yield
        finally:
            os.chdir(here)
            if home is None:
                del os.environ["HOME"]
            else:
                os.environ["HOME"] = home


def _name(key: str) -> str:
    return "v(out)" if key.lower() == "out" else key.lower()


def _numbers(vector: Any) -> NDArray[np.generic]:
    values: NDArray[np.generic] = np.array(vector._data)
    return values

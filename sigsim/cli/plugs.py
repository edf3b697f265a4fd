"""`sigsim measure … --live`: one plug at a time, each recorded and heard, the first once more."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from sigsim.cli.interview import is_terminal
from sigsim.cli.live import INTERFACE, Desk, ask, tell, wait
from sigsim.cli.output import check_writable, together, whole_file
from sigsim.cli.said import refuse_idle, refuse_together
from sigsim.cli.wiring import WIRING, option
from sigsim.errors import OutputError, SigsimError, shown_path
from sigsim.units import render

if TYPE_CHECKING:
    from sigsim.audio.interface import Take
    from sigsim.measure.known import Across, Known
    from sigsim.measure.recipes import Way
    from sigsim.measure.response import Heard
    from sigsim.measure.result import Measured

_SEVERAL: Final = "loaded"
_AGAIN: Final = "again"
_SKIP: Final = "s"


@dataclass(frozen=True)
class Plug:
    """One recording of a series.

    Attributes
    ----------
    role : of the recording
    name : of its file, without ending
    wiring : what is plugged, in words
    is_optional : whether it may be left out
    """

    role: str
    name: str
    wiring: str
    is_optional: bool = False

    @property
    def file(self) -> str:
        """The name of its file."""
        return f"{self.name}.wav"


def refuse_idle_options(live: bool, recordings: Mapping[str, tuple[str, ...]]) -> None:
    """Refuse what does nothing without --live, and recordings beside it.

    Parameters
    ----------
    live : whether that was given
    recordings : the files by role

    Raises
    ------
    SigsimError : there is one of them
    """
    for name in ("keep", *INTERFACE):
        refuse_idle(name, "--live", has_needed=live)
    for role, files in recordings.items():
        refuse_together(
            {"--live": live, option(role): bool(files)},
            "what is recorded now is not in a file already",
        )


def planned(recipe: str, known: Known) -> tuple[Way, tuple[Plug, ...]]:
    """Return in which way a thing is measured, and its recordings in order, the first once more.

    Parameters
    ----------
    recipe : its name
    known : what the user said; a load or a probe asks for the way that has them
    """
    from sigsim.measure.recipes import RECIPES

    ways = RECIPES[recipe].ways
    by_coil = known.probe is not None or known.loads
    way = next((way for way in ways if not by_coil or "loads" in way.options), ways[0])
    words = WIRING[recipe]
    plugs = [
        plug
        for role in way.roles
        for plug in (
            _loaded(words[role], known.loads)
            if role == _SEVERAL
            else [Plug(role, role, words[role], role in way.optional)]
        )
    ]
    again = Plug(way.first, f"{way.first}-{_AGAIN}", f"as at first: {words[way.first]}")
    return way, (*plugs, again)


def _loaded(wiring: str, loads: Sequence[Across]) -> list[Plug]:
    if len(loads) < 2:
        return [Plug(_SEVERAL, _SEVERAL, wiring)]
    return [
        Plug(_SEVERAL, f"{_SEVERAL}-{number}", f"{wiring}; this time {_part(load)}")
        for number, load in enumerate(loads, 1)
    ]


def _part(load: Across) -> str:
    if load.resistance is not None:
        return render(load.resistance.value, "Ω")
    return render(load.capacitance.value, "F") if load.capacitance is not None else "nothing"


def files_of(plugs: Sequence[Plug]) -> dict[str, tuple[str, ...]]:
    """Return the recordings of a series by role, as `measure` takes them."""
    roles = dict.fromkeys(plug.role for plug in plugs)
    return {role: tuple(p.file for p in plugs[:-1] if p.role == role) for role in roles}


@contextmanager
def kept_in(folder: str | None, plugs: Sequence[Plug], force: bool) -> Iterator[Path]:
    """Give the folder of the recordings: one that was asked for, or one that is gone afterwards.

    Parameters
    ----------
    folder : made if it is not there; None for one that does not last
    plugs : what will be recorded
    force : whether files that exist may be overwritten

    Raises
    ------
    OutputError : something is in the way
    """
    if folder is None:
        from tempfile import TemporaryDirectory  # not for those who have recordings already

        with TemporaryDirectory(prefix="sigsim-") as place:
            yield Path(place)
        return
    where = Path(folder)
    made = not where.exists()
    try:
        where.mkdir(exist_ok=True)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        what = f"recordings cannot be kept in this folder: {reason}"
        raise OutputError(what, where=f"--keep {shown_path(folder)}") from None
    try:
        for plug in plugs:
            check_writable(where / plug.file, force)
        yield where
    finally:
        if made:
            with suppress(OSError):  # something has been kept in it
                where.rmdir()


def measured_live(
    recipe: str,
    plugs: Sequence[Plug],
    known: Known,
    desk: Desk,
    folder: Path,
    keeps: bool,
    force: bool,
) -> Measured:
    """Record one plug after another, and return what the recipe finds.

    Parameters
    ----------
    recipe : its name
    plugs : the recordings, the last of them the first once more
    known : what the user said
    desk : at the interface
    folder : of the recordings
    keeps : whether they stay there
    force : whether files that exist may be overwritten

    Raises
    ------
    SigsimError : a recording is of no use, or something moved in between
    """
    from sigsim.measure.recipes.measure import found_in
    from sigsim.measure.unmoved import check_unmoved

    series = Series(desk, folder, keeps, force)
    heard: dict[str, list[Heard]] = {}
    for number, plug in enumerate(plugs, 1):
        if plug.is_optional and not is_terminal():
            continue
        one = series.heard(plug, f"{number} of {len(plugs)}", is_first=number == 1)
        if one is None:
            continue
        if number == len(plugs):
            check_unmoved(heard[plug.role][0], one)
        else:
            heard.setdefault(plug.role, []).append(one)
    found = found_in(recipe, heard, known)
    return found if keeps else replace(found, files={})


@dataclass(frozen=True)
class Series:
    """Recordings one after another.

    Attributes
    ----------
    desk : at the interface
    folder : where they are put
    keeps : whether they stay there
    force : whether files that exist may be overwritten
    """

    desk: Desk
    folder: Path
    keeps: bool
    force: bool

    def heard(self, plug: Plug, place: str, *, is_first: bool) -> Heard | None:
        """Ask for a plug, record it and return what it holds; None if it was left out.

        Parameters
        ----------
        plug : what is recorded
        place : which of how many
        is_first : whether the quiet piece comes before it

        Raises
        ------
        SigsimError : the recording is of no use
        """
        from sigsim.audio.interface import ClippingError

        said = f"{place}, {plug.name.replace('-', ' ')}: {plug.wiring}"
        skip = f", or {_SKIP} and Enter to leave it out" if plug.is_optional else ""
        if not is_terminal():
            tell(f"{said}.")
        elif wait(f"{said}. Then Enter{skip}:") == _SKIP and plug.is_optional:
            return None
        if is_first:
            self.desk.get_ready()
        force = self.force
        while True:
            try:
                return self._recorded(plug, force)
            except ClippingError as error:
                # Later ones cannot be turned down alone.
                if not (is_first and self._once_more(error)):
                    raise
                self.desk.get_ready()
            except OutputError:
                raise
            except SigsimError as error:
                if not self._once_more(error):
                    raise
            force = True  # what this very series has just written

    @staticmethod
    def _once_more(error: SigsimError) -> bool:
        """Say what is wrong, and return whether it is to be recorded once more."""
        if not is_terminal():
            return False
        click.echo(f"sigsim: {error}", err=True)
        return ask("Enter to record this once more, or q and Enter to end:") == ""

    def _recorded(self, plug: Plug, force: bool) -> Heard:
        from sigsim.measure.heard import hear

        where = self.folder / plug.file
        name = os.fspath(where) if self.keeps else f"the recording {option(plug.role)}"
        take = self.desk.record(shown_path(name))
        _write(take, where, force)
        is_loop = plug.role == "loop"
        try:
            heard = hear(where, self.desk.signal.played, loop=is_loop)
        except SigsimError as error:
            raise error.at(shown_path(name)) from None
        return replace(heard, name=name)


def _write(take: Take, where: Path, force: bool) -> None:
    """Write one recording at once: it is kept also where a later one fails."""
    from sigsim.audio.files import write_wav

    with together(), whole_file(where, force) as part:
        write_wav(part, take.samples[:, None], take.rate)

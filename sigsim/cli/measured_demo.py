"""`sigsim demo --measure`: recordings of a virtual bench, and the recipes run on them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Final

from sigsim.cli.output import check_writable, whole_file
from sigsim.cli.progress import Progress

if TYPE_CHECKING:
    from sigsim.measure.invented import Take
    from sigsim.measure.result import Measured
    from sigsim.measure.verdict import Verified

PREFIX: Final = "sigsim-demo-"
BOARD: Final = f"{PREFIX}board.toml"
_ROLES: Final = (
    "loop", "before", "cable", "bass-before", "bass", "bass-half", "without", "through",
)  # fmt: skip


def measured_demo(force: bool) -> None:
    """Write the sweep, the board and the recordings, measure, and print what was found."""
    from sigsim.measure.invented import PLAN, interface, takes
    from sigsim.show.render.terminal import print_document, show

    names = {role: Path(f"{PREFIX}{role}.wav") for role in ("sweep", *_ROLES)}
    for path in (Path(BOARD), *names.values()):
        check_writable(path, force)
    # Recordings, then what is heard in them: three with each of two recipes, two for the board.
    progress = Progress(len(_ROLES) + _HEARD, "recordings (made, then measured)")
    try:
        with ExitStack() as stack:
            parts = {role: stack.enter_context(whole_file(p, force)) for role, p in names.items()}
            stack.enter_context(whole_file(BOARD, force)).write_text(PLAN, encoding="utf-8")
            _record(list(takes(interface())), parts, progress)
            document = _found(parts, progress)
    finally:
        progress.finish()
    show(f"Written: {names['sweep']}, {len(_ROLES)} recordings of it, {BOARD}.", "")
    print_document(document)


_HEARD: Final = 9


def _record(takes: list[Take], parts: Mapping[str, Path], progress: Callable[[int], None]) -> None:
    from sigsim.audio.files import write_wav
    from sigsim.measure.invented import interface
    from sigsim.measure.played import Sweep

    sweep, desk = Sweep(), interface()
    played = sweep.samples()
    write_wav(parts["sweep"], played[:, None], sweep.rate)
    for take in takes:
        sound = take.level * desk.record(played, sweep.rate, take.response)
        write_wav(parts[take.role], sound, sweep.rate)
        progress(1)

"""What `listen` and `demo --listen` share: the reference, the set of files, the work itself."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from sigsim.cli.options import read_with_warnings
from sigsim.cli.output import check_writable, whole_file
from sigsim.cli.progress import Progress
from sigsim.errors import SigsimError, nearest, quote

if TYPE_CHECKING:
    from sigsim.audio.audition import Levels
    from sigsim.audio.files import Recording
    from sigsim.audio.filter import Filter
    from sigsim.audio.report import Listening
    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.cli.drawing import Save
    from sigsim.metrics import Measurable, Reference

OF_THE_BOARD: Final[tuple[Reference, ...]] = ("direct", "ideal", "bare")


@dataclass(frozen=True)
class Wish:
    """What is to be heard.

    Attributes
    ----------
    board, state : the board, and which of its states
    through : what the recording went through, as `--recorded-through` gives it
    match : whether both are to be equally loud
    """

    board: Board
    state: State
    through: str = "direct"
    match: bool = False


def listen(
    wish: Wish,
    recording: Recording,
    names: Mapping[str, Path],
    force: bool,
    save: Save | None = None,
) -> Listening:
    """Send a recording through a chain into files, all of them or none.

    Parameters
    ----------
    wish : what is to be heard
    recording : the input
    names : the files, by role
    force : whether existing files may be overwritten
    save : draws into a file, before the others take their places
    """
    from sigsim.audio.audition import measure, write
    from sigsim.audio.calm import suited_filter
    from sigsim.audio.files import container_for
    from sigsim.audio.report import Listening
    from sigsim.audio.treble import EDGE
    from sigsim.decide.listen import Change, assess_change
    from sigsim.show.plots.listen import drawing
    from sigsim.states.response import Response, Solver, grid

    for path in names.values():
        container_for(path, recording)
        check_writable(path, force)
    (words, title), reference = recorded_through(wish)
    state = Response(Solver(wish.board), wish.state.on, grid(), "direct")
    change = Change(state, reference)
    change.check_reference(EDGE * recording.rate)
    passes = 3 if wish.match else 2
    progress = Progress(recording.frames, "samples (measuring, then writing)")

    def measured(found: Filter) -> Levels:
        progress.total += (passes - 1) * recording.frames
        return measure(recording, found, names, progress, match=wish.match)

    try:
        found, levels = suited_filter(change.ratio, recording.rate, measured, matched=wish.match)
        heard = Listening(
            wish.board,
            wish.state,
            words,
            title,
            recording,
            names,
            change,
            assess_change(change),
            found,
            levels,
        )
        with whole_files(names, force) as parts:
            write(recording, found, levels, parts, names, progress)
            if save is not None:
                save(drawing(heard))
    finally:
        progress.finish()
    return heard


@contextmanager
def whole_files(names: Mapping[str, Path], force: bool) -> Iterator[dict[str, Path]]:
    """Give a temporary file for each name; they take their places all together or not at all."""
    with ExitStack() as stack:
        yield {role: stack.enter_context(whole_file(path, force)) for role, path in names.items()}


def recorded_through(wish: Wish) -> tuple[tuple[str, str], Measurable]:
    """Return what a recording went through, in words for data and for a reader, and its response.

    Raises
    ------
    SigsimError : it is no reference and no board, or the board has no such scene
    """
    from sigsim.show.ends import where
    from sigsim.states.response import Response, Solver, grid

    for reference in OF_THE_BOARD:
        if wish.through == reference:
            r = Response(Solver(wish.board), wish.state.on, grid(), reference)
            return (reference, reference), r.reference
    file, scene = _split(wish.through)
    board = read_with_warnings(file, as_written=True)
    state = board.scene(scene) if scene is not None else board.state(())
    end = f", {where(board)}" if where(board) else ""
    words = f"{state.name}, {file.name}{end}", f"{state.title}, {file.name}{end}"
    return words, Response(Solver(board), state.on, grid(), "direct")


def _split(text: str) -> tuple[Path, str | None]:
    """Split `BOARD2[:scene]`; both a path and a scene may themselves hold colons."""
    if Path(text).is_file():
        return Path(text), None
    colons = [i for i, letter in enumerate(text) if letter == ":"]
    for i in reversed(colons):
        if Path(text[:i]).is_file():
            return Path(text[:i]), text[i + 1 :]
    raise SigsimError(
        "it is not clear what the recording went through",
        where="--recorded-through",
        found=quote(text),
        accepted=f"{', '.join(OF_THE_BOARD)}, or a board's file, with or without :scene",
        nearest=nearest(text, OF_THE_BOARD, 0.7),
    )

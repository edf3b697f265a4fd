"""The cables whose length a file leaves to its layout, and which that cannot give."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim.board.laying import Laying, Taken
from sigsim.errors import BoardError, Problem, shown_path
from sigsim.layout.checks import touches
from sigsim.quantities import is_imperial, length_text

if TYPE_CHECKING:
    from sigsim.board.laying import Why
    from sigsim.board.model import Board
    from sigsim.board.wiring import Run, Spot

_CURE: Final = "give this cable a length"


@dataclass(frozen=True)
class Lacking:
    """One cable without a length.

    Attributes
    ----------
    cable : its name, as the outermost board calls it
    begin, end : where it is plugged in
    why : there is none
    file : whose layout cannot give it
    run : from jack to jack [m] where it is longer than all lengths that are sold; else None
    longest : of these [m], None where none are
    nowhere : the end that stands nowhere, None for none
    touch : a box that it leads to touches another
    gap : more room between boxes that touch, as the file would say it; empty where it cannot
    """

    cable: str
    begin: Spot
    end: Spot
    why: Why
    file: str
    run: float | None = None
    longest: float | None = None
    nowhere: Spot | None = None
    touch: bool = False
    gap: str = ""

    @property
    def between(self) -> str:
        """What it connects, in words."""
        return f"from {spot_words(self.begin)} to {spot_words(self.end)}"

    def problem(self, file: str = "") -> Problem:
        """Return what is wrong, in the words of who has to mend it.

        Parameters
        ----------
        file : that the message is about; another one is named
        """
        what, cure = self.said
        other = "" if self.file == file else f"{shown_path(self.file)}, "
        return Problem(what, f"{other}the '{self.cable}' cable {self.between}", accepted=cure)

    @property
    def said(self) -> tuple[str, str]:
        """What is wrong, and what mends it."""
        if self.why == "no way":
            room = f"write {self.gap} in [layout]" if self.gap else "more room between them"
            what = "the boxes touch, so there is no way between them"
            return what if self.touch else "no way between the boxes", f"{room}, or {_CURE}"
        if self.why == "joined":
            return "these two loops are joined inside their box", f"leave it out, or {_CURE}"
        if self.why == "too long":
            return self._too_long(), f"a longer one in sold, or {_CURE}"
        spot = self.nowhere
        if spot is None or spot.socket is None:
            what = "where two cables meet"
            if spot is not None and spot.kind != "joint":
                what = spot_words(spot)
            return f"{what} is no place in [layout]", _CURE
        loop = spot.kind == "loop"
        place = "name it in the loops of a [boxes.NAME]" if loop else "put it into a row"
        return f"'{spot.name}' stands nowhere in [layout]", f"{place}, or {_CURE}"

    def _too_long(self) -> str:
        run, longest = (length_text(length or 0.0) for length in (self.run, self.longest))
        return (
            f"longer ({run}) than all lengths of '{self.cable}' that are sold (longest {longest})"
        )


def complete(board: Board) -> Board:
    """Return a board as it is, if every cable in its chain has a length.

    Raises
    ------
    BoardError : with every connection to which the layout cannot give one
    """
    if not board.lacking:
        return board
    said = f", {board.changes.said}" if board.changes else ""
    problems = [one.problem(board.file) for one in board.lacking]
    raise BoardError(f"{shown_path(board.file)}{said}", list(dict.fromkeys(problems)))


def lacking(runs: Iterable[Run]) -> Iterator[Lacking]:
    """Yield the cables to which no layout can give a length, in order."""
    for run in runs:
        taken = taken_of(run)
        if run.cable.lays is None or taken is None or not taken.why:
            continue
        if taken.why == "joined" and not run.listed:
            continue
        laying = run.lays
        assert isinstance(laying, Laying), "it told what is taken"
        sold = laying.sold.get(run.cable.cable, ())
        length = None if taken.run is None else laying.measured(taken.run)
        touch = taken.why == "no way" and _touch(laying, run)
        yield Lacking(
            run.cable.cable, run.begin, run.end, taken.why, laying.layout.file, length,
            max(sold, default=None), _nowhere(laying, run), touch, _gap(laying) if touch else "",
        )  # fmt: skip


def _touch(laying: Laying, run: Run) -> bool:
    """Whether a box at an end of a cable touches another one."""
    names = (laying.floor.box_of(s.socket.name) for s in (run.begin, run.end) if s.socket)
    return touches(laying.floor, [name for name in names if name is not None])


def _gap(laying: Laying) -> str:
    """Return the gap that a file without one may write; empty where it has one already."""
    if laying.layout.gap:
        return ""
    inches = all(map(is_imperial, laying.layout.size))
    return f'gap = "{"0.5 in" if inches else "1 cm"}"'


def taken_of(run: Run) -> Taken | None:
    """Return what its file's layout says of a cable, None without a layout."""
    if not isinstance(run.lays, Laying):
        return None
    return run.lays.taken(run.cable.cable, run.begin.socket, run.end.socket)


def spot_words(spot: Spot) -> str:
    """Return where a cable begins or ends, in words."""
    if spot.socket is None:
        return {
            "instrument": "the instrument",
            "joint": "the next cable",
            "far end": f"the far end of '{spot.name}'",
        }.get(spot.kind, "the end of the chain")
    side = {"send": "the send of ", "return": "the return of "}.get(spot.socket.side, "")
    return f"{side}'{spot.name}'"


def _nowhere(laying: Laying, run: Run) -> Spot | None:
    """Return the end of a cable that stands nowhere, one with a name first."""
    found = [
        spot
        for spot in (run.begin, run.end)
        if spot.socket is None or laying.floor.jack(spot.socket) is None
    ]
    return next((spot for spot in found if spot.socket is not None), found[0] if found else None)

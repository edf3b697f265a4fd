"""What a page holds that can be switched between a board as it is written and its variants."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from sigsim.decide.compare import AS_WRITTEN
from sigsim.show.page.beside import others
from sigsim.show.page.data import board_data
from sigsim.show.page.sections import sections
from sigsim.show.render.text import one_line, plain
from sigsim.show.variants import differences_words

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.page.report import ReportData

# Where things stand in the file, which only an edit needs.
_PLACES: Final = ("at", "gap", "endAt")
_ENDS: Final = ("instrumentAt", "destinationAt")
_SHORT: Final = 40
_LONG: Final = 80
_TITLE: Final = 200


@dataclass(frozen=True)
class Shown:
    """One board as the page shows it.

    Attributes
    ----------
    data : what was gathered
    extra : sections that were asked for beside the usual ones
    bands : of tolerances, by state
    """

    data: ReportData
    extra: Sequence[Mapping[str, Any]] = ()
    bands: Sequence[Mapping[str, Any]] = ()

    def values(self) -> dict[str, Any]:
        """Return all that the scripts need to know of it."""
        question, worst = self.data.question, self.data.losses.worst.state
        made = board_data(question.board, question.basis, worst=worst, stored=self.data.scenes)
        chain = _unplaced(made["chain"])
        return {
            **{key: value for key, value in made.items() if key not in _ENDS},
            "chain": chain,
            "others": others(self.data),
            "bands": list(self.bands),
            "sections": sections(self.data, self.extra),
        }


def _unplaced(value: Any) -> Any:
    """Return things on the line without where they stand in the file."""
    if isinstance(value, dict):
        return {key: _unplaced(v) for key, v in value.items() if key not in _PLACES}
    return [_unplaced(v) for v in value] if isinstance(value, list) else value


class _Listed:
    """Values of which each different one is listed once."""

    def __init__(self) -> None:
        self.values: list[Any] = []
        self._known: dict[str, int] = {}

    def numbers(self, values: Sequence[Any]) -> list[int]:
        """Return the number of each value."""
        return [self._number(value) for value in values]

    def _number(self, value: Any) -> int:
        key = repr(value)
        if key not in self._known:
            self._known[key] = len(self.values)
            self.values.append(value)
        return self._known[key]


def versions_values(shown: Sequence[Shown]) -> dict[str, Any]:
    """Return what the page needs of several versions; what they share is in it once.

    Parameters
    ----------
    shown : the board as it is written, then its variants
    """
    pool, listed = _Listed(), _Listed()
    versions = []
    for one in shown:
        values = one.values()
        values["pool"] = pool.numbers(values["pool"])
        values["sections"] = listed.numbers(values["sections"])
        versions.append(values | _named(one.data.question.board, shown[0].data.question.board))
    first, *rest = versions
    own = [_own(version, first) for version in rest]
    return {"pool": pool.values, "sections": listed.values, "versions": [first, *own]}


def _own(version: dict[str, Any], first: dict[str, Any]) -> dict[str, Any]:
    """Return what differs from the first version, None for what only that one has."""
    missing = dict.fromkeys(first.keys() - version.keys())
    return missing | {key: v for key, v in version.items() if key not in first or v != first[key]}


def _named(board: Board, written: Board) -> dict[str, Any]:
    name = ", ".join(board.changes.variants)
    said = f"Variant {plain(name, _SHORT)}" if name else AS_WRITTEN.capitalize()
    keeps = _switches(board, written)
    changes = ", ".join(differences_words(board))
    return {
        "label": plain(name or AS_WRITTEN, _SHORT),
        "longName": plain(name or AS_WRITTEN, _LONG),
        "title": one_line(board.name, _TITLE),
        "changes": f"{said}: {changes}." if changes else f"{said}.",
        **({} if keeps == list(board.switches()) else {"keeps": keeps}),
    }


def _switches(board: Board, written: Board) -> list[str]:
    """Return by what name each switch keeps its position from one version to the next.

    It is its own. What a variant puts in a place under a name that the file does not have goes by
    that of what stood there, as in the scenes.
    """
    names, before = board.switches(), written.switches()
    replaced = {
        altered.now: altered.name
        for version in board.versions
        if board.changes.variants == (version.name,)
        for altered in version.altered
        if altered.now not in before and altered.name in before and altered.name not in names
    }
    return [replaced.get(name, name) for name in names]

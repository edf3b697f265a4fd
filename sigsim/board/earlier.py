"""What the things of a board file were called before changes: who uses an old name means them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from sigsim.board.targets import CABLES, INNER, Target, Targets, labels


class Earlier:
    """Earlier names, of things in the chain and of the cables of boards inside."""

    def __init__(self) -> None:
        self._names: dict[str, str] = {}
        self._labels: dict[str, str] = {}

    def note(self, things: Iterable[tuple[Target, tuple[str, ...], Target]]) -> None:
        """Note new names.

        Parameters
        ----------
        things : as they were, with what stood before the names of their cables, and as they are
        """
        things = list(things)
        names = [(old.name, new.name) for old, _, new in things if old.name != new.name]
        # A loop inside keeps its own name where only what is around it has another one.
        before = [pair for _, was, new in things for pair in zip(was, labels(new), strict=False)]
        for known, pairs in ((self._names, names), (self._labels, before)):
            known |= {old: new for old, new in pairs if old != new}
            for _, new in pairs:
                known.pop(new, None)

    def found(self, targets: Targets, name: str) -> Target | None:
        """Return what a name means, by one that it was given later if need be."""
        for called in self._since(name):
            if found := targets.find(called) or targets.inner(called):
                return found
        return None

    def _since(self, name: str) -> Iterator[str]:
        """Yield a name and those that it was given later, each once."""
        seen: set[str] = set()
        while name not in seen:
            yield name
            seen.add(name)
            head, dot, last = name.rpartition(".")
            if name in self._names:
                name = self._names[name]
            elif dot and last in INNER and head in self._names:
                name = f"{self._names[head]}.{last}"
            elif name.startswith(CABLES):
                name = CABLES + _relabelled(name.removeprefix(CABLES), self._labels)


def _relabelled(cable: str, now: Mapping[str, str]) -> str:
    label = max((one for one in now if cable.startswith(one)), key=len, default="")
    return now.get(label, "") + cable.removeprefix(label)

"""The open segments at one point of a chain while it is walked, as rows of arrays."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np

from sigsim.physics.source import Source

if TYPE_CHECKING:
    from numpy.typing import NDArray

    IntArray: TypeAlias = NDArray[np.int64]


class Trail(NamedTuple):
    """What is on along a segment, as a linked list from last to first."""

    name: str
    before: Trail | None


def names_along(trail: Trail | None) -> Iterator[str]:
    """Yield the names of what is on along a segment."""
    while trail is not None:
        yield trail.name
        trail = trail.before


@dataclass(frozen=True)
class Front:
    """The open segments at one point of the chain, as rows.

    Attributes
    ----------
    seen, ideal : sources of the board and of its reference, shapes (rows, frequency)
    starts : vertex at which each starts, shape (rows,)
    trails : what is on along each
    """

    seen: Source
    ideal: Source
    starts: IntArray
    trails: list[Trail | None]

    @property
    def rows(self) -> int:
        """How many segments are open."""
        return len(self.trails)

    def kept(self, rows: Iterable[int]) -> Front:
        """Return some of the rows."""
        index = np.asarray(list(rows))
        return Front(
            _rows(self.seen, index),
            _rows(self.ideal, index),
            self.starts[index],
            [self.trails[i] for i in index],
        )

    def with_on(self, *names: str) -> Front:
        """Return the rows with some more things on."""
        trails = self.trails
        for name in names:
            trails = [Trail(name, trail) for trail in trails]
        return replace(self, trails=trails)

    def joined(self, other: Front) -> Front:
        """Return the rows of both."""
        return joined([self, other])


def joined(fronts: Sequence[Front]) -> Front:
    """Return the rows of several fronts, one after another."""
    return Front(
        _joined([front.seen for front in fronts]),
        _joined([front.ideal for front in fronts]),
        np.concatenate([front.starts for front in fronts]),
        [trail for front in fronts for trail in front.trails],
    )


def filled(source: Source, shape: tuple[int, ...]) -> Source:
    """Return a source in a shape."""
    return Source(*(np.broadcast_to(np.asarray(part, dtype=complex), shape) for part in source))


def _rows(source: Source, index: IntArray) -> Source:
    return Source(*(np.asarray(part)[index] for part in source))


def _joined(sources: Sequence[Source]) -> Source:
    return Source(*(np.concatenate(parts) for parts in zip(*sources, strict=True)))

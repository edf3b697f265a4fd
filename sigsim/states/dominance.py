"""Which of many rows at a node can still lead to the extreme: dominance over disks.

For an admittance Y in a disk around c, one row differs from another by the factor
``(p_a + q_a·Y) / (p_b + q_b·Y)``. With ``U = radius·q/(p + q·c)``, a point of the unit disk, the
logarithm of its magnitude lies within the hyperbolic distance of U_a and U_b of ``h_a - h_b``,
where ``h = ln|p + q·c| + ½·ln(1 - |U|²)``: these are the extremes of a Möbius map over a circle.
So one row dominates another wherever its lead is no less than their distance,
``artanh |U_a - U_b| / |1 - U_a·U_b*| = arsinh |U_a - U_b| / √((1 - |U_a|²)·(1 - |U_b|²))``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.disks import Disks
    from sigsim.states.graph import Flags, Index
    from sigsim.states.rows import Criteria, Rows

# A lead that is short by so much is a tie, of which one is kept [nepers].
_TIE: Final = 1e-12


class _Seen(NamedTuple):
    """Rows as they are seen over disks, in order.

    Attributes
    ----------
    x, y : where each lies in the unit disk, shape (rows, groups, columns)
    stretch : by how much distances grow there, the same shape
    lead : by each criterion, shape (rows, groups, criteria) [nepers]
    safe : whether nothing that follows can silence it, shape (rows,)
    """

    x: FloatArray
    y: FloatArray
    stretch: FloatArray
    lead: FloatArray
    safe: Flags

    def column(self, column: int) -> _Seen:
        """Return the rows as they are seen in one column."""
        x, y, stretch = (m[..., column].copy() for m in (self.x, self.y, self.stretch))
        return self._replace(x=x, y=y, stretch=stretch)

    def telling(self, away: FloatArray) -> int:
        """Return the column that tells the rows apart best."""
        spread = (self.x.std(axis=0) + self.y.std(axis=0)).sum(axis=0) * away
        return int(np.nan_to_num(spread).argmax())

    def apart(self, one: int, others: Index) -> FloatArray:
        """Return the hyperbolic distances of one row from others."""
        x, y = self.x[others], self.y[others]
        x -= self.x[one]
        y -= self.y[one]
        x *= x
        y *= y
        x += y
        np.sqrt(x, out=x)
        x *= self.stretch[one]
        x *= self.stretch[others]
        return np.arcsinh(x, out=x)


def undominated(
    rows: Rows, criteria: Criteria, disks: Disks, most: int, safe: Flags | None = None
) -> Rows:
    """Return the rows that no other one dominates, the most promising first; of ties one.

    Parameters
    ----------
    rows : at a node
    criteria : by which they are compared
    disks : of the node
    most : how many are kept; the slack of these grows by what the others may score better
    safe : which rows nothing that follows can silence, None for all
    """
    if len(rows.p) == 1:
        return rows
    at = rows.p[:, None] + rows.q[:, None] * disks.centre
    U = disks.radius * rows.q[:, None] / at
    inside = 1 - (U.real**2 + U.imag**2)
    height = np.log(np.abs(at)) + 0.5 * np.log(inside)
    lead = height @ criteria.weights + rows.base[:, None]
    # What cannot be told, as where a pole lies in a disk, is kept.
    sure = np.isfinite(lead).all(axis=(1, 2))
    promise = np.where(sure, lead[..., : criteria.scores].sum(axis=(1, 2)), np.inf)
    if criteria.levels:
        # Of all that may be silent one is heard, if any.
        loud = np.where(sure, lead[..., criteria.scores :].min(axis=(1, 2)), -np.inf)
        promise[np.argmax(loud)] = np.inf
    order = np.argsort(-promise, kind="stable")
    safe = np.ones(len(order), bool) if safe is None else safe
    stretch = 1 / np.sqrt(inside)
    found = _Seen(U.real[order], U.imag[order], stretch[order], lead[order], safe[order])
    kept, slack = _kept(found, criteria, rows.slack[order], most)
    return rows.some(order[kept])._replace(slack=slack)


def _kept(
    seen: _Seen, criteria: Criteria, slack: FloatArray, most: int
) -> tuple[list[int], FloatArray]:
    """Return which rows are kept, and their slack."""
    away = np.abs(criteria.weights)
    column = seen.telling(away[:, 0])
    telling = seen.column(column)
    slack = slack.copy()
    left = np.arange(len(slack))
    kept: list[int] = []
    while left.size and len(kept) < most:
        one, left = int(left[0]), left[1:]
        kept.append(one)
        room = _room(seen, criteria, one, left)
        # Most fail in the column that tells them apart best, which is quickly looked at.
        maybe = np.flatnonzero((room >= -_TIE).all(axis=(1, 2)))
        short = telling.apart(one, left[maybe]) * away[column, 0] - room[maybe, :, 0]
        maybe = maybe[(short <= _TIE).all(axis=1)]
        if not maybe.size:
            continue
        others = left[maybe]
        spare = (room[maybe] - seen.apart(one, others) @ away).min(axis=(1, 2))
        gone = spare >= -_TIE
        if gone.any():
            slack[one] = max(slack[one], (slack[others[gone]] - spare[gone].clip(0)).max())
            left = np.delete(left, maybe[gone])
    if left.size:
        _leave_out(seen, criteria, kept, left, slack)
    return kept, slack[kept]


def _leave_out(
    seen: _Seen, criteria: Criteria, kept: list[int], left: Index, slack: FloatArray
) -> None:
    """Let each row that is left out raise the slack of the kept one for which this costs least."""
    away = np.abs(criteria.weights)
    short = np.empty((len(kept), left.size))
    for row, one in enumerate(kept):
        lack = seen.apart(one, left) @ away - _room(seen, criteria, one, left)
        # What is not as loud may be the only one that is heard.
        lack[..., criteria.scores :][lack[..., criteria.scores :] > _TIE] = np.inf
        short[row] = lack.max(axis=(1, 2))
    short = np.nan_to_num(short, nan=np.inf)
    nearest = short.argmin(axis=0)
    needed = slack[left] + short[nearest, np.arange(left.size)]
    np.maximum.at(slack, np.array(kept)[nearest], needed)


def _room(seen: _Seen, criteria: Criteria, one: int, others: Index) -> FloatArray:
    """Return by how much one row leads others, by each criterion for each group."""
    room: FloatArray = seen.lead[one] - seen.lead[others]
    if seen.safe[one]:
        room[..., criteria.scores :] = np.inf
    return room

"""Levels whose boxes all have the same before them, wherever they stand."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sigsim.decide.order.level import PLAIN
from sigsim.states.open_ends import Columns, Ends, passed
from sigsim.states.options import Options, UnfitError, score

if TYPE_CHECKING:
    from sigsim.decide.order.level import Line
    from sigsim.decide.order.losses import Together


class Alike(NamedTuple):
    """A level whose boxes all have the same before them.

    Attributes
    ----------
    elements : what is met from one box, or the buffer, on to the next and through that
    start : what comes before the level, as if the first box had before it what the others have
    last : what follows the last box
    """

    elements: list[Options]
    start: Ends
    last: Columns


def alike(line: Line, losses: Together, size: int) -> Alike:
    """Return a level whose boxes all have the same before them.

    Raises
    ------
    UnfitError : they have not
    """
    count, gaps = losses.count, losses.gaps
    if count < 2 or any(len(places) > 1 for places in gaps):
        raise UnfitError
    first, between = line.joint(0, PLAIN, None), line.joint(1, PLAIN, None)
    joints = [line.joint(k, PLAIN, None) for k in range(1, count)]
    elements = [line.step(1, PLAIN, box) for box in range(count)]
    lasts = [line.joint_end(PLAIN)]
    if size > count:
        places = [(k, gap) for k in range(count + 1) for gap in gaps[k]]
        joints += [line.joint(k, gap, None) for k, gap in places if k < count]
        joints += [line.joint(k, PLAIN, gap) for k, gap in places if k]
        lasts += [line.joint_end(gap) for k, gap in places if k == count]
        inner = [(k, gap) for k, gap in places if k]
        if not inner or any(
            not _same(line.joint(k, PLAIN, gap), first) for k, gap in places if not k
        ):
            raise UnfitError
        elements.append(line.step(inner[0][0], PLAIN, count + inner[0][1]))
    if not all(_same(joint, between) for joint in joints) or first.base.size > 1:
        raise UnfitError
    if not all(_same(joint, lasts[0]) for joint in lasts[1:]) or first.cuts.any():
        raise UnfitError
    return Alike(elements, _unwired(passed(line.start, first), between), line.end(PLAIN))


def _same(one: Options, other: Options) -> bool:
    """Return whether both are the same single thing that isolates nothing."""
    if one.base.size > 1 or other.base.size > 1 or one.cuts.any() or other.cuts.any():
        return False
    return np.array_equal(one.matrices, other.matrices) and np.array_equal(one.base, other.base)


def _unwired(ends: Ends, joint: Options) -> Ends:
    """Return what has to come before a joint so that ends come behind it."""
    _, B, C, D = joint.matrices
    p = (D - ends.Z * C) / (D - B * C)
    Z = (ends.Z - B) / (D - ends.Z * C)
    return ends._replace(Z=Z, base=ends.base + score(p) - joint.base)

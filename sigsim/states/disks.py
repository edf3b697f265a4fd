"""Enclosures: in which disks the admittance lies that the rest of a graph can show at a node.

A chain matrix maps admittances by a Möbius map, which maps disks to disks exactly. Of many disks a
few are kept: a group is one disk for each column, and two groups become the smallest disks that
hold both, where this adds least.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Bundle, Graph, Index

# Groups kept at a node: with half of them twice as many rows stay open on boards of many pads.
MOST_GROUPS: Final = 16
# By so much a hull is drawn larger, so that rounding leaves nothing outside.
_ROUNDING: Final = 1e-12


class Disks(NamedTuple):
    """Groups of disks.

    Attributes
    ----------
    centre : [S], shape (groups, columns)
    radius : [S], the same shape; infinite for the whole plane
    """

    centre: ComplexArray
    radius: FloatArray

    def columns(self, columns: Index) -> Disks:
        """Return the disks of some columns."""
        return Disks(self.centre[:, columns], self.radius[:, columns])


def enclosures(
    graph: Graph, ends: Mapping[int, Sequence[ComplexArray]] | None = None, most: int = MOST_GROUPS
) -> list[Disks]:
    """Return for each node the disks in which all admittances lie that can follow it.

    Parameters
    ----------
    graph : from `board_graph`
    ends : what else may follow nodes, as admittances [S], shape (columns,) each
    most : groups kept at a node
    """
    r, s = graph.end
    typical = _typical(graph)
    found: list[list[Disks]] = [[] for _ in range(graph.nodes)]
    found[-1].append(_point(s / r))
    for node, admittances in (ends or {}).items():
        found[node] += map(_point, admittances)
    kept: dict[int, Disks] = {}
    leaving = graph.leaving()
    for node in range(graph.nodes - 1, -1, -1):
        parts = found[node]
        for bundle in leaving[node]:
            parts += _before(bundle, kept[bundle.head])
        if parts:
            all_of_them = Disks(*(np.concatenate(c) for c in zip(*parts, strict=True)))
            kept[node] = _merged(all_of_them, typical[node], most)
        else:
            kept[node] = _point(np.zeros_like(r))
    return [kept[node] for node in range(graph.nodes)]


def _point(Y: ComplexArray) -> Disks:
    return Disks(Y[None], np.zeros((1, Y.size)))


def _before(bundle: Bundle, behind: Disks) -> list[Disks]:
    """Return what is seen before a bundle: ``(C + D·Y)/(A + B·Y)`` of what is behind it."""
    points = bundle.cuts
    found = []
    if points.any():
        A, _, C, _ = bundle.matrices[:, points]
        Y = C / A
        found.append(Disks(Y, np.zeros(Y.shape)))
    if not points.all():
        A, B, C, D = bundle.matrices[:, ~points, None]
        Y, radius = behind
        at = A + B * Y
        size = np.abs(at) ** 2 - (np.abs(B) * radius) ** 2
        centre = ((C + D * Y) * at.conj() - radius**2 * D * B.conj()) / size
        around = radius * np.abs(A * D - B * C) / size * (1 + _ROUNDING)
        # With a pole inside the image is all the plane but a disk.
        whole = ~((size > 0) & np.isfinite(around) & np.isfinite(centre))
        shape = (-1, Y.shape[1])
        found.append(
            Disks(
                np.where(whole, 0.0, centre).reshape(shape),
                np.where(whole, np.inf, around).reshape(shape),
            )
        )
    return found


def _typical(graph: Graph) -> list[ComplexArray]:
    """Return the admittance [S] of the source at each node behind the first options before it."""
    rows = {0: (graph.start[0], graph.start[1])}
    for bundle in graph.bundles:
        if bundle.head not in rows and bundle.tail in rows:
            p, q = rows[bundle.tail]
            A, B, C, D = bundle.matrices[:, 0]
            p, q = p * A + q * C, p * B + q * D
            size = np.abs(p) + np.abs(q)
            rows[bundle.head] = p / size, q / size
    first = rows[0]
    return [p / q for p, q in (rows.get(node, first) for node in range(graph.nodes))]


def _merged(disks: Disks, typical: ComplexArray, most: int) -> Disks:
    """Join groups until few enough are left, each time the two that grow least."""
    centre, radius = disks
    count = len(centre)
    if count <= most:
        return disks
    centre, radius = centre.copy(), radius.copy()
    scale = 1 / (np.abs(typical + centre.mean(axis=0)) + np.finfo(float).tiny)
    growth = _growth(Disks(centre[:, None], radius[:, None]), disks, scale)
    growth[np.tri(count, dtype=bool)] = np.inf
    alive = np.ones(count, bool)
    for _ in range(count - most):
        one, two = divmod(int(np.argmin(growth)), count)
        joined = _hull(Disks(centre[one], radius[one]), Disks(centre[two], radius[two]))
        centre[one], radius[one] = joined
        alive[two] = False
        growth[two], growth[:, two] = np.inf, np.inf
        size = np.where(alive, _growth(joined, Disks(centre, radius), scale), np.inf)
        growth[one, one + 1 :] = size[one + 1 :]
        growth[:one, one] = size[:one]
    return Disks(centre[alive], radius[alive])


def _growth(one: Disks, others: Disks, scale: FloatArray) -> FloatArray:
    """Return by how much the hulls of disks are larger than these, beside what is seen there."""
    apart = np.abs(one.centre - others.centre)
    both = one.radius + others.radius
    radius = np.maximum((apart + both) / 2, np.maximum(one.radius, others.radius))
    grown: FloatArray = np.nan_to_num((2 * radius - both) * scale, nan=0.0).sum(axis=-1)
    return grown


def _hull(one: Disks, two: Disks) -> Disks:
    """Return the smallest disks that hold two."""
    way = two.centre - one.centre
    apart = np.abs(way)
    radius = (apart + one.radius + two.radius) / 2
    centre = one.centre + way * np.where(apart > 0, (radius - one.radius) / apart, 0.0)
    first, second = apart + two.radius <= one.radius, apart + one.radius <= two.radius
    centre = np.where(first, one.centre, np.where(second, two.centre, centre))
    radius = np.where(first, one.radius, np.where(second, two.radius, radius))
    whole = ~np.isfinite(radius) | ~np.isfinite(centre)
    return Disks(np.where(whole, 0.0, centre), np.where(whole, np.inf, radius * (1 + _ROUNDING)))

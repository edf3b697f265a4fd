"""Where boxes stand: in rows from the left edge, front row at the near edge; or at their place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.layout.exact import Rect, spot, whole

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sigsim.layout.model import Box, Layout, Point


def placed(layout: Layout) -> dict[str, Rect]:
    """Return the outlines of all boxes that stand somewhere [nm], in the order of `boxes`.

    A box with a place stands there, and takes no room in a row that names it.

    Parameters
    ----------
    layout : where things stand
    """
    found = in_rows(layout, layout.rows) | {
        name: _outline(box, *spot(box.place))
        for name, box in layout.boxes.items()
        if box.place is not None
    }
    return {name: found[name] for name in layout.boxes if name in found}


def in_rows(layout: Layout, rows: Sequence[Sequence[str]]) -> dict[str, Rect]:
    """Return the outlines of what stands in rows [nm].

    Parameters
    ----------
    layout : whose boxes and gap count
    rows : names of boxes, the back row first
    """
    gap = whole(layout.gap)
    found: dict[str, Rect] = {}
    near = 0
    for row in reversed(rows):
        boxes = [layout.boxes[name] for name in row if name in layout.boxes]
        boxes = [box for box in boxes if box.place is None]
        left = 0
        for box in boxes:
            found[box.name] = _outline(box, left, near)
            left = found[box.name].right + gap
        if boxes:
            near = max(found[box.name].back for box in boxes) + gap
    return found


def on_edge(layout: Layout, where: str | Point | None) -> Point | None:
    """Return where a lead comes in or goes out [m], None where the file does not say.

    Parameters
    ----------
    layout : of the board with that edge
    where : an edge, of which it is the middle; a position [m]; or None
    """
    width, depth = layout.size
    if not isinstance(where, str):
        return where
    return {"right": (width, depth / 2), "left": (0.0, depth / 2), "back": (width / 2, depth)}[
        where
    ]


def _outline(box: Box, left: int, near: int) -> Rect:
    return Rect(left, near, left + whole(box.width), near + whole(box.depth))

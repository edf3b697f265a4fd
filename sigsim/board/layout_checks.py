"""What can be wrong with a layout beyond what each value says alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Final

from sigsim.board.standing import standing
from sigsim.errors import Problem, nearest, quote
from sigsim.items.base import Placed
from sigsim.items.layout import BoxTable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.text import first_refused

if TYPE_CHECKING:
    from sigsim.board.boxes import Standing
    from sigsim.board.chain_reader import ChainReader
    from sigsim.board.included import Naming
    from sigsim.items.base import Item
    from sigsim.items.layout import LayoutTable, Outlined
    from sigsim.layout.model import Layout, Point

_ROWS: Final = "[layout], rows"
_BRANCHES: Final = {
    "tap": "a tap hangs on the output of the box before it and stands nowhere",
    "split": "a split hangs on the output of the box before it and stands nowhere",
}
_SHOWN: Final = 12
# Two ways to write one length differ by less [m]: 70 mm and 7 cm.
_SAME: Final = 1e-7


def row_problems(
    table: LayoutTable,
    boxes: Mapping[str, Standing],
    chain: ChainReader,
    *,
    incomplete: bool = False,
) -> Iterator[Problem]:
    """Yield what is wrong with the names in the rows.

    Parameters
    ----------
    table : of the layout
    boxes : all that can stand in a row
    chain : what the chain was read with
    incomplete : whether a name may be missing because something could not be read
    """
    found: dict[str, list[int]] = {}
    for number, row in enumerate(table.rows, 1):
        for name in row:
            found.setdefault(name, []).append(number)
    for name, numbers in found.items():
        if name not in boxes:
            known = not (incomplete or first_refused(name))
            yield from _no_box(name, boxes, chain, known=known)
            continue
        if len(numbers) > 1:
            one, *_, last = numbers
            where = f"in rows {one} and {last}" if last != one else f"twice in row {one}"
            yield Problem(f"this box stands {where}", _ROWS, quote(name), "its name once")
        made = boxes[name].made
        if made is not None and made.place is not None:
            accepted = "one of the two: no place, or its name out of the rows"
            what = f"this box has a place of its own and stands in row {numbers[0]} too"
            yield Problem(what, f"{boxes[name].where}, place", said(made.place), accepted)


def _no_box(
    name: str, boxes: Mapping[str, Standing], chain: ChainReader, *, known: bool
) -> Iterator[Problem]:
    """Yield why a name in a row is that of no box."""
    if name in chain.boxes.loops:
        own = {n: b.made for n, b in boxes.items() if isinstance(b.made, BoxTable)}
        holder = next((n for n, made in own.items() if name in made.loops), None)
        what = "a loop stands on a board only as one of a box of loops"
        accepted = f"a table [boxes.NAME] with loops = [{quote(name)}], and NAME in the row"
        if holder is not None:
            accepted = f"the box that has it, {quote(holder)}"
        yield Problem(what, _ROWS, quote(name), accepted)
    elif name in chain.branches:
        yield Problem(_BRANCHES[chain.branches[name]], _ROWS, quote(name), _names(boxes))
    elif name in chain.boxes.elsewhere:
        file = chain.boxes.elsewhere[name]
        what = f"this stands in {file}, whose own [layout] says where"
        yield Problem(what, _ROWS, quote(name), f"a row of {file}")
    elif name in chain.cables:
        what = "a cable lies between boxes and stands nowhere"
        yield Problem(what, _ROWS, quote(name), _names(boxes))
    elif known:
        near = nearest(name, (*boxes, *chain.boxes.loops))
        what = "there is no stage and no box of this name"
        yield Problem(what, _ROWS, quote(name), _names(boxes), near)


def _names(boxes: Mapping[str, Standing]) -> str:
    shown = ", ".join(quote(name) for name in list(boxes)[:_SHOWN])
    return shown + (f" and {len(boxes) - _SHOWN} more" if len(boxes) > _SHOWN else "")


def loop_problems(
    own: Mapping[str, Standing], chain: ChainReader, listed: Sequence[Item], naming: Naming
) -> Iterator[Problem]:
    """Yield what is wrong with the loops of the boxes.

    Parameters
    ----------
    own : the boxes that have a table of their own
    chain : what the chain was read with
    listed : the items of the chain
    naming : what its things are called in the board that holds it
    """
    owners: dict[str, str] = {}
    for box, (where, _, made) in own.items():
        where = f"{where}, loops"
        loops = made.loops if isinstance(made, BoxTable) else ()
        for loop in loops:
            if loop not in chain.boxes.loops:
                yield from _no_loop(loop, where, own, chain)
            elif (other := owners.setdefault(loop, box)) != box:
                what = f"this loop is one of the box {quote(other)} already"
                yield Problem(what, where, quote(loop), "each loop in one box")
        here = [naming.item(loop) for loop in loops if loop in chain.boxes.loops]
        yield from _scattered(here, where, listed)


def _no_loop(
    name: str, where: str, own: Mapping[str, Standing], chain: ChainReader
) -> Iterator[Problem]:
    loops = chain.boxes.loops
    kind = "stage" if name in chain.boxes.stages else chain.branches.get(name, "")
    kind = kind or ("box" if name in own else "")
    accepted = ", ".join(quote(loop) for loop in list(loops)[:_SHOWN]) or "a loop of the chain"
    if kind:
        yield Problem(f"this is a {kind}, no loop", where, quote(name), accepted)
    elif name in chain.boxes.elsewhere:
        file = chain.boxes.elsewhere[name]
        what = f"this stands in {file}, whose own [boxes] have its jacks"
        yield Problem(what, where, quote(name), accepted)
    elif not chain.incomplete:
        what = "there is no loop of this name"
        yield Problem(what, where, quote(name), accepted, nearest(name, loops))


def _scattered(loops: Sequence[str], where: str, listed: Sequence[Item]) -> Iterator[Problem]:
    """Yield why the loops of one box do not lie between one input and one output."""
    places = standing(listed)
    found = {loop: places[loop] for loop in loops if loop in places}
    what = "the loops of one box follow each other in the chain: it has one input and one output"
    accepted = "neighbours in the chain, or a box for each"
    first, *others = found or ("",)
    for loop in others:
        if found[loop][:-1] != found[first][:-1]:
            said = f"{quote(first)} and {quote(loop)}, which stand at two levels"
            yield Problem(what, where, said, accepted)
            return
    if others:
        level = listed
        for index in found[first][:-1]:
            group = level[index]
            assert isinstance(group, Loop | Split), "a way leads through loops and splits"
            level = group.inside
        numbers = [place[-1] for place in found.values()]
        between = level[min(numbers) : max(numbers)]
        other = next((i for i in between if isinstance(i, Placed) and i.label not in found), None)
        if other is not None:
            yield Problem(what, where, f"{quote(other.label)} between them", accepted)


def spot_problems(placed: Mapping[str, Standing]) -> Iterator[Problem]:
    """Yield which boxes are put where another is, of those that have a place."""
    seen: dict[tuple[int, int], str] = {}
    for name, (where, _, made) in placed.items():
        assert made is not None, "it has a place"
        assert made.place is not None, "it has a place"
        x, y = made.place
        other = seen.setdefault((round(x / _SAME), round(y / _SAME)), name)
        if other != name:
            what = f"this is the place of {quote(other)}"
            yield Problem(what, f"{where}, place", said(made.place), "a place for each")


def box_problems(box: Standing, *, stands: bool) -> Iterator[Problem]:
    """Yield what a box lacks to stand somewhere.

    Parameters
    ----------
    box : what its table says
    stands : whether a row names it or it has a place
    """
    if not stands:
        accepted = "its name in a row of [layout], or a place"
        yield Problem("this box stands nowhere", box.where, accepted=accepted)
    elif box.made is not None:
        lacking = [key for key in ("width", "depth") if getattr(box.made, key) is None]
        if lacking:
            are = "are" if len(lacking) > 1 else "is"
            what = f"{' and '.join(lacking)} {are} missing: this box stands on the board"
            accepted = " and ".join(f'{key} = "{_SUCH[key]}"' for key in lacking)
            yield Problem(what, box.where, accepted=f"such as {accepted}")


def edge_problems(layout: Layout, naming: Naming) -> Iterator[Problem]:
    """Yield where a lead cannot come in or go out.

    Parameters
    ----------
    layout : where things stand
    naming : what they are called in the board that holds it
    """
    for key in ("entry", "exit"):
        at = getattr(layout, key)
        if not isinstance(at, tuple):
            continue
        where, (width, depth) = f"[layout], {key}", layout.size
        if at[0] > width + _SAME or at[1] > depth + _SAME:
            on = f"a point of the board, which is {_said(width)} x {_said(depth)}"
            yield Problem("this is beside the board", where, said(at), on)
        elif (name := _around(layout, at)) is not None:
            box = quote(name.removeprefix(naming.prefix))
            yield Problem(f"the box {box} stands here", where, said(at), "a point beside the boxes")


def _around(layout: Layout, at: Point) -> str | None:
    """Return the box in whose outline a point is, None for none."""
    from sigsim.layout.floor import Floor

    for name, box in Floor(layout).outlines.items():
        x, y = at[0] - box.x, at[1] - box.y
        if _SAME < x < box.width - _SAME and _SAME < y < box.depth - _SAME:
            return name
    return None


_SUCH: Final = {"width": "7 cm", "depth": "12 cm"}


def jack_problems(where: str, box: Outlined) -> Iterator[Problem]:
    """Yield what is wrong with where the jacks of a box are."""
    at = jacks(box)
    if at is None or box.width is None or box.depth is None:
        return
    given = {key: getattr(box, key) for key in ("input_at", "output_at")}
    faults = {key: _off(point, box.width, box.depth) for key, point in given.items() if point}
    for key, fault in faults.items():
        if fault:
            sides = f"a point on one side of a box of {_said(box.width)} x {_said(box.depth)}"
            yield Problem(fault, f"{where}, {key}", said(given[key]), sides)
    if faults and not any(faults.values()) and _near(*at):
        key = "output_at" if given["output_at"] else "input_at"
        what = "the input and the output are at the same spot"
        yield Problem(what, f"{where}, {key}", said(given[key]), "a spot for each")


def jacks(box: Outlined) -> tuple[Point, Point] | None:
    """Return where input and output are [m], from the near left corner; None without a size."""
    if box.width is None or box.depth is None:
        return None
    w, d = box.width, box.depth
    begin, end = {
        "right to left": ((w, d / 2), (0.0, d / 2)),
        "left to right": ((0.0, d / 2), (w, d / 2)),
        "back": ((3 * w / 4, d), (w / 4, d)),
    }[box.jacks]
    return box.input_at or begin, box.output_at or end


def _off(point: Point, width: float, depth: float) -> str:
    """Say why a jack cannot be at a point, empty where it can."""
    (x, y), (w, d) = point, (width, depth)
    if x > w + _SAME or y > d + _SAME:
        return "this is outside the box"
    at_x, at_y = min(x, w - x) < _SAME, min(y, d - y) < _SAME
    if at_x and at_y:
        return "this is a corner of the box, where no jack has room"
    return "" if at_x or at_y else "this is inside the box"


def on_side(point: Point | None, width: float, depth: float) -> Point | None:
    """Return where a jack is, exactly on its side."""
    if point is None:
        return None
    x, y = (_on(at, size) for at, size in zip(point, (width, depth), strict=True))
    return x, y


def _on(at: float, size: float) -> float:
    return size if abs(at - size) < _SAME else 0.0 if at < _SAME else at


def _near(one: Point, other: Point) -> bool:
    return max(abs(a - b) for a, b in zip(one, other, strict=True)) < _SAME


def said(point: Sequence[float]) -> str:
    """Return a point as the file has it."""
    return quote([_said(at).strip() for at in point])


def _said(length: float) -> str:
    return str(getattr(length, "text", f"{length:g}"))

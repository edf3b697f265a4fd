"""A board inside another one, pasted by hand: plain tables, and nothing of the program."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from helpers.boards import Table

NAMES = ("stage", "loop", "split", "tap")


def pasted(main: Table, place: int, deck: Table) -> Table:
    """Return a board with all that is in the deck of one of its loops in the loop itself.

    Parameters
    ----------
    main : the board, whose item at the place is a loop with `board`
    place : in its chain
    deck : the board that the loop names
    """
    loop = dict(main["chain"][place])
    before, name = loop.pop("prefix", ""), loop["loop"]
    out, back = loop.pop("lead_out", None), loop.pop("lead_back", None)
    del loop["board"]
    renamed = [_renamed(item, before, name) for item in deck["chain"]]
    own = None if "wiring" not in deck else _laid(deck["wiring"], name)
    items = _led(renamed, out, back)
    loop["inside"] = _filled(items, own, main.get("wiring"), main.get("wiring"), (True, True))
    chain = [*main["chain"][:place], loop, *main["chain"][place + 1 :]]
    cables = {f"{name}: {cable}": spec for cable, spec in deck["cables"].items()}
    held = {
        f"{name}: {scene}": [name, *(before + one for one in on)]
        for scene, on in deck["scenes"].items()
    }
    scenes = {
        scene: list(dict.fromkeys(n for one in on for n in held.get(one, [one])))
        for scene, on in main["scenes"].items()
    }
    return main | {"chain": chain, "cables": main["cables"] | cables, "scenes": scenes}


def _renamed(item: Table, before: str, loop: str) -> Table:
    made = _laid(item, loop)
    for key in NAMES:
        if key in made:
            made[key] = before + made[key]
    if "inside" in made:
        made["inside"] = [_renamed(inner, before, loop) for inner in made["inside"]]
    return made


def _laid(table: Table, loop: str) -> Table:
    return table | ({"cable": f"{loop}: {table['cable']}"} if "cable" in table else {})


def _is_cable(item: Table) -> bool:
    return "cable" in item and "tap" not in item


def _is_box(item: Table) -> bool:
    return "stage" in item or "loop" in item


def _led(items: list[Table], out: Table | None, back: Table | None) -> list[Table]:
    """Put the leads there and back in the place of the first and last cable, or at the ends."""
    items = list(items)
    way = [n for n, item in enumerate(items) if _is_box(item) or _is_cable(item)]
    only = len(way) == 1 and out is not None
    if back is not None:
        if way and _is_cable(items[way[-1]]) and not only:
            items[way[-1]] = back
        else:
            items.append(back)
    if out is not None:
        if way and _is_cable(items[way[0]]):
            items[way[0]] = out
        else:
            items.insert(0, out)
    return items


def _filled(
    items: list[Table],
    wiring: Table | None,
    first: Table | None,
    last: Table | None,
    bare: tuple[bool, bool],
) -> list[Table]:
    """Put a cable into every gap in which none is named: at both ends others than between."""
    boxes = [n for n, item in enumerate(items) if _is_box(item)]
    gaps = list(pairwise([*[-1] * bare[0], *boxes, *[len(items)] * bare[1]]))
    put: dict[int, Any] = {}
    for start, end in gaps:
        if not any(map(_is_cable, items[start + 1 : end])):
            put[end] = last if end == len(items) else first if start == -1 else wiring
    made: list[Table] = []
    for n in range(len(items) + 1):
        if put.get(n) is not None:
            made.append(put[n])
        made += items[n : n + 1]
    return [_filled_inside(item, wiring) for item in made]


def _filled_inside(item: Table, wiring: Table | None) -> Table:
    if "inside" not in item:
        return item
    bare = (True, "loop" in item)
    return item | {"inside": _filled(item["inside"], wiring, wiring, wiring, bare)}

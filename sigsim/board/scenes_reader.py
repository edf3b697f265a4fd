"""Reading `[scenes]`: what is on together, in boards inside this one too."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from sigsim.board.included import of_board
from sigsim.board.plain_reader import check_names
from sigsim.board.state import why_unswitched
from sigsim.errors import nearest, quote

if TYPE_CHECKING:
    from sigsim.board.chain_reader import ChainReader
    from sigsim.board.reading import Reading

_MOST_OFFERED = 12


def read_scenes(reading: Reading, tables: object, chain: ChainReader) -> dict[str, tuple[str, ...]]:
    """Return what is on in each scene, by the names that the whole board has for it.

    Parameters
    ----------
    reading : where problems go
    tables : of `[scenes]`, by name
    chain : what the chain of the file was read with
    """
    listed = reading.table(tables, "[scenes]") or {}
    check_names(reading, listed, "[scenes]")
    inside = chain.boards.scenes if chain.boards is not None else {}
    for name in chain.names:
        if _entry(name, inside) in inside.get(loop := _loop(name, inside) or "", {}):
            what = f"this is also the name of a scene of the board in the loop {quote(loop)}"
            reading.fault(what, quote(name), accepted="another name for the one or the other")
    scenes: dict[str, tuple[str, ...]] = {}
    for scene, on in listed.items():
        place = f"[scenes], {quote(scene)}"
        scenes[scene] = ()
        if not isinstance(on, list) or not all(isinstance(name, str) for name in on):
            reading.fault(
                "a scene is a list of names", place, quote(on), 'such as ["fuzz", "echo"]'
            )
            continue
        names = [found for name in on for found in _names(reading, name, place, chain, inside)]
        scenes[scene] = tuple(dict.fromkeys(names)) if inside else tuple(names)
    return scenes


def _names(
    reading: Reading,
    name: str,
    place: str,
    chain: ChainReader,
    inside: Mapping[str, Mapping[str, tuple[str, ...]]],
) -> Iterator[str]:
    """Yield what one entry of a scene has on, or note what is wrong with it."""
    naming = reading.naming
    loop = _loop(name, inside)
    if loop is not None:
        yield naming.item(loop)
        yield from _scene(reading, name, place, chain, loop, inside[loop])
        return
    names = tuple(chain.names)
    why = None if name in names else why_unswitched(name, chain.branches, chain.cables)
    if why is not None:
        reading.fault(why, place, quote(name), "names of stages and loops")
    elif name not in names and not chain.incomplete:
        reading.fault(
            "the chain has no stage or loop of this name",
            place,
            quote(name),
            ", ".join(quote(n) for n in names[:_MOST_OFFERED]),
            nearest(name, (*names, *_entries(inside))),
        )
    yield naming.item(name)


def _scene(
    reading: Reading,
    name: str,
    place: str,
    chain: ChainReader,
    loop: str,
    scenes: Mapping[str, tuple[str, ...]],
) -> Iterator[str]:
    """Yield what a scene of the board in a loop has on."""
    asked = _entry(name, {loop: scenes})
    if name in chain.names:
        what = (
            "this is the name of a stage or loop, but an entry that begins so means a scene of the "
            f"board in {quote(loop)}"
        )
        reading.fault(what, place, quote(name), "another name for that stage or loop")
    elif asked in scenes:
        yield from scenes[asked]
    elif not chain.incomplete:
        entries = [of_board(loop) + scene for scene in scenes]
        reading.fault(
            f"the board in the loop {quote(loop)} has no scene of this name",
            place,
            quote(name),
            ", ".join(map(quote, entries[:_MOST_OFFERED])) or f"{quote(loop)}: it has no scene",
            nearest(name, entries),
        )


def _entries(inside: Mapping[str, Mapping[str, tuple[str, ...]]]) -> Iterator[str]:
    yield from (of_board(loop) + scene for loop, scenes in inside.items() for scene in scenes)


def _loop(name: str, inside: Mapping[str, object]) -> str | None:
    """Return the loop with a board whose scene an entry names, None for one of no such loop.

    It stands before the first colon and blank that have such a loop on their left.
    """
    end = name.find(": ")
    while end >= 0:
        if name[:end] in inside:
            return name[:end]
        end = name.find(": ", end + 1)
    return None


def _entry(name: str, inside: Mapping[str, object]) -> str:
    """Return the scene that an entry names, empty for none."""
    loop = _loop(name, inside)
    return "" if loop is None else name.removeprefix(of_board(loop))

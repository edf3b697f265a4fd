"""What the page says of one thing on the line, whatever state it is in."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from sigsim.decide.pickup import has_pickup
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.physics.arrays import scalar
from sigsim.quantities import is_imperial, length_text
from sigsim.show.render.text import plain
from sigsim.units import render

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item

About: TypeAlias = dict[str, Any]

NAME: Final = 80
_ROLE: Final = 24
_FEET: Final = ("ft", "feet", "foot", "'")


def about_item(item: Item, board: Board, *, own: bool) -> About:
    """Return what is said of an item that is no cable.

    Parameters
    ----------
    item : of the board's wired chain
    board : the board
    own : whether it stands in the board's own file, and not in that of a board inside
    """
    if isinstance(item, Tap):
        return {
            "kind": "tap",
            "key": f"tap:{item.tap}",
            "name": plain(item.tap, NAME),
            "ending": _ending(item),
            **_length(item.cable),
        }
    if isinstance(item, Split):
        about: About = {
            "kind": "split",
            "key": f"split:{item.split}",
            "name": plain(item.split, NAME),
        }
        return (
            about
            | {"turned": False, "end": plain(item.destination.name, NAME)}
            | ({"openEnd": True} if item.destination.open else {})
        )
    kind = "loop" if isinstance(item, Loop) else "box"
    about = {"kind": kind, "key": f"box:{item.label}", "name": plain(item.label, NAME)}
    if isinstance(item, Loop):
        if item.board and own:
            about |= {"boardFile": os.path.normpath(item.board)}
        if item.board:
            about |= {"board": plain(item.board_title or item.board, NAME)}
    elif item.switch is not None:
        about["bypass"] = getattr(item, "bypass", "true")
    if getattr(item, "needs_pickup", False) and has_pickup(board):
        about["pickup"] = True
    return about | ({"part": item.part} if item.part else {})


def turned_way(key: str, end: str) -> About:
    """Return what is said of the way that goes on to the end of the chain, seen from another."""
    return {
        "kind": "split",
        "key": key,
        "name": plain(f"the way to {end}", NAME),
        "turned": True,
        "end": plain(end, NAME),
    }


def about_cable(made: Cable, listed: Cable | None, wiring: Cable | None) -> About:
    """Return what is said of a cable, but for its key and its name.

    Parameters
    ----------
    made : with its length
    listed : as the file has it, None for wiring
    wiring : that of the file in which it stands, None for none
    """
    about: About = {"kind": "cable", **_length(made)}
    if made.is_lead:
        about["lead"] = True
    if listed is None:
        about["unwritten"] = True
    if (listed or wiring or made).lays is not None:
        about["laid"] = True
    elif wiring is not None and wiring.lays is None:
        about["wiring"] = float(scalar(made.length)) == float(scalar(wiring.length))
    return about


def cable_name(cable: Cable, spot: str, group: Loop | Split | None, end: str, *, last: bool) -> str:
    """Return what a person calls a cable.

    Parameters
    ----------
    cable : the cable
    spot : what it follows: "after:NAME" for a box, else the beginning
    group : the loop or split that it is in
    end : the name of what its list ends at
    last : whether nothing follows it there
    """
    if cable.is_lead:
        return "lead"
    if last and not isinstance(group, Loop):
        return plain(f"cable to {end}", NAME)
    # Those of a board inside have its name before theirs.
    role = plain(cable.cable.rpartition(": ")[2], _ROLE)
    if spot.startswith("after:"):
        return plain(f"{role} after {spot.removeprefix('after:')}", NAME)
    return plain(f"{role} into {group.label}" if group else f"{role} at the beginning", NAME)


def _length(cable: Cable) -> About:
    length = scalar(cable.length)
    text = length_text(length)
    return {
        "length": float(length),
        "lengthText": text,
        "unit": _unit(length, text),
        "cable": cable.cable,
    }


def _unit(length: float, text: str) -> str:
    if is_imperial(length):
        return "ft" if text.rstrip().endswith(_FEET) else "in"
    return "cm" if text.rstrip().endswith(("cm", "mm")) else "m"


def _ending(tap: Tap) -> str:
    if tap.input_resistance is None:
        return "open end"
    return render(scalar(tap.input_resistance), "Ω")

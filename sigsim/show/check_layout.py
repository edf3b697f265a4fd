"""What is said of where boxes stand when a board is looked over."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final

from sigsim.quantities import length_text
from sigsim.show.render.text import listed, plain

if TYPE_CHECKING:
    from sigsim.decide.check.standing import OnBoard
    from sigsim.layout.facing import Facing

_MOST: Final = 5
_EDGES: Final = {"near": "front", "back": "back", "left": "left", "right": "right"}

LAYOUT_WORDS: Final[dict[str, Callable[[str, dict[str, Any]], str]]] = {
    "boxes-overlap": lambda name, v: (
        f"'{name}' and '{plain(v['other'], 40)}' stand in one place: they overlap."
    ),
    "box-overhangs": lambda name, v: (
        f"'{name}' hangs over the {_EDGES[v['edge']]} edge of the board by {length_text(v['by'])}."
    ),
    "no-room-for-plug": lambda name, _: (
        f"there is no room for a straight plug at '{name}': another box is nearer than "
        "plug_length. Move it, or take an angled plug."
    ),
    "plugs-face-each-other": lambda _, v: facing_words(v["pairs"], v["plug"]),
    "cable-too-short": lambda name, v: (
        f"the '{name}' cable from {plain(v['begin'], 60)} to {plain(v['end'], 60)} is "
        f"{length_text(v['short'])} too short for its way on the board."
    ),
}


def facing_words(pairs: Sequence[Facing], plug: float) -> str:
    """Say which plugs face each other with too little room for both.

    Parameters
    ----------
    pairs : of boxes, with the gap between their jacks
    plug : how long a plug is [m]
    """
    shown = [
        f"'{plain(one.one, 30)}' and '{plain(one.other, 30)}' ({length_text(one.gap)})"
        for one in pairs[:_MOST]
    ]
    left = f" and {len(pairs) - _MOST} more" if len(pairs) > _MOST else ""
    return (
        f"two plugs face each other, with less room than both take, between {', '.join(shown)}"
        f"{left}: a straight plug is {length_text(plug)} long (plug_length). Move them apart, or "
        "take angled plugs."
    )


def on_board_words(leads: Sequence[OnBoard], others: Sequence[str]) -> Iterator[str]:
    """Yield a line on what of each lead lies on the board, and one on what stands there besides."""
    for lead in leads:
        side = "comes in" if lead.leads_in else "goes out"
        box = plain(lead.box, 40)
        where = f"from the edge to '{box}'" if lead.leads_in else f"from '{box}' to the edge"
        named = f"The '{plain(lead.cable, 30)}' cable that {side}"
        if lead.length is None:
            yield f"{named} has no way {where}."
        else:
            yield f"{named} lies {length_text(lead.length)} on the board, {where}."
    yield from _others(others)


def _others(names: Sequence[str]) -> Iterator[str]:
    if names:
        yield f"On the board, but not in the chain: {listed(names, most=5)}."


def on_board_values(leads: Sequence[OnBoard]) -> list[dict[str, Any]]:
    """Return the same for JSON."""
    return [
        {
            "cable": lead.cable,
            "from": None if lead.leads_in else lead.box,
            "to": lead.box if lead.leads_in else None,
            "on_board_m": lead.length,
        }
        for lead in leads
    ]

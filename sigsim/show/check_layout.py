"""What is said of where boxes stand when a board is looked over."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final

from sigsim.show.lengths import length_text
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from sigsim.decide.check.standing import OnBoard

_EDGES: Final = {"near": "front", "back": "back", "left": "left", "right": "right"}

LAYOUT_WORDS: Final[dict[str, Callable[[str, dict[str, Any]], str]]] = {
    "boxes-overlap": lambda name, v: (
        f"'{name}' and '{plain(v['other'], 40)}' stand in one place: they overlap."
    ),
    "box-overhangs": lambda name, v: (
        f"'{name}' hangs over the {_EDGES[v['edge']]} edge of the board by {length_text(v['by'])}."
    ),
    "box-unused": lambda name, _: (
        f"'{name}' stands on the board, but nothing of the chain goes through it."
    ),
    "no-room-for-plug": lambda name, _: (
        f"there is no room for a straight plug at '{name}': another box is nearer than "
        "plug_length. Move it, or take an angled plug."
    ),
    "cable-too-short": lambda name, v: (
        f"the '{name}' cable from {plain(v['begin'], 60)} to {plain(v['end'], 60)} is "
        f"{length_text(v['short'])} too short for its way on the board."
    ),
}


def on_board_words(leads: Sequence[OnBoard]) -> Iterator[str]:
    """Yield a line on what of the leads lies on the board."""
    for lead in leads:
        side = "comes in" if lead.leads_in else "goes out"
        box = plain(lead.box, 40)
        where = f"from the edge to '{box}'" if lead.leads_in else f"from '{box}' to the edge"
        named = f"The '{plain(lead.cable, 30)}' cable that {side}"
        if lead.length is None:
            yield f"{named} has no way {where}."
        else:
            yield f"{named} lies {length_text(lead.length)} on the board, {where}."


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

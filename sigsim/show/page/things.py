"""The things on the line of a page: each wired item, and where the board file has it.

The signal meets more than the file lists: wiring is put between neighbours, and a board listened at
another end is turned round. So the list is followed beside what is wired from it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from sigsim.board.ends import place_of_end
from sigsim.board.included import of_board
from sigsim.board.relaid import is_joined
from sigsim.board.wiring import points
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.show.page.abouts import About, about_cable, about_item, cable_name, turned_way

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.items.base import Item

    At: TypeAlias = dict[str, Any]

_SIDE: Final = Tap | Split


@dataclass(frozen=True)
class Thing:
    """One thing on the line.

    Attributes
    ----------
    about : what the page says of it, and where the file has it
    joint : whether it is no item but a place where two boxes touch
    inside : of a loop or a split
    """

    about: About
    joint: bool = False
    inside: tuple[Thing, ...] = ()


def things(board: Board) -> tuple[Thing, ...]:
    """Return the things on the way to the end where one listens: those of its chain, and joints."""
    made = _List(board).along(board.with_lead(), board.laid)
    place = place_of_end(board.laid, board.at)
    return _turned(made, place, (), ("way", board.destination.name)) if place else made


def _turned(
    made: tuple[Thing, ...], place: Place, behind: tuple[Thing, ...], other: tuple[str, str]
) -> tuple[Thing, ...]:
    """Return the things on the way to a split, as `board.ends` turns the items.

    `other` is the key and the end of the way that goes on.
    """
    where = [n for n, thing in enumerate(made) if not thing.joint][place[0]]
    before, this, rest = made[:where], made[where], (*made[where + 1 :], *behind)
    if this.about["kind"] == "split":
        way = this.inside
        if place[1:]:
            inner = f"way:{this.about['key']}", this.about["end"]
            way = _turned(way, place[1:], (), inner)
        return (*before, Thing(turned_way(*other), inside=rest), *way)
    return (*before, replace(this, inside=_turned(this.inside, place[1:], rest, other)))


@dataclass
class _List:
    """The chain, or what is in a loop or split.

    Attributes
    ----------
    board : the board
    group : the loop or split, None for the chain
    place : of the group in the file; None where a board inside has it
    owner : the loop with the board that all this stands in, None for the board itself
    listed : as the file has it, the lead marked
    bare : for the point before each of them, and behind all, whether a box comes right before it
    spot : what was met last, in the words of keys; cables : how many since then
    wired : whether wiring was put behind it
    """

    board: Board
    group: Loop | Split | None = None
    place: Place | None = ()
    owner: Loop | None = None
    listed: Sequence[Item] = ()
    bare: Sequence[bool] = ()
    spot: str = "begin"
    cables: int = 0
    wired: bool = False

    def along(self, listed: Sequence[Item], laid: Sequence[Item]) -> tuple[Thing, ...]:
        """Return the things that a list makes.

        Parameters
        ----------
        listed : as the file has it, the lead marked
        laid : the same, wired
        """
        self.listed = listed
        self.bare = list(points(listed, bare=self.group is not None))
        self.spot = f"in:{self.group.label}" if self.group else "begin"
        made: list[Thing] = []
        index = 0
        for item in laid:
            if isinstance(item, Cable) and not self._is_cable(index):
                self.cables, self.wired = self.cables + 1, True
                made.append(Thing(self._cable(item, None, index)))
                continue
            if not isinstance(item, Cable | _SIDE) and self._touches(index):
                made.append(self._joint(index))
            made.append(self._thing(item, index))
            index += 1
        if isinstance(self.group, Loop) and self._touches(index):
            made.append(self._joint(index))
        return tuple(made)

    def _is_cable(self, index: int) -> bool:
        return index < len(self.listed) and isinstance(self.listed[index], Cable)

    @property
    def _own(self) -> bool:
        """Whether the list stands in the board's own file."""
        return self.owner is None and self.place is not None

    def _touches(self, index: int) -> bool:
        """Whether a box could go in before an item without a cable before it."""
        begins = self.group is None and self.spot == "begin" and not self.cables
        return self._own and not self.wired and (self.bare[index] or begins)

    def _thing(self, item: Item, index: int) -> Thing:
        listed = self.listed[index]
        if isinstance(item, Cable):
            assert isinstance(listed, Cable), "the lists go side by side"
            self.cables += 1
            return Thing(self._cable(item, listed, index))
        about = about_item(item, self.board, own=self.owner is None)
        if self._own:
            about["at"] = {"place": self._at(index)}
            if isinstance(item, Split):
                about["endAt"] = {"place": self._at(index), "end": True}
        if not isinstance(item, _SIDE):
            self.spot, self.cables, self.wired = f"after:{item.label}", 0, False
        if not isinstance(item, Loop | Split):
            return Thing(about)
        assert isinstance(listed, Loop | Split), "the lists go side by side"
        return Thing(about, inside=self._within(listed, index).along(listed.inside, item.inside))

    def _within(self, group: Loop | Split, index: int) -> _List:
        owner = group if isinstance(group, Loop) and group.board else self.owner
        return _List(self.board, group, self._at(index) if self._own else None, owner)

    def _at(self, index: int) -> Place:
        assert self.place is not None, "it stands in the board's own file"
        return (*self.place, index)

    # ---- cables and joints

    def _key(self) -> str:
        return f"cable:{max(self.cables, 1)}:{self.spot}"

    def _cable(self, made: Cable, listed: Cable | None, index: int) -> About:
        """Return what is said of a cable; `listed` as the file has it, None for wiring."""
        wiring = self.owner.wiring if self.owner else self.board.wiring
        behind = index + (listed is not None)
        about = about_cable(made, listed, wiring) | {"key": self._key()}
        lead = self._lead(index, listed=listed is not None)
        if lead:
            assert isinstance(self.group, Loop), "a board inside stands in a loop"
            about |= {
                "at": {"place": self.place, "lead": lead},
                "name": _to_board(lead, self.group),
            }
            if made.cable.startswith(of_board(self.group.loop)):
                about["unwritten"] = True
            return about
        about["name"] = cable_name(
            made, self.spot, self.group, self._end(), last=not self._leads_on(behind)
        )
        if self._own:
            place = self._at(index)
            about["at"] = {"place": place} if listed else {"wiring": place}
            gap = place if listed is None else self._gap(listed, index)
            if gap is not None and not self._before_lead(gap):
                about["gap"] = {"place": gap}
        return about

    def _end(self) -> str:
        split = self.group if isinstance(self.group, Split) else None
        return (split.destination if split else self.board.destination).name

    def _lead(self, index: int, *, listed: bool) -> str:
        """Return whether a cable is the lead "out" to a board inside, or "back"; empty for none."""
        if self.owner is None or self.owner is not self.group or self.place is None:
            return ""
        behind = self._leads_on(index + listed)
        if not any(not isinstance(item, _SIDE) for item in self.listed[:index]):
            return "out"
        return "" if behind else "back"

    def _leads_on(self, index: int) -> bool:
        """Whether the way goes on behind a place of the list, to more than its end."""
        return any(not isinstance(item, _SIDE) for item in self.listed[index:])

    def _gap(self, cable: Cable, index: int) -> Place | None:
        """Return where a box goes that is put in beside a listed cable; None for nowhere."""
        if isinstance(self.group, Loop) or self._leads_on(index + 1):
            return self._at(index + 1)
        before = [item for item in self.listed[:index] if not isinstance(item, _SIDE)]
        if cable.is_lead or (before and isinstance(before[-1], Cable)):
            return None  # behind it nothing leads on; or the cable before it has this place
        return self._at(index)

    def _before_lead(self, place: Place) -> bool:
        lead = self.board.lead_place
        return lead is not None and place <= lead

    def _joint(self, index: int) -> Thing:
        about: About = {"kind": "joint", "key": self._key(), "name": self._joint_name(index)}
        place = self._at(index)
        joined = self.board.has_layout and is_joined(
            self.board, self.listed[:index], self.listed[index:]
        )
        if not joined and not self._before_lead(place):
            about["gap"] = {"place": place}
        return Thing(about, joint=True)

    def _joint_name(self, index: int) -> str:
        behind = [item for item in self.listed[index:] if not isinstance(item, _SIDE)]
        if behind:
            return f"before {behind[0].label}"
        assert self.group is not None, "the chain does not end in a joint"
        return f"at the end of {self.group.label}"


def _to_board(lead: str, loop: Loop) -> str:
    return f"cable out to {loop.loop}" if lead == "out" else f"cable back from {loop.loop}"

"""Which part each pedal of a first board file is: by its name, and by the bypass that was counted.

The name tells what a pedal is; of a thing that is sold with either bypass, a count decides which.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from sigsim.board.finding import called
from sigsim.board.parts import Part, library

# What a pedal is whose name tells nothing, by its bypass.
PLAIN: Final = {
    "hardwire": "vintage-hardwire",
    "true": "pedal-true-bypass",
    "buffered": "pedal-buffered",
}
# A name that fits these and a part of its own is meant for the latter.
_FOR_ALL: Final = frozenset({*PLAIN.values(), "pedal-true-bypass-long-wiring"})


@dataclass
class Pedal:
    """One pedal.

    Attributes
    ----------
    bypass : "true", "buffered", "hardwire", or empty for a part without a bypass
    fitting : the parts that its name tells of, the likeliest first; empty for an untelling name
    """

    bypass: str
    fitting: tuple[Part, ...] = ()

    @property
    def part(self) -> str:
        """The part that it is taken for."""
        if not self.fitting:
            return PLAIN[self.bypass]
        return next(p.name for p in self.fitting if _bypass(p) == self.bypass)

    @property
    def wants_pickup(self) -> bool:
        """Whether this part wants the pickup right before it."""
        return any(p.name == self.part and p.values.get("needs_pickup") for p in self.fitting)

    def can_be(self, bypass: str) -> bool:
        """Whether there is such a thing with a bypass."""
        return not self.fitting or any(_bypass(part) == bypass for part in self.fitting)


def chosen(part: Part) -> Pedal:
    """Return a pedal of a part that somebody chose."""
    return Pedal(_bypass(part), (part,))


def pedals(names: Sequence[str], hardwire: int, buffered: int, *, counted: bool) -> list[Pedal]:
    """Return what each pedal is, as nearly as there are such things.

    Parameters
    ----------
    names : of the pedals in order, empty for one without a name
    hardwire, buffered : how many of all have such a bypass; the others have true bypass
    counted : whether somebody said so; if not, a name that tells decides alone
    """
    made = []
    for name in names:
        fitting = _told_by(name)
        made.append(Pedal(_bypass(fitting[0]) if fitting else "true", fitting))
    if counted:
        _give(made, "hardwire", hardwire, made)
        _give(made, "buffered", buffered, made[::-1])
    return made


def _give(all_pedals: list[Pedal], bypass: str, wanted: int, order: list[Pedal]) -> None:
    """Let as many pedals have a bypass as were counted, those with untelling names first."""
    having = [pedal for pedal in all_pedals if pedal.bypass == bypass]
    movable = [pedal for pedal in having if pedal.can_be("true")]
    for pedal in movable[: max(0, len(having) - wanted)]:
        pedal.bypass = "true"
    missing = wanted - sum(pedal.bypass == bypass for pedal in all_pedals)
    free = [p for p in order if p.bypass == "true" and p.can_be(bypass)]
    for pedal in sorted(free, key=lambda p: bool(p.fitting))[: max(0, missing)]:
        pedal.bypass = bypass


def _bypass(part: Part) -> str:
    return "" if part.values.get("always_on") else str(part.values.get("bypass", ""))


def _told_by(name: str) -> tuple[Part, ...]:
    """Return the parts that a name tells of, if they are one thing in several makes."""
    stages = [part for part in library().values() if part.kind == "stage"]
    fitting = called(name, stages)
    own = tuple(part for part in fitting if part.name not in _FOR_ALL)
    fitting = own or fitting
    things = {part.name.partition("-")[0] for part in fitting}
    if len(things) > 1 or (len(fitting) > 1 and not own):
        return ()
    # A pedal that is asked for has a switch, if there is such a one.
    return tuple(sorted(fitting, key=lambda part: not _bypass(part)))

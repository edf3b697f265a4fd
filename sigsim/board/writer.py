"""A first board file: commented text that teaches, from a few plain answers."""

from __future__ import annotations

from dataclasses import dataclass
from string import Template
from typing import Final

from sigsim.board.instrument_text import instrument_lines, pickup_tables
from sigsim.board.named_parts import PLAIN, Pedal, chosen, pedals
from sigsim.board.parts import part
from sigsim.board.writer_layout import (
    SUPPLIES,
    is_imperial,
    is_powered,
    layout_example,
    pedal_example,
    sold_example,
)
from sigsim.errors import SigsimError

MOST_PEDALS: Final = 60
BYPASSES: Final = {
    "hardwire": (PLAIN["hardwire"], "when off, the input stays connected and loads the pickup"),
    "true": (PLAIN["true"], "when off, it is a switch and a little wire"),
    "buffered": (PLAIN["buffered"], "when off, its buffer stays in and shields the pickup"),
}
# No name stands in a comment: what is in a name must not begin a line of its own.
_FROM_NAME: Final = '   # from its name; if it is another, write one of "sigsim parts"'
_WANTS_PICKUP: Final = "; it wants the pickup"


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What a first board file is made from.

    Attributes
    ----------
    title : of the board
    instrument, destination, cable : names of parts; the cable is for the lead and the last cable
    lead, patch, last : lengths as a person writes them, with a unit
    pedals : how many
    hardwire, buffered : how many of them have such a bypass; the others have true bypass
    treble_bleed : how its parts are joined, a word of `BLEEDS`; empty for what the part has
    names : of the first pedals; the others are called by their number
    also : the part that the output feeds at the same time, empty for nothing
    parts : of the first pedals where somebody chose them; empty for one that its name tells
    counted : whether somebody said how many are hardwired and buffered; a name that tells what a
        pedal is decides alone otherwise
    """

    title: str
    instrument: str
    destination: str
    cable: str
    lead: str
    patch: str
    last: str
    pedals: int
    hardwire: int = 0
    buffered: int = 0
    treble_bleed: str = ""
    names: tuple[str, ...] = ()
    also: str = ""
    counted: bool = True
    parts: tuple[str, ...] = ()

    def name(self, number: int) -> str:
        """Return the name of a pedal, counted from 1."""
        return self.names[number - 1] if 0 < number <= len(self.names) else f"pedal {number}"

    def made(self) -> list[Pedal]:
        """Return each pedal in order: old ones first, buffered ones last, where no name tells.

        That is the usual order on a board: fuzz and wah at the pickup, echo and reverb at the end.
        """
        names = [*self.names, *[""] * (self.pedals - len(self.names))]
        made = pedals(names, self.hardwire, self.buffered, counted=self.counted)
        for number, name in enumerate(self.parts):
            if name:
                made[number] = chosen(part(name, ("stage",)))
        return made

    def is_chosen(self, number: int) -> bool:
        """Return whether somebody chose the part of a pedal, counted from 1."""
        return number <= len(self.parts) and bool(self.parts[number - 1])


def board_text(plan: Plan) -> str:
    """Return the text of a board file.

    A line that begins with `#` and no space after it is an example: without that one sign it is a
    working part of the board.

    Raises
    ------
    SigsimError : the counts do not fit each other
    """
    if plan.hardwire + plan.buffered > plan.pedals:
        raise SigsimError(
            "there are more buffered and old pedals than pedals",
            found=f"{plan.buffered} buffered and {plan.hardwire} old of {plan.pedals}",
        )
    chain = _CHAIN if plan.pedals else _LEAD_ALONE
    return Template(_ENDS + chain).substitute(
        title=_quoted(plan.title),
        instrument=_quoted(plan.instrument),
        knobs=instrument_lines(plan.instrument, plan.treble_bleed),
        instrument_figure=_figure(plan.instrument, "resistance", "output_resistance"),
        pickups=pickup_tables(plan.instrument, plan.treble_bleed),
        destination=_quoted(plan.destination),
        destination_figure=_figure(plan.destination, "input_resistance"),
        cable=_quoted(plan.cable),
        cable_figure=_figure(plan.cable, "capacitance"),
        lead=_quoted(plan.lead),
        patch=_quoted(plan.patch),
        last=_quoted(plan.last),
        where="amplifier" if "amplifier-input" in plan.destination else "input it goes to",
        pedals=_pedals(plan),
        first=_quoted(plan.name(1)),
        end=_quoted(plan.name(plan.pedals)),
        split=_split(plan),
        sold=sold_example(imperial=is_imperial(plan.patch)),
        standing=_standing(plan),
        supplies=SUPPLIES,
        alone=f"{_split(plan)}\n" if plan.also else "",
    )


def _standing(plan: Plan) -> str:
    """Return where the pedals stand, as an example."""
    if not plan.pedals:
        return ""
    names = [_quoted(plan.name(number)) for number in range(1, plan.pedals + 1)]
    return layout_example(plan.made(), names, imperial=is_imperial(plan.patch))


def _split(plan: Plan) -> str:
    """Return a split to what the output feeds as well, as an example where that is nothing."""
    end = _quoted(plan.also or "instrument-input")
    tables = Template(_SPLIT).substitute(end=end, length=_quoted(plan.last))
    sign = "" if plan.also else "#"
    return "".join(f"{sign}{line}\n" for line in tables.splitlines())


def _quoted(value: str) -> str:
    """Write a string so that TOML reads it back, whatever is in it."""
    import tomlkit

    return tomlkit.item(value).as_string()


def _figure(name: str, *keys: str) -> str:
    """Return one figure of a part as an example to change."""
    given = part(name).values
    return next((f"#{key} = {_quoted(given[key])}\n" for key in keys if key in given), "")


def _pedals(plan: Plan) -> str:
    tables = []
    explained: set[str] = set()
    made = plan.made()
    powered = next((number for number, pedal in enumerate(made, 1) if is_powered(pedal)), 0)
    for number, pedal in enumerate(made, 1):
        if plan.is_chosen(number):
            note = ""
        elif pedal.fitting:
            note = _FROM_NAME + (_WANTS_PICKUP if pedal.wants_pickup else "")
        else:
            note = "" if pedal.bypass in explained else f"   # {BYPASSES[pedal.bypass][1]}"
            explained.add(pedal.bypass)
        called = _quoted(plan.name(number))
        more = pedal_example(pedal, first=number == powered)
        tables.append(f'[[chain]]\nstage = {called}\npart = "{pedal.part}"{note}\n{more}')
    return "\n".join(tables)


_ENDS: Final = """\
# A board: everything the signal meets, in order, from the strings to the amplifier.
# Lines that begin with # are notes, and the program does not read them. Change what you like,
# save, and ask:
#   sigsim check FILE    what the program understood
#   sigsim loss FILE     how much top end the board costs, scene by scene and at worst
# A # with no space after it hides an example: take that # away, and the example counts.

title = $title

# What you play. "sigsim parts" lists the others, "sigsim parts NAME" says where the figures of a
# part come from. If you know a figure better, write it under the part, and it counts instead.
# Knobs run from 0 to 10.
[instrument]
part = $instrument
$knobs$instrument_figure$pickups
# Where the chain ends. Take figures from its papers; do not open a mains-powered or valve
# amplifier to measure them: even when unplugged it can hold dangerous voltages.
[destination]
part = $destination
$destination_figure
# The kinds of cable you use, by names of your own. The makers give the capacitance per metre or per
# foot, such as "33 pF/ft"; it is the figure that counts most.
[cables.lead]
part = $cable
$cable_figure
[cables.patch]
part = "cable-patch"
$sold
# Between two pedals there is one of these, unless the chain below names a cable there.
[wiring]
cable = "patch"
length = $patch

# The chain, in the order in which the signal meets it. First the lead from the instrument.
[[chain]]
cable = "lead"
length = $lead

"""

_SPLIT: Final = """\
[[chain]]
split = "second output"
destination = { part = $end }
[[chain.inside]]
cable = "lead"
length = $length
"""

_CHAIN: Final = """\
# The pedals. Give them the names you call them by, here and in the scenes at the end. To move a
# pedal, move its lines. There are better fitting parts for a tuner, a fuzz, a wah, a volume
# pedal and others: "sigsim parts" lists them.
$pedals
# A buffer is the cure for much cable: put it early, but behind a fuzz that wants the pickup.
#[[chain]]
#stage = "buffer"
#part = "buffer-opamp"

# A tap is a cable that hangs on the line without the signal passing through it, such as one left in
# a tuner output. If a tuner is plugged into it, write input_resistance = "1 MΩ" instead of open.
#[[chain]]
#tap = "tuner output"
#cable = "patch"
#length = "1 m"
#open = true

# A loop is several pedals on one switch, as in a loop switcher or on a second board. What is inside
# follows as [[chain.inside]]; the next plain [[chain]] is outside again.
#[[chain]]
#loop = "loop 1"
#[[chain.inside]]
#stage = "chorus"
#part = "modulation-true-bypass"
#[[chain.inside]]
#stage = "echo"
#part = "echo-buffered"

# A split feeds a second amplifier, a DI or a tuner at the same time, from the output of what stands
# before it. "sigsim loss FILE --at NAME" says what arrives there.
$split
# Last the cable from the board to the $where.
[[chain]]
cable = "lead"
length = $last

$standing$supplies# Scenes: what is on together, by names of your own. What is not listed is off.
[scenes]
"clean" = []
"last pedal" = [$end]
#"solo" = [$first, $end]
#"with the loop" = ["loop 1", "echo"]   # needs the loop above
"""

_LEAD_ALONE: Final = """\
$alone# No pedals: the lead goes straight to the $where. A pedal is three lines, put after the lead;
# whatever comes after the last pedal needs a cable of its own, such as the one below.
#[[chain]]
#stage = "pedal 1"
#part = "pedal-true-bypass"

#[[chain]]
#cable = "lead"
#length = $last

# Scenes: what is on together, by names of your own. What is not listed is off.
[scenes]
"clean" = []
#"pedal" = ["pedal 1"]
"""

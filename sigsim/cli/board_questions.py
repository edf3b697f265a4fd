"""The questions that a first board file is made from, with what explains each."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from sigsim.board.instrument_text import BLEEDS
from sigsim.board.writer import MOST_PEDALS
from sigsim.cli.asked_lengths import length
from sigsim.cli.interview import Menu, Question, Read, count, one_of
from sigsim.cli.said import listed
from sigsim.errors import SigsimError, quote


def like(kind: str) -> Callable[[str], list[str]]:
    """Return what finds the parts of a kind that players call by some words."""

    def find_names(text: str) -> list[str]:
        from sigsim.board.finding import find
        from sigsim.board.parts import library

        found = find(text, (part for part in library().values() if part.kind == kind), 12)
        return [part.name for part in found.fitting or found.near]

    return find_names


def pedal_names(most: int) -> Callable[[str], list[str]]:
    """Return what reads the names of at most so many pedals."""

    def read(text: str) -> list[str]:
        if not text.strip():
            return []
        names = listed(text, "", "names of pedals, A,B")
        for name in names:
            if names.count(name) > 1:
                raise SigsimError("this name is given twice", found=quote(name))
        if len(names) > most:
            found = f"{len(names)} names, {most} pedals"
            raise SigsimError("there are more names than pedals", found=found)
        return names

    return read


def _parts(kind: str) -> Menu:
    """Return the menu of the parts of a kind."""

    def menu() -> list[tuple[str, str]]:
        from sigsim.board.parts import library

        return [(part.name, part.summary) for part in library().values() if part.kind == kind]

    return menu


def _one_part(kind: str) -> Read:
    """Return what reads a part of a kind, and knows what players call them."""
    return one_of(_parts(kind), like(kind), f"sigsim parts --kind {kind}")


def _bleeds() -> list[tuple[str, str]]:
    return [
        ("parallel", "a capacitor and a resistor side by side: the older way, some level with it"),
        ("series", "a capacitor and a resistor one after the other: treble alone"),
        ("capacitor", "a capacitor alone: the most treble"),
    ]


def _bleed(text: str) -> str:
    """Read how a treble bleed is joined; nothing is what the part has."""
    return str(one_of(_bleeds)(text)) if text else ""


def _bypasses() -> list[tuple[str, str]]:
    return [
        ("true", "true bypass: off, they are a switch and a little wire"),
        ("buffered", "off, a buffer stays in the signal; usual with soft, silent switches"),
        ("hardwire", "old ones: off, the input stays connected and loads the pickup"),
        ("mix", "some are like this and some like that"),
    ]


def _cables() -> list[tuple[str, str]]:
    return [
        ("low", "sold as low in capacitance"),
        ("standard", "the usual kind, or you do not know"),
        ("high", "old, or cheap, or it sounds dull"),
    ]


INSTRUMENT = Question(
    option="--instrument",
    text="What do you play",
    default="guitar-single-coil",
    read=_one_part("instrument"),
    help='What you play: a part, see "sigsim parts".',
    menu=_parts("instrument"),
    why=(
        "The pickup decides how much treble a cable takes: one with many turns loses more, an "
        "instrument with a battery next to nothing. Take the one that is most like yours; its "
        "figures can be changed in the file."
    ),
)
LEAD = Question(
    option="--lead",
    text="How long is the lead from the instrument",
    default="6 m",
    read=length(100, (1.0, 12.0)),
    metavar="LENGTH",
    help='The lead from the instrument: "6 m", "15 ft".',
    why=(
        "The cable from the instrument to the first pedal, or to the amp if there are no "
        "pedals. It hangs right on the pickup, so that its length counts most."
    ),
)
PEDALS = Question(
    option="--pedals",
    text=f"How many pedals, 0 to {MOST_PEDALS}",
    default="6",
    read=count(MOST_PEDALS),
    metavar="N",
    help=f"How many pedals, 0 to {MOST_PEDALS}.",
    why=(
        "All pedals that the signal runs through, one after the other, a tuner in the chain "
        "included. Each one that is off still adds a little wire."
    ),
)
BYPASS = Question(
    option="",
    text="How do they work when they are off",
    default="true",
    read=one_of(_bypasses),
    note="--buffered 0 --hardwire 0",
    menu=_bypasses,
    why=(
        "What a pedal does when it is off decides what the pickup sees. The papers of the "
        "pedal say it; a soft, silent switch usually means a buffer, a hard click true "
        "bypass."
    ),
)
BUFFERED = Question(
    option="--buffered",
    text="How many of them are buffered",
    default="0",
    read=count(MOST_PEDALS),
    metavar="N",
    help="How many of them are buffered when off; the others have true bypass.",
    why=(
        "A buffered pedal shields the pickup from all cable behind it, also when it is off. A "
        "soft, silent switch usually means a buffer."
    ),
)
HARDWIRE = Question(
    option="--hardwire",
    text="How many are old ones whose input stays connected",
    default="0",
    read=count(MOST_PEDALS),
    metavar="N",
    help="How many are old ones whose input stays connected when off.",
    why=(
        "In some old pedals a simple switch leaves the input connected when they are off, so "
        "that they load the pickup all the time. Take 0 if you do not know of one."
    ),
)
PATCH = Question(
    option="--patch",
    text="How long is a patch cable between two pedals",
    default="20 cm",
    read=length(10, (0.1, 1.0)),
    metavar="LENGTH",
    help="A patch cable between two pedals.",
    why=(
        "The short cables between neighbouring pedals; one length for all of them is enough "
        "here. Many short ones with their plugs add up to a long one."
    ),
)
DESTINATION = Question(
    option="--destination",
    text="Where does the last cable go",
    default="solid-state-amplifier-input",
    read=_one_part("destination"),
    help='Where the last cable goes: a part, see "sigsim parts".',
    menu=_parts("destination"),
    why=(
        "What the last cable is plugged into. Its input resistance is the last load; an input "
        "of a mixer or a sound card loads a pickup more than an amp does."
    ),
)
TO_AMP = Question(
    option="--to-amp",
    text="How long is the cable from the last pedal to there",
    default="5 m",
    read=length(300, (1.0, 30.0)),
    metavar="LENGTH",
    help="The cable from the last pedal to there.",
    why=(
        "The cable from the last pedal to the amp or stage box, all of it. Behind a buffer it "
        "hardly matters, without one it counts as the lead does."
    ),
)
CABLE = Question(
    option="--cable",
    text="What kind of cable are the long ones",
    default="standard",
    read=one_of(_cables),
    help="The kind of the long cables by their capacitance: low, standard, high.",
    menu=_cables,
    why=(
        "Cables differ in their capacitance per metre, which takes the treble. If yours has a "
        "figure on it, such as 100 pF/m, write it into the file afterwards."
    ),
)
NAMES = Question(
    option="--names",
    text="What are they called, in order from the instrument",
    default="",
    read=pedal_names(MOST_PEDALS),
    metavar="A,B",
    help="What you call the pedals, in order; counts them too.",
    why=(
        "The names by which you switch them on in scenes, with commas between: tuner, fuzz, echo. "
        "A name that says what a pedal is, such as fuzz, also picks the part."
    ),
    unnamed="pedal 1, pedal 2 …",
)
TREBLE_BLEED = Question(
    option="--treble-bleed",
    text="How is the treble bleed of the volume knob made",
    default="",
    read=_bleed,
    metavar="KIND",
    help=f"A treble bleed at the volume knob: {', '.join(BLEEDS)}.",
    menu=_bleeds,
    why=(
        "A small capacitor on the volume knob that lets treble past when it is turned down, mostly "
        "with a resistor. How the two are joined shows on the knob, or in the papers of the wiring."
    ),
    unnamed="what is usual",
)
# Never asked: most outputs feed one thing, and whoever feeds two knows it.
ALSO = Question(
    option="--also",
    text="What does the output feed at the same time",
    default="",
    read=_one_part("destination"),
    help="What the output feeds at the same time, such as a second amp: a part.",
)
QUESTIONS: Final = (
    INSTRUMENT,
    LEAD,
    PEDALS,
    BUFFERED,
    HARDWIRE,
    PATCH,
    DESTINATION,
    TO_AMP,
    CABLE,
    NAMES,
    TREBLE_BLEED,
)
# The lengths in the order in which they are asked, with the ends of what is common [m].
USUAL_LENGTHS: Final = {LEAD: (1.0, 12.0), PATCH: (0.1, 1.0), TO_AMP: (1.0, 30.0)}

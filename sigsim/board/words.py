"""What players call things for which a board file has a word of its own."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from sigsim.errors import nearest

_FOR_ITEMS: Final = {
    "stage": "pedal stomp stompbox box effect fx unit device buffer preamp fuzz drive overdrive "
    "distortion boost wah delay echo reverb chorus compressor octaver tuner eq",
    "loop": "switcher send return looper insert loop-switcher loop-pedal fx-loop effects-loop "
    "effect-loop send-return true-bypass-loop true-bypass-looper bypass-loop bypass-looper "
    "bypass-switcher true-bypass-switcher pedal-switcher effects-switcher switched-loop",
    "tap": "branch side-cable side-branch spur tuner-out tuner-output stub",
    "split": "splitter y-cable y-lead y-split y second-amp second-way fork link dual-amp two-amps",
    "cable": "lead cord wire patch patch-cable patch-lead guitar-cable guitar-lead jack-lead",
    "[destination]": "amp amplifier output out destination interface mixer desk console cab",
    "[instrument]": "guitar bass input instrument pickup axe",
}
_FOR_SECTIONS: Final = {
    "[destination]": "amp amplifier output out end load interface mixer desk console cab cabinet "
    "speaker combo head",
    "[instrument]": "guitar bass input source axe pickup",
    "[[chain]]": "board pedalboard rig signal-chain signal item box effect pedal fx stage loop tap "
    "split",
    "[cables.NAME]": "lead cord wire",
    "[wiring]": "patch patch-cable patch-lead jumper",
    "[layout]": "placement position arrangement placing floor plan floorplan surface rows",
    "[boxes.NAME]": "switcher loop-switcher effects-switcher loop-box enclosure housing case",
    "[scenes]": "preset song sound state combination setting",
    "[variants.NAME]": "version variation alternative option change",
}


def _by_word(table: dict[str, str]) -> dict[str, str]:
    return {
        word.replace("-", " "): meant for meant, words in table.items() for word in words.split()
    }


_ITEMS: Final = _by_word(_FOR_ITEMS)
_SECTIONS: Final = _by_word(_FOR_SECTIONS)
_LOOPS: Final = frozenset({"loop"} | {word for word, meant in _ITEMS.items() if meant == "loop"})


def meant_item(keys: Iterable[str]) -> str | None:
    """Return the key or the section that the first of a player's words stands for, or None."""
    return next((meant for key in keys if (meant := _meant(key, _ITEMS))), None)


def meant_section(key: str) -> str | None:
    """Return the section of a board file that a player's word stands for, None for none."""
    return _meant(key, _SECTIONS)


def means_layout(key: str, sections: Iterable[str]) -> bool:
    """Whether a section is the layout, or probably meant to be: its own problem says so."""
    known = tuple(sections)
    if key in known:
        return key == "layout"
    return (meant_section(key) or nearest(key, known)) in ("layout", "[layout]")


def is_loop(asked: str) -> bool:
    """Whether a player's words may ask for a switched loop."""
    return _meant(asked, dict.fromkeys(_LOOPS, "loop")) is not None


def _meant(word: str, table: dict[str, str]) -> str | None:
    plain = " ".join(re.findall(r"[^\W_]+", word[:100].casefold()))
    ways = (plain, plain.removesuffix("s"), plain.removesuffix("es"))
    return next((table[way] for way in ways if way in table), None)

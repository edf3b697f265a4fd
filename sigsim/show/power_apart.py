"""What stands apart where a board's power is told: scenes of odd names, cautions of some boards."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.items.feeding import CENTRE_NEGATIVE
from sigsim.show.power_words import CAUTIONS
from sigsim.show.render.text import listed

if TYPE_CHECKING:
    from collections.abc import Collection

    from sigsim.decide.power.report import PowerReport


def apart(scene: str, word: str, scenes: Collection[str]) -> str:
    """Return what a scene is called where a word of ours stands for everything on.

    Parameters
    ----------
    scene : its name
    word : of ours; a scene of this name is called `scene WORD`
    scenes : the names of all scenes, none of which it is then mistaken for
    """
    if scene != word:
        return scene
    called = f"scene {scene}"
    while called in scenes:
        called = f"scene {called}"
    return called


def cautions(report: PowerReport) -> tuple[str, ...]:
    """Return the cautions of every board, and that of one with a pedal that may be at plus."""
    positive = [one.name for one in report.drains if one.fed.polarity != CENTRE_NEGATIVE]
    if not positive:
        return CAUTIONS
    plus = (
        f"Centre positive: {listed(positive)}. The case of some such pedals, as of some old "
        "fuzzes, is at plus: one like that belongs alone on an isolated output, whatever the plug "
        "(common practice, no source)."
    )
    return (*CAUTIONS, plus)

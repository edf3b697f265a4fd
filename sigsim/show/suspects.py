"""What may be other than the file says, as questions to a person with a screwdriver."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.quantities import length_text
from sigsim.show.render.text import plain
from sigsim.units import render

if TYPE_CHECKING:
    from sigsim.measure.verdict import Suspect

_MOST_NAMED: Final = 6
_METRES: Final = 10.0
_WORDS: Final = {
    "length": "the length of",
    "capacitance": "the capacitance of",
    "plug_capacitance": "the plugs of",
    "wiring_capacitance": "the capacitance of the wiring in",
    "input_resistance": "the input resistance of",
    "input_capacitance": "the input capacitance of",
    "output_resistance": "the output resistance of",
    "contact_resistance": "the contacts of",
    "resistance": "the resistance of",
    "inductance": "the inductance of",
    "loss_resistance": "the loss resistance of",
    "volume": "the volume knob of",
    "tone": "the tone knob of",
    "volume_track": "the volume pot of",
    "tone_track": "the tone pot of",
}


def first_asked(suspect: Suspect) -> str:
    """Return what to check first as the end of a sentence, with its full stop."""
    text = asked(suspect)
    return text[:1].lower() + text[1:]


def asked(suspect: Suspect) -> str:
    """Return a suspect as a sentence: what, of which things, by how much, how well it explains."""
    names = _either(suspect.names)
    share = f"explains {100 * suspect.explains:.0f} % of the difference"
    if suspect.key == "on":
        word = "on" if suspect.change > 0 else "off"
        return f"Is {names} {word}, and not as was said? That {share}."
    what = _WORDS.get(suspect.key, f"the {suspect.key.replace('_', ' ')} of")
    what = f"{what[:1].upper()}{what[1:]}"
    return f"{what} {names}: {_change(suspect)} than the file says {share}."


def _either(names: tuple[str, ...]) -> str:
    """Return names of which one is meant, in the order in which they are likely."""
    listed = [_name(name) for name in names[:_MOST_NAMED]]
    more = len(names) - len(listed)
    if more:
        return f"{', '.join(listed)} or one of {more} more"
    return " or ".join(filter(None, [", ".join(listed[:-1]), listed[-1]]))


def _name(name: str) -> str:
    return "the instrument" if name == "instrument" else f"'{plain(name, 30)}'"


def _rounded(length: float) -> float:
    """Return a length [m] to two digits, three where there are metres: no tape is surer."""
    return float(f"{length:.{3 if length >= _METRES else 2}g}")


def _change(suspect: Suspect) -> str:
    """Return by how much the first of them differs: `2.4 m more`."""
    word = "more" if suspect.change > 0 else "less"
    size = abs(suspect.change)
    if suspect.unit == "m":
        return f"{length_text(_rounded(size))} {word}"
    text = render(size, suspect.unit, 2) if suspect.unit else f"{size:.2g}"
    return f"{text} {word}"

"""A built board beside its plan, as a document and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from sigsim.show import kinds
from sigsim.show.document import Column, Document, Heading, Items, Paragraph, Table
from sigsim.show.ends import at_end, at_value
from sigsim.show.kinds import Kind
from sigsim.show.loss import what_is_on
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.text import decibel, hertz, plain
from sigsim.show.suspects import asked, first_asked
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.measure.verdict import BandLoss, Between, StateVerdict, Suspect, Verified
    from sigsim.show.document import Row

_PRINTED_DB: Final = 0.1
# What the topmost third octave is called; it reaches a little beyond.
_LAST_HZ: Final = 10_000.0
TITLE: Final = "Built as planned?"

_RANGE: Final = Kind(lambda b: f"{decibel(b.low)} to {decibel(b.high)}", data=lambda b: b.value)
_BANDS: Final = (
    Column("Hz", kinds.SHORT_HERTZ, wide="frequency (Hz)", rank=0),
    Column("measured", kinds.LOSS, wide="measured (dB)"),
    Column("", _RANGE, wide="between (dB)", rank=2),
    Column("planned", kinds.LOSS, wide="planned (dB)"),
    Column("", _RANGE, wide="between (dB)", rank=1),
    Column("more", kinds.CHANGE, wide="more than planned (dB)"),
)


def document(verified: Verified) -> Document:
    """Return the sentence, the losses side by side, what to check, and what to record next."""
    blocks = (
        Paragraph((sentence(verified), *_meant(verified))),
        *map(_table, verified.states),
        *_advice(verified),
    )
    return Document(TITLE, blocks, subject=verified.board.name)


def sentence(verified: Verified) -> str:
    """Return the first sentence: whether the board does what was planned, and how far off it is."""
    return at_end(verified.board, _sentence(verified))


def _sentence(verified: Verified) -> str:
    if verified.is_swapped:
        return (
            "Swapped? What was measured is about the plan with its sign turned round: the "
            "recordings through the board and without it are most likely the wrong way round."
        )
    if verified.within_limit:
        return _agreement(verified, "Agrees with the plan")
    state, band = furthest(verified)
    among = f", with {what_is_on(state.state.on)}" if len(verified.states) > 1 else ""
    word = "more" if band.difference > 0 else "less"
    loss = f"{decibel(abs(band.difference))} dB {word} loss at {hertz(band.frequency)}"
    return f"{loss} than planned{among}."


def _agreement(verified: Verified, words: str) -> str:
    """Return up to where the two agree, and how closely; empty where they do nowhere."""
    up_to, within = verified.agrees_to, verified.agrees_within
    if up_to is None or within is None:
        return ""
    # Losses are printed to a tenth: closer than that they agree as far as anyone can read.
    shown = decibel(max(within, _PRINTED_DB))
    return f"{words} within {shown} dB up to {render(min(up_to, _LAST_HZ), 'Hz', 2)}."


def furthest(verified: Verified) -> tuple[StateVerdict, BandLoss]:
    """Return where measured and planned surely differ most."""
    pairs = [(state, band) for state in verified.states for band in state.bands]
    return max(pairs, key=lambda pair: (pair[1].surely, abs(pair[1].difference)))


def _meant(verified: Verified) -> Iterator[str]:
    """Yield what the losses are those of, and how far the two agree."""
    if verified.driven_by is not None:
        source = render(verified.driven_by, "Ω")
        yield (
            f"Driven by {source} and not by the instrument: these are the losses of such a source; "
            "those of the instrument differ."
        )
    if not verified.within_limit:
        below = _agreement(verified, "Below that they agree")
        yield f"The limit is {verified.limit:g} dB. {below}".rstrip()
    for state in verified.states:
        yield (
            f"Treble loss, {what_is_on(state.state.on)}: measured {_between(state.measured)}, "
            f"planned {_between(state.predicted)}."
        )


def _between(value: Between) -> str:
    return f"{decibel(value.value)} dB ({decibel(value.low)} to {decibel(value.high)})"


def _table(state: StateVerdict) -> Table:
    rows: list[Row] = [
        (
            band.frequency,
            band.measured.value,
            band.measured,
            band.predicted.value,
            band.predicted,
            band.difference,
        )
        for band in state.bands
    ]
    return Table(f"Loss by third octaves, dB, {what_is_on(state.state.on)}:", _BANDS, rows)


def _advice(verified: Verified) -> Iterator[Paragraph | Heading | Items]:
    """Yield what to check first, and which state to record next."""
    if verified.is_swapped:
        return
    if verified.suspects and not verified.has_first:
        yield Paragraph(
            (
                "No single figure of the file explains much of this: check the wiring, what drives "
                "the board and what reads it, and whether each pedal was on or off as was said.",
            )
        )
        return
    if verified.suspects:
        first, *others = verified.suspects
        yield Paragraph((f"Check first: {first_asked(first)}",))
        if others:
            yield Heading("What cannot be told from it, each alone:")
            yield Items(tuple(asked(suspect) for suspect in others))
    elif not verified.within_limit:
        yield Paragraph(
            ("No figure of the file explains this if it alone is changed: check the wiring.",)
        )
    if verified.record_next is not None:
        on = what_is_on(verified.record_next)
        names = ",".join(verified.record_next)
        yield Paragraph(
            (f'Record next with {on}, which tells these apart: --also "{plain(names)}=NEXT.wav".',)
        )


def as_json(verified: Verified) -> str:
    """Return the comparison as one JSON document; decibels and SI units, null for no number."""
    values: dict[str, Any] = {
        "board": verified.board.name,
        **at_value(verified.board),
        "driven_by_ohm": verified.driven_by,
        "without_means": verified.without_means,
        "files": [{"role": role, "file": path} for role, path in verified.files],
        "states": [_state_values(state) for state in verified.states],
        "largest_difference_db": finite(verified.largest_difference),
        "limit_db": verified.limit,
        "within_limit": verified.within_limit,
        "agrees_to_hz": finite(verified.agrees_to),
        "agrees_within_db": finite(verified.agrees_within),
        "suspects": _groups(verified.suspects),
        "record_next": None if verified.record_next is None else list(verified.record_next),
        "notes": list(verified.notes),
    }
    return json_document(values)


def _groups(suspects: Sequence[Suspect]) -> list[dict[str, Any]]:
    """Return all that cannot be told apart as one group, which goes by the likeliest of it."""
    if not suspects:
        return []
    things = dict.fromkeys(thing for one in suspects for thing in one.things or one.names)
    each = [
        {"names": list(one.names), "things": list(one.things), **_changed(one)} for one in suspects
    ]
    return [{"names": list(things), **_changed(suspects[0]), "each": each}]


def _changed(suspect: Suspect) -> dict[str, Any]:
    return {
        "key": suspect.key,
        "change": finite(suspect.change),
        "unit": suspect.unit,
        "explains": finite(suspect.explains),
    }


def _state_values(state: StateVerdict) -> dict[str, Any]:
    return {
        "state": state.state.name,
        "on": list(state.state.on),
        "bands": [
            {"frequency_hz": band.frequency}
            | _ends(band.measured, "measured")
            | _ends(band.predicted, "predicted")
            for band in state.bands
        ],
        "treble_loss_db": {
            "measured": _three(state.measured),
            "predicted": _three(state.predicted),
        },
    }


def _ends(value: Between, name: str) -> dict[str, float | None]:
    return {
        f"{name}_db": finite(value.value),
        f"{name}_low_db": finite(value.low),
        f"{name}_high_db": finite(value.high),
    }


def _three(value: Between) -> dict[str, float | None]:
    return {
        "value": finite(value.value),
        "low": finite(value.low),
        "high": finite(value.high),
    }

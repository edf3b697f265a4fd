"""The cross-check as a document and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.show import kinds
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.ends import at_end, at_value
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.text import difference, plain

if TYPE_CHECKING:
    from sigsim.spice.compare import CrossCheck

_COLUMNS: Final = (
    Column("Combination", kinds.names(60, 80)),
    Column("dB", kinds.DIFFERENCE),
    Column("at", kinds.frequencies("-")),
    Column("degrees", kinds.DIFFERENCE),
    Column("time", kinds.MILLISECONDS),
    Column("", kinds.choices({True: ("", "held"), False: ("too much", "too much")})),
)


def as_json(check: CrossCheck) -> str:
    """Return the cross-check as one JSON document; null for a difference that is not finite."""
    values = {
        "board": check.board.name,
        **at_value(check.board),
        "engine": check.engine,
        "limit_db": check.limit_db,
        "limit_deg": check.limit_deg,
        "held": not check.failed,
        "distinct_states": check.total,
        "left_out": list(check.left_out),
        "approximated": list(check.approximated),
        "states": [
            {
                "name": state.state.name,
                "on": list(state.state.on),
                "difference_db": finite(state.db),
                "difference_deg": finite(state.deg),
                "frequency_hz": state.frequency,
                "seconds": state.seconds,
                "held": check.holds(state),
            }
            for state in check.states
        ],
    }
    return json_document(values)


def document(check: CrossCheck) -> Document:
    """Return the sentence and the table."""
    rows = [
        (s.state.title, s.db, s.frequency if s.db else None, s.deg, s.seconds, check.holds(s))
        for s in check.states
    ]
    table = Table("Combination by combination", _COLUMNS, rows, captioned=False)
    return Document("Two programs compared", (Paragraph((sentence(check),)), table))


def sentence(check: CrossCheck) -> str:
    """Return the answer in a sentence."""
    return at_end(check.board, _sentence(check))


def _sentence(check: CrossCheck) -> str:
    if check.failed:
        differ = f"{len(check.failed)} of {len(check.states)} combinations"
        answer = f"differs too much in {differ}: up to"
    elif check.distinct == check.total:
        answer = f"agrees in all {check.total:,} combinations: within"
    else:
        answer = f"agrees in all {check.distinct:,} combinations tried of {check.total:,}: within"
    return (
        f"{plain(check.engine, 30)} {answer} {difference(check.db)} dB and "
        f"{difference(check.deg)}° (the limits are {check.limit_db:g} dB and "
        f"{check.limit_deg:g}°; it took {check.seconds:.2g} s)."
    )

"""The cross-check as a sentence, a table and JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from sigsim.show.render.json import finite, json_document
from sigsim.show.render.terminal import row, show, table
from sigsim.show.render.text import hertz, plain

if TYPE_CHECKING:
    from sigsim.spice.compare import CrossCheck


def as_json(check: CrossCheck) -> str:
    """Return the cross-check as one JSON document; null for a difference that is not finite."""
    values = {
        "board": check.board.name,
        "engine": check.engine,
        "limit_db": check.limit_db,
        "limit_deg": check.limit_deg,
        "held": not check.failed,
        "distinct_states": check.total,
        "left_out": list(check.left_out),
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


def print_check(check: CrossCheck) -> None:
    """Print the sentence and the table."""
    show(sentence(check))
    made = table(["State", "dB", "at", "degrees", "time", ""], names=("State", ""))
    for state in check.states:
        row(
            made,
            plain(state.state.title, 60),
            _size(state.db),
            "-" if state.db == 0 else hertz(state.frequency),
            _size(state.deg),
            f"{1000 * state.seconds:.0f} ms",
            "" if check.holds(state) else "too much",
        )
    show(made)


def sentence(check: CrossCheck) -> str:
    """Return the answer in a sentence."""
    db = max(state.db for state in check.states)
    deg = max(state.deg for state in check.states)
    took = sum(state.seconds for state in check.states)
    if check.failed:
        answer = f"differs too much in {len(check.failed)} of {len(check.states)} states: up to"
    elif check.distinct == check.total:
        answer = f"agrees in all {check.total:,} states: within"
    else:
        answer = f"agrees in all {check.distinct:,} states tried of {check.total:,}: within"
    return (
        f"{plain(check.engine, 30)} {answer} {_size(db)} dB and {_size(deg)}° (the limits are "
        f"{check.limit_db:g} dB and {check.limit_deg:g}°; it took {took:.2g} s)."
    )


def _size(value: float) -> str:
    """Return a difference in a few characters."""
    if not math.isfinite(value):
        return "silent"
    return "0" if value == 0 else f"{value:.1e}"

"""What costs the most, as words, tables and JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from sigsim.show.loss import state_values
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.terminal import row, show, table
from sigsim.show.render.text import decibel, plain, short_hertz, signed

if TYPE_CHECKING:
    from rich.table import Table

    from sigsim.decide.blame.report import Blame, BlameReport, Outcome

MOST_SHOWN: Final = 12
_SHOWN_DB: Final = 0.05
_NOTICED_DB: Final = 0.5

GROUP_NAMES: Final = {
    "cables": "all cables but the lead",
    "bypass wiring": "all bypass wiring",
    "loading by inputs": "all loading by inputs",
    "destination": "the destination",
    "buffers of stages that are off": "buffers of stages that are off",
    "taps": "all taps",
    "passive stages that are on": "passive stages that are on",
    "instrument's lead": "the instrument's lead",
}

_COLUMNS: Final = (
    "Out: dB less lost with it alone made ideal. Alone: dB lost with nothing else but it. "
    "--explain says more."
)
_EXPLANATION: Final = """\
Out: how many dB less are lost with it alone made ideal, and that as a share of the loss; \
then the corner and the change of level at 100 Hz. Alone: how many dB are lost with nothing else \
but it, and the corner then.
The two differ where things act on one another: of many metres of cable each matters less once \
the others have taken the treble, so shares need not add up to 100 %, and a resonance that moves \
can turn a sign. A minus under Out: it helps, as a buffer that shields the pickup does.
Ideal is a cable of no length and no plugs, a perfect wire for what is off, no tap, and an input \
that loads nothing, which gives back level as well.
The star: the reference has it as well, so that the loss does not count it."""

_KEPT: Final = (
    "In the reference as well (*), so that the loss above does not count them; what they take:"
)


def print_blame(report: BlameReport, *, every: bool, explain: bool) -> None:
    """Print the sentence, what costs, the groups, and what the reference has as well."""
    show(sentence(report), *_group_sentence(report), *_helper_sentence(report))
    if not math.isfinite(report.state.treble_loss):
        return
    counted = [blame for blame in report.items if not blame.in_reference]
    kept = [blame for blame in report.items if blame.in_reference]
    if counted:
        _print_items(counted, every=every)
    show(
        "By group:", _table([_renamed(group) for group in report.groups], "Group", with_count=True)
    )
    if kept:
        show(_KEPT)
        _print_items(kept, every=every)
    show(_EXPLANATION if explain else _COLUMNS)


def _print_items(blames: Sequence[Blame], *, every: bool) -> None:
    shown = list(blames) if every else most_felt(blames)
    show(_table(shown, "What") if shown else "")
    rest = [blame for blame in blames if blame not in shown]
    if rest:
        more = "more" if shown else "things"
        most = decibel(max(abs(blame.saved) for blame in rest), 2)
        show(f"{len(rest)} {more} whose Out is {most} dB at most (--every lists them).", "")


def most_felt(blames: Sequence[Blame]) -> list[Blame]:
    """Return the things that change most when taken out, for better or worse, in their order."""
    felt = [b for b in blames if max(abs(b.saved), abs(b.costs)) >= _SHOWN_DB]
    largest = sorted(felt, key=lambda blame: -abs(blame.saved))[:MOST_SHOWN]
    return [blame for blame in felt if blame in largest]


def _renamed(group: Blame) -> tuple[str, Blame]:
    return f"{GROUP_NAMES[group.group]}{' *' if group.in_reference else ''}", group


def sentence(report: BlameReport) -> str:
    """Return the first sentence: what costs the most, and how much."""
    state = report.state
    where = f"With {_what_is_on(state.state.on)}{', the worst of all states' if report.is_worst else ''}"
    total = state.treble_loss
    if not math.isfinite(total):
        return f"{where}, nothing comes out: is a volume knob at 0?"
    counted = [blame for blame in report.items if not blame.in_reference]
    if not counted or total < _SHOWN_DB:
        change = f"{decibel(-total)} dB of treble are gained" if total < 0 else "no treble is lost"
        change = "no treble is lost" if abs(total) < _SHOWN_DB else change
        return f"{where}, {change} against the reference{_most_kept(report)}."
    first = max(counted, key=lambda blame: blame.saved)
    left = first.without.treble_loss
    now = f"instead of {decibel(total)} dB ({state.verdict})"
    if left < _SHOWN_DB:
        change = f"{decibel(-left)} dB gained" if left <= -_SHOWN_DB else "no treble would be lost"
    else:
        change = f"{decibel(left)} dB of treble would be lost"
    return f"{where}, {_quoted(first)} costs the most: without it {change} {now}."


def _most_kept(report: BlameReport) -> str:
    """Say what takes most of what the loss does not count, where nothing that counts is lost."""
    kept = [blame for blame in report.items if blame.in_reference]
    first = max(kept, key=lambda blame: blame.saved)
    if first.saved < _SHOWN_DB:
        return ": there is nothing to blame"
    return f"; {_quoted(first)}, which the reference has as well, takes {decibel(first.saved)} dB"


def _group_sentence(report: BlameReport) -> list[str]:
    """Say which group matters most, where it is more than one thing."""
    groups = [group for group in report.groups if not group.in_reference]
    first = max(groups, key=lambda group: group.saved, default=None)
    if first is None or first.count == 1 or not first.saved >= _SHOWN_DB:
        return []
    return [
        f"Of the groups, most is lost to {GROUP_NAMES[first.group]}: {first.count} things, "
        f"{decibel(first.saved)} dB together."
    ]


def _helper_sentence(report: BlameReport) -> list[str]:
    """Say what helps most, as a buffer that shields the pickup does."""
    last = min(report.items, key=lambda blame: blame.saved)
    if not last.saved <= -_NOTICED_DB:
        return []
    lost = decibel(last.without.treble_loss)
    return [f"{_quoted(last)} helps: without it {lost} dB would be lost."]


def _quoted(blame: Blame) -> str:
    return f"'{plain(blame.name, 60)}'"


def _what_is_on(on: Sequence[str]) -> str:
    if not on:
        return "everything off"
    names = [f"'{plain(name, 24)}'" for name in on[:4]]
    if len(on) > len(names):
        names.append(f"{len(on) - len(names)} more")
    return f"{' and '.join(filter(None, [', '.join(names[:-1]), names[-1]]))} on"


def _table(
    blames: Sequence[Blame | tuple[str, Blame]], heading: str, *, with_count: bool = False
) -> Table:
    columns = [heading, *(["Things"] if with_count else [])]
    columns += ["Out", "Share", "Corner", "Level", "Alone", "Corner "]
    made = table(columns, names=(heading,))
    for entry in blames:
        name, blame = entry if isinstance(entry, tuple) else (entry.name, entry)
        row(
            made,
            plain(name, 60),
            *([f"{blame.count}"] if with_count else []),
            decibel(blame.saved),
            "" if blame.share is None else f"{100 * blame.share:.0f} %",
            short_hertz(blame.without.corner),
            signed(blame.level_change),
            decibel(blame.costs),
            short_hertz(blame.alone.corner),
        )
    return made


def as_json(report: BlameReport) -> str:
    """Return the report as one JSON document; plain numbers in SI units, null for none."""
    values = {
        "board": report.board.name,
        "reference": report.basis.reference,
        "band_hz": list(report.basis.band),
        "is_worst": report.is_worst,
        "state": state_values(report.state),
        "items": [_document(blame) for blame in report.items],
        "groups": [_document(blame) for blame in report.groups],
    }
    return json_document(values)


def _document(blame: Blame) -> dict[str, Any]:
    return {
        "name": blame.name,
        "group": blame.group,
        "count": blame.count,
        "in_reference": blame.in_reference,
        "saved_db": finite(blame.saved),
        "share": finite(blame.share),
        "level_change_db": finite(blame.level_change),
        "costs_db": finite(blame.costs),
        "taken_out": _reading(blame.without),
        "alone": _reading(blame.alone),
    }


def _reading(reading: Outcome) -> dict[str, Any]:
    return {
        "treble_loss_db": finite(reading.treble_loss),
        "level_db": finite(reading.level),
        "corner_hz": reading.corner,
    }

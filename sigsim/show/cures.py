"""What lets a stage see the pickup that it wants to see, in words and as tables."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final

from sigsim.metrics import verdict
from sigsim.show import kinds
from sigsim.show.document import Column, Paragraph, Table
from sigsim.show.places import place
from sigsim.show.render.json import finite
from sigsim.show.render.text import decibel, level_said, listed, plain

if TYPE_CHECKING:
    from sigsim.decide.cures import Cure, Remedy
    from sigsim.decide.pickup import Hidden
    from sigsim.show.document import Block

_MOST_SAID: Final = 3
_COLUMNS: Final = (
    Column("What", kinds.PHRASE),
    Column("Sees it", kinds.PHRASE),
    Column("Loss", kinds.LOSS, "Treble loss (dB)"),
    Column("Change", kinds.CHANGE),
    Column(" ", kinds.WORD, "In a word"),
    Column("Louder", kinds.CHANGE),
)


def hidden_words(hidden: Hidden) -> str:
    """Say what stands between a stage and the pickup that it wants to see."""
    name = f"'{plain(hidden.stage, 30)}' wants to see the pickup"
    if hidden.always:
        verb = "stands" if len(hidden.always) == 1 else "stand"
        return f"{name}, but {listed(hidden.always, most=5)} always {verb} between"
    return f"{name}; it does not while {_while(hidden.sometimes)}"


def _while(names: Sequence[str]) -> str:
    if len(names) == 1:
        return f"{listed(names)} is on"
    return f"one of {listed(names, most=5)} is on"


def no_pickup(names: Sequence[str]) -> str:
    """Say that what wants to see the pickup has none to see."""
    verb = "wants" if len(names) == 1 else "want"
    return f"{listed(names, most=5)} {verb} to see a pickup, but the instrument is active"


def cure_words(cure: Cure) -> str:
    """Say what a change is."""
    names = listed(cure.boxes, most=12 if cure.change == "order" else 5)
    if cure.gap is not None:
        said = f"{names} moved to {place(cure.gap)}"
    elif cure.change == "order":
        said = f"the order {names}"
    elif cure.change == "loop":
        said = f"{names} in {'a switched loop' if len(cure.boxes) == 1 else 'switched loops'}"
    else:
        said = f"{names} with true bypass"
    return f"{said}, which breaks {_demands(cure)}" if cure.breaks else said


def _demands(cure: Cure) -> str:
    """Name what is written at boxes and a change breaks."""
    said = []
    for stage, rule, other in cure.breaks:
        end = f" '{plain(other, 30)}'" if other else ""
        said.append(f"'{plain(stage, 30)}' {rule}{end}")
    return listed(said, mark="", most=3)


def _sees(cure: Cure) -> str:
    """Say when the stage sees the pickup then."""
    if not cure.hidden_while:
        return "always"
    return f"not while {_while(cure.hidden_while)}"


def remedy_words(remedy: Remedy) -> str:
    """Say in a sentence or two what cures a stage from which the pickup is always hidden."""
    return f"{_cures_words(remedy)}{_loop_words(remedy)}"


def _cures_words(remedy: Remedy) -> str:
    if not remedy.cures:
        return _impossible(remedy)
    said = "; ".join(_said(cure) for cure in remedy.cures[:_MOST_SAID])
    now = f" (now {_loss(remedy.now)})" if math.isfinite(remedy.now) else ""
    return f"What cures it, with the worst treble loss then{now}: {said}."


def _loop_words(remedy: Remedy) -> str:
    """Say what a switched loop around what hides the pickup does, where that is a way out."""
    if remedy.loop is None:
        return ""
    verb = "lets" if len(remedy.loop.boxes) == 1 else "let"
    loss = f" ({_loss(remedy.loop.loss)})" if math.isfinite(remedy.loop.loss) else ""
    return f" {_capital(cure_words(remedy.loop))} {verb} it see the pickup while out{loss}."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _said(cure: Cure) -> str:
    sees = "" if not cure.hidden_while else f", {_sees(cure)}"
    loss = f" ({_loss(cure.loss)}{_louder(cure)})" if math.isfinite(cure.loss) else ""
    return f"{cure_words(cure)}{sees}{loss}"


def _loss(loss: float) -> str:
    return f"{decibel(loss)} dB, {verdict(loss)}"


def _louder(cure: Cure) -> str:
    said = level_said(cure.level_change)
    return f", {said}" if said else ""


def _impossible(remedy: Remedy) -> str:
    if not remedy.spoilt:
        return "No place on this board lets it: nothing can be moved ahead of what stands between."
    also = "which wants to see it too" if len(remedy.spoilt) == 1 else "which want to see it too"
    others = listed(remedy.spoilt, most=5)
    return f"Nothing cures it: ahead of that, it would hide the pickup from {others}, {also}."


def blocks(found: Sequence[Remedy]) -> Iterator[Block]:
    """Yield a table of what cures each stage, or the reason why nothing does."""
    for remedy in found:
        words = hidden_words(remedy.hidden)
        if not remedy.cures:
            said = f"{words}. {_impossible(remedy)}{_loop_words(remedy)}"
            yield Paragraph((said,), apart=True)
            continue
        rows = [
            (
                cure_words(cure),
                _sees(cure),
                cure.loss,
                cure.loss - remedy.now,
                verdict(cure.loss),
                cure.level_change,
            )
            for cure in (*remedy.cures, *([remedy.loop] if remedy.loop is not None else []))
        ]
        yield Table(f"{words}. What cures it:", _COLUMNS, rows)


def hidden_values(hidden: Hidden) -> dict[str, Any]:
    """Return what stands between as plain JSON values."""
    return {
        "stage": hidden.stage,
        "always": list(hidden.always),
        "sometimes": list(hidden.sometimes),
    }


def remedy_values(remedy: Remedy) -> dict[str, Any]:
    """Return what cures a stage as plain JSON values."""
    return {
        **hidden_values(remedy.hidden),
        "treble_loss_db": finite(remedy.now),
        "cures": [cure_values(cure, remedy) for cure in remedy.cures],
        "side_loop": None if remedy.loop is None else cure_values(remedy.loop, remedy),
        "impossible_because_of": list(remedy.spoilt),
    }


def cure_values(cure: Cure, remedy: Remedy) -> dict[str, Any]:
    """Return one change as plain JSON values."""
    return {
        "kind": cure.change,
        "stages": list(cure.boxes),
        "place": place(cure.gap) if cure.gap is not None else None,
        "loop": cure.gap.loop or None if cure.gap is not None else None,
        "hidden_while": list(cure.hidden_while),
        "breaks": [{"stage": d.stage, "rule": d.rule, "other": d.other} for d in cure.breaks],
        "treble_loss_db": finite(cure.loss),
        "change_db": finite(cure.loss - remedy.now),
        "level_change_db": finite(cure.level_change),
    }

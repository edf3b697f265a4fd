"""`--set "NAME.KEY=VALUE"`: one value of a board file, changed without writing it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Any, Final

from sigsim.board.chain_reader import ChainReader as _Chain  # noqa: F401  registers the stages
from sigsim.board.letters import refused_letters
from sigsim.board.targets import Targets
from sigsim.errors import Problem, nearest, quote
from sigsim.items.base import STAGE_KINDS
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.destination import Destination
from sigsim.items.fields import Spec, specs
from sigsim.items.instrument import INSTRUMENT_TYPES, Pickup
from sigsim.items.layout import BoxTable, LayoutTable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.supply import Supply
from sigsim.items.tap import Tap
from sigsim.quantities import KINDS

if TYPE_CHECKING:
    from sigsim.board.variants import Variation

MOST_VALUES: Final = 200
_SHAPE: Final = 'NAME.KEY=VALUE, such as "cables.lead.capacitance=70 pF/m" or "wah.bypass=true"'


@dataclass(frozen=True)
class Setting:
    """One value to be set.

    Attributes
    ----------
    name, key : of what
    value : as it was given
    """

    name: str
    key: str
    value: str


def setting_place(text: str) -> str:
    """Return what messages call a value."""
    return f"--set {quote(text)}"


def apply_setting(variation: Variation, text: str) -> None:
    """Set one value in a file's tables; what is wrong with it is among the problems."""
    where = setting_place(text)
    found = _parsed(variation, text, where)
    if isinstance(found, Problem):
        variation.problems.append(found)
        return
    target = variation.found(found.name) or variation.found(found.name.strip())
    if target is None:
        variation.problems.append(variation.unknown(found.name, where))
        return
    letters = [*refused_letters([found.value]), *refused_letters([found.key])]
    if letters:
        variation.problems += [
            Problem(one.what, where, one.found, one.accepted) for one in letters[:1]
        ]
        return
    value = value_of(target.kind, found.key, found.value)
    if isinstance(value, str) and not value.strip():
        variation.problems.append(Problem("nothing stands behind the =", where, accepted=_SHAPE))
        return
    name = found.name if variation.found(found.name) is not None else found.name.strip()
    variation.value(name, found.key, value, where)


def _parsed(variation: Variation, text: str, where: str) -> Setting | Problem:
    names = Targets(variation.data).names()
    for name in names:
        if "=" in name and text.strip().startswith(f"{name}."):
            what = "a name with = in it can be changed in a variant of the file only"
            return Problem(
                what, where, quote(name), f"[variants.NAME] with {quote(name)} = {{ … }}"
            )
    left, equals, value = text.partition("=")
    name, dot, key = left.rpartition(".")
    if not equals:
        return Problem("there is no = and no value behind it", where, accepted=_SHAPE)
    if not dot or not name.strip() or not key.strip():
        near = nearest(left.strip(), names)
        said = f"{near or 'NAME'}.KEY={value}"
        what = "the key is what follows the last dot before the first =, and there is none"
        return Problem(what, where, quote(left), f"NAME.KEY=VALUE, such as {quote(said)}")
    # A blank at the end of a prefix stands between it and the name.
    value = value.lstrip() if key.strip() == "prefix" else value.strip()
    return Setting(name, key.strip(), _unquoted(value))


def _unquoted(value: str) -> str:
    """Return a value without the quotes of a board file around it."""
    whole = len(value) > 1 and value[0] == value[-1] == '"' and value.count('"') == 2
    return value[1:-1] if whole else value


def value_of(kind: str, key: str, text: str) -> Any:
    """Return a value as its key wants it; a key that is not known is left for the reader."""
    spec = next(_specs(kind, key), None)
    if spec is None:
        return text
    if spec.kind == "flag":
        return {"true": True, "false": False}.get(text, text)
    if text.startswith("[") and (spec.kind in ("names", "rows", "edge") or spec.several):
        return _list(text)
    if spec.kind == "edge" and "," in text:
        return [one.strip() for one in text.split(",")]
    if spec.kind == "names":
        return [name.strip() for name in text.split(",") if name.strip()]
    if spec.several and "," in text:
        return [one.strip() for one in text.split(",")]
    if spec.kind in KINDS:
        with suppress(ValueError):
            return int(text)
        with suppress(ValueError):
            if isfinite(number := float(text)):
                return number
    return text


def _list(text: str) -> Any:
    """Return a list written as in a file; what is none stays a text, for the reader to refuse."""
    import tomllib

    with suppress(ValueError, RecursionError):
        return tomllib.loads(f"list = {text}")["list"] if "\n" not in text else text
    return text


def _specs(kind: str, key: str) -> Iterator[Spec]:
    for item in _classes(kind):
        if key in (found := specs(item)):
            yield found[key]


def _classes(kind: str) -> tuple[type, ...]:
    """Return what a table of a kind may become."""
    classes: dict[str, tuple[type, ...]] = {
        "stage": tuple(STAGE_KINDS.values()),
        "loop": (Loop,),
        "split": (Split,),
        "tap": (Tap, Cable),
        "pickup": (Pickup,),
        "instrument": tuple(INSTRUMENT_TYPES.values()),
        "destination": (Destination,),
        "wiring": (Cable,),
        "layout": (LayoutTable,),
        "boxes": (BoxTable,),
        "cables": (CableSpec,),
        "supplies": (Supply,),
        "lead_out": (Cable,),
        "lead_back": (Cable,),
    }
    return classes.get(kind, ())

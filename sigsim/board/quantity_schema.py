"""The parts of the JSON Schema that say how a quantity may be written."""

from __future__ import annotations

import re
from typing import Any, Final, TypeAlias

from sigsim.items.fields import Spec
from sigsim.quantities import KINDS, WITHOUT_PREFIX, Kind
from sigsim.units import limit_text

Schema: TypeAlias = dict[str, Any]

# Written with escapes, because each holds characters that look alike.
_MICRO: Final = "[\u00b5\u03bcu]"
_OHM: Final = "[\u03a9\u2126]"
_MINUS: Final = "[-\u2212]"
_PREFIX: Final = f"(?:[TGMKkcmnpf]|{_MICRO})"
_TOLERANCE: Final = (
    rf"(?:\s*(?:±|\+{_MINUS}|\+/{_MINUS})\s*"
    r"(?:100(?:\.0*)?|[0-9]{1,2}(?:\.[0-9]*)?|\.[0-9]+)\s*%)?"
)


def taper() -> Schema:
    """Return the schema of a potentiometer's taper."""
    midpoint = r"^audio\s+(0*[1-9][0-9]?(\.[0-9]+)?|0+\.0*[1-9][0-9]*)\s*%$"
    return {
        "anyOf": [{"enum": ["audio", "linear"]}, {"type": "string", "pattern": midpoint}],
        "examples": ["audio", "linear", "audio 15 %"],
    }


def battery() -> Schema:
    """Return the schema of what is in a battery: watt-hours or ampere-hours."""
    kinds = (KINDS["energy"], KINDS["charge"])
    units = _any_of([unit for kind in kinds for unit in kind.units])
    number = r"\+?(?=[0.]*[1-9])(?:[0-9]+\.?[0-9]*|\.[0-9]+)"
    return {
        "type": "string",
        "pattern": rf"^\s*{number}\s*{_PREFIX}?(?:{units})\s*$",
        "examples": [kind.example for kind in kinds],
    }


def quantities() -> dict[str, Schema]:
    """Return a schema for each kind of quantity, by the name that `reference` points to."""
    return {
        _quantity_name(name, above_zero): _quantity(kind, above_zero)
        for name, kind in KINDS.items()
        for above_zero in ((False,) if kind.signed else (False, True))
    }


def reference(spec: Spec) -> Schema:
    """Return the schema of a key: a pointer to its kind of quantity under `$defs`."""
    if spec.exact:
        return _several(spec, _quantity(KINDS[spec.kind], spec.above_zero, exact=True))
    pointer: Schema = {"$ref": f"#/$defs/{_quantity_name(spec.kind, spec.above_zero)}"}
    return pointer if spec.most is None else pointer | {"maximum": spec.most}


def _several(spec: Spec, one: Schema) -> Schema:
    if not spec.several:
        return one
    made = {"type": "array", "items": one, "minItems": 1}
    return (
        {"anyOf": [one, made]}
        if spec.several in ("some", "rising")
        else made | {"minItems": 2, "maxItems": 2}
    )


def range_text(spec: Spec) -> str:
    """Say between which values a quantity can be meant: `at most 10 nF`, `-120 dB to 120 dB`."""
    kind = KINDS[spec.kind]
    most = limit_text(kind.ceiling if spec.most is None else spec.most, kind)
    if kind.signed:
        return f"-{most} to {most}"
    return f"{limit_text(kind.floor, kind) if spec.above_zero else '0'} to {most}"


def _quantity_name(kind: str, above_zero: bool) -> str:
    return kind.replace(" ", "-") + ("-above-0" if above_zero else "")


def _quantity(kind: Kind, above_zero: bool, *, exact: bool = False) -> Schema:
    made: Schema = {
        "type": ["string", "number"],
        "pattern": pattern(kind, above_zero, exact=exact),
        "maximum": kind.ceiling,
        "examples": [kind.example if kind.units else float(kind.example)],
    }
    if kind.signed:
        return made | {"minimum": -kind.ceiling}
    return made | {"minimum": kind.floor if above_zero else 0}


def pattern(kind: Kind, above_zero: bool, *, exact: bool = False) -> str:
    r"""Return the pattern of a quantity written as a string, after `sigsim.units.parse`.

    Parameters
    ----------
    kind : of the quantity
    above_zero : whether zero is refused
    exact : whether no tolerance is taken

    It holds in every dialect of regular expressions that editors use: no named groups, no `\d`.
    """
    some, code_some = (
        ("(?=[0.]*[1-9])", "(?=[0a-zA-Z\u00b5\u03bc]*[1-9])") if above_zero else ("", "")
    )
    sign = rf"(?:{_MINUS}|\+)?" if kind.signed else r"\+?"
    exponent = rf"(?:[eE](?:{_MINUS}|\+)?[0-9]+)?"
    number = rf"{sign}{some}(?:[0-9]+\.?[0-9]*|\.[0-9]+){exponent}"
    code = rf"{code_some}[0-9]*(?:[RKkMGTmnpf]|{_MICRO})[0-9]+"
    ohms = rf"{code_some}[0-9]+R"
    bodies = [number, code]
    if kind.units:
        plain = [unit for unit in kind.units if unit in WITHOUT_PREFIX]
        units = [unit for unit in kind.units if unit not in WITHOUT_PREFIX]
        bodies.append(rf"(?:{number}\s*{_PREFIX}?|{code}|{ohms})\s*(?:{_any_of(units)})")
        if plain:
            bodies.append(rf"{number}\s*(?:{_any_of(plain)})")
    if kind.units and kind.symbol not in ("m", "dB"):
        bodies += [rf"{number}\s*{_PREFIX}", ohms]
    # "6 m" is a length and nothing else; milli stands close to its number.
    metres = "" if kind.symbol == "m" else r"(?!\s*[+]?[0-9.]+\s+m\s*(?:[±+]|$))"
    tolerance = "" if exact else _TOLERANCE
    return rf"^{metres}\s*(?:{'|'.join(bodies)}){tolerance}\s*$"


def _any_of(units: list[str]) -> str:
    return "|".join(_unit(unit) for unit in sorted(units, key=len, reverse=True))


def _unit(unit: str) -> str:
    return re.sub(r"([.\\$^*+?()\[\]{}|])", r"\\\1", unit).replace("\u03a9", _OHM)

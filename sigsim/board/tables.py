"""From one TOML table to checked values: a pydantic model per item class, made from its specs."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache, partial
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    PlainValidator,
    StrictBool,
    StrictStr,
    StringConstraints,
    ValidationError,
    ValidationInfo,
    WithJsonSchema,
    create_model,
)
from pydantic import Field as PydanticField

from sigsim.errors import Problem, QuantityError, nearest, quote
from sigsim.items.fields import Spec, specs
from sigsim.physics.pot import AUDIO, LINEAR
from sigsim.units import KINDS, Quantity, parse

LONGEST_NAME = 10_000
_AUDIO_MIDPOINT = re.compile(r"^audio\s+(\d+(?:\.\d+)?)\s*%$")


@dataclass
class Table:
    """One table while it is read: the values, the tolerances and what was wrong.

    Attributes
    ----------
    place : what a message calls it
    values : checked values by key, only those given
    tolerances : by key
    problems : what was wrong
    warnings : what is accepted but probably not meant
    """

    place: str
    values: dict[str, Any] = field(default_factory=dict)
    tolerances: dict[str, float] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def read_table(
    item: type, given: Mapping[str, Any], place: str, extra: Mapping[str, Spec] | None = None
) -> Table:
    """Check one table against what an item class declares.

    Parameters
    ----------
    item : the class whose specs are the accepted keys
    given : the table of the file
    place : what messages call it
    extra : accepted keys that are not fields of the class

    Returns
    -------
    Table; `problems` is empty if all is well
    """
    table = Table(place)
    model = table_model(item, tuple((extra or {}).items()))
    try:
        checked = model.model_validate(given, context=table)
    except ValidationError as error:
        accepted = tuple(model.model_fields)
        table.problems += [
            _problem(detail, place, accepted) for detail in error.errors(include_url=False)
        ]
    else:
        table.values = {key: getattr(checked, key) for key in checked.model_fields_set}
    return table


@cache
def table_model(item: type, extra: tuple[tuple[str, Spec], ...] = ()) -> type[BaseModel]:
    """Return the pydantic model of an item class: one field per declared key."""
    declared = specs(item)
    required = _required(item)
    fields: dict[str, Any] = {}
    for key, spec in (*extra, *declared.items()):
        must = key in required or key in dict(extra)
        described = PydanticField(... if must else None, description=spec.help)
        fields[key] = (_annotation(spec), described)
    config = ConfigDict(extra="forbid", defer_build=False)
    model: type[BaseModel] = create_model(item.__name__, __config__=config, **fields)
    return model


def _required(item: type) -> set[str]:
    import dataclasses

    return {
        f.name
        for f in dataclasses.fields(item)
        if f.default is dataclasses.MISSING and f.default_factory is dataclasses.MISSING
    }


def _annotation(spec: Spec) -> Any:
    return _ANNOTATIONS.get(spec.kind, _quantity)(spec)


def _choice(spec: Spec) -> Any:
    return Literal[spec.choices]


def _flag(_spec: Spec) -> Any:
    return StrictBool


def _text(_spec: Spec) -> Any:
    name = Annotated[StrictStr, StringConstraints(min_length=1, max_length=LONGEST_NAME)]
    return Annotated[name, BeforeValidator(_not_blank)]


def _taper(_spec: Spec) -> Any:
    schema = {"type": "string", "pattern": r"^(audio|linear|audio \d+(\.\d+)? ?%)$"}
    return Annotated[Any, PlainValidator(_read_taper), WithJsonSchema(schema)]


def _quantity(spec: Spec) -> Any:
    kind = KINDS[spec.kind]
    example = kind.example
    schema: dict[str, Any] = {"type": ["string", "number"], "examples": [example]}
    if not kind.signed:
        schema |= {"exclusiveMinimum" if spec.above_zero else "minimum": 0}
    if spec.kind == "knob":
        schema |= {"maximum": 10}
    return Annotated[
        Any, PlainValidator(partial(_read_quantity, spec=spec)), WithJsonSchema(schema)
    ]


_ANNOTATIONS: dict[str, Callable[[Spec], Any]] = {
    "choice": _choice,
    "flag": _flag,
    "text": _text,
    "taper": _taper,
}


def _not_blank(value: object) -> object:
    if isinstance(value, str) and not value.strip():
        raise QuantityError("a name must not be empty", found=quote(value))
    return value


def _read_taper(value: object) -> float:
    if value == "linear":
        return LINEAR
    if value == "audio":
        return AUDIO
    match = _AUDIO_MIDPOINT.match(value) if isinstance(value, str) else None
    if match and 0 < float(match[1]) < 100:
        return float(match[1]) / 100
    raise QuantityError(
        "this is no taper",
        found=quote(value),
        accepted='"audio", "linear", "audio 15 %" (the share at mid-travel)',
        nearest=nearest(str(value), ("audio", "linear")),
    )


def _read_quantity(value: object, info: ValidationInfo, *, spec: Spec) -> float:
    found: Quantity = parse(value, spec.kind, above_zero=spec.above_zero)
    table: Table | None = info.context
    if table is not None and info.field_name is not None:
        if found.tolerance:
            table.tolerances[info.field_name] = found.tolerance
        if spec.usually_kilohms and 0 < found.value < 1:
            table.warnings.append(
                f"{table.place}, {info.field_name}: {quote(value)} is less than an ohm where "
                "kilohms are usual; M is mega and m is milli"
            )
    return found.value


def _problem(detail: Any, place: str, accepted: tuple[str, ...]) -> Problem:
    """Put one pydantic error into the words of this tool."""
    key = str(detail["loc"][0]) if detail["loc"] else ""
    found = quote(detail.get("input"))
    where = f"{place}, {quote(key).strip(chr(34))}"
    match detail["type"]:
        case "extra_forbidden":
            return Problem(
                f"there is no key {quote(key)} here",
                place,
                accepted=", ".join(accepted),
                nearest=nearest(key, accepted),
            )
        case "missing":
            return Problem(f"{key} is missing", place)
        case "literal_error":
            words = re.findall(r"'([^']*)'", str(detail["ctx"]["expected"]))
            shown = ", ".join(quote(word) for word in words)
            near = nearest(str(detail.get("input")), words)
            return Problem("this word is not accepted", where, found, shown, near)
        case "bool_type":
            return Problem("this must be a plain true or false", where, found, "true, false")
        case "string_type":
            return Problem("a name in quotes is wanted", where, found)
        case "string_too_long":
            return Problem(f"a name has at most {LONGEST_NAME} characters", where, found)
        case "value_error" if isinstance(error := detail["ctx"]["error"], QuantityError):
            fault = error.problem
            return Problem(fault.what, where, fault.found, fault.accepted, fault.nearest)
        case _:
            return Problem(str(detail["msg"]), where, found)

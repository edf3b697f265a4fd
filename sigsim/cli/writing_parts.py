"""`measure --write my-parts.toml --as NAME`: measured figures go into one part of one's own."""

from __future__ import annotations

import codecs
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from sigsim.board.edit_table import table_at, with_keys
from sigsim.board.letters import name_problem
from sigsim.board.own_parts import checked_parts, parts_of_file
from sigsim.board.parts import Part, library
from sigsim.board.source import read_text
from sigsim.board.tables import read_table
from sigsim.cli.measured_table import Target
from sigsim.cli.output import check_writable, write_file
from sigsim.errors import SigsimError, nearest, quote, shown_path
from sigsim.items.base import STAGE_KINDS
from sigsim.items.cable import CableSpec
from sigsim.items.destination import Destination
from sigsim.items.instrument import INSTRUMENT_TYPES, PassiveInstrument, Pickup
from sigsim.items.needs import PICKUPS
from sigsim.items.passive_stage import Pad, Transformer, VolumePedal
from sigsim.items.stage import ActiveStage
from sigsim.show.measured_toml import counted_apart, today, written

if TYPE_CHECKING:
    from sigsim.measure.result import Measured

_OF_A_BOARD: Final = frozenset({"instrument", "destination", "chain"})
# What a recipe can be of, and the kind of part that a new one is.
_FITTING: Final[Mapping[str, tuple[type, ...]]] = {
    "cable": (CableSpec,),
    "pickup": (Pickup, PassiveInstrument),
    "input": (ActiveStage, Destination),
    "bypass": (ActiveStage, VolumePedal, Pad, Transformer),
    "output": (ActiveStage, INSTRUMENT_TYPES["active"]),
}
_NEW: Final[Mapping[str, str]] = {"cable": "cable", "pickup": "pickup"}
_NEW_ITEM: Final[Mapping[str, type]] = {
    "cable": CableSpec,
    "pickup": Pickup,
    "stage": ActiveStage,
}


def is_parts_file(text: str) -> bool:
    """Whether a text is a file of parts: it has nothing of a board, but parts, or nothing yet."""
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        return False
    tables = [table for table in data.values() if isinstance(table, dict)]
    # One that is only begun has a comment in it.
    has_parts = any("kind" in table for table in tables) if data else bool(text.strip())
    return has_parts and _OF_A_BOARD.isdisjoint(data)


def check_part(path: str | Path, name: str, recipe: str) -> None:
    """See before anything is computed whether figures can be written into a part.

    Parameters
    ----------
    path : of a file of parts
    name : of the part
    recipe : that measures

    Raises
    ------
    SigsimError : the file is not valid, or its part of that name is none that the recipe fits
    OutputError : the file cannot be written
    """
    parts, _ = parts_of_file(Path(path))
    part_target(parts, name, recipe)
    check_writable(path, force=True, onto_input=True)


def part_target(parts: Mapping[str, Part], name: str, recipe: str) -> Target:
    """Return the table of figures of the part that a recipe's figures belong to.

    Parameters
    ----------
    parts : of the file
    name : of one of them, or of a new one
    recipe : that measures

    Raises
    ------
    SigsimError : it can be no name, or the part of that name is of another kind
    """
    title, way = f"[{quote(name).strip(chr(34))}.values]", (name, "values")
    found = parts.get(name)
    if found is None:
        if problem := name_problem(name, ""):
            accepted = problem.accepted
            raise SigsimError(problem.what, where="--as", found=quote(name), accepted=accepted)
        fitting = [n for n, part in parts.items() if _item_of(part) in _FITTING[recipe]]
        if (near := nearest(name, fitting, 0.85)) and near.casefold() == name.casefold():
            raise SigsimError(
                "this file has a part of nearly this name",
                where="--as",
                found=quote(name),
                nearest=near,
            )
        item = _NEW_ITEM[_NEW.get(recipe, "stage")]
        return Target(way, item, f"{title}, which is new", remarks=_remarks(name))
    item = _item_of(found)
    if item not in _FITTING[recipe] or PICKUPS in found.values:
        what = f"the figures of {recipe} do not belong to a part of this kind"
        raise SigsimError(what, where="--as", found=f"{quote(name)}, kind {quote(found.kind)}")
    own = {k: v for k, v in found.values.items() if k not in ("kind", "type")}
    values = read_table(item, own, title, partial=True).values
    return Target(way, item, title, values, remarks=_remarks(name))


def _item_of(part: Part) -> type:
    if part.kind == "stage":
        return STAGE_KINDS[part.values.get("kind", "active")]
    if part.kind == "instrument":
        return INSTRUMENT_TYPES[part.values.get("type", "passive")]
    return {"pickup": Pickup, "cable": CableSpec, "destination": Destination}[part.kind]


def _remarks(name: str) -> tuple[str, ...]:
    if name not in library():
        return ()
    return (
        f"A board that names this file has this part instead of ours of the name {quote(name)}.",
    )


def write_part(measured: Measured, path: str | Path, name: str) -> list[str]:
    """Write figures into one part of a file, or into a new one, whole or not at all.

    Parameters
    ----------
    measured : what a recipe found
    path, name : as for `check_part`

    Returns
    -------
    lines that say what was changed

    Raises
    ------
    SigsimError : as `check_part`, none of the figures has an effect there, or the file would not be
        valid with them
    OutputError : the file cannot be written
    """
    from sigsim.cli.writing import changed_keys

    text = read_text(Path(path))
    parts, _ = parts_of_file(Path(path))
    found = part_target(parts, name, measured.recipe)
    lines = written(measured.figures, found.item)
    own: Mapping[str, Any] = table_at(tomllib.loads(text), found.way) or {}
    keys, said = changed_keys(found, measured, lines, own, counted_apart(measured, found.item))
    made = text
    if name not in parts:
        made = with_keys(made, (name,), {"kind": _NEW.get(measured.recipe, "stage")})
    made = with_keys(made, found.way, keys)
    source = f"measured {today()}"
    made = with_keys(
        made,
        (name, "sources"),
        {key: None if value is None else source for key, value in keys.items()},
    )
    _, problems = checked_parts(made, str(path))
    if problems:
        what = (
            f"with these figures it would not be a valid file, so it stays as it is: {problems[0]}"
        )
        raise SigsimError(what, where=f"{shown_path(path)}, {found.title}")
    bom = codecs.BOM_UTF8 if Path(path).read_bytes().startswith(codecs.BOM_UTF8) else b""
    write_file(path, bom + made.encode(), force=True)
    title = found.title.replace(".values]", "]")
    return [f"Written: {shown_path(path)}, {title}.", *said]

"""`measure --write BOARD --as NAME`: measured figures go into one table of a board file."""

from __future__ import annotations

import codecs
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from sigsim.board.edit_table import table_at, with_keys
from sigsim.board.reader import parse_board
from sigsim.board.source import read_text
from sigsim.cli.measured_table import Target, target
from sigsim.cli.output import check_writable, write_file
from sigsim.cli.writing_parts import check_part, is_parts_file, write_part
from sigsim.errors import BoardError, SigsimError, quote, shown_path
from sigsim.items.fields import MEASURED, specs
from sigsim.items.needs import idle
from sigsim.show.commands import word
from sigsim.show.measured_toml import counted_apart, today, value_said, written

if TYPE_CHECKING:
    from sigsim.items.needs import Need
    from sigsim.measure.result import Measured
    from sigsim.show.measured_toml import Line

# Figures that no table has a key for, because they are said by others.
_SUMS: Final = ("total_capacitance",)


def check_target(path: str | Path, as_name: str, recipe: str) -> None:
    """See before anything is computed whether a recipe's figures can be written into a table.

    Parameters
    ----------
    path : of a board file, or of a file of parts
    as_name : name of a cable, stage or pickup, "instrument" or "destination"
    recipe : its name

    Raises
    ------
    SigsimError : the file is no valid board, or has no table of that name that fits the recipe
    OutputError : the file cannot be written
    """
    text = read_text(Path(path))
    if is_parts_file(text):
        check_part(path, as_name, recipe)
        return
    found = target(parse_board(text, str(path)), tomllib.loads(text), as_name, recipe)
    check_writable(path, force=True, onto_input=True)
    _refuse_invalid(with_keys(text, found.way, {**found.naming, MEASURED: today()}), path, found)


def write_measured(measured: Measured, path: str | Path, as_name: str) -> list[str]:
    """Write figures into the one table that they are of, whole or not at all.

    Parameters
    ----------
    measured : what a recipe found
    path, as_name : as for `check_target`

    Returns
    -------
    lines that say what was changed

    Raises
    ------
    SigsimError : as `check_target`, none of the figures has an effect there, or the board would
        not be valid with them
    OutputError : the file cannot be written
    """
    text = read_text(Path(path))
    if is_parts_file(text):
        return write_part(measured, path, as_name)
    board = parse_board(text, str(path))
    data = tomllib.loads(text)
    found = target(board, data, as_name, measured.recipe)
    lines = written(measured.figures, found.item)
    counted = counted_apart(measured, found.item)
    own = table_at(data, found.way) or {}
    keys, said = changed_keys(found, measured, lines, own, counted)
    made = with_keys(text, found.way, {**found.naming, **keys, MEASURED: today()})
    if not text.endswith("\n"):
        made = made.removesuffix("\n").removesuffix("\r")
    _refuse_invalid(made, path, found)
    bom = codecs.BOM_UTF8 if Path(path).read_bytes().startswith(codecs.BOM_UTF8) else b""
    write_file(path, bom + made.encode(), force=True)
    after = f"Next: sigsim loss {word(str(path))}"
    return [f"Written: {shown_path(path)}, {found.title}.", *said, after]


def changed_keys(
    found: Target,
    measured: Measured,
    lines: Mapping[str, Line],
    own: Mapping[str, Any],
    counted: Mapping[str, str],
) -> tuple[dict[str, str | int | None], list[str]]:
    """Return the new values of a table by key, None for one to take out, and what to say of all.

    Parameters
    ----------
    found : the table
    measured : what a recipe found
    lines : its figures as a file has them
    own : the table as the file has it
    counted : what was taken off for what counts apart, by its key

    Raises
    ------
    SigsimError : none of the figures has an effect there
    """
    keys, said = _keys(found, lines, own, counted)
    return keys, [*said, *_not_told(found, measured, lines)]


def _keys(
    found: Target,
    lines: Mapping[str, Line],
    own: Mapping[str, Any],
    counted: Mapping[str, str],
) -> tuple[dict[str, str | int | None], list[str]]:
    """Return the new values by key, None for one to take out, and what to say of them."""
    elsewhere = {key for key in lines if key in found.elsewhere}
    here = {key: line for key, line in lines.items() if key not in elsewhere}
    unheard = idle(found.item, {**found.values, **_values(here)}, found.beside)
    heard = {key: line.text for key, line in here.items() if key not in unheard}
    if not heard:
        raise _nothing_heard(found, {key: unheard[key] for key in here})
    keys: dict[str, str | int | None] = dict(heard)
    keys |= {key: None for key in unheard if key in own and key not in here}
    keys |= {key: _rest(found, key, text) for key, text in counted.items()}
    keys = {key: value for key, value in keys.items() if value is not None or key in own}
    said = [_changed(found, key, value, own) for key, value in keys.items()]
    said += [f"Left out: {key}, {unheard[key].why}." for key in here if key in unheard]
    said += [f"Left out: {key}, {found.elsewhere[key]}." for key in lines if key in elsewhere]
    return keys, said


def _not_told(found: Target, measured: Measured, lines: Mapping[str, Line]) -> Iterator[str]:
    """Yield what was measured that the table says nothing of, and what the reader should know."""
    known = specs(found.item)
    for key, figure in measured.figures.items():
        if figure.value is not None and key not in known and key not in _SUMS:
            yield f"Left out: {key}, which {found.title} has no key for."
        elif key in known and key not in lines:
            yield f"Left out: {key}, of which only a bound was found."
    yield from found.remarks


def _values(lines: Mapping[str, Line]) -> dict[str, float | str]:
    return {key: line.value for key, line in lines.items()}


def _rest(found: Target, key: str, text: str) -> str | int | None:
    """Return what a key that counts beside a measured one is to be: the text, or nothing of it."""
    if text:
        return text
    return 0 if key in _given(found) else None


def _given(found: Target) -> Mapping[str, Any]:
    """Return the values of the table's part."""
    given = found.library.of(found.part)
    return {} if given is None else given.values


def _changed(found: Target, key: str, value: str | int | None, own: Mapping[str, Any]) -> str:
    """Say what a key was and what it is."""
    given, held = _given(found), found.values.get(key)
    if key in own:
        was = quote(own[key])
    elif key in given:
        was = f"{quote(given[key])} (part {found.part})"
    elif held:
        was = f"{value_said(held, specs(found.item)[key])} (not in the file)"
    else:
        was = "not given"
    return f"{key}: {was} -> {'taken out' if value is None else quote(value)}"


def _nothing_heard(found: Target, unheard: Mapping[str, Need]) -> SigsimError:
    if not unheard:
        what = "nothing was measured that can stand in this table"
        return SigsimError(what, where=found.title, accepted=", ".join(_figures(found)))
    need = next(iter(unheard.values()))
    return SigsimError(
        f"none of the figures would have an effect: {need.why}",
        where=found.title,
        found=", ".join(unheard),
        accepted=f"{need.said} beside it",
    )


def _figures(found: Target) -> Iterator[str]:
    yield from (key for key in specs(found.item) if key not in found.naming and key != MEASURED)


def _refuse_invalid(text: str, path: str | Path, found: Target) -> None:
    """See that a changed board is one still."""
    try:
        parse_board(text, str(path))
    except BoardError as error:
        raise SigsimError(
            f"with these figures it would not be a valid board, so it stays as it is: "
            f"{error.problems[0]}",
            where=f"{shown_path(path)}, {found.title}",
        ) from None

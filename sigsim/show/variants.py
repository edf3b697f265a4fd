"""What the variants of a board change, in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final

from sigsim.show.render.text import listed, plain

if TYPE_CHECKING:
    from sigsim.board.changes import Altered, Version
    from sigsim.board.model import Board

_MOST_KEYS: Final = 3
_VALUE: Final = 30
_PLAIN: Final = {"instrument": "another instrument", "destination": "another amp"}


def version_words(version: Version) -> str:
    """Return what a variant changes, in one line."""
    return ", ".join(_said(version)) or "nothing"


def differences_words(board: Board) -> list[str]:
    """Return what the one variant a board was read with changes, empty for no variant or several.

    Parameters
    ----------
    board : as it was read
    """
    return [
        said
        for version in board.versions
        if board.changes.variants == (version.name,)
        for said in _said(version)
    ]


def versions_values(board: Board) -> list[dict[str, Any]]:
    """Return the variants of a board's file, and what each changes, as plain JSON values."""
    return [{"name": one.name, "changes": list(_said(one))} for one in board.versions]


def _said(version: Version) -> Iterator[str]:
    yield from map(_altered, version.altered)
    if version.out:
        yield f"without {listed(version.out, most=5)}"


def _altered(altered: Altered) -> str:
    part = next((value for key, value in altered.keys if key == "part"), "")
    others = [(key, value) for key, value in altered.keys if key != "part"]
    figures = [f"{key} {plain(value.strip(chr(34)), _VALUE)}" for key, value in others]
    more = f" and {len(figures) - _MOST_KEYS} more" if len(figures) > _MOST_KEYS else ""
    if part:
        what = f"{_thing(altered, new=True)} ({plain(part.strip(chr(34)), _VALUE)})"
    else:
        what = _thing(altered, new=False)
    if not figures:
        return what
    return f"{what}: {', '.join(figures[:_MOST_KEYS])}{more}"


def _thing(altered: Altered, *, new: bool) -> str:
    """Say what is changed, and whether something else takes its place."""
    word, _, name = altered.name.partition(".")
    if altered.kind in _PLAIN:
        return _PLAIN[altered.kind] if new else {"destination": "amp"}.get(word, word)
    if altered.kind == "wiring":
        return "wiring"
    if altered.kind == "cables":
        return f"cable '{plain(name, _VALUE)}'"
    shown = plain(name if altered.kind in ("pickup", "supplies") else altered.name, _VALUE)
    if altered.now:
        return f"'{plain(altered.now, _VALUE)}' for '{shown}'"
    return f"another '{shown}'" if new else f"'{shown}'"

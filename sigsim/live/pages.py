"""The files of the page: a fixed list, and nothing else is ever served."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Final

_KINDS: Final = {".js": "text/javascript", ".css": "text/css"}
_FOLDERS: Final = ("js", "css")


@cache
def served() -> dict[str, tuple[Traversable, str]]:
    """Return the files of the page by name, each with what it is."""
    return {
        file.name: (file, _KINDS[ending])
        for folder in _FOLDERS
        if (home := files("sigsim.show") / "page" / folder).is_dir()
        for file in home.iterdir()
        if (ending := file.name[file.name.rfind(".") :]) in _KINDS
    }


def editor() -> str:
    """Return the page itself."""
    return (files("sigsim.show") / "page" / "editor.html").read_text(encoding="utf-8")

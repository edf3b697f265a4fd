"""The modules of the page as one script, for a page that is one file.

A browser takes modules from a server only. Here they stand one after the other, each behind what it
imports, in one function; so every name at the top of a module is its own among all modules.
"""

from __future__ import annotations

import re
from importlib.resources import files
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable

_IMPORT: Final = re.compile(
    r'^import \{ ([\w$]+(?:, [\w$]+)*) \} from "\./([\w-]+\.js)";\n?', re.MULTILINE
)
_EXPORT: Final = re.compile(
    r"^export (?=(?:const|function|async function|class) )|^export \{\};\n?", re.MULTILINE
)
_DECLARED: Final = re.compile(
    r"^(?P<export>export )?(?:const|let|var|class|(?:async )?function\*?) "
    r"(?P<names>[\w$]+|[{\[].*?[}\]])",
    re.MULTILINE,
)
_LEFT: Final = re.compile(r"^(?:import|export)\b.*", re.MULTILINE)
_INDENT: Final = re.compile(r"^[ \t]+", re.MULTILINE)
# Whole lines of comment: they are for whoever reads the modules, and a fourth of their size.
_COMMENT: Final = re.compile(r"^[ \t]*/\*(?:(?!\*/).)*\*/[ \t]*\n", re.MULTILINE | re.DOTALL)


class LinkError(ValueError):
    """Modules that do not go together."""


def linked(entry: str, read: Callable[[str], str] | None = None) -> str:
    """Return a script that does what a module does.

    Parameters
    ----------
    entry : file name of the module to begin with
    read : returns the text of a module by its file name; those of the page unless told

    Raises
    ------
    LinkError : an import that is not exported, is circular, or is written in another way than
        `import { a, b } from "./x.js";`; two modules with the same name at their top
    """
    bodies = [body for _, body in modules(entry, read)]
    return '(() => {\n"use strict";\n' + "\n".join(bodies) + "})();\n"


def modules(entry: str, read: Callable[[str], str] | None = None) -> list[tuple[str, str]]:
    """Return file name and script of every module that one needs, in the order of their imports.

    Parameters, Raises
    ------------------
    as `linked`
    """
    linker = _Linker(read or _of_the_page)
    linker.add(entry, ())
    return linker.bodies


def _of_the_page(name: str) -> str:
    return (files("sigsim.show") / "page" / "js" / name).read_text(encoding="utf-8")


class _Linker:
    """Modules that were taken in.

    Parameters
    ----------
    read : returns the text of a module by its file name
    """

    def __init__(self, read: Callable[[str], str]) -> None:
        self.read = read
        self.bodies: list[tuple[str, str]] = []
        self._exports: dict[str, set[str]] = {}
        self._owner: dict[str, str] = {}

    def add(self, module: str, above: tuple[str, ...]) -> None:
        """Take in a module behind all that it imports."""
        if module in above:
            raise LinkError(f"{module}: imports itself by way of {' and '.join(above)}")
        if module in self._exports:
            return
        text = self.read(module)
        for names, other in _IMPORT.findall(text):
            self.add(other, (*above, module))
            if unknown := set(names.split(", ")) - self._exports[other]:
                raise LinkError(f"{module}: {other} does not export {', '.join(sorted(unknown))}")
        self._exports[module] = self._declared(module, text)
        body = _COMMENT.sub("", _EXPORT.sub("", _IMPORT.sub("", text)))
        if left := _LEFT.search(body):
            raise LinkError(f"{module}: cannot be put into one script: {left[0]}")
        if open_ := next((row for row in body.splitlines() if row.count("`") % 2), ""):
            raise LinkError(f"{module}: a text over several lines would lose spaces: {open_}")
        self.bodies.append((module, _INDENT.sub("", body)))

    def _declared(self, module: str, text: str) -> set[str]:
        """Note the names at the top of a module, and return those that it exports."""
        exported = set()
        for found in _DECLARED.finditer(text):
            for name in re.findall(r"[\w$]+", found["names"]):
                if self._owner.setdefault(name, module) != module:
                    raise LinkError(f"{name}: at the top of {self._owner[name]} and of {module}")
                exported |= {name} if found["export"] else set()
        return exported

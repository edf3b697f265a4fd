"""The interactive page: one file with its styles, its script and its data, and nothing outside."""

from __future__ import annotations

import re
from importlib.resources import files
from typing import TYPE_CHECKING, Final

from sigsim.errors import SigsimError
from sigsim.show.page.link import linked
from sigsim.show.page.versions import versions_values
from sigsim.show.render.markup import embedded, policy
from sigsim.show.render.markup import shown as escaped

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sigsim.decide.page.report import ReportData
    from sigsim.show.page.versions import Shown

MOST_BYTES: Final = 3_500_000
# In this order, as later rules win.
_STYLES: Final = ("page.css", "line.css", "tables.css", "report.css", "print.css")


def page(shown: Sequence[Shown]) -> str:
    """Return the page.

    Parameters
    ----------
    shown : the board; where the page has a choice, as it is written and then its variants

    Raises
    ------
    SigsimError : the page would be larger than `MOST_BYTES`
    """
    first, several = shown[0].data, len(shown) > 1
    style, script = "".join(_read(f"css/{name}") for name in _STYLES), linked("report.js")
    values = {
        "POLICY": policy((style,), (script,)),
        "TITLE": escaped(first.question.board.name),
        "HOW": _how(first),
        "STYLE": style,
        "DATA": embedded(versions_values(shown)),
        "SCRIPT": script,
    }
    text = _filled(_read("report.html"), values)
    size = len(text.encode())
    if size > MOST_BYTES:
        raise SigsimError(
            "the page would be too large",
            where=first.question.board.file,
            found=f"{size / 1e6:.1f} MB",
            accepted=_way_out(first, several=several),
        )
    return text


def _filled(text: str, values: Mapping[str, str]) -> str:
    """Put values into their places, in one go, so that nothing put in is taken for a place."""
    return re.sub(r"@([A-Z]+)@", lambda found: values[found[1]], text)


def _way_out(data: ReportData, *, several: bool) -> str:
    limit = f"at most {MOST_BYTES / 1e6:g} MB"
    if several:
        limit += "; --variant NAME makes a page of one variant"
    if data.question.only_scenes:
        return f"{limit}; a file with fewer scenes makes a smaller page"
    return f"{limit}; --only-scenes makes a page of the scenes, without switches"


def _how(data: ReportData) -> str:
    if data.question.only_scenes:
        return "Choose a scene. This page was made with its scenes only, without switches."
    return (
        "Click a box to switch it. By keyboard: Tab to the line, then the arrow keys along it, and "
        "Space."
    )


def _read(name: str) -> str:
    return (files("sigsim.show") / "page" / name).read_text(encoding="utf-8")

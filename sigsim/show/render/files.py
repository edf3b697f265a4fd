"""The formats in which a document can be written, by the ending of the file's name."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.show.render.csv import as_csv
from sigsim.show.render.html import as_html
from sigsim.show.render.markdown import as_markdown

if TYPE_CHECKING:
    from collections.abc import Callable

    from sigsim.show.document import Document

FORMATS: Final[dict[str, Callable[[Document], str]]] = {
    ".html": as_html,
    ".md": as_markdown,
    ".csv": as_csv,
}

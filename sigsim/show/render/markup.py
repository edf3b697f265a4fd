"""Pieces of web pages: escaped text, and the policy that lets nothing in but what is meant."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterable
from html import escape
from typing import Any

from sigsim.show.render.text import one_line
from sigsim.text import escaped_json


def shown(text: str, longest: int = 200) -> str:
    """Return text on one line, as a page shows it letter by letter."""
    return escape(one_line(text, longest))


def policy(styles: Iterable[str] = (), scripts: Iterable[str] = (), **sources: str) -> str:
    """Return a content security policy: nothing but these inline styles and scripts.

    Parameters
    ----------
    styles, scripts : the contents of the page's own elements, allowed by their hash
    sources : further directives, `style_src_attr="…"`
    """
    rules = {
        "default-src": "'none'",
        "script-src": _hashes(scripts),
        "style-src": _hashes(styles),
        "base-uri": "'none'",
        "form-action": "'none'",
    }
    rules |= {name.replace("_", "-"): value for name, value in sources.items()}
    return "; ".join(f"{name} {value}" for name, value in rules.items())


def _hashes(contents: Iterable[str]) -> str:
    made = [base64.b64encode(hashlib.sha256(c.encode()).digest()).decode() for c in contents]
    return " ".join(f"'sha256-{digest}'" for digest in made) or "'none'"


def embedded(document: Any) -> str:
    """Return JSON that can stand in a script element: no `<`, so that nothing in it ends it."""
    text = escaped_json(
        json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    )
    for character in "<>&":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return text

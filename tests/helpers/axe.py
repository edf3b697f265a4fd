"""The accessibility checker: axe-core, which `npm ci` in tests/js installs."""

from __future__ import annotations

from typing import Final

import pytest

from helpers.browser import Browser
from helpers.program import ROOT

_SCRIPT: Final = ROOT / "tests" / "js" / "node_modules" / "axe-core" / "axe.min.js"
NEEDS_AXE: Final = pytest.mark.skipif(
    not _SCRIPT.is_file(), reason="axe-core is not installed: `npm ci` in tests/js"
)


def faults(window: Browser) -> list[tuple[str, str]]:
    """Return what is wrong on the page as it stands: the rule and the first element."""
    window.run(_SCRIPT.read_text(encoding="utf-8"))
    found = window.driver.execute_async_script(
        "const done = arguments[arguments.length - 1];"
        "axe.run().then((result) => done(result.violations));"
    )
    return [(fault["id"], fault["nodes"][0]["html"]) for fault in found]

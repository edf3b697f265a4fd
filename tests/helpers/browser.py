"""A real browser for the tests of pages: Debian's, without a head, driven from here."""

from __future__ import annotations

import base64
import json
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

import pytest

NEEDS_BROWSER: Final = pytest.mark.skipif(
    shutil.which("chromium") is None or shutil.which("chromedriver") is None,
    reason="chromium and chromium-driver are not installed",
)
_OPTIONS: Final = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip


class Browser:
    """A browser window and what is asked of it.

    Parameters
    ----------
    driver : of selenium
    """

    def __init__(self, driver: Any) -> None:
        self.driver = driver

    def open(self, path: Path) -> None:
        """Open a file, forgetting what was logged before."""
        self.driver.get("about:blank")
        self.messages()
        self.requests()
        self.driver.get(path.as_uri())

    def run(self, script: str, *arguments: Any) -> Any:
        """Return what a script in the page returns."""
        return self.driver.execute_script(script, *arguments)

    def texts(self, selector: str) -> list[str]:
        """Return the text of every element that fits."""
        found: list[str] = self.run(
            "return [...document.querySelectorAll(arguments[0])].map((e) => e.textContent)",
            selector,
        )
        return found

    def messages(self) -> list[str]:
        """Return what the console has been told since the last time."""
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def requests(self) -> list[str]:
        """Return the addresses asked for since the last time."""
        events = [json.loads(e["message"])["message"] for e in self.driver.get_log("performance")]
        sent = [e["params"] for e in events if e["method"] == "Network.requestWillBeSent"]
        return [str(params["request"]["url"]) for params in sent]

    def window(self, width: int, height: int) -> None:
        """Give the page a size in pixels."""
        size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)

    def prefer(self, scheme: str) -> None:
        """Prefer "light" or "dark" colours."""
        feature = {"name": "prefers-color-scheme", "value": scheme}
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [feature]})

    def printed(self) -> bytes:
        """Return the page as it prints: a PDF."""
        options = {"preferCSSPageSize": True, "printBackground": True}
        result = self.driver.execute_cdp_cmd("Page.printToPDF", options)
        return base64.b64decode(result["data"])

    def press(self, *keys: str) -> None:
        """Press keys, one after the other, wherever the focus is."""
        from selenium.webdriver.common.action_chains import ActionChains

        chain = ActionChains(self.driver)
        for key in keys:
            chain = chain.send_keys(key)
        chain.perform()


@contextmanager
def browser() -> Iterator[Browser]:
    """Give a browser with an empty profile of its own, and end it."""
    from selenium import webdriver
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service

    options = Options()
    options.binary_location = shutil.which("chromium") or ""
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        for option in (*_OPTIONS, f"--user-data-dir={profile}"):
            options.add_argument(option)
        service = Service(shutil.which("chromedriver"))
        driver = webdriver.Chrome(options=options, service=service)
        try:
            yield Browser(driver)
        finally:
            driver.quit()

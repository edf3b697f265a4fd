"""Write what the documents show of the program anew: `python tests/regenerate_docs.py`.

Renews the tables that are made from the code, the output under each command line, the plot and
the picture of the page in `examples/`. Read the difference before committing it: a number that
moved moved for a reason.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

# This tree, whatever is installed.
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from helpers.browser import browser
from helpers.documents import DOCUMENTS, EXAMPLES, ROOT, with_output
from helpers.live import Editor
from helpers.made import with_blocks
from selenium.webdriver.support.wait import WebDriverWait

from sigsim import stopping
from sigsim.live.desk import Desk


def main() -> None:
    """Renew all documents."""
    for document in DOCUMENTS:
        text = with_blocks(with_output(document.read_text(encoding="utf-8"), document))
        document.write_text(text, encoding="utf-8")
    subprocess.run(
        [sys.executable, "-m", "sigsim", "loss", "ferry-bass.toml", "--plot", "ferry-bass.png",
         "--force"],
        cwd=EXAMPLES, env={"PYTHONPATH": str(ROOT)}, check=True, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        picture_of_the_page(Path(shutil.copy(EXAMPLES / "ferry-bass.toml", folder)))


def picture_of_the_page(board: Path) -> None:
    """Draw the page of a board as a browser shows it, with what the first advice would give."""
    with stopping.patient():
        editor = Editor(board, Desk())
        editor.start()
        with browser() as window:
            window.window(1366, 640)
            window.prefer("light")
            window.driver.get(editor.address)
            first = "#trying button"
            shown = WebDriverWait(window.driver, 20)
            shown.until(lambda driver: driver.find_elements("css selector", first))
            window.run("document.querySelector(arguments[0]).focus()", first)
            time.sleep(2)  # until its ghost is drawn
            window.driver.save_screenshot(str(EXAMPLES / "ferry-bass-page.png"))


if __name__ == "__main__":
    main()

"""Write what the documents show of the program anew: `python tests/regenerate_docs.py`.

Renews the tables that are made from the code, the output under each command line, and the plot in
`examples/`. Read the difference before committing it: a number that moved moved for a reason.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

# This tree, whatever is installed.
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from helpers.documents import DOCUMENTS, EXAMPLES, ROOT, with_output
from helpers.made import with_blocks


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


if __name__ == "__main__":
    main()

"""The interactive page: one file with its styles, scripts, charts and data, and nothing outside."""

from __future__ import annotations

import re
from importlib.resources import files
from typing import TYPE_CHECKING, Final

from sigsim.errors import SigsimError
from sigsim.show.page.versions import versions_values
from sigsim.show.render.markup import embedded, policy
from sigsim.show.render.markup import shown as escaped

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sigsim.decide.page.report import ReportData
    from sigsim.show.page.versions import Shown

MOST_BYTES: Final = 8_000_000
# What stands around the script of the page where it has one board to show, and where several.
_ALONE: Final = {
    "OPEN": """(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
""",
    "SAID": "",
    "CLOSE": "  update();\n})();\n",
}
_IN_TURN: Final = {
    "OPEN": "const sigsimPage = (data, window) => {\n",
    "SAID": "data.said + ",
    "CLOSE": """  return {
    start: (set, index) => { [on, chosen] = [set, index]; update(); },
    now: () => ({ on, chosen }),
  };
};
""",
}
_CHOICE: Final = """<div class="row" role="group" aria-label="Variants" id="variants"></div>
<p class="quiet" id="changes"></p>
"""


def page(shown: Sequence[Shown]) -> str:
    """Return the page.

    Parameters
    ----------
    shown : the board; where the page has a choice, as it is written and then its variants

    Raises
    ------
    SigsimError : the page would be larger than `MOST_BYTES`
    """
    from plotly.offline import get_plotlyjs

    first, several = shown[0].data, len(shown) > 1
    style, model = _read("page.css"), _read("model.js")
    own = _filled(_read("page.js"), _IN_TURN if several else _ALONE)
    charts = get_plotlyjs()
    if several:
        own += _read("variants.js")
    values = {
        # The charts add their rules one by one to an empty style element, which a policy allows.
        "POLICY": policy((style, ""), (charts, model, own), img_src="data:"),
        "TITLE": escaped(first.question.board.name),
        "SUMMARY": _summary(first),
        "STYLE": style,
        "CHOICE": _CHOICE if several else "",
        "DATA": embedded(versions_values(shown) if several else shown[0].values()),
        "KEPTOUT": _kept_out(charts),
        "CHARTS": charts,
        "MODEL": model,
        "PAGE": own,
    }
    text = _filled(_read("page.html"), values)
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


def _summary(data: ReportData) -> str:
    if data.question.only_scenes:
        return "Choose a scene. This page was made with its scenes only, without switches."
    return (
        "Click a box, or move to it with the Tab key and press Space, to switch it; keys 1 to 9 "
        "switch the first nine while a box has the focus."
    )


def _read(name: str) -> str:
    return (files("sigsim.show") / "page" / name).read_text(encoding="utf-8")


def _kept_out(charts: str) -> str:
    """Return empty elements in the place of style sheets that the chart library would bring.

    They belong to maps, which the page has none of; the library brings one only where no element
    of its name is there, and the page's policy would refuse it with a message.
    """
    names = dict.fromkeys(re.findall(r'document\.getElementById\("([0-9a-f]{64})"\)', charts))
    return "".join(f'<i hidden id="{name}"></i>' for name in names)

"""The interactive page: one file with its styles, scripts, charts and data, and nothing outside."""

from __future__ import annotations

import re
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final

from sigsim.errors import SigsimError
from sigsim.show.page.data import page_data
from sigsim.show.page.sections import sections
from sigsim.show.render.markup import embedded, policy, shown

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sigsim.decide.page.report import ReportData

MOST_BYTES: Final = 8_000_000


def page(
    data: ReportData,
    extra: Sequence[Mapping[str, Any]] = (),
    bands: Sequence[Mapping[str, Any]] = (),
) -> str:
    """Return the page.

    Parameters
    ----------
    data : what was gathered
    extra : sections that were asked for beside the usual ones
    bands : of tolerances, by state

    Raises
    ------
    SigsimError : the page would be larger than `MOST_BYTES`
    """
    from plotly.offline import get_plotlyjs

    style, model, own = (_read(name) for name in ("page.css", "model.js", "page.js"))
    charts = get_plotlyjs()
    document = {**page_data(data), "bands": list(bands), "sections": sections(data, extra)}
    values = {
        # The charts add their rules one by one to an empty style element, which a policy allows.
        "POLICY": policy((style, ""), (charts, model, own), img_src="data:"),
        "TITLE": shown(data.question.board.name),
        "SUMMARY": _summary(data),
        "STYLE": style,
        "DATA": embedded(document),
        "KEPTOUT": _kept_out(charts),
        "CHARTS": charts,
        "MODEL": model,
        "PAGE": own,
    }
    # In one go, so that nothing that was put in is taken for a place to put something in.
    text = re.sub(r"@([A-Z]+)@", lambda found: values[found[1]], _read("page.html"))
    size = len(text.encode())
    if size > MOST_BYTES:
        raise SigsimError(
            "the page would be too large",
            where=data.question.board.file,
            found=f"{size / 1e6:.1f} MB",
            accepted=_way_out(data),
        )
    return text


def _way_out(data: ReportData) -> str:
    limit = f"at most {MOST_BYTES / 1e6:g} MB"
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

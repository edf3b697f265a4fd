"""The drawing and the runs on the wiring sheet: to the scale it says, with the sheet's numbers."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from helpers.browser import NEEDS_BROWSER, browser
from helpers.layout_boards import NAMES, box, laid_out, saved
from helpers.refusals import quick
from helpers.thinned import FULL

from sigsim.board.reader import parse_board
from sigsim.decide.layout.report import laid_out as report_of
from sigsim.show.render.plan_svg import SCALES, as_svg, scale_of, scale_said

SVG = "{http://www.w3.org/2000/svg}"
# What ends an element, an attribute or the page if it is not escaped.
HOSTILE = "</svg><script>\"&'x"


def drawn(text: str, title: str = "from above") -> tuple[ElementTree.Element, int]:
    (standing,) = report_of(parse_board(text, lacking=True)).standing
    return ElementTree.fromstring(as_svg(standing, title)), scale_of(standing)


def resized(width: str, depth: str) -> str:
    return laid_out(sold="").replace('size = ["60 cm", "32 cm"]', f'size = ["{width}", "{depth}"]')


@pytest.mark.parametrize(
    ("width", "depth", "scale"),
    [
        ("60 cm", "32 cm", 4),
        ("80 cm", "40 cm", 5),
        ("60 cm", "90 cm", 5),
        ("150 cm", "40 cm", 10),
        ("8 m", "40 cm", 50),
    ],
)
def test_boards_are_drawn_to_a_round_scale_that_fits(width: str, depth: str, scale: int) -> None:
    svg, found = drawn(resized(width, depth))
    assert found == scale
    size = [float(svg.attrib[key].removesuffix("mm")) for key in ("width", "height")]
    # A4 without the margins of the page: 210 x 297 mm less 12 and 14 mm on each side.
    assert size[0] <= 186
    assert size[1] <= 269
    # A unit of the drawing is a millimetre of the page.
    assert [float(x) for x in svg.attrib["viewBox"].split()[2:]] == size
    board = svg.findall(f"{SVG}rect")[1]
    laying = parse_board(resized(width, depth), lacking=True).laying
    assert laying is not None
    metres = laying.layout.size
    wanted = [1000 * side / scale for side in metres]
    assert [float(board.attrib[key]) for key in ("width", "height")] == pytest.approx(
        wanted, abs=0.01
    )
    larger = SCALES[SCALES.index(scale) - 1]
    assert max(1000 * metres[0] / larger / 186, 1000 * metres[1] / larger / 269) > 0.8


def test_a_small_board_is_life_size() -> None:
    text = laid_out([["tuner"]], box("tuner"), sold="").replace(
        '["60 cm", "32 cm"]', '["15 cm", "15 cm"]'
    )
    (standing,) = report_of(parse_board(text, lacking=True)).standing
    assert scale_of(standing) == 1
    assert scale_said(standing).startswith("Life-size")


def test_names_are_text_and_never_markup(tmp_path: Path) -> None:
    name = HOSTILE.replace('"', '\\"')
    chain = "".join(map(box, NAMES)).replace('stage = "tuner"', f'stage = "{name}"')
    rows = [["echo", "wheel", "swell"], ["drive", "octave", "fuzz"]]
    text = laid_out(
        rows,
        chain.replace(f'stage = "{name}"\n', f'stage = "{name}"\nplace = ["48 cm", "1 cm"]\n'),
        sold="",
    )
    svg, _ = drawn(text, HOSTILE)
    assert svg.attrib["aria-label"] == HOSTILE
    spans = ["".join(part.itertext()) for part in svg.iter(f"{SVG}text")]
    assert any("script" in said for said in spans)
    page = tmp_path / "sheet.html"
    quick("sheet", saved(tmp_path, text), "-o", page)
    assert "<script" not in page.read_text(encoding="utf-8")


def test_the_numbers_are_those_of_the_table(tmp_path: Path) -> None:
    board = saved(tmp_path, laid_out())
    svg, _ = drawn(laid_out())
    numbers = {t.text for t in svg.iter(f"{SVG}text") if (t.text or "").isdigit()}
    values = json.loads(quick("sheet", board, "--json"))
    assert numbers == {str(c["number"]) for c in values["connections"]}
    assert [c["number"] for c in values["laid"]] == [c["number"] for c in values["connections"]]
    by_layout = [str(c["number"]) for c in values["laid"] if c["by_layout"]]
    said = " ".join(quick("sheet", board).split())
    assert f"The layout says how long these are: {', '.join(by_layout)}." in said
    for ending in ("md", "csv"):
        page = tmp_path / f"sheet.{ending}"
        quick("sheet", board, "-o", page)
        text = page.read_text(encoding="utf-8")
        assert "<svg" not in text
        assert "Runs from jack to jack" in text or "run_m" in text


def test_ready_made_lengths_are_bought_one_by_one(tmp_path: Path) -> None:
    board = saved(tmp_path, laid_out())
    values = json.loads(quick("sheet", board, "--json", "--spare", "50"))
    patch = next(p for p in values["buy"] if p["cable"] == "patch")
    assert patch["bought"] == [{"length_m": 0.1, "count": 5}, {"length_m": 0.6, "count": 1}]
    assert patch["with_spare_m"] == pytest.approx(1.1)  # no length to spare on a plug
    lead = next(p for p in values["buy"] if p["cable"] == "lead")
    assert lead["with_spare_m"] == pytest.approx(16.5)
    said = " ".join(quick("sheet", board).split())
    assert "sold as 10 cm, 20 cm, 30 cm, 60 cm" in said


def test_a_board_without_a_layout_has_none(tmp_path: Path) -> None:
    text = laid_out()
    bare = text[: text.index("[layout]")] + text[text.index("[[chain]]") :]
    bare = re.sub(r"(width|depth) = .*\n", "", bare)
    bare = bare.replace(
        '[wiring]\ncable = "patch"\n', '[wiring]\ncable = "patch"\nlength = "1 m"\n'
    )
    board = saved(tmp_path, bare)
    assert json.loads(quick("sheet", board, "--json"))["laid"] is None
    assert "Runs from" not in quick("sheet", board)


@pytest.mark.skipif(not FULL, reason="the same without a browser is tried in every run")
@NEEDS_BROWSER
def test_a_browser_shows_a_millimetre_of_paper_for_one_of_the_drawing(tmp_path: Path) -> None:
    """CSS counts 96 pixels to an inch of paper (CSS Values and Units, absolute lengths)."""
    page = tmp_path / "sheet.html"
    quick("sheet", saved(tmp_path, laid_out()), "-o", page)
    with browser() as window:
        window.open(page)
        script = "return document.querySelectorAll('svg rect')[1].getBoundingClientRect().width"
        width = window.run(script)
        messages = window.messages()
    assert width == pytest.approx(600 / 4 * 96 / 25.4, abs=1.5)  # its line is 0.3 mm wide
    assert messages == []

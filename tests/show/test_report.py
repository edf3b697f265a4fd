"""The page as a file: what it holds, what it lets in, and every kind of bad input."""

from __future__ import annotations

import base64
import hashlib
import json
import math
import os
import re
import stat
import tomllib
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
from helpers.in_process import sigsim_here
from helpers.program import EXAMPLES, ROOT
from helpers.refusals import assert_refused
from helpers.report_boards import EVERYTHING, HOSTILE, hostile_board
from helpers.thinned import only_full

from sigsim.board.reader import parse_board, read_board
from sigsim.decide.page.figures import Figure, figures
from sigsim.physics.line import line
from sigsim.physics.pot import Divider
from sigsim.physics.source import Isolator, Source, TwoPort, angular
from sigsim.show.page.figures import value_text

# A page is to be sent by mail and kept with the board: no larger than a photograph of it.
MOST_BYTES: Final = 350_000
BOARD: Final = EXAMPLES / "ferry-bass.toml"
CSS: Final = (ROOT / "sigsim" / "show" / "page" / "css" / "page.css").read_text(encoding="utf-8")


class Elements(HTMLParser):
    """The elements of a page: name, attributes, text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None], str]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element."""
        self.found.append((tag, dict(attrs), ""))

    def handle_endtag(self, _tag: str) -> None:
        """End the text of an element."""
        self.found.append(("", {}, ""))

    def handle_data(self, data: str) -> None:
        """Note text."""
        if self.found:
            tag, attributes, text = self.found[-1]
            self.found[-1] = tag, attributes, text + data

    def of(self, name: str) -> list[tuple[dict[str, str | None], str]]:
        """Return attributes and text of every element of a name."""
        return [(attributes, text) for tag, attributes, text in self.found if tag == name]


FOLDED = r"(.*?)(?: and (\d+) more within 0\.1 dB)?"


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("page") / "page.html"
    run = sigsim_here("report", BOARD, "-o", path, "--with", "spread, noise")
    assert (run.status, run.err) == (0, "")
    assert "8.7 dB of treble lost (heavy)" in run.out
    assert path.stat().st_size < MOST_BYTES
    return path.read_text(encoding="utf-8")


# The largest in every run; where somebody asks every example that is one board.
SINGLE: Final = sorted(path for path in EXAMPLES.glob("*.toml") if not read_board(path).variants)


@pytest.mark.parametrize(
    "path", [EXAMPLES / "ferry-guitar-two-boards.toml", *only_full(*SINGLE)], ids=lambda p: p.stem
)
def test_a_page_is_small(tmp_path: Path, path: Path) -> None:
    assert sigsim_here("report", path, "-o", tmp_path / "page.html").status == 0
    assert (tmp_path / "page.html").stat().st_size < MOST_BYTES


def test_policy_lets_in_only_what_is_in_the_page(page: str) -> None:
    elements = Elements(page)
    rules = next(
        attributes["content"] or "" for attributes, _ in elements.of("meta")
        if attributes.get("http-equiv") == "Content-Security-Policy"
    )  # fmt: skip
    parts = dict(rule.split(" ", 1) for rule in rules.split("; "))
    assert parts["default-src"] == "'none'"
    assert "unsafe" not in rules
    assert "http" not in rules
    scripts = [text for a, text in elements.of("script") if a.get("type") != "application/json"]
    digests = [base64.b64encode(hashlib.sha256(s.encode()).digest()).decode() for s in scripts]
    assert parts["script-src"] == " ".join(f"'sha256-{digest}'" for digest in digests)
    assert len(scripts) == 1
    for name in ("link", "img", "iframe", "object", "embed", "base", "form"):
        assert not elements.of(name)
    assert not any(key in a for _, a, _ in elements.found for key in ("src", "style", "onclick"))


def test_hostile_names_stay_inside_the_data(tmp_path: Path) -> None:
    path, board = tmp_path / "page.html", tmp_path / "board.toml"
    board.write_text(hostile_board(), encoding="utf-8")
    assert sigsim_here("report", board, "-o", path).status == 0
    text = path.read_text(encoding="utf-8")
    elements = Elements(text)
    assert len(elements.of("script")) == 2
    data = next(t for a, t in elements.of("script") if a.get("type") == "application/json")
    assert "<" not in data
    document = json.loads(data)
    assert any(HOSTILE[0] in str(section) for section in document["sections"])
    assert not elements.of("img")
    assert not elements.of("svg")


def document(tmp_path: Path, *arguments: object) -> dict[str, Any]:
    path = tmp_path / "page.html"
    assert sigsim_here("report", *arguments, "-o", path, "--force").status == 0
    elements = Elements(path.read_text(encoding="utf-8"))
    made: dict[str, Any] = json.loads(
        next(t for a, t in elements.of("script") if a.get("type") == "application/json")
    )
    return made


def blocks(document: dict[str, Any], section: str, kind: str) -> list[dict[str, Any]]:
    found = next(s for s in document["sections"] if s["id"] == section)
    return [block for block in found["blocks"] if block["kind"] == kind]


def rows(document: dict[str, Any], section: str, table: int = 0) -> list[list[str]]:
    made: list[list[str]] = blocks(document, section, "table")[table]["rows"]
    return made


def test_sections_say_what_the_commands_say(tmp_path: Path) -> None:
    """Each against the command of its own, through that command's JSON."""
    made = document(tmp_path, BOARD, "--with", "spread,noise")
    table = sigsim_here("loss", BOARD).out
    for name, *numbers in rows(made, "loss"):
        # A joined name goes on below the numbers in a terminal.
        assert name.split(" = ")[0] in table
        assert " ".join(numbers) in " ".join(table.split())
    buffer = json.loads(sigsim_here("buffer", BOARD, "--json").out)
    first = rows(made, "buffer")[0]
    assert first[0] == buffer["placements"][0]["places"][0]
    assert first[1] == f"{buffer['placements'][0]['treble_loss_db']:.1f}"
    blame = json.loads(sigsim_here("blame", BOARD, "--json").out)
    assert rows(made, "blame")[0][2] == f"{blame['items'][0]['saved_db']:.1f}"
    cables = json.loads(sigsim_here("cables", BOARD, "--json").out)
    names = [choice["cable"] for choice in cables["roles"][0]["cables"]]
    folds = [re.fullmatch(FOLDED, row[0]) for row in rows(made, "cables")]
    shown = [fold[1] for fold in folds if fold]
    assert shown == sorted(shown, key=names.index)
    assert sum(1 + int(fold[2] or 0) for fold in folds if fold) == len(names)
    noise = json.loads(sigsim_here("noise", BOARD, "--json").out)
    quietest = f"{noise['states'][0]['destination']['a_weighted_dbv']:.1f}"
    assert rows(made, "noise")[0][2] == quietest
    spread = json.loads(sigsim_here("spread", BOARD, "--json").out)
    found = spread["states"][0]["treble_loss_db"]
    first, *_ = blocks(made, "spread", "table")
    numbers = first["rows"][first["groups"][0] + 1]
    assert numbers[2:5] == [f"{found[q]:.1f}" for q in ("p5", "p50", "p95")]
    check = json.loads(sigsim_here("check", BOARD, "--json").out)
    cautions = blocks(made, "cautions", "list")[0]["lines"]
    assert [c["text"] for c in check["cautions"]] == cautions[:-2]


def test_a_board_without_tolerances_says_so(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    board.write_text(
        re.sub(
            r'part = "[^"]*"',
            "",
            EVERYTHING.replace(
                'part = "preamp-always-on"', 'input_resistance = "1M"\noutput_resistance = "1k"'
            ),
        )
    )
    made = document(tmp_path, board, "--with", "spread")
    text = blocks(made, "spread", "text")[0]["lines"]
    assert "nothing to spread" in text[0]
    assert made["versions"][0]["bands"] == []


def test_other_boards_are_laid_over(tmp_path: Path) -> None:
    others = [EXAMPLES / f"ferry-bass-{name}.toml" for name in ("buffered", "active")]
    made = document(tmp_path, BOARD, "--compare", others[0], "--compare", others[1])
    found = made["versions"][0]["others"]
    assert len(found) == 2
    assert all(len(curve[state]) == 301 for curve in found for state in ("off", "worst"))
    other = json.loads(sigsim_here("loss", others[0], "--json").out)
    assert rows(made, "compare", 1)[-1][6] == f"{other['worst']['treble_loss_db']:.1f}"


def test_a_silent_board_says_so(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    board.write_text(BOARD.read_text().replace("volume = 10", "volume = 0"))
    made = document(tmp_path, board)
    assert rows(made, "loss")[0][7] == "silent"
    for section in ("buffer", "cables", "blame"):
        assert blocks(made, section, "text")[0]["lines"][0].startswith("Nothing comes out")


def test_every_figure_has_an_origin() -> None:
    """What the file overrides is the file's, the rest the part's with its source."""
    found = {names.things[0]: names for names in figures(read_board(BOARD))}
    preamp = found["stage", "last dance preamp"]
    by_key = {figure.key: figure for figure in preamp.figures}
    assert by_key["wiring_capacitance"].origin == "file"
    assert by_key["wiring_capacitance"].value == pytest.approx(60e-12)
    stages = ROOT / "sigsim" / "board" / "library" / "stages.toml"
    library = tomllib.loads(stages.read_text(encoding="utf-8"))["preamp-pedal"]
    assert by_key["input_resistance"].origin == "part"
    assert by_key["input_resistance"].source == library["sources"]["input_resistance"]
    for names in found.values():
        for figure in names.figures:
            assert figure.source if figure.origin == "part" else not figure.source
    alike = next(n for n in found.values() if n.part == "pedal-true-bypass")
    assert alike.things == (("stage", "octave below"), ("stage", "porthole filter"))


def test_all_things_of_a_board_are_among_the_figures() -> None:
    board = parse_board(EVERYTHING)
    named = {thing for found in figures(board) for thing in found.things}
    assert {name for kind, name in named if kind in ("stage", "loop")} == set(board.stage_names())
    assert {("pickup", "neck"), ("tap", "tuner output"), ("cable", "lead")} <= named


@pytest.mark.parametrize(
    ("kind", "value", "tolerance", "text"),
    [
        ("resistance", 250e3, 0.2, "250 kΩ ± 20 %"), ("capacitance", 47e-9, 0.0, "47 nF"),
        ("taper", 0.1, 0.0, "audio 10 %"), ("taper", 0.5, 0.0, "linear"),
        ("gain", -6.0, 0.0, "-6 dB"), ("knob", 7.5, 0.0, "7.5"), ("choice", "true", 0.0, "true"),
        ("flag", True, 0.0, "true"),
    ],
)  # fmt: skip
def test_values_as_a_file_shows_them(kind: str, value: Any, tolerance: float, text: str) -> None:
    assert value_text(Figure("key", kind, value, tolerance, "file", "")) == text


@pytest.mark.parametrize(
    "step",
    [
        TwoPort(1.3 + 0.1j, 2e3 + 5j, 1e-5 + 2e-6j, 0.9 - 0.2j),
        line(angular(np.array([3000.0])), 0.1, 0.3e-6, 100e-12, 0.02, 7.0),
        Divider(250e3, 0.4),
        Isolator(1e-6 + 2e-6j, 2.0 - 0.3j, 1000.0 - 50j),
    ],
    ids=lambda step: type(step).__name__,
)
def test_coefficients_do_what_the_step_does(step: Any) -> None:
    """P = 1/E and q = Z/E after the four coefficients, against E and Z through the step."""
    source = Source(np.array([0.7 + 0.2j]), np.array([8e3 + 3e4j]))
    p, q = 1 / source.E, source.Z / source.E
    m = step.matrix
    a, b, c, d = m.A, m.B, m.C, m.D
    behind = step.drive(source)
    assert a * p + c * q == pytest.approx(1 / np.asarray(behind.E), rel=1e-12)
    assert b * p + d * q == pytest.approx(np.asarray(behind.Z / behind.E), rel=1e-12)


def _luminance(colour: str) -> float:
    """Return the relative luminance of WCAG 2.1 for `#rrggbb`."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def _contrast(one: str, two: str) -> float:
    high, low = sorted((_luminance(one), _luminance(two)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def _colours(block: str) -> dict[str, str]:
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))


def test_colours_stand_out() -> None:
    """Text 4.5:1 and lines 3:1 (WCAG 2.1, 1.4.3 and 1.4.11), in light and in dark."""
    light, dark = CSS.split("@media (prefers-color-scheme: dark)")[:2]
    plain = _colours(light)
    for colours in (plain, {**plain, **_colours(dark.split("\n}\n")[0])}):
        for text in ("ink", "soft", "warm", "cool", "mark"):
            assert _contrast(colours[text], colours["paper"]) >= 4.5, text
        for text in ("ink", "soft"):
            assert _contrast(colours[text], colours["raise"]) >= 4.5, text
        for stroke in ("grey", "edge"):
            assert _contrast(colours[stroke], colours["paper"]) >= 3, stroke
    assert math.isclose(_contrast("#000000", "#ffffff"), 21)


def big(stages: int, different: bool = True) -> str:
    text = BOARD.read_text(encoding="utf-8").split("[[chain]]")[0]
    for number in range(stages):
        text += f'[[chain]]\nstage = "box {number}"\npart = "pedal-true-bypass"\n'
        text += f'output_capacitor = "{1 + number / 1000} µF"\n' if different else ""
        text += f'wiring_capacitance = "{20 + number / 100} pF"\n' if different else ""
        text += f'low_pass = "{10 + number / 100} kHz"\n' if different else ""
    return text + "[scenes]\nnone = []\n"


BAD: Final[dict[str, tuple[list[str], list[str]]]] = {
    "no output": ([], ["-o"]),
    "other ending": (["-o", "page.pdf"], ["-o", ".html", "page.pdf"]),
    "no ending": (["-o", "page"], ["-o", ".html"]),
    "exists": (["-o", "old.html"], ["exists", "--force"]),
    "folder": (["-o", "."], ["folder"]),
    "no folder": (["-o", "nowhere/page.html"], ["no such folder"]),
    "unknown part": (["-o", "new.html", "--with", "spraed"], ["--with", "spread", "noise"]),
    "empty part": (["-o", "new.html", "--with", ","], ["--with", "says nothing"]),
    "no other board": (["-o", "new.html", "--compare", "none.toml"], ["none.toml", "no such file"]),
    "band": (["-o", "new.html", "--band", "3000", "2000"], ["--band"]),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    monkeypatch.chdir(tmp_path)
    arguments, words = BAD[name]
    (tmp_path / "old.html").write_text("old")
    run = sigsim_here("report", BOARD, *arguments)
    assert_refused(run, *words)
    assert [p.name for p in tmp_path.iterdir()] == ["old.html"]
    assert (tmp_path / "old.html").read_text() == "old"


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_unwritable(tmp_path: Path) -> None:
    tmp_path.chmod(stat.S_IRUSR | stat.S_IXUSR)
    run = sigsim_here("report", BOARD, "-o", tmp_path / "page.html")
    tmp_path.chmod(stat.S_IRWXU)
    assert run.status == 2
    assert "cannot be written" in run.err


@pytest.mark.parametrize(
    ("stages", "words"),
    [(201, ["things in the chain", "found 401", "at most 400"]), (199, ["MB", "at most 3.5 MB"])],
)
def test_too_large_for_switches(tmp_path: Path, stages: int, words: list[str]) -> None:
    board, output = tmp_path / "board.toml", tmp_path / "page.html"
    board.write_text(big(stages), encoding="utf-8")
    run = sigsim_here("report", board, "-o", output)
    assert run.status == 2
    for word in (*words, "--only-scenes"):
        assert word in run.err
    assert not output.exists()
    assert sigsim_here("report", board, "-o", output, "--only-scenes").status == 0
    assert output.stat().st_size < 3_500_000

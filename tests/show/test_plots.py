"""Plots as a reader finds them: what they say, that all of it is there, and nothing overlaps.

Properties of the figures, no comparison of pixels.
"""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from itertools import combinations, product
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
from helpers.in_process import sigsim_here
from helpers.program import EXAMPLES
from helpers.results import measured_cable, verified
from helpers.thinned import crossed
from matplotlib.figure import Figure
from matplotlib.text import Text

from sigsim.board.model import Board
from sigsim.board.reader import parse_board, read_board
from sigsim.decide.blame.report import blame_worst
from sigsim.decide.buffer.report import buffer_report
from sigsim.decide.loss.curves import loss_curves
from sigsim.decide.loss.report import assess, loss_report
from sigsim.decide.noise import noise_report
from sigsim.decide.spread.report import SpreadQuestion, spread_report
from sigsim.decide.states.band import states_band
from sigsim.decide.states.question import StatesQuestion
from sigsim.decide.states.report import states_report
from sigsim.metrics import USUAL_BASIS, Basis
from sigsim.show.document import Drawing
from sigsim.show.plots import (
    blame,
    buffer,
    letters,
    loss,
    measure,
    noise,
    response,
    spread,
    states,
    style,
    verify,
)
from sigsim.show.plots.ends import spread as moved_apart
from sigsim.show.plots.letters import alphabet_for, joined, lettered, written
from sigsim.show.plots.picture import picture
from sigsim.show.plots.scenes import SceneLooks
from sigsim.show.render.text import in_the_middle
from sigsim.states.response import Response, Solver, grid

BASS = EXAMPLES / "ferry-bass.toml"
BIG = EXAMPLES / "ferry-guitar-big.toml"
# The smallest and the largest that `--plot-size` takes, the usual, 640 to 400, and two strips.
NARROW: Final = [(8.0, 8.0), (60.0, 8.0), (8.0, 60.0)]
SIZES: Final = [*NARROW, (16.0, 10.0), (16.0, 13.0), (60.0, 60.0)]
HEAD: Final = BASS.read_text(encoding="utf-8").split("[[chain]]")[0]
LETTERS: Final = alphabet_for("καπνόςночной паром猫船שלום עולם")
SCRIPTS: Final = ("καπνός", "ночной паром", "猫船", "שלום עולם", "$x_2$ {\\frac", "plain")


def board_with(names: tuple[str, ...] | list[str], stages: int = 6) -> Board:
    """Return a board with scenes of these names, each with another stage on."""
    chain = '[[chain]]\ncable = "lead"\nlength = "5 m"\n'
    for i in range(stages):
        part = "pedal-buffered" if i % 4 == 3 else "pedal-true-bypass"
        chain += f'[[chain]]\nstage = "box {i}"\npart = "{part}"\n'
    chain += '[[chain]]\ncable = "lead"\nlength = "6 m"\n[scenes]\n'
    for i, name in enumerate(names):
        quoted = name.replace("\\", "\\\\")
        chain += f'"{quoted}" = ["box {i % stages}", "box {(i * 5 + 1) % stages}"]\n'
    return parse_board(HEAD + chain)


BOARDS: Final = {
    "bass": read_board(BASS),
    "one state": parse_board(HEAD + '[[chain]]\ncable = "lead"\nlength = "5 m"\n'),
    "silent": parse_board(BASS.read_text(encoding="utf-8").replace("volume = 10", "volume = 0")),
    "scripts": board_with(list(SCRIPTS)),
    "long names": board_with(
        [f"a scene whose name does not come to an end {i}" for i in range(25)]
    ),
    "forty": board_with(["one", "two"], 40),
}


def of_loss(board: Board, basis: Basis = USUAL_BASIS) -> Drawing:
    report = loss_report(board, board.named_states(), basis)
    return loss.drawing(report, loss_curves(report))


def of_states(board: Board) -> Drawing:
    question = StatesQuestion(board)
    return states.drawing(states_report(question, 3), states_band(question))


def of_response(board: Board) -> Drawing:
    state, solver = board.state(()), Solver(board)
    found = Response(solver, state.on, grid(20, 20_000, 100), "ideal")
    return response.drawing(found, assess(solver, state), USUAL_BASIS)


def of_noise(board: Board) -> Drawing:
    return noise.drawing(noise_report(board, board.named_states()))


def of_spread(board: Board) -> Drawing:
    question = SpreadQuestion(board=board, draws=100, curves=True, defaults={"resistance": 0.1})
    return spread.drawing(spread_report(question, board.named_states(), with_worst=True))


def of_blame(board: Board) -> Drawing:
    return blame.drawing(blame_worst(board))


def of_verify(board: Board) -> Drawing:
    on = tuple(state.on for state in board.named_states())
    return verify.drawing(verified(board, wrong=True, on=on))


def of_measure(_: Board) -> Drawing:
    return measure.drawing(measured_cable())


KINDS: Final = {
    "loss": of_loss,
    "states": of_states,
    "response": of_response,
    "noise": of_noise,
    "spread": of_spread,
    "blame": of_blame,
    "verify": of_verify,
}
# What is measured belongs to no board.
ALL: Final = KINDS | {"measure": of_measure}


def drawn(drawing: Drawing, size: tuple[float, float] = (16.0, 13.0)) -> Figure:
    figure = style.new_figure(*size)
    with lettered(LETTERS):
        drawing.draw(figure)
        figure.draw_without_rendering()
    return figure


def texts(figure: Figure) -> Iterator[Text]:
    """Yield all that is read, ticks within their axes only."""
    ticks = set()
    for axes in figure.axes:
        for axis, ends in ((axes.xaxis, axes.get_xlim()), (axes.yaxis, axes.get_ylim())):
            low, high = sorted(ends)
            for tick in axis.get_major_ticks() + axis.get_minor_ticks():
                if not (low <= tick.get_loc() <= high and tick.label1.get_visible()):
                    ticks.add(tick.label1)
                ticks.add(tick.label2)
    for text in figure.findobj(Text):
        assert isinstance(text, Text)
        if text.get_text().strip() and text.get_visible() and text not in ticks:
            yield text


def box(text: Text, figure: Figure) -> Any:
    return text.get_window_extent(figure.canvas.get_renderer())  # type: ignore[attr-defined]


def said(figure: Figure, gid: str) -> list[str]:
    found = [t.get_text() for t in figure.findobj(Text) if t.get_gid() == gid]  # type: ignore[attr-defined]
    return [" ".join(text.replace("\u200e", "").split()) for text in found]


@pytest.mark.parametrize(
    ("kind", "size"),
    dict.fromkeys([*product(ALL, NARROW), *crossed(list(ALL), SIZES)]),
    ids=lambda v: v if isinstance(v, str) else f"{v[0]:g}x{v[1]:g}",
)
def test_nothing_is_cut_and_no_names_overlap(kind: str, size: tuple[float, float]) -> None:
    figure = drawn(ALL[kind](BOARDS["bass"]), size)
    width, height = figure.bbox.width, figure.bbox.height
    boxes = []
    for text in texts(figure):
        place = box(text, figure)
        assert place.x0 >= -1, text
        assert place.y0 >= -1, text
        assert place.x1 <= width + 1, text
        assert place.y1 <= height + 1, text
        boxes.append((text, place))
    for (one, a), (other, b) in combinations(boxes, 2):
        across = min(a.x1, b.x1) - max(a.x0, b.x0)
        along = min(a.y1, b.y1) - max(a.y0, b.y0)
        # A box is as high as a line with its gap: letters touch where more than a third overlaps.
        assert across <= 1 or along <= 0.34 * min(a.height, b.height), (one, other)


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        *product(KINDS, ("bass", "silent", "long names")),
        *crossed(list(KINDS), ["one state", "scripts", "forty"]),
    ],
)
def test_the_title_is_the_answer_over_the_name_of_the_board(kind: str, name: str) -> None:
    drawing = KINDS[kind](BOARDS[name])
    figure = drawn(drawing, (12.0, 10.0))
    with lettered(LETTERS):
        answer = written(" ".join(drawing.title.split())).replace("\u200e", "")
    assert "".join(said(figure, "answer")).replace(" ", "") == answer.replace(" ", "")
    assert said(figure, "name")[0] == in_the_middle(BOARDS[name].name, 120)
    for text in texts(figure):
        place = box(text, figure)
        assert -1 <= place.x0 <= place.x1 <= figure.bbox.width + 1, text
        assert -1 <= place.y0 <= place.y1 <= figure.bbox.height + 1, text


@pytest.mark.parametrize(
    "command", ["loss", "states", "buffer", "order", "cables", "blame", "noise"]
)
def test_the_title_is_what_the_command_says_first(command: str, tmp_path: Path) -> None:
    plot = tmp_path / "x.svg"
    run = sigsim_here(command, BASS, "--plot", plot)
    assert (run.status, run.err) == (0, "")
    (title,) = ET.parse(plot).getroot().findall("{http://www.w3.org/2000/svg}title")
    assert title.text
    assert " ".join(run.out.split()).startswith(" ".join(title.text.split()))


def test_asked_for_one_state_the_title_is_of_this_state(tmp_path: Path) -> None:
    plot = tmp_path / "x.svg"
    run = sigsim_here("loss", BASS, "--scene", "storm", "--plot", plot)
    (title,) = ET.parse(plot).getroot().findall("{http://www.w3.org/2000/svg}title")
    assert " ".join(run.out.split()).startswith(str(title.text))
    assert "(worst)" not in plot.read_text(encoding="utf-8")


def test_loss_hangs_from_zero_and_the_band_is_tinted() -> None:
    for band in ((2000.0, 8000.0), (1000.0, 5000.0)):
        figure = drawn(of_loss(BOARDS["bass"], Basis("ideal", band)))
        gain, lost = figure.axes
        bottom, top = lost.get_ylim()
        assert top <= -style.LEAST_DB
        assert bottom >= style.LEAST_DB
        assert gain.get_ylabel() == "gain (dB)"
        assert lost.get_ylabel() == "loss (dB)"
        assert "(Hz)" in lost.get_xlabel()
        for axes in (gain, lost):
            (tint,) = [p for p in axes.patches if p.get_label() == "_treble"]
            assert (tint.get_x(), tint.get_x() + tint.get_width()) == band  # type: ignore[attr-defined]
        assert any(text.get_text() == "treble" for text in gain.texts)


def test_a_small_loss_is_not_blown_up() -> None:
    figure = drawn(of_loss(BOARDS["one state"]))
    assert figure.axes[1].get_ylim() == (style.LEAST_DB, -style.LEAST_DB)


def looks_of(figure: Figure) -> dict[str, tuple[str, Any]]:
    """Return colour and dash of each named curve by the words at its end."""
    found = {}
    for axes in figure.axes:
        leaders = [line for line in axes.get_children() if line.get_label() == "_leader"]
        ends = [t for t in axes.texts if t.get_gid() == "end"]
        for text, line in zip(ends, leaders, strict=True):
            name = text.get_text().split(":")[0].split(",")[0].split("\n")[0]
            found[name] = line.get_color(), line._dash_pattern  # type: ignore[attr-defined]
    return found


def test_a_scene_looks_alike_in_every_plot() -> None:
    board = BOARDS["bass"]
    looks = SceneLooks(board)
    one, other = (looks_of(drawn(kind(board))) for kind in (of_loss, of_states))
    same = set(one) & set(other)
    assert {"all off", "storm", "night swell"} <= same
    for name in same:
        assert one[name] == other[name]
    storm = looks.of(board.scene("storm").on)
    assert one["storm"][0] == storm["color"]
    rows = drawn(of_spread(board)).axes[0]
    colours = [line.get_color() for line in rows.lines if line.get_label() == "interval"]
    names = [t.get_text() for t in rows.get_yticklabels()]
    assert colours[names.index("storm")] == storm["color"]
    bars = drawn(of_noise(board)).axes[0]
    names = [t.get_text() for t in bars.get_yticklabels()]
    edge = bars.patches[names.index("storm")].get_edgecolor()
    np.testing.assert_allclose(edge[:3], _rgb(storm["color"]))


def test_the_worst_without_a_name_has_a_look_of_its_own() -> None:
    board = BOARDS["scripts"]
    looks = SceneLooks(board)
    own = looks.of(("box 0", "box 2", "box 4"), worst=True)
    named = [looks.of(state.on) for state in board.named_states()]
    assert own not in named
    assert looks.of(("box 5",)) not in [own, *named]
    assert looks.of(board.scene("plain").on, worst=True) == looks.of(board.scene("plain").on)


def _rgb(colour: str) -> np.ndarray:
    return np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255


# Machado, Oliveira, Fernandes: A physiologically-based model for simulation of color vision
# deficiency, IEEE TVCG 15 (2009), full severity, on linear RGB; from memory. Each row adds up to 1,
# so that grey stays grey.
SEEN: Final = {
    "usual": "1 0 0  0 1 0  0 0 1",
    "protanopia": "0.152286 1.052583 -0.204868  0.114503 0.786281 0.099216  "
    "-0.003882 -0.048116 1.051998",
    "deuteranopia": "0.367322 0.860646 -0.227968  0.280085 0.672501 0.047413  "
    "-0.011820 0.042940 0.968881",
    "tritanopia": "1.255528 -0.076749 -0.178779  -0.078411 0.930809 0.147602  "
    "0.004733 0.691367 0.303900",
}
# sRGB to XYZ (IEC 61966-2-1), from memory; white is what all ones give.
XYZ: Final = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)
# 2.3 is a difference just noticed between patches side by side (Mahy and others, Color Research &
# Application 19, 1994; from memory). Thin lines apart from one another want many times that.
LEAST_DELTA_E: Final = 20.0


def lab(colour: str, matrix: np.ndarray) -> np.ndarray:
    """Return CIE 1976 L*a*b* of a colour as someone sees it (ISO/CIE 11664-4, from memory)."""
    np.testing.assert_allclose(matrix.sum(axis=1), 1, atol=1e-5)
    value = _rgb(colour)
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    t = XYZ @ np.clip(matrix @ linear, 0, 1) / XYZ.sum(axis=1)
    x, y, z = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


@pytest.mark.parametrize("eyes", SEEN)
def test_colours_differ_for_all_eyes(eyes: str) -> None:
    colours = [*style.PALETTE, style.REFERENCE_COLOUR]
    seen = np.array(SEEN[eyes].split(), dtype=float).reshape(3, 3)
    for one, other in combinations(colours, 2):
        apart = np.linalg.norm(lab(one, seen) - lab(other, seen))
        assert apart >= LEAST_DELTA_E, (one, other)


def test_thirty_six_looks_are_all_different() -> None:
    assert len({(look["color"], look["linestyle"]) for look in map(style.look, range(36))}) == 36


def test_boxes_are_moved_apart_no_further_than_needed() -> None:
    far = np.array([10.0, 50.0, 90.0])
    np.testing.assert_allclose(moved_apart(far, np.full(3, 8.0), 100.0), far)
    close = moved_apart(np.array([50.0, 50.0, 51.0]), np.full(3, 10.0), 100.0)
    np.testing.assert_allclose(np.diff(close), 10.0)
    assert close.mean() == pytest.approx(np.mean([50.0, 50.0, 51.0]))
    edge = moved_apart(np.zeros(4), np.full(4, 20.0), 100.0)
    np.testing.assert_allclose(edge, [10.0, 30.0, 50.0, 70.0])


def test_long_names_keep_their_end_and_our_own_words() -> None:
    figure = drawn(of_loss(BOARDS["long names"]))
    labels = said(figure, "end")
    assert any("worst" in label for label in labels)
    assert len(set(labels)) == len(labels)
    assert all(re.search(r": -?[\d.]+ dB$", label) for label in labels if "without" not in label)
    assert in_the_middle("a long name 1", 9) != in_the_middle("a long name 2", 9)
    assert joined(["one", "two"]) == ("one, two", "")
    assert joined(["x" * 30, "y" * 30, "z"]) == ("x" * 30, " and 2 more")


def test_letters_of_other_scripts_are_shown_or_escaped() -> None:
    """The font that always comes has Greek, Cyrillic and Hebrew; U+10FFFD is in no font."""
    alphabet = alphabet_for("Ωжא\U0010fffd")
    assert alphabet.missing == {"\U0010fffd"}
    with lettered(alphabet):
        assert written("Ω\U0010fffd") == "Ω\\U0010fffd"
        assert written("$x$") == r"\$x\$"
        assert written("שלום: 3 dB").count("\u200e") == 2
    live = alphabet_for("\U0010fffd", live=True)
    with lettered(live):
        assert written("\U0010fffd") == "\U0010fffd"


@pytest.mark.parametrize("form", ["png", "svg", "pdf"])
def test_names_of_all_scripts_go_into_every_file(form: str) -> None:
    made = picture(of_loss(BOARDS["scripts"]), form, "Subject" if form == "pdf" else "Description")
    assert made.content
    if form != "svg":
        return
    root = ET.parse(io.BytesIO(made.content)).getroot()
    found = " ".join("".join(t.itertext()) for t in root.iter("{http://www.w3.org/2000/svg}text"))
    for name in ("καπνός", "ночной", "猫船", "שלום", "$x_2$"):
        assert name in found
    assert "sans-serif" in made.content.decode()
    assert made.content == picture(of_loss(BOARDS["scripts"]), form).content


def test_a_letter_that_no_font_has_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(letters, "_families", lambda: ())
    text = BASS.read_text(encoding="utf-8").replace('"storm"', '"猫"')
    (tmp_path / "b.toml").write_text(text, encoding="utf-8")
    run = sigsim_here("loss", tmp_path / "b.toml", "--plot", tmp_path / "x.png")
    assert run.status == 0
    assert "no font on this machine has these letters" in run.err
    run = sigsim_here("loss", tmp_path / "b.toml", "--plot", tmp_path / "x.svg")
    assert (run.status, run.err) == (0, "")


def test_the_histogram_marks_the_worst_and_the_scenes() -> None:
    question = StatesQuestion(BOARDS["bass"])
    report, band = states_report(question, 3), states_band(question)
    figure = style.new_figure()
    _, lower = states.draw_states(figure, report, band, "said")
    marks = [line.get_xdata()[0] for line in lower.lines if line.get_label() == "scene"]
    different = {round(state.loss, 9) for state in band.named}
    assert {round(float(mark), 9) for mark in marks} == different
    (worst,) = [line for line in lower.lines if line.get_label() == "worst"]
    assert worst.get_xdata()[0] == report.summary.worst
    assert said(figure, "worst") == [f"worst: {report.summary.worst:.1f} dB"]


def test_the_best_place_for_a_buffer_is_bold() -> None:
    from sigsim.board.part_stage import powered_part

    report = buffer_report(BOARDS["bass"], powered_part("buffer-opamp", "buffer", where="x"))
    axes = buffer.draw_buffer(style.new_figure(), report)
    bold = [t.get_text() for t in axes.texts if t.get_fontweight() == "bold"]
    assert bold == [f"{report.placements[0].loss:.1f}"]


def test_a_narrow_span_of_frequencies_has_ticks() -> None:
    board = BOARDS["bass"]
    solver = Solver(board)
    for low, high, points in ((3000.0, 3400.0, 20), (440.0, 440.0, 1)):
        found = Response(solver, (), grid(low, high, points), "ideal")
        drawing = response.drawing(found, assess(solver, board.state(())), USUAL_BASIS)
        axes = drawn(drawing).axes[1]
        left, right = axes.get_xlim()
        assert len([t for t in axes.get_xticks() if left <= t <= right]) >= 2

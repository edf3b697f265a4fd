"""Boards compared: each number is what `loss` says of the board alone, differences are minus."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from helpers.in_process import sigsim_here as sigsim
from helpers.program import EXAMPLES
from helpers.refusals import ENDS, LEAD, STAGE, assert_refused, quick, refused

from sigsim import metrics
from sigsim.board.reader import parse_board, read_board
from sigsim.board.state import ALL_OFF
from sigsim.decide.compare import compare, compare_curves
from sigsim.show.compare import sentence
from sigsim.states.response import grid, response

BASS = EXAMPLES / "ferry-bass.toml"
BUFFERED = EXAMPLES / "ferry-bass-buffered.toml"
BIG = EXAMPLES / "ferry-guitar-big.toml"
SPLIT = EXAMPLES / "ferry-guitar-two-boards.toml"
VINTAGE = EXAMPLES / "ferry-guitar-vintage.toml"


@pytest.mark.parametrize("reference", ["ideal", "direct"])
@pytest.mark.parametrize("paths", [(BASS, BUFFERED), (BIG, SPLIT, VINTAGE)], ids=["two", "three"])
def test_every_number_is_that_of_the_board_alone(paths: tuple[Path, ...], reference: str) -> None:
    both = json.loads(quick("compare", *paths, "--json", "--reference", reference))
    assert [board["file"] for board in both["boards"]] == [str(path) for path in paths]
    assert [board["label"] for board in both["boards"]] == list("ABC"[: len(paths)])
    by_name = {state["name"]: state for state in both["states"]}
    for number, path in enumerate(paths):
        alone = json.loads(quick("loss", path, "--json", "--reference", reference))
        expected = {state["name"]: state for state in alone["states"]}
        expected["worst"] = alone["worst"]
        for name, state in by_name.items():
            found = state["boards"][number]
            if name not in expected:
                assert found is None
                assert state["differences"][number] is None
                continue
            assert {key: found[key] for key in expected[name]} == expected[name]


def test_differences_are_against_the_first() -> None:
    both = json.loads(quick("compare", BIG, SPLIT, "--json"))
    assert both["scenes_shared"] == ["embarkation", "foxtrot", "midnight solo"]
    for state in both["states"]:
        (a, b), (none, difference) = state["boards"], state["differences"]
        assert none is None
        for key in ("treble_loss_db", "level_db", "treble_level_db", "corner_hz"):
            assert difference[key] == pytest.approx(b[key] - a[key])
        for f, loss in difference["loss_db"].items():
            assert loss == pytest.approx(b["loss_db"][f] - a["loss_db"][f])
        if a["resonance_hz"] is None or b["resonance_hz"] is None:
            assert difference["resonance_hz"] is None
        else:
            assert difference["resonance_hz"] == pytest.approx(
                b["resonance_hz"] - a["resonance_hz"]
            )


def test_what_arrives_is_the_mean_gain_of_the_treble_band() -> None:
    boards = [read_board(path) for path in (BASS, BUFFERED)]
    report = compare(boards)
    f = 1000 * 10 ** (np.arange(3, 10) / 10)  # third octaves, IEC 61260-1
    for board, cell in zip(boards, report.rows[0].cells, strict=True):
        assert cell is not None
        gain = 20 * np.log10(np.abs(response(board, (), f).H))
        assert cell.treble == pytest.approx(float(gain.mean()), abs=1e-9)


def test_boards_that_are_the_same_do_not_differ(tmp_path: Path) -> None:
    copy = tmp_path / "copy.toml"
    copy.write_bytes(BASS.read_bytes())
    both = json.loads(quick("compare", BASS, copy, "--json"))
    for state in both["states"]:
        difference = state["differences"][1]
        assert difference["treble_loss_db"] == difference["level_db"] == 0
        assert difference["corner_hz"] == 0
    out = " ".join(quick("compare", BASS, copy).split())
    assert out.startswith("At worst the boards differ by no more than 0.0 dB of treble")
    assert "copy.toml" in out  # two boards of one title are told apart


def test_words_and_width(tmp_path: Path) -> None:
    out = quick("compare", BASS, BUFFERED)
    first = " ".join(out.split("\n\n")[0].split())
    assert first == (
        "B, 'Night ferry: bass, the eight pedals and…', loses 1.8 dB (slight) of treble at worst; "
        "A, 'Night ferry: bass, eight true-bypass pe…', loses 8.7 dB (heavy), 6.9 dB more."
    )
    assert "Worst of B: engine room." in out
    long = tmp_path / "long.toml"
    long.write_text(BASS.read_text(encoding="utf-8").replace("storm", "storm " * 20))
    longer = tmp_path / "longer.toml"
    longer.write_text(BUFFERED.read_text(encoding="utf-8").replace("storm", "storm " * 20))
    for command in ([long, longer, VINTAGE], [BIG, SPLIT, "--reference", "direct"]):
        assert max(map(len, quick("compare", *command).splitlines())) <= 80


def test_where_references_differ_what_arrives_is_said() -> None:
    """The same board behind a lead of 20 m: its own loss is smaller, but less treble arrives."""
    text = BASS.read_text(encoding="utf-8")
    dull = parse_board(text.replace('"5 m"', '"20 m"'), "dull.toml")
    report = compare([read_board(BASS), dull])
    difference = report.worst.differences[1]
    assert difference is not None
    assert difference.treble_loss < -2
    assert difference.treble < -2


def test_boards_without_common_scenes() -> None:
    out = quick("compare", BASS, VINTAGE)
    assert "No scene is in more than one of the boards" in out
    both = json.loads(quick("compare", BASS, VINTAGE, "--json"))
    assert both["scenes_shared"] == []
    assert [state["name"] for state in both["states"]] == [ALL_OFF, "worst"]
    message = refused("compare", BASS, VINTAGE, "--scene", "storm")
    assert "there is no shared scene" in message


def test_one_scene_of_several() -> None:
    both = json.loads(quick("compare", BIG, SPLIT, "--scene", "foxtrot", "--json"))
    assert [state["name"] for state in both["states"]] == [ALL_OFF, "foxtrot", "worst"]
    assert 'did you mean "foxtrot"' in refused("compare", BIG, SPLIT, "--scene", "foxtort")


def test_the_same_file_twice_is_refused(tmp_path: Path) -> None:
    assert_refused(sigsim("compare", BASS, BASS), "the same file twice", "ferry-bass.toml")
    link = tmp_path / "link.toml"
    link.symlink_to(BASS)
    assert "the same file twice" in refused("compare", BASS, BUFFERED, link)
    roundabout = EXAMPLES / ".." / "examples" / BASS.name
    assert "the same file twice" in refused("compare", BASS, roundabout)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], ["BOARD"]),
        ([BASS], ["one board alone", "two or more"]),
        ([BASS, "nowhere.toml"], ["nowhere.toml", "no such file"]),
        ([BASS, BUFFERED, "--plot", "x.gif"], [".png .svg .pdf"]),
    ],
    ids=["none", "one", "missing", "plot"],
)
def test_bad_input(arguments: list[object], words: list[str]) -> None:
    message = refused("compare", *arguments)
    assert all(word in message for word in words), message


def test_more_boards_than_letters(tmp_path: Path) -> None:
    paths = []
    for number in range(27):
        paths.append(tmp_path / f"{number}.toml")
        paths[-1].write_text(ENDS + LEAD + STAGE)
    assert "2 to 26" in refused("compare", *paths)
    out = quick("compare", *paths[:26], "--plot", tmp_path / "x.png")
    assert "Worst of Z" in out


def test_a_silent_board_is_named(tmp_path: Path) -> None:
    silent = tmp_path / "silent.toml"
    silent.write_text(BASS.read_text(encoding="utf-8").replace("volume = 10", "volume = 0"))
    out = " ".join(quick("compare", BASS, silent, "--plot", tmp_path / "x.png").split())
    assert out.startswith("Nothing comes out of B")
    both = json.loads(quick("compare", BASS, silent, "--json"))
    assert both["states"][0]["differences"][1]["treble_loss_db"] is None


def test_plot_overlays_all_boards() -> None:
    from sigsim.show.plots.compare import draw_compare
    from sigsim.show.plots.style import new_figure

    report = compare([read_board(BASS), read_board(BUFFERED)])
    curves = compare_curves(report, grid(points=50))
    upper, lower = draw_compare(
        new_figure(), ["one $a_b$", "two"], [c.curves for c in curves], (2e3, 8e3), "said"
    )
    lines = upper.get_lines()
    assert [text.get_text() for text in lower.texts if text.get_gid() == "end"] == [
        "A: all off (worst)", "B: all off", "B: worst",
    ]  # fmt: skip
    (name,) = [text.get_text() for text in upper.figure.texts if text.get_gid() == "name"]
    assert name == r"A one \$a_b\$; B two"
    np.testing.assert_allclose(
        lines[0].get_ydata(), response(read_board(BASS), (), grid(points=50)).gain_db
    )
    assert upper.get_ylabel() == "gain (dB)"
    assert lower.get_ylabel() == "loss (dB)"
    assert metrics.verdict(report.worst.cells[0].report.treble_loss) == "heavy"  # type: ignore[union-attr]


def with_comp(text: str, more: str = "") -> str:
    """Return the bass board with a box that isolates always behind its lead."""
    lead = text.index('[[chain]]\nstage = "tuner"')
    box = f'[[chain]]\nstage = "comp"\npart = "preamp-always-on"\n{more}\n\n'
    return text[:lead] + box + text[lead:]


def test_a_board_that_hides_the_pickup_is_named(tmp_path: Path) -> None:
    hiding = tmp_path / "hiding.toml"
    hiding.write_text(with_comp(BASS.read_text(encoding="utf-8")))
    out = " ".join(quick("compare", BASS, hiding).split())
    assert "B: 'bilge fuzz' wants to see the pickup, but 'comp' always stands between." in out
    assert "A: 'bilge fuzz'" not in out
    boards_found = json.loads(quick("compare", BASS, hiding, "--json"))["boards"]
    assert boards_found[0]["hidden_pickups"] == []
    assert boards_found[1]["hidden_pickups"][0]["always"] == ["comp"]


def test_a_scene_asked_for_decides_the_answer() -> None:
    out = " ".join(quick("compare", BIG, SPLIT, "--scene", "foxtrot").split())
    assert "in 'foxtrot'" in out.split(" A ")[0]
    assert "at worst" not in out.split(" A ")[0]
    both = json.loads(quick("compare", BIG, SPLIT, "--scene", "foxtrot", "--json"))
    row = next(state for state in both["states"] if state["name"] == "foxtrot")
    for board in row["boards"]:
        loss = board["treble_loss_with_lead_db" if both["leads_differ"] else "treble_loss_db"]
        assert f"{abs(loss):.1f} dB ({metrics.verdict(loss)})" in out


def test_a_level_that_differs_is_never_hardly_noticed(tmp_path: Path) -> None:
    """The same board 20 dB softer: a box that isolates with gain or without."""
    text = BASS.read_text(encoding="utf-8")
    paths = tmp_path / "loud.toml", tmp_path / "soft.toml"
    for path, gain in zip(paths, ("0 dB", "-20 dB"), strict=True):
        path.write_text(with_comp(text, f'gain = "{gain}"'))
    out = " ".join(quick("compare", *paths).split())
    assert "hardly noticed" not in out
    assert "B is 20.0 dB softer than A" in out


def test_one_title_twice_is_told_apart_by_files_and_then_by_paths(tmp_path: Path) -> None:
    text = BASS.read_text(encoding="utf-8").replace('length = "5 m"', 'length = "15 m"')
    paths = [tmp_path / "other.toml", tmp_path / "one" / "ferry-bass.toml"]
    for path in paths:
        path.parent.mkdir(exist_ok=True)
        path.write_text(text)
    first = " ".join(quick("compare", BASS, paths[0]).split())
    assert "'other.toml', " in first
    assert "'ferry-bass.toml', " in first
    second = " ".join(quick("compare", BASS, paths[1]).split())
    assert "one/ferry-bass.toml'" in second
    assert "examples/ferry-bass.toml'" in second


def test_with_other_leads_the_loss_with_the_lead_is_compared() -> None:
    """A shorter lead makes the loss against the plain reference larger: it must not lose."""
    text = BASS.read_text(encoding="utf-8")
    boards_ = [
        parse_board(text.replace('length = "5 m"', f'length = "{length} m"'), f"{length}.toml")
        for length in (1, 9)
    ]
    report = compare(boards_)
    assert report.leads_differ
    losses = [report.counted(c.report) for c in report.worst.cells if c is not None]
    assert losses[0] < losses[1]
    plain = [c.report.treble_loss for c in report.worst.cells if c is not None]
    assert plain[0] > plain[1]
    said = sentence(report)
    assert said.startswith("A, ")
    assert "the lead counted" in said
    assert not compare(boards_, metrics.Basis("direct")).leads_differ


def test_the_page_says_where_references_differ(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    quick("report", BASS, "-o", page, "--compare", BUFFERED)
    assert "Each board is measured against its own reference" in page.read_text(encoding="utf-8")

"""Time and memory, as ratios measured in one run on one machine: `python tests/benchmarks/run.py`.

Nothing here is a test: a slow or busy machine fails nothing. Every figure is the median of repeats,
and what is compared is measured in turns, so that a busy moment meets both sides.

    python tests/benchmarks/run.py                 everything, one to two minutes
    python tests/benchmarks/run.py start one       only these; --help lists all
    python tests/benchmarks/run.py states --stages 8 12 16 20 24
"""

from __future__ import annotations

import argparse
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING, Final, NamedTuple

ROOT: Final = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from benchmarks.kinds import kind_text  # noqa: E402

from sigsim import metrics  # noqa: E402

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.states.measure import Measure

STAGES: Final = (12, 16, 20, 24)
_EMPTY_CLICK: Final = """
import click
@click.group()
def cli(): pass
cli(["--help"])
"""
_REPEATS: Final = 11
_SAMPLE: Final = 300  # states that the plain loop tries; its rate does not depend on more


def board_text(stages: int) -> str:
    """Return a board of powered pedals, every fourth of them with a buffered bypass."""
    return kind_text("powered", stages)


def seconds(action: Callable[[], object]) -> float:
    """Return how long an action takes [s]."""
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def in_turns(actions: Sequence[Callable[[], object]], repeats: int = _REPEATS) -> list[float]:
    """Return the median time [s] of each action, all of them once before the first repeats."""
    for action in actions:
        action()
    taken = [[seconds(action) for action in actions] for _ in range(repeats)]
    return [median(times) for times in zip(*taken, strict=True)]


def show(title: str, header: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print one table in Markdown."""
    print(f"\n{title}\n\n| {' | '.join(header)} |\n|{'---|' * len(header)}")
    for cells in rows:
        print(f"| {' | '.join(cells)} |")
    sys.stdout.flush()


def _process(*arguments: str) -> Callable[[], object]:
    command = [sys.executable, *arguments]
    return lambda: subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=ROOT)


def start() -> None:
    """Compare whole runs of the program with what no such program can do without."""
    with tempfile.TemporaryDirectory() as folder:
        board = Path(folder) / "board.toml"
        board.write_text(board_text(12))
        empty, help_, numpy, loss = in_turns(
            [
                _process("-c", _EMPTY_CLICK),
                _process("-m", "sigsim", "--help"),
                _process("-c", "import numpy"),
                _process("-m", "sigsim", "loss", str(board)),
            ]
        )
    rows = [
        ("`sigsim --help`", _ms(help_), "a click program with no commands", _ms(empty)),
        ("`sigsim loss`, 12 stages", _ms(loss), '`python -c "import numpy"`', _ms(numpy)),
    ]
    ratios = (help_ / empty, loss / numpy)
    show(
        "Whole runs",
        ("what", "time", "beside", "time", "ratio"),
        [(*row, f"{ratio:.2f}") for row, ratio in zip(rows, ratios, strict=True)],
    )


def one() -> None:
    """Time one response inside Python, with nothing kept and with the steps of all items kept."""
    from sigsim.board.reader import parse_board
    from sigsim.states.response import Response, Solver, grid, response

    board = parse_board(board_text(20))
    on, frequency = frozenset({"s4", "s9"}), grid(points=200)
    warm = Solver(board)

    def again() -> None:
        for _ in range(20):
            _ = Response(warm, on, frequency, "ideal").H

    cold_time, warm_time = in_turns([lambda: response(board, on, frequency).H, again])
    show(
        "One response: 20 stages, 200 frequencies",
        ("what", "time"),
        [
            ("the first of a board", f"{cold_time * 1e6:.0f} µs"),
            ("each further state", f"{warm_time / 20 * 1e6:.0f} µs"),
        ],
    )


class Enumeration(NamedTuple):
    """What enumerating all states of one board took."""

    states: int
    seconds: float
    worst_seconds: float
    report_seconds: float
    loop_seconds: float
    peak_bytes: int


def enumerate_states(stages: int) -> Enumeration:
    """Enumerate every state with all its numbers, in a process of its own for the peak memory.

    The same numbers of `_SAMPLE` states come from a plain loop over the one-state solver.
    """
    import numpy as np

    from sigsim.board.reader import parse_board
    from sigsim.decide.states.question import StatesQuestion
    from sigsim.decide.states.report import states_report
    from sigsim.states.distinct import distinct_states
    from sigsim.states.every import EveryState
    from sigsim.states.measure import Measure, treble
    from sigsim.states.response import Response, Solver, grid
    from sigsim.states.search import worst

    board = parse_board(board_text(stages))
    measures = [Measure(np.array([metrics.LEVEL_HZ]), None), treble(metrics.USUAL_BASIS)]
    measures += [Measure(np.array([f]), "ideal") for f in metrics.LOSS_HZ]
    found = 0

    def all_of_them() -> None:
        nonlocal found
        for block in EveryState(board, measures).blocks():
            found += len(block.on)

    taken = seconds(all_of_them)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    assert found == distinct_states(board)

    solver, names = Solver(board), board.switches()
    picks = np.random.default_rng(0).random((_SAMPLE, len(names))) < 0.5

    def plain_loop() -> None:
        for pick in picks:
            on = frozenset(n for n, chosen in zip(names, pick, strict=True) if chosen)
            r = Response(solver, on, grid(), "ideal")
            metrics.level(r)
            metrics.treble_loss(r)
            metrics.loss(r, np.array(metrics.LOSS_HZ))
            metrics.corner(r)
            metrics.resonance(r)

    worst_time, report_time = in_turns(
        [lambda: worst(board), lambda: states_report(StatesQuestion(board))], 5
    )
    loop = in_turns([plain_loop], 3)[0] / _SAMPLE * found
    return Enumeration(found, taken, worst_time, report_time, loop, peak)


def states(stages: Sequence[int]) -> None:
    """Compare enumerating all states with a plain loop over the one-state solver."""
    rows = []
    for count in stages:
        said = subprocess.check_output(
            [sys.executable, __file__, "--child", str(count)], text=True, cwd=ROOT
        )
        e = Enumeration(*(type_(x) for type_, x in zip(_FIELDS, said.split(), strict=True)))
        rows.append(
            (
                str(count),
                f"{e.states:,}",
                _ms(e.worst_seconds),
                _ms(e.report_seconds),
                _time(e.seconds),
                f"{e.states / e.seconds:,.0f}",
                _time(e.loop_seconds),
                f"{e.loop_seconds / e.seconds:,.0f} ×",
                f"{e.peak_bytes / 2**20:.0f} MiB",
            )
        )
    show(
        "Every state with level, losses, treble loss, corner and resonance",
        (
            "stages", "states", "worst state alone", "summary and ranks", "every state",
            "states a second", f"plain loop, from {_SAMPLE}", "ratio", "peak memory",
        ),
        rows,
    )  # fmt: skip


_FIELDS: Final = (int, float, float, float, float, int)


def switches() -> None:
    """Compare what all states of boards of many kinds take with one state after another."""
    import numpy as np

    from sigsim.board.reader import parse_board
    from sigsim.decide.states.question import StatesQuestion
    from sigsim.decide.states.report import states_report
    from sigsim.metrics import USUAL_BASIS
    from sigsim.states.distinct import distinct_states
    from sigsim.states.measure import treble
    from sigsim.states.response import Response, Solver, grid
    from sigsim.states.search import Search

    rows = []
    for kind, count in _KINDS:
        board = parse_board(kind_text(kind, count))
        names, measure = board.switches(), treble(USUAL_BASIS)
        picks = np.random.default_rng(0).random((_SAMPLE, len(names))) < 0.5

        def extremes(board: Board = board, measure: Measure = measure) -> None:
            search = Search(board, [measure])
            search.ranked(measure, 10)
            search.ranked(measure, 3, largest=False)

        def plain_loop(
            board: Board = board, picks: np.ndarray = picks, names: tuple[str, ...] = names
        ) -> None:
            solver = Solver(board)
            for pick in picks:
                on = frozenset(n for n, chosen in zip(names, pick, strict=True) if chosen)
                metrics.treble_loss(Response(solver, on, grid(points=2), "ideal"))

        found, told, loop = in_turns(
            [extremes, lambda b=board: states_report(StatesQuestion(b)), plain_loop], 3
        )
        total = distinct_states(board)
        proven = all(one.exact for one in Search(board, [measure]).ranked(measure, 10))
        rows.append(
            (
                f"{count} {kind}",
                f"{total:.3g}",
                _time(found),
                "yes" if proven else "no",
                _time(told),
                f"{loop / _SAMPLE * total / found:.2g} ×",
            )
        )
    show(
        "Ten worst and three best of all states, and the whole report",
        ("board", "states", "worst and best", "proven", "report", "plain loop beside the first"),
        rows,
    )


_KINDS: Final = (
    ("pads", 20), ("loops", 14), ("mixed", 20), ("powered", 24), ("mixed", 40), ("powered", 64),
    ("hardwired", 64), ("loops", 32), ("pads", 40),
)  # fmt: skip


def csv(stages: int = 20) -> None:
    """Compare writing every state as CSV with finding them and with writing row by row."""
    from helpers.plain_csv import plain_csv

    from sigsim.board.reader import parse_board
    from sigsim.decide.states.question import StatesQuestion
    from sigsim.decide.states.report import listing
    from sigsim.show.states_csv import csv_lines

    question = StatesQuestion(parse_board(board_text(stages)))
    every, blocks = listing(question)
    kept = list(blocks)
    rows = sum(block.on.size for block in kept)

    def write() -> None:
        for _ in csv_lines(every.bit, kept):
            pass

    with tempfile.TemporaryDirectory() as folder:
        board = Path(folder) / "board.toml"
        board.write_text(board_text(stages), encoding="utf-8")
        found, fast, plain, whole = in_turns(
            [
                lambda: list(listing(question)[1]),
                write,
                lambda: plain_csv(tuple(every.bit), kept[:1]),
                _process("-m", "sigsim", "states", str(board), "--csv", "-"),
            ],
            repeats=3,
        )
    plain *= rows / kept[0].on.size
    show(
        f"Every state of {stages} stages as CSV, {rows:,} rows",
        ("found", "written", f"row by row, from {kept[0].on.size:,}", "ratio", "the whole command"),
        [(_time(found), _time(fast), _time(plain), f"{plain / fast:.1f} ×", _time(whole))],
    )


def draws(count: int = 2000, stages: int = 20) -> None:
    """Compare all draws of a tolerance analysis at once with one board for each draw."""
    from sigsim.board.reader import parse_board
    from sigsim.decide.spread.report import SpreadQuestion, spread_report
    from sigsim.states.circuit import Circuit
    from sigsim.states.response import grid

    board = parse_board(board_text(stages))
    question = SpreadQuestion(board=board, draws=count)
    at_once, one = in_turns(
        [
            lambda: spread_report(question, board.named_states()[:1]),
            lambda: Circuit(board, grid()).response(frozenset()),
        ],
        repeats=3,
    )
    show(
        f"{count:,} draws of {stages} stages, 200 frequencies",
        ("at once, with all numbers", "one response", "as many, one by one", "ratio"),
        [(_time(at_once), _ms(one), _time(count * one), f"{count * one / at_once:.1f} ×")],
    )


def report() -> None:
    """Compare the commands that try many boards with the one that tells of one board."""
    with tempfile.TemporaryDirectory() as folder:
        small, large, page = (Path(folder) / name for name in ("s.toml", "l.toml", "page.html"))
        small.write_text(board_text(12))
        large.write_text(board_text(40))
        few, many = str(small), str(large)
        loss, spread, more, buffer, whole = in_turns(
            [
                _process("-m", "sigsim", "loss", few),
                _process("-m", "sigsim", "spread", few),
                _process("-m", "sigsim", "loss", many),
                _process("-m", "sigsim", "buffer", many),
                _process("-m", "sigsim", "report", many, "-o", str(page), "--force"),
            ],
            repeats=3,
        )
    rows = [
        ("`sigsim spread`, 12 stages, 2,000 draws", spread, loss),
        ("`sigsim buffer`, 40 stages", buffer, more),
        ("`sigsim report`, 40 stages", whole, more),
    ]
    show(
        "Commands that try many boards",
        ("what", "time", "`sigsim loss` of the same board", "ratio"),
        [(what, _ms(time), _ms(beside), f"{time / beside:.1f}") for what, time, beside in rows],
    )


def ngspice() -> None:
    """Compare one state with the simulator, which starts a process for each."""
    if shutil.which("ngspice") is None:
        print("\nngspice is not installed")
        return
    import numpy as np

    from sigsim.board.reader import parse_board
    from sigsim.spice.engines import ac, make_engine
    from sigsim.spice.netlist import netlist
    from sigsim.states.circuit import Circuit

    board = parse_board(board_text(12))
    text = netlist(board).text
    engine = make_engine()
    frequency = np.array(ac(engine.run(text)).frequency)
    theirs, ours = in_turns(
        [lambda: engine.run(text), lambda: Circuit(board, frequency).response(frozenset())]
    )
    show(
        f"One state of 12 stages, {frequency.size} frequencies",
        ("ngspice, with its start", "this program", "ratio"),
        [(_ms(theirs), f"{ours * 1e6:.0f} µs", f"{theirs / ours:.0f} ×")],
    )


def listen(minutes: float = 2.0) -> None:
    """Compare a recording through a chain with how long it sounds and with copying its file."""
    import numpy as np
    import soundfile

    rate, names = 48000, ("dry.wav", "copy.wav", "wet.wav")
    draw = np.random.default_rng(1)
    sound = 0.1 * draw.standard_normal((int(60 * minutes * rate), 2))
    with tempfile.TemporaryDirectory() as folder:
        dry, copy, wet = (Path(folder) / name for name in names)
        board = Path(folder) / "board.toml"
        board.write_text(board_text(12), encoding="utf-8")
        soundfile.write(dry, sound, rate, subtype="PCM_24")
        command = ("listen", str(board), str(dry), "-o", str(wet), "--pair", "--force")
        copying, playing = in_turns(
            [
                lambda: soundfile.write(copy, soundfile.read(dry)[0], rate, subtype="PCM_24"),
                _process("-m", "sigsim", *command),
            ],
            repeats=3,
        )
    show(
        f"A take of {minutes:g} minutes, 48 kHz stereo, with --pair",
        ("copied", "through the chain", "ratio", "as it sounds"),
        [(_time(copying), _time(playing), f"{playing / copying:.1f} ×",
          f"{60 * minutes / playing:.0f} × faster")],
    )  # fmt: skip


def measuring() -> None:
    """Time and weigh recipes on three recordings of three sweeps of 10 s, at 48 kHz."""
    from benchmarks.measuring import recordings, taken

    rows = []
    with tempfile.TemporaryDirectory() as folder:
        wav = str(Path(folder) / "sweep.wav")
        commands = [("`sigsim sweep`", ["sweep", wav, "--force"])]
        for kind, options in (("cable", []), ("pickup", ["--volume-track", "500 kΩ ± 20 %"])):
            inside = Path(folder) / kind
            inside.mkdir()
            command = ["measure", kind, *recordings(kind, inside), "--resistor", "100 kΩ ± 0.5 %"]
            commands.append((f"`sigsim measure {kind}`", [*command, *options]))
        for what, command in commands:
            took = taken(command)
            rows.append((what, _time(took.seconds), f"{took.peak_bytes / 1e6:.0f} MB"))
    show("Measuring, with the start of the program", ("what", "time", "memory at most"), rows)


def page() -> None:
    """Print how long the page of a report takes to follow a switch."""
    if shutil.which("chromedriver") is None:
        print("\nchromium-driver is not installed")
        return
    sys.path.insert(0, str(ROOT / "tests"))
    from helpers.browser import browser

    with tempfile.TemporaryDirectory() as folder, browser() as window:
        board, html = Path(folder) / "board.toml", Path(folder) / "page.html"
        board.write_text(board_text(12), encoding="utf-8")
        _process("-m", "sigsim", "report", str(board), "-o", str(html))()
        window.open(html)
        times = window.run(
            "const boxes = [...document.querySelectorAll('[data-switch]')], times = [];"
            "for (let i = 0; i < 48; i += 1) { const start = performance.now();"
            "boxes[i % boxes.length].click(); times.push(performance.now() - start); }"
            "return times;"
        )
    show(
        "The page of 12 stages follows a switch",
        ("median", "longest"),
        [(f"{median(times):.1f} ms", f"{max(times):.1f} ms")],
    )


def _ms(duration: float) -> str:
    return f"{duration * 1000:.1f} ms"


def _time(duration: float) -> str:
    if duration < 1:
        return _ms(duration)
    if duration < 120:
        return f"{duration:.1f} s"
    return f"{duration / 60:.0f} min" if duration < 7200 else f"{duration / 3600:.1f} h"


def main() -> None:
    """Print the tables asked for."""
    jobs: dict[str, Callable[[], None]] = {
        "start": start,
        "one": one,
        "states": lambda: states(asked.stages),
        "switches": switches,
        "csv": csv,
        "draws": draws,
        "report": report,
        "ngspice": ngspice,
        "listen": listen,
        "page": page,
        "measuring": measuring,
    }
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("parts", nargs="*", metavar="PART", help=", ".join(jobs))
    parser.add_argument("--stages", type=int, nargs="+", default=STAGES)
    parser.add_argument("--child", type=int, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.child is not None:
        print(*enumerate_states(asked.child))
        return
    if unknown := set(asked.parts) - set(jobs):
        parser.error(f"there is no {', '.join(sorted(unknown))}; there are {', '.join(jobs)}")
    for name in asked.parts or jobs:
        jobs[name]()


if __name__ == "__main__":
    main()

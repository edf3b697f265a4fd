"""`sigsim demo --measure`: recordings of a virtual bench, and the recipes run on them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from sigsim.cli.output import check_writable, whole_file
from sigsim.cli.progress import Progress

if TYPE_CHECKING:
    from sigsim.measure.verdict import Verified
    from sigsim.show.measured_demo import Uncovered

    Progressing = Callable[[int], None]
    Files = Mapping[str, Path]

PREFIX: Final = "sigsim-demo-"
BOARD: Final = f"{PREFIX}board.toml"
# Each recording is made, and heard once by each recipe that takes it.
_STEPS: Final = 17
_RESISTOR: Final = "100 kΩ ± 0.5 %"
_OUTPUT: Final = "120 Ω ± 10 %"


def measured_demo(force: bool) -> None:
    """Write the sweep, a board and recordings of it, measure, and print what was found."""
    from sigsim.measure.invented import PLAN, ROLES
    from sigsim.show.measured_demo import document
    from sigsim.show.render.terminal import print_document, show

    names = {role: Path(f"{PREFIX}{role}.wav") for role in ("sweep", *ROLES)}
    for path in (Path(BOARD), *names.values()):
        check_writable(path, force)
    progress = Progress(_STEPS, "recordings (made, then measured)")
    try:
        with ExitStack() as stack:
            parts = {role: stack.enter_context(whole_file(p, force)) for role, p in names.items()}
            stack.enter_context(whole_file(BOARD, force)).write_text(PLAN, encoding="utf-8")
            _record(parts, progress)
            things, verified = _measured(parts, progress), _verified(parts, progress)
    finally:
        progress.finish()
    show(
        "An invented bench: an interface and a resistor, a cable, a bass and a board.",
        f"Written: {names['sweep']}, {len(ROLES)} recordings of it, {BOARD}.",
    )
    print_document(document(things, verified, _hidden(), _again(names)))


def _record(parts: Files, progress: Progressing) -> None:
    from sigsim.audio.files import write_wav
    from sigsim.measure.invented import interface, takes
    from sigsim.measure.played import Sweep

    sweep, desk = Sweep(), interface()
    played = sweep.samples()
    write_wav(parts["sweep"], played[:, None], sweep.rate)
    for take in takes(desk):
        sound = take.level * desk.record(played, sweep.rate, take.response)
        write_wav(parts[take.role], sound, sweep.rate)
        progress(1)


def _measured(parts: Files, progress: Progressing) -> list[Uncovered]:
    from sigsim.measure import invented
    from sigsim.measure.known import Known
    from sigsim.measure.recipes.measure import measure
    from sigsim.show.measured_demo import Uncovered
    from sigsim.units import parse

    given = Known(
        resistor=parse(_RESISTOR, "resistance"), output_resistance=parse(_OUTPUT, "resistance")
    )
    cable = replace(
        given,
        length=parse(f"{invented.LENGTH_M:g} m", "length"),
        plug_capacitance=parse(invented.PLUG_F, "capacitance"),
    )
    bass = replace(given, volume_track=parse(invented.TRACK, "resistance"))
    things = []
    for what, recipe, files, known, hidden in (
        ("the cable", "cable", _CABLE, cable, invented.CABLE_FIGURES),
        ("the bass", "pickup", _BASS, bass, invented.BASS_FIGURES),
    ):
        found = measure(recipe, {role: (str(parts[f]),) for role, f in files.items()}, known)
        things.append(Uncovered(what, hidden, found))
        progress(len(files))
    return things


_CABLE: Final = {"loop": "loop", "before": "before", "with": "cable"}
_BASS: Final = {"loop": "loop", "before": "bass-before", "with": "bass", "half": "bass-half"}
_BUILT: Final = {"through": "through", "without": "without"}


def _verified(parts: Files, progress: Progressing) -> Verified:
    from sigsim.measure.comparison import Compared, verify
    from sigsim.measure.heard import hear
    from sigsim.measure.invented import plan
    from sigsim.measure.ratios import ratio

    through, without = (hear(parts[role]) for role in _BUILT)
    board = plan()
    verified = verify(board, [Compared(board.state(()), ratio(through, without))])
    progress(len(_BUILT))
    return verified


def _hidden() -> str:
    from sigsim.measure.invented import LAST_M, LONGER

    return f"the last cable has {LONGER * LAST_M:g} m in place of {LAST_M:g} m"


def _again(names: Files) -> tuple[str, ...]:
    """Return the command lines that find the same."""
    from sigsim.measure.invented import LENGTH_M, PLUG_F, TRACK
    from sigsim.show.commands import command_lines
    from sigsim.units import render

    given = [f'--resistor "{_RESISTOR}"', f'--output-resistance "{_OUTPUT}"']
    cable = [f'--length "{LENGTH_M:g} m"', f'--plug-capacitance "{render(PLUG_F, "F")}"']
    return (
        *command_lines("sigsim measure cable", [*_said(_CABLE, names), *given, *cable]),
        *command_lines(
            "sigsim measure pickup",
            [*_said(_BASS, names), *given, f'--volume-track "{TRACK}"'],
        ),
        *command_lines(f"sigsim verify {BOARD}", _said(_BUILT, names)),
    )


def _said(files: Mapping[str, str], names: Files) -> list[str]:
    return [f"--{role} {names[name]}" for role, name in files.items()]

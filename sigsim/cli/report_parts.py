"""The parts of the page that are added by name: `--with spread,noise`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from sigsim.errors import SigsimError, UnknownNameError

if TYPE_CHECKING:
    from sigsim.board.state import State
    from sigsim.decide.page.report import ReportData
    from sigsim.show.page.blocks import Section

    Added: TypeAlias = tuple[Section, list[dict[str, Any]]]


def asked(given: Sequence[str]) -> tuple[str, ...]:
    """Return the names in `--with`, each once.

    Raises
    ------
    UnknownNameError : a name that is no part of the page
    """
    names = [name.strip() for text in given for name in text.split(",")]
    for name in names:
        if name not in PARTS:
            raise UnknownNameError("part of the page", name, tuple(PARTS), where="--with")
    return tuple(dict.fromkeys(names))


def added(data: ReportData, names: Sequence[str]) -> tuple[list[Section], list[dict[str, Any]]]:
    """Return the sections and the bands of curves that were asked for."""
    made = [PARTS[name](data) for name in names]
    return [section for section, _ in made], [band for _, bands in made for band in bands]


def _states(data: ReportData) -> list[State]:
    return [measured.state for measured in (*data.losses.states, data.losses.worst)]


def _spread(data: ReportData) -> Added:
    from sigsim.decide.spread.report import SpreadQuestion, spread_report
    from sigsim.show.page.blocks import Section
    from sigsim.show.page.extras import SPREAD_TITLE, bands, spread_section

    question = SpreadQuestion(
        board=data.question.board, basis=data.question.basis,
        curves=True,
    )  # fmt: skip
    try:
        report = spread_report(question, _states(data))
    except SigsimError as error:  # nothing carries a tolerance: said on the page, the rest stands
        return Section("spread", SPREAD_TITLE, [f"{error.problem.what}."]), []
    return spread_section(report), bands(report)


def _noise(data: ReportData) -> Added:
    from sigsim.decide.noise import noise_report
    from sigsim.show.page.extras import noise_section

    return noise_section(noise_report(data.question.board, _states(data))), []


PARTS: Final[dict[str, Callable[[ReportData], Added]]] = {"spread": _spread, "noise": _noise}

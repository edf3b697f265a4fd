"""The parts of the page that are added by name: `--with spread,noise`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from sigsim.cli.said import listed
from sigsim.errors import SigsimError, UnknownNameError

if TYPE_CHECKING:
    from sigsim.decide.page.report import ReportData

    # A section of the page, and bands of curves.
    Added: TypeAlias = tuple[dict[str, Any], list[dict[str, Any]]]


def asked(given: Sequence[str]) -> tuple[str, ...]:
    """Return the names in `--with`, each once.

    Raises
    ------
    UnknownNameError : a name that is no part of the page
    """
    names = [name for text in given for name in listed(text, "--with", ", ".join(PARTS))]
    for name in names:
        if name not in PARTS:
            raise UnknownNameError("part of the page", name, tuple(PARTS), where="--with")
    return tuple(dict.fromkeys(names))


def added(
    data: ReportData, names: Sequence[str]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return the sections and the bands of curves that were asked for."""
    made = [PARTS[name](data) for name in names]
    return [section for section, _ in made], [band for _, bands in made for band in bands]


def _spread(data: ReportData) -> Added:
    from sigsim.decide.spread.report import SpreadQuestion, spread_report
    from sigsim.show import spread
    from sigsim.show.document import Document, Paragraph
    from sigsim.show.page.data import bands
    from sigsim.show.render.browser import section

    question = SpreadQuestion(board=data.question.board, basis=data.question.basis, curves=True)
    try:
        states = [measured.state for measured in data.losses.states]
        report = spread_report(question, states, with_worst=True)
    except SigsimError as error:  # nothing carries a tolerance: said on the page, the rest stands
        why = Paragraph((f"{error.problem.what}.",))
        return section("spread", Document(spread.TITLE, (why,))), []
    return section("spread", spread.document(report, explain=True)), bands(report)


def _noise(data: ReportData) -> Added:
    from sigsim.board.state import different
    from sigsim.decide.noise import noise_report
    from sigsim.show import noise
    from sigsim.show.render.browser import section

    found = different((*data.losses.states, data.losses.worst))
    report = noise_report(data.question.board, [measured.state for measured in found])
    return section("noise", noise.document(report, explain=True, every_hint="")), []


PARTS: Final[dict[str, Callable[[ReportData], Added]]] = {"spread": _spread, "noise": _noise}

"""What the commands say of a board, for the panels below the line."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

from sigsim.errors import SigsimError, quote
from sigsim.show.document import Document, Items, Paragraph
from sigsim.show.render.browser import section

if TYPE_CHECKING:
    from sigsim.board.model import Board

_MOST_ROWS: Final = 12
_SPARE: Final = 0.1


def panel(board: Board, name: str) -> dict[str, Any]:
    """Return what a command says of a board, as asked.js has a section.

    Parameters
    ----------
    board : as it is shown
    name : one of `PANELS`

    Raises
    ------
    SigsimError : there is no such panel, or the board cannot be asked this
    """
    if name not in PANELS:
        raise SigsimError("there is no such panel", found=quote(name), accepted=", ".join(PANELS))
    return PANELS[name](board)


def sheet(board: Board) -> str:
    """Return the wiring sheet as a page of its own."""
    from sigsim.decide.layout.report import laid_out
    from sigsim.decide.sheet import sheet as wired
    from sigsim.show.render.html import as_html
    from sigsim.show.sheet import document

    laid = laid_out(board) if board.has_layout else None
    return as_html(document(wired(board, _SPARE), laid))


def _loss(board: Board) -> dict[str, Any]:
    from sigsim.decide.loss.report import loss_report
    from sigsim.show.loss import document

    report = loss_report(board, board.named_states())
    return section("loss", document(report, with_worst=True, explain=True))


def _buffer(board: Board) -> dict[str, Any]:
    from sigsim.board.part_stage import powered_part
    from sigsim.decide.buffer.instead import instead_of_buffer
    from sigsim.decide.buffer.report import buffer_report
    from sigsim.decide.buffer.views import ALL_STATES
    from sigsim.decide.cures import remedies
    from sigsim.live.questions.worth import BUFFER
    from sigsim.show.buffer import document

    report = buffer_report(board, powered_part(BUFFER, "buffer"), every=False)
    instead = instead_of_buffer(board, [ALL_STATES])
    said = document(report, instead, None, remedies(board), most=_MOST_ROWS)
    return section("buffer", said)


def _cables(board: Board) -> dict[str, Any]:
    from sigsim.board.cable_parts import library_cables
    from sigsim.decide.cables.candidates import candidates
    from sigsim.decide.cables.report import CableQuestion, cables_report
    from sigsim.show.cables import document

    tried = candidates(board, library_cables(board.library))
    report = cables_report(CableQuestion(board), tried)
    return section("cables", document(report, scenes=False, hint=""))


def _blame(board: Board) -> dict[str, Any]:
    from sigsim.decide.blame.report import blame_worst
    from sigsim.metrics import USUAL_BASIS
    from sigsim.show.blame import document

    report = blame_worst(board, USUAL_BASIS)
    return section("blame", document(report, every=False, explain=True, hint=""))


def _layout(board: Board) -> dict[str, Any]:
    from sigsim.decide.layout.report import layout_report
    from sigsim.decide.layout.shopping import shopping
    from sigsim.show.layout import TITLE, document

    if board.laying is None:
        lines = ("This file does not say where its boxes stand: it has no [layout].",)
        return section("layout", Document(TITLE, (Paragraph(lines),)))
    reports = [layout_report(board)]
    return section("layout", document(reports, shopping(reports), []))


def _power(board: Board) -> dict[str, Any]:
    from sigsim.decide.power.report import power_where_told
    from sigsim.show.power_beside import beside_document

    found = power_where_told(board)
    if found is None:
        lines = ("This file does not say what feeds its pedals: it has no [supplies].",)
        return section("power", Document("Power", (Paragraph(lines),)))
    return section("power", beside_document(found))


def _cautions(board: Board) -> dict[str, Any]:
    from sigsim.decide.check.cautions import cautions
    from sigsim.show.check import caution_text

    found = tuple(caution_text(caution) for caution in cautions(board))
    none = Paragraph(("Nothing that an experienced player would ask about.",))
    return section("cautions", Document("Cautions", (Items(found) if found else none,)))


def _figures(board: Board) -> dict[str, Any]:
    from sigsim.decide.page.figures import figures
    from sigsim.show.page.figures import figures_of_board

    return figures_of_board(board, figures(board))


PANELS: Final[dict[str, Callable[[Board], dict[str, Any]]]] = {
    "loss": _loss,
    "buffer": _buffer,
    "cables": _cables,
    "blame": _blame,
    "layout": _layout,
    "power": _power,
    "cautions": _cautions,
    "figures": _figures,
}

"""The parts of the page that are added by name: `--with spread,noise,verify=RESULT.json`."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from sigsim.cli.said import listed, nothing_said
from sigsim.errors import SigsimError, UnknownNameError, quote

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.page.report import ReportData
    from sigsim.measure.verdict import Verified

    # A section of the page, and bands of curves.
    Added: TypeAlias = tuple[dict[str, Any], list[dict[str, Any]]]


@dataclass(frozen=True)
class Part:
    """A part of the page that was asked for.

    Attributes
    ----------
    name : of it
    file : that it shows, empty for a part that needs none
    """

    name: str
    file: str = ""


def asked(given: Sequence[str]) -> tuple[Part, ...]:
    """Return the parts in `--with`, each once.

    Raises
    ------
    UnknownNameError : a name that is no part of the page
    SigsimError : a part that shows a file is without one, or there are two of them
    """
    parts = dict.fromkeys(part for text in given for part in _parts(text))
    files = [part for part in parts if part.file]
    if len(files) > 1:
        found = " and ".join(quote(part.file) for part in files)
        raise SigsimError("the page has room for one of these", where="--with", found=found)
    return tuple(parts)


def _parts(text: str) -> Iterator[Part]:
    """Yield the parts in one `--with`; the name of a file may hold commas."""
    start = _FILE.search(text)
    before = text if start is None else text[: start.start()]
    if start is None or before.strip(", "):
        for name in listed(before, "--with", ", ".join(_OFFERED)):
            yield _named(name)
    if start is not None:
        file, others = _split(text[start.end() :])
        if not file.strip():
            raise nothing_said("--with", text, VERIFY)
        yield Part("verify", file)
        yield from map(_named, others)


def _named(name: str) -> Part:
    if name == "verify":
        what = "this part of the page shows a file"
        raise SigsimError(what, where="--with", found=quote(name), accepted=VERIFY)
    if name not in PARTS:
        raise UnknownNameError("part of the page", name, _OFFERED, where="--with")
    return Part(name)


def _split(text: str) -> tuple[str, list[str]]:
    """Split a file's name from the parts behind it: the longest name that is one, or whole."""
    commas = [i for i, letter in enumerate(text) if letter == ","]
    for end in (len(text), *reversed(commas)):
        names = [name.strip() for name in text[end + 1 :].split(",") if name.strip()]
        if all(name in PARTS for name in names) and Path(text[:end]).is_file():
            return text[:end], names
    return text, []


def compared(
    parts: Sequence[Part], board: Board, variants: Sequence[Board] = ()
) -> Verified | None:
    """Read the comparison that was asked for, before anything is computed; None for none.

    Parameters
    ----------
    parts : of the page
    board : the plan
    variants : that the page shows beside it

    Raises
    ------
    SigsimError : its file cannot be read, or is no comparison of this board
    """
    from sigsim.cli.output import note_input
    from sigsim.measure.told import read_verified

    for part in parts:
        if part.file:
            note_input(part.file)
            return read_verified(part.file, board, variants)
    return None


def added(
    data: ReportData, parts: Sequence[Part], verified: Verified | None
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return the sections and the bands of curves that were asked for."""
    made = [_verify(verified, data) if part.file else PARTS[part.name](data) for part in parts]
    return [section for section, _ in made], [band for _, bands in made for band in bands]


def _verify(verified: Verified | None, data: ReportData) -> Added:
    from dataclasses import replace

    from sigsim.show import verify
    from sigsim.show.document import Paragraph
    from sigsim.show.ends import changed
    from sigsim.show.render.browser import section

    assert verified is not None, "a part with a file was read"
    said = verify.document(verified)
    if verified.board.changes != data.question.board.changes:
        built = changed(verified.board) or "the board as it is written"
        other = Paragraph((f"What was measured is {built}: choose it to see the comparison.",))
        return section("verify", replace(said, blocks=(other,))), []
    notes = [Paragraph(verified.notes, quiet=True)] if verified.notes else []
    return section("verify", replace(said, blocks=(*said.blocks, *notes))), []


def _spread(data: ReportData) -> Added:
    from sigsim.decide.spread.report import SpreadQuestion, spread_report
    from sigsim.show import spread
    from sigsim.show.document import Document, Paragraph
    from sigsim.show.page.beside import bands
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
_FILE: Final = re.compile(r"(?:^|,)\s*verify\s*=")
VERIFY: Final = "verify=RESULT.json"
_OFFERED: Final = (*PARTS, VERIFY)

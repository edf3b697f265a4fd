"""`sigsim new`."""

from __future__ import annotations

import shlex
import unicodedata
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, Final, TypeVar

import click

from sigsim.board.writer import MOST_PEDALS, Plan
from sigsim.cli import options
from sigsim.cli.interview import (
    Interview,
    Menu,
    Question,
    count,
    is_terminal,
    length,
    one_of,
    piped_lines,
    read_answer,
)
from sigsim.cli.said import listed
from sigsim.errors import SigsimError, quote, shown_path
from sigsim.text import escaped, shown

_F = TypeVar("_F", bound=Callable[..., Any])


def _parts(kind: str) -> Menu:
    """Return the menu of the parts of a kind."""

    def menu() -> list[tuple[str, str]]:
        from sigsim.board.parts import library

        return [(part.name, part.summary) for part in library().values() if part.kind == kind]

    return menu


def _bypasses() -> list[tuple[str, str]]:
    return [
        ("true", "true bypass: off, they are a switch and a little wire"),
        ("buffered", "off, a buffer stays in the signal; usual with soft, silent switches"),
        ("hardwire", "old ones: off, the input stays connected and loads the pickup"),
        ("mix", "some are like this and some like that"),
    ]


def _cables() -> list[tuple[str, str]]:
    return [
        ("low", "sold as low in capacitance"),
        ("standard", "the usual kind, or you do not know"),
        ("high", "old, or cheap, or it sounds dull"),
    ]


INSTRUMENT = Question(
    option="--instrument",
    text="What do you play",
    default="guitar-single-coil",
    read=one_of(_parts("instrument")),
    help='What you play: a part, see "sigsim parts".',
    menu=_parts("instrument"),
)
LEAD = Question(
    option="--lead",
    text="How long is the lead from the instrument",
    default="6 m",
    read=length(100, (1, 12)),
    metavar="LENGTH",
    help='The lead from the instrument: "6 m", "15 ft".',
)
PEDALS = Question(
    option="--pedals",
    text=f"How many pedals, 0 to {MOST_PEDALS}",
    default="6",
    read=count(MOST_PEDALS),
    metavar="N",
    help=f"How many pedals, 0 to {MOST_PEDALS}.",
)
BYPASS = Question(
    option="",
    text="How do they work when they are off",
    default="true",
    read=one_of(_bypasses),
    note="--buffered 0 --hardwire 0",
    menu=_bypasses,
)
BUFFERED = Question(
    option="--buffered",
    text="How many of them are buffered",
    default="0",
    read=count(MOST_PEDALS),
    metavar="N",
    help="How many of them are buffered when off; the others have true bypass.",
)
HARDWIRE = Question(
    option="--hardwire",
    text="How many are old ones whose input stays connected",
    default="0",
    read=count(MOST_PEDALS),
    metavar="N",
    help="How many are old ones whose input stays connected when off.",
)
PATCH = Question(
    option="--patch",
    text="How long is a patch cable between two pedals",
    default="20 cm",
    read=length(10, (0.1, 1)),
    metavar="LENGTH",
    help="A patch cable between two pedals.",
)
DESTINATION = Question(
    option="--destination",
    text="Where does the last cable go",
    default="solid-state-amplifier-input",
    read=one_of(_parts("destination")),
    help='Where the last cable goes: a part, see "sigsim parts".',
    menu=_parts("destination"),
)
TO_AMP = Question(
    option="--to-amp",
    text="How long is the cable from the last pedal to there",
    default="5 m",
    read=length(300, (1, 30)),
    metavar="LENGTH",
    help="The cable from the last pedal to there.",
)
CABLE = Question(
    option="--cable",
    text="What kind of cable are the long ones",
    default="standard",
    read=one_of(_cables),
    help="The kind of the long cables by their capacitance: low, standard, high.",
    menu=_cables,
)
QUESTIONS: Final = (INSTRUMENT, LEAD, PEDALS, BUFFERED, HARDWIRE, PATCH, DESTINATION, TO_AMP, CABLE)


NAMES: Final = "--names"


def _question_options(command: _F) -> _F:
    for question in reversed(QUESTIONS):
        command = click.option(
            question.option,
            metavar=question.metavar,
            help=f"{question.help}  [default: {question.default}]",
        )(command)
    return command


@click.command("new")
@click.argument("file", type=click.Path())
@_question_options
@click.option(NAMES, metavar="A,B", help="What you call the pedals, in order; counts them too.")
@click.option("--title", metavar="TEXT", help="Title of the board.  [default: the file's name]")
@click.option("--yes", is_flag=True, help="Ask nothing: the defaults for what is not given.")
@options.force_option
def command(
    file: str,
    names: str | None,
    title: str | None,
    yes: bool,
    force: bool,
    **answers: str | None,
) -> None:
    """Write a commented board file from a few plain questions.

    Each question is also an option, and what an option says is not asked; "?" as an answer
    explains it. Without a terminal answers are taken from standard input, in the order of the
    options here, one a line and an empty line for the default, as far as there are any; the
    defaults that hold in the end are named on standard error.
    """
    from sigsim.board.reader import parse_board
    from sigsim.board.writer import board_text
    from sigsim.cli.output import check_writable, write_file

    target = check_writable(file, force)
    given = {
        f"--{key.replace('_', '-')}": text for key, text in answers.items() if text is not None
    }
    called = [] if names is None else _names(names, given)
    title = _title(title, target)
    for question in QUESTIONS:
        if question.option in given:  # refused before anything is asked
            read_answer(question, given[question.option], question.option)
    ask = is_terminal() and not yes
    interview = Interview(given, ask, iter(()) if yes or ask else piped_lines())
    text = board_text(replace(_plan(interview, title), names=tuple(called)))
    parse_board(text, file)  # nothing is written that cannot be read
    write_file(target, text, force)
    if interview.defaults:
        click.echo(escaped(f"defaults taken: {' '.join(interview.defaults)}"), err=True)
    name = shown_path(shlex.quote(file))
    click.echo(f"Written. Next: sigsim check {name}, then sigsim loss {name}")


def _names(text: str, given: dict[str, str]) -> list[str]:
    """Return the names of the pedals; without a number of pedals there are as many.

    Raises
    ------
    SigsimError : a name twice, or more names than pedals
    """
    names = listed(text, NAMES, "names of pedals, A,B")
    for name in names:
        if names.count(name) > 1:
            raise SigsimError("this name is given twice", where=NAMES, found=quote(name))
    pedals = read_answer(PEDALS, given.setdefault(PEDALS.option, str(len(names))), PEDALS.option)
    if len(names) > pedals:
        what = "there are more names than pedals"
        raise SigsimError(what, where=NAMES, found=f"{len(names)} names, {pedals} pedals")
    return names


def _title(title: str | None, target: Path) -> str:
    from sigsim.board.tables import LONGEST_NAME

    if title is None:
        return shown(unicodedata.normalize("NFC", target.stem))
    try:
        title.encode()
    except UnicodeEncodeError:
        raise SigsimError("this title is not text", where="--title", found=quote(title)) from None
    if len(title) > LONGEST_NAME:
        raise SigsimError(f"a title has at most {LONGEST_NAME} characters", where="--title")
    return title


def _plan(interview: Interview, title: str) -> Plan:
    """Ask what has to be asked, in the order of the chain."""
    instrument = interview.answer(INSTRUMENT)
    lead = interview.answer(LEAD)
    pedals = interview.answer(PEDALS)
    hardwire, buffered = _counts(interview, pedals)
    if not pedals and TO_AMP.option in interview.given:
        raise SigsimError(
            "without pedals there is only the lead", where=TO_AMP.option, accepted=LEAD.option
        )
    between = pedals > 1 or PATCH.option in interview.given
    if not between:
        interview.pass_over(PATCH)
    return Plan(
        title=title,
        instrument=instrument,
        lead=lead,
        pedals=pedals,
        hardwire=hardwire,
        buffered=buffered,
        patch=interview.answer(PATCH) if between else PATCH.default,
        destination=interview.answer(DESTINATION),
        last=_last(interview, pedals),
        cable=f"cable-{interview.answer(CABLE)}",
    )


def _last(interview: Interview, pedals: int) -> str:
    if pedals:
        return str(interview.answer(TO_AMP))
    interview.pass_over(TO_AMP)
    return TO_AMP.default


def _counts(interview: Interview, pedals: int) -> tuple[int, int]:
    """Return how many pedals are hardwired and how many are buffered."""
    if {BUFFERED.option, HARDWIRE.option} & set(interview.given):
        interview.given = {BUFFERED.option: "0", HARDWIRE.option: "0"} | interview.given
    elif not pedals:
        interview.pass_over(BUFFERED, HARDWIRE)
        return 0, 0
    elif interview.at_terminal:
        how = interview.answer(BYPASS)
        if how != "mix":
            return pedals if how == "hardwire" else 0, pedals if how == "buffered" else 0
    of = f"of {pedals} pedals so many cannot be"
    buffered = interview.answer(replace(BUFFERED, read=count(pedals, of)))
    left = f"{of}, with {buffered} buffered" if buffered else of
    hardwire = interview.answer(replace(HARDWIRE, read=count(pedals - buffered, left)))
    return hardwire, buffered

"""`sigsim new`."""

from __future__ import annotations

import shlex
import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

import click

from sigsim.board.writer import Plan
from sigsim.cli import options
from sigsim.cli.asked_lengths import in_feet_after, unusual
from sigsim.cli.board_questions import (
    ALSO,
    BUFFERED,
    BYPASS,
    CABLE,
    DESTINATION,
    HARDWIRE,
    INSTRUMENT,
    LEAD,
    NAMES,
    PATCH,
    PEDALS,
    QUESTIONS,
    TO_AMP,
    TREBLE_BLEED,
    USUAL_LENGTHS,
    pedal_names,
)
from sigsim.cli.interview import (
    Interview,
    Question,
    count,
    is_terminal,
    piped_lines,
    read_answer,
)
from sigsim.errors import SigsimError, quote, shown_path
from sigsim.show.render.text import plain
from sigsim.text import escaped, shown

_F = TypeVar("_F", bound=Callable[..., Any])


def _question_options(command: _F) -> _F:
    for question in reversed(QUESTIONS):
        command = click.option(
            question.option,
            metavar=question.metavar,
            help=f"{question.help}  [default: {question.default}]"
            if question.default
            else question.help,
        )(command)
    return command


@click.command("new")
@click.argument("file", type=click.Path())
@_question_options
@click.option(ALSO.option, metavar=ALSO.metavar, help=ALSO.help)
@click.option("--title", metavar="TEXT", help="Title of the board.  [default: the file's name]")
@click.option("--yes", is_flag=True, help="Ask nothing: the defaults for what is not given.")
@options.force_option
def command(
    file: str,
    also: str | None,
    title: str | None,
    yes: bool,
    force: bool,
    **answers: str | None,
) -> None:
    """Write a commented board file from a few plain questions.

    Each question is also an option, and what an option says is not asked; at a terminal "?" as
    an answer explains it. A pedal whose name says what it is becomes that part; which names do not
    is said. Examples of a layout, of sold lengths and of supplies stand in the file too. Without a
    terminal answers are taken from standard input, in the order of the options here, one a line
    and an empty line for the default, as far as there are any; the defaults that hold in the end
    are named on standard error. --also and --title are never asked.
    """
    from sigsim.board.reader import parse_board
    from sigsim.board.writer import board_text
    from sigsim.cli.output import check_writable, write_file

    target = check_writable(file, force)
    given = {
        f"--{key.replace('_', '-')}": text for key, text in answers.items() if text is not None
    }
    if NAMES.option in given:
        names = read_answer(NAMES, given[NAMES.option], NAMES.option)
        given.setdefault(PEDALS.option, str(len(names)))
    title = _title(title, target)
    also_fed = "" if also is None else str(read_answer(ALSO, also, ALSO.option))
    earlier: list[str] = []
    for question in QUESTIONS:  # refused before anything is asked
        if question.option in given:
            if question in USUAL_LENGTHS:
                question = _length(question, earlier)
                earlier.append(given[question.option])
            read_answer(question, given[question.option], question.option)
    ask = is_terminal() and not yes
    interview = Interview(given, ask, iter(()) if yes or ask else piped_lines())
    plan = _plan(interview, title, also_fed)
    text = board_text(plan)
    parse_board(text, file)  # nothing is written that cannot be read
    write_file(target, text, force)
    if defaults := _defaults(interview, plan):
        click.echo(escaped(f"defaults taken: {' '.join(defaults)}"), err=True)
    for note in _unusual(plan):
        click.echo(escaped(note), err=True)
    for line in _taken_for(plan):
        click.echo(line)
    name = shown_path(shlex.quote(file))
    click.echo(f"Written. Next: sigsim check {name}, then sigsim loss {name}")


def _length(question: Question, earlier: list[str]) -> Question:
    """Return a question for a length, which asks about a bare number after a length in feet."""
    return replace(question, read=in_feet_after(earlier, question.read, USUAL_LENGTHS[question]))


def _defaults(interview: Interview, plan: Plan) -> list[str]:
    """Return the defaults that hold; where names tell, no count of bypasses does."""
    if plan.counted or not any(pedal.fitting for pedal in plan.made()):
        return interview.defaults
    counts = (BUFFERED.option, HARDWIRE.option)
    return [default for default in interview.defaults if not default.startswith(counts)]


def _unusual(plan: Plan) -> Iterator[str]:
    """Yield a note on each length that is not what such a cable has."""
    laid = {LEAD: plan.lead}
    laid |= {PATCH: plan.patch} if plan.pedals > 1 else {}
    laid |= {TO_AMP: plan.last} if plan.pedals else {}
    for question, written in laid.items():
        if note := unusual(written, USUAL_LENGTHS[question]):
            yield f"{question.option}: {note}"


def _taken_for(plan: Plan) -> Iterator[str]:
    """Yield what is said of the pedals that have a name: whether it tells what they are."""
    named = [
        (f"'{plain(plan.name(number), 24)}'", pedal)
        for number, pedal in enumerate(plan.made(), 1)
        if number <= len(plan.names)
    ]
    told = [
        f"{name} is taken for {pedal.part}"
        + (", which wants the pickup" if pedal.wants_pickup else "")
        for name, pedal in named
        if pedal.fitting
    ]
    if told:
        said = f"{'; '.join(told)}. To change one, change its part in the file."
        yield click.wrap_text(said, 80)
    unknown: dict[str, list[str]] = {}
    for name, pedal in named:
        if not pedal.fitting:
            unknown.setdefault(pedal.part, []).append(name)
    if unknown:
        said = "; ".join(f"{', '.join(names)}: taken for {part}" for part, names in unknown.items())
        hint = 'sigsim parts --like "what it is" finds a better one.'
        yield click.wrap_text(f"Not recognised by the name: {said}. {hint}", 80)


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


def _plan(interview: Interview, title: str, also: str) -> Plan:
    """Ask what has to be asked, in the order of the chain."""
    instrument = interview.answer(INSTRUMENT)
    lead = interview.answer(_length(LEAD, []))
    pedals = interview.answer(PEDALS)
    hardwire, buffered, counted = _counts(interview, pedals)
    if not pedals and TO_AMP.option in interview.given:
        raise SigsimError(
            "without pedals there is only the lead", where=TO_AMP.option, accepted=LEAD.option
        )
    patch = _patch(interview, pedals, lead)
    destination = interview.answer(DESTINATION)
    last = _last(interview, pedals, [lead, patch])
    cable = f"cable-{interview.answer(CABLE)}"
    return Plan(
        title=title,
        instrument=instrument,
        lead=lead,
        pedals=pedals,
        hardwire=hardwire,
        buffered=buffered,
        counted=counted,
        patch=patch,
        destination=destination,
        last=last,
        cable=cable,
        names=_names(interview, pedals),
        treble_bleed=_treble_bleed(interview, instrument),
        also=also,
    )


def _treble_bleed(interview: Interview, instrument: str) -> str:
    """Return how the treble bleed is joined; who sits there is asked only if there is one."""
    from sigsim.board.instrument_text import has_treble_bleed, has_volume

    option = TREBLE_BLEED.option
    if option in interview.given and not has_volume(instrument):
        raise SigsimError(
            f"{instrument} has no volume knob that a treble bleed could bridge", where=option
        )
    wanted = has_volume(instrument) and not interview.at_terminal
    if wanted or option in interview.given or has_treble_bleed(instrument):
        return str(interview.answer(TREBLE_BLEED))
    interview.pass_over(TREBLE_BLEED)
    return ""


def _patch(interview: Interview, pedals: int, lead: str) -> str:
    if pedals > 1 or PATCH.option in interview.given:
        return str(interview.answer(_length(PATCH, [lead])))
    interview.pass_over(PATCH)
    return PATCH.default


def _names(interview: Interview, pedals: int) -> tuple[str, ...]:
    if not pedals and NAMES.option not in interview.given:
        interview.pass_over(NAMES)
        return ()
    return tuple(interview.answer(replace(NAMES, read=pedal_names(pedals))))


def _last(interview: Interview, pedals: int, earlier: list[str]) -> str:
    if pedals:
        return str(interview.answer(_length(TO_AMP, earlier)))
    interview.pass_over(TO_AMP)
    return TO_AMP.default


def _counts(interview: Interview, pedals: int) -> tuple[int, int, bool]:
    """Return how many pedals are hardwired and how many buffered, and whether somebody said so."""
    said = bool({BUFFERED.option, HARDWIRE.option} & set(interview.given))
    if said:
        interview.given = {BUFFERED.option: "0", HARDWIRE.option: "0"} | interview.given
    elif not pedals:
        interview.pass_over(BUFFERED, HARDWIRE)
        return 0, 0, False
    elif interview.at_terminal:
        how = interview.answer(BYPASS)
        if how != "mix":
            alike = pedals if how == "hardwire" else 0, pedals if how == "buffered" else 0
            return *alike, how != BYPASS.default
    of = f"of {pedals} pedals so many cannot be"
    before = len(interview.defaults)
    buffered = interview.answer(replace(BUFFERED, read=count(pedals, of)))
    left = f"{of}, with {buffered} buffered" if buffered else of
    hardwire = interview.answer(replace(HARDWIRE, read=count(pedals - buffered, left)))
    return hardwire, buffered, said or len(interview.defaults) < before + 2

"""What `power` answers: the assignment, loads and margins, what is missing, hours on a battery."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim.board.inside import boards_inside
from sigsim.decide.limits import refuse_beyond
from sigsim.decide.power.assign import Assignment, NotKeptError, assignment, see_kept
from sigsim.decide.power.hours import Hours, hours
from sigsim.decide.power.lacking import Missing, Wanted, missing, wanted
from sigsim.decide.power.question import Drain, Outlet, PowerQuestion, own_stages, power_question
from sigsim.errors import SigsimError, quote, shown_path

if TYPE_CHECKING:
    from sigsim.board.model import Board

# So many places an error names.
_MOST_PLACES: Final = 4


@dataclass(frozen=True)
class OutletLoad:
    """One output with what is on it.

    Attributes
    ----------
    outlet : the output
    voltage : that it gives [V]; of one that can be switched and feeds nothing, its first
    load : of all on it whose current is known [A]
    drains : what is on it
    turned : those that need a lead which reverses the plug
    """

    outlet: Outlet
    voltage: float
    load: float
    drains: tuple[Drain, ...]
    turned: tuple[str, ...] = ()

    @property
    def margin(self) -> float:
        """What is left [A], at most so much where a current is unknown."""
        return _exact(self.outlet.output.current - self.load)

    @property
    def unknown(self) -> tuple[str, ...]:
        """Those on it whose current is not known."""
        return tuple(drain.name for drain in self.drains if drain.draws is None)

    @property
    def all_unknown(self) -> bool:
        """Whether nothing at all is known of what it has to give."""
        return bool(self.drains) and len(self.unknown) == len(self.drains)

    @property
    def guessed(self) -> bool:
        """Whether its load is a guess."""
        return any(drain.guess for drain in self.drains)

    @property
    def shared(self) -> bool:
        """Whether it feeds several."""
        return len(self.drains) > 1


@dataclass(frozen=True)
class Joined:
    """Several pedals whose returns meet in a supply, so that their screens close a loop.

    Attributes
    ----------
    where : the output, or the supply whose outputs are not isolated
    isolated : whether the supply's outputs are isolated
    names : of the pedals
    in_output : whether they share one output and no more is joined
    """

    where: str
    isolated: bool
    names: tuple[str, ...]
    in_output: bool


@dataclass(frozen=True)
class PowerReport:
    """What `power` answers.

    Attributes
    ----------
    board : the board
    guess : whether guesses stand for currents that are not told
    drains : all that is to be fed
    placed : for each the name of its output, None for one that is not fed
    loads : of each output
    missing : what is not fed, and why
    wanted : what one more supply would have to give; without any supply, the first one
    hours : for each supply with a battery
    own_battery : the stages that run on a battery of their own
    elsewhere : the files of boards inside, which are fed by their own supplies
    proven : whether no assignment is better
    by_clock : whether the time ended the search, so that another run may find another
    untold_boxes : the boxes with jacks of loops of which nothing says what they draw
    """

    board: Board
    guess: bool
    drains: tuple[Drain, ...]
    placed: dict[str, str | None]
    loads: tuple[OutletLoad, ...]
    missing: tuple[Missing, ...]
    wanted: tuple[Wanted, ...]
    hours: tuple[Hours, ...]
    own_battery: tuple[str, ...]
    elsewhere: tuple[str, ...]
    proven: bool
    by_clock: bool = False
    untold_boxes: tuple[str, ...] = ()

    @property
    def unknown(self) -> tuple[str, ...]:
        """Those whose current is not known."""
        return tuple(drain.name for drain in self.drains if drain.draws is None)

    @property
    def guessed(self) -> tuple[str, ...]:
        """Those for whose current a guess stands."""
        return tuple(drain.name for drain in self.drains if drain.guess)

    @property
    def shared(self) -> tuple[OutletLoad, ...]:
        """The outputs that feed several."""
        return tuple(load for load in self.loads if load.shared)

    @property
    def joined(self) -> tuple[Joined, ...]:
        """The pedals whose returns meet in a supply."""
        return tuple(_joined(self.loads))


@dataclass(frozen=True)
class PowerUntold:
    """What feeds a board cannot be told.

    Attributes
    ----------
    why : as `power` says it
    """

    why: str


def power_report(board: Board, *, guess: bool = False) -> PowerReport:
    """Return what feeds a board's own file.

    Parameters
    ----------
    board : the board
    guess : whether the most that such a box usually draws stands for a current that is not told

    Raises
    ------
    SigsimError : the supplies that are written at pedals cannot all be kept, or the board is too
        large
    """
    refuse_beyond(board, "power")
    question = power_question(board, guess=guess)
    _see_kept(board, power_question(board, guess=False) if guess else question)
    found = assignment(question)
    loads = tuple(_loads(question, found))
    lacking = missing(question, found)
    return PowerReport(
        board=board,
        guess=guess,
        drains=question.drains,
        placed={
            drain.name: None if on is None else question.outlets[on].name
            for drain, on in zip(question.drains, found.outlet, strict=True)
        },
        loads=loads,
        missing=lacking if question.outlets else (),
        wanted=wanted([one.drain for one in lacking]),
        hours=tuple(hours(board, [(load.outlet, load.voltage, load.drains) for load in loads])),
        own_battery=tuple(one.label for one in own_stages(board) if one.battery_inside),
        elsewhere=tuple(held.file for held in boards_inside(board.listed)),
        proven=found.proven,
        by_clock=found.by_clock,
        untold_boxes=tuple(_untold_boxes(board)),
    )


def _see_kept(board: Board, question: PowerQuestion) -> None:
    """See that written supplies can be kept, and name the places of those that cannot."""
    try:
        see_kept(question)
    except NotKeptError as error:
        places = [board.fed_at.get(name, quote(name)) for name in error.names]
        more = [f"{len(places) - _MOST_PLACES} more"] if len(places) > _MOST_PLACES else []
        named = " and ".join([*places[:_MOST_PLACES], *more])
        raise error.at(f"{shown_path(board.file)}, {named}, supply") from None


def _untold_boxes(board: Board) -> Iterator[str]:
    """Yield the boxes of loops on a board's own layout that say nothing of what they draw."""
    standing = {} if board.laying is None else board.laying.layout.boxes
    for name, box in standing.items():
        if box.loops and name not in board.boxes:
            yield name


def _loads(question: PowerQuestion, found: Assignment) -> Iterator[OutletLoad]:
    for index, outlet in enumerate(question.outlets):
        on = found.on(index)
        drains = tuple(question.drains[drain] for drain in on)
        own = outlet.output.voltage
        voltage = question.voltages(index, on)[0] if on else own[0]
        turned = tuple(question.drains[d].name for d in on if question.turned(d, index))
        load = _exact(sum(drain.load for drain in drains))
        yield OutletLoad(outlet, voltage, load, drains, turned)


def _exact(current: float) -> float:
    """Return a sum of currents [A] without what is left of decimal fractions, never -0."""
    return round(current, 9) + 0.0


def _joined(loads: Sequence[OutletLoad]) -> Iterator[Joined]:
    seen: set[str] = set()
    for load in loads:
        supply = load.outlet.supply
        if supply.isolated:
            if load.shared:
                yield Joined(load.outlet.name, True, tuple(d.name for d in load.drains), True)
        elif supply.name not in seen:
            seen.add(supply.name)
            all_on = [d.name for one in loads if one.outlet.supply is supply for d in one.drains]
            if len(all_on) > 1:
                alone = len(supply.outputs) == 1
                yield Joined(
                    load.outlet.name if alone else supply.name, False, tuple(all_on), alone
                )


def power_where_told(board: Board) -> PowerReport | PowerUntold | None:
    """Return what feeds a board whose file has supplies, or why not; None where it has none."""
    if not board.supplies:
        return None
    try:
        return power_report(board)
    except SigsimError as error:
        return PowerUntold(error.problem.what)


def not_kept(board: Board) -> tuple[str, ...]:
    """Return for which pedals nothing is left of the supplies that are written; empty for none."""
    try:
        refuse_beyond(board, "power")
        see_kept(power_question(board, guess=False))
    except NotKeptError as error:
        return error.names
    except SigsimError:  # too large a board: power says so
        return ()
    return ()


def joined_where_told(board: Board) -> tuple[Joined, ...]:
    """Return the pedals whose returns meet in a supply of which the outputs are not isolated."""
    if all(supply.isolated for supply in board.supplies.values()):
        return ()
    report = power_where_told(board)
    if not isinstance(report, PowerReport):
        return ()
    return tuple(one for one in report.joined if not one.isolated)

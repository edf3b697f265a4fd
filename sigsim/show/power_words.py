"""What feeds a board, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.show.render.text import count, in_the_middle, listed
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.board.model import Board
    from sigsim.decide.power.hours import Hours
    from sigsim.decide.power.lacking import Missing, Taken, Wanted
    from sigsim.decide.power.question import Drain, Range
    from sigsim.decide.power.report import Joined, OutletLoad, PowerReport

CAUTIONS: Final = (
    "Mains work belongs to qualified people, and local codes come first. Never open a supply.",
    "The earth of a mains plug stays connected, whatever hums.",
    "Lithium packs: by their maker's papers, and never charged unattended.",
    "Before you plug in, compare voltage, polarity and current with the label of the pedal and of "
    "the supply: figures here are those of the board file.",
)
_MOST_TAKEN: Final = 3
_MOST_AND: Final = 8
_NEGATIVE: Final = "centre negative"


def amps(value: float) -> str:
    """Return a current [A] as `120 mA`."""
    return render(value, "A")


def volts(values: Sequence[float]) -> str:
    """Return voltages [V] as `9 V or 12 V`."""
    return " or ".join(render(value, "V") for value in values)


def quoted(name: str) -> str:
    """Return a name from a file in quotation marks; that of an output keeps its number."""
    return f"'{in_the_middle(name, 40)}'"


def sentence(report: PowerReport) -> str:
    """Return the first sentence: is all fed, and where the least is left."""
    if not report.drains:
        return _nothing(report)
    if not report.loads:
        return _no_supply(report)
    return " ".join((_head(report), *_least(report), *_sharing(report)))


def _head(report: PowerReport) -> str:
    """Say how many are fed; of one whose current is not told that it has an output."""
    number = len(report.drains)
    fed = number - len(report.missing)
    if not fed:
        return "Nothing is fed by the supplies of this file."
    untold = [name for name in report.unknown if report.placed[name] is not None]
    if number == 1:
        head = f"The one pedal that needs a supply, {quoted(report.drains[0].name)},"
    else:
        head = f"{fed} of {number} pedals" if report.missing else f"All {number} pedals"
        head += "" if report.missing else " that need a supply"
    head += f" {_is_fed(fed, untold=bool(untold))}"
    if report.missing:
        left = [one.drain.name for one in report.missing]
        one = len(left) == 1
        lack = f"{'has' if one else 'have'} none" if untold else f"{_verb(len(left))} not"
        head += f"; {listed(left)} {lack}"
    if untold:
        gives = "the output gives" if len(untold) == 1 else "these give"
        head += f"; whether {gives} enough for {listed(untold)} cannot be told"
    return f"{head}."


def _is_fed(number: int, *, untold: bool) -> str:
    if untold:
        return f"{'has' if number == 1 else 'have'} an output"
    return f"{_verb(number)} fed"


def _verb(number: int) -> str:
    return "is" if number == 1 else "are"


def _nothing(report: PowerReport) -> str:
    if report.own_battery:
        return "Nothing on this board needs a supply: what is powered on it feeds itself."
    return "Nothing on this board needs a supply: there are no powered pedals on it."


def _no_supply(report: PowerReport) -> str:
    number = len(report.drains)
    whose = "Its one pedal needs" if number == 1 else f"Its {number} pedals need"
    return f"The board file has no [supplies]. {whose}: {_wants(report.wanted)}."


def _least(report: PowerReport) -> Iterator[str]:
    used = [load for load in report.loads if load.drains]
    known = [load for load in used if len(load.unknown) < len(load.drains)]
    if known:
        least = min(known, key=lambda load: load.margin / load.outlet.output.current)
        most = "at most " if least.unknown else ""
        guess = " (a guess)" if least.guessed else ""
        gives = amps(least.outlet.output.current)
        yield (
            f"The least is left on {quoted(least.outlet.name)}: {most}{amps(least.margin)} of "
            f"{gives}{guess}."
        )


def _sharing(report: PowerReport) -> Iterator[str]:
    shared = sum(len(load.drains) for load in report.shared)
    if shared:
        outputs = count(len(report.shared), "output")
        yield f"{shared} of them share {'an output' if len(report.shared) == 1 else outputs}."


def missing_words(one: Missing) -> str:
    """Return why a pedal is not fed, as a sentence."""
    fed, name = one.drain.fed, quoted(one.drain.name)
    where = f" of {quoted(fed.supply)}, which the file writes for it," if one.written else ""
    needs = f"{name} needs {_needs(one.drain)}"
    if one.obstacle == "voltage":
        return f"{needs}: no output{where} gives {volts(fed.voltage)}."
    if one.obstacle == "polarity":
        return (
            f"{needs}: no output{where} with {volts(fed.voltage)} is {fed.polarity}, and none is "
            "isolated, so that a lead could turn the plug round."
        )
    if one.obstacle == "current":
        most = "" if one.best is None else amps(one.best.output.current)
        best = "" if one.best is None else f" ({quoted(one.best.name)})"
        return f"{needs}: an output{where} with {volts(fed.voltage)} gives {most} at most{best}."
    if len(one.taken) == 1:
        return f"{needs}: the one output{where} that could feed it {_taken(one.taken[0])}."
    said = "; ".join(f"one {_taken(taken)}" for taken in one.taken[:_MOST_TAKEN])
    more = len(one.taken) - _MOST_TAKEN
    left = f"; and {more} more" if more > 0 else ""
    return f"{needs}: {len(one.taken)} outputs{where} could feed it, but {said}{left}."


def _needs(drain: Drain) -> str:
    fed = drain.fed
    plug = "" if fed.polarity == _NEGATIVE else f", {fed.polarity}"
    if drain.needs is None:
        return f"{volts(fed.voltage)}{plug}"
    return f"{_draws(drain.needs, guess=drain.guess)} at {volts(fed.voltage)}{plug}"


def _draws(draws: Range, *, guess: bool) -> str:
    if not guess:
        return amps(draws.high)
    low, high = amps(draws.low), amps(draws.high)
    return f"{high} (a guess)" if low == high else f"{low} to {high} (a guess)"


def _taken(taken: Taken) -> str:
    outlet, by = quoted(taken.outlet.name), listed(taken.names)
    gives = amps(taken.outlet.output.current)
    if taken.how == "voltage":
        return f"is {outlet}, set to another voltage for {by}"
    if taken.how == "alone":
        return f"is {outlet}, which feeds {by}; a plug turned round stands alone on an output"
    return f"is {outlet}, which feeds {by} and has {amps(taken.left)} of {gives} left"


def wanted_words(report: PowerReport) -> Iterator[str]:
    """Yield what one more supply would have to give."""
    if report.loads and report.wanted:
        several = sum(len(want.drains) for want in report.wanted) > 1
        outputs = "; best with an output of its own for each" if several else ""
        yield f"One more supply would have to give: {_wants(report.wanted)}{outputs}."


def _wants(wanted: Sequence[Wanted]) -> str:
    return "; ".join(map(_want, wanted))


def _want(want: Wanted) -> str:
    known, unknown = len(want.drains) - len(want.unknown), want.unknown
    plug = "" if want.polarity == _NEGATIVE else f" {want.polarity}"
    names = listed([drain.name for drain in want.drains])
    current = _draws(want.current, guess=want.guess) if known else "a current that is not told"
    more = f" and what {listed(unknown)} {_draw(unknown)}" if known and unknown else ""
    return f"{render(want.voltage, 'V')}{plug} with {current}{more} for {names}"


def _draw(names: Sequence[str]) -> str:
    return "draws" if len(names) == 1 else "draw"


def unknown_words(report: PowerReport, *, paper: bool = False) -> Iterator[str]:
    """Yield of which pedals no current is known, and what that leaves open.

    Parameters
    ----------
    report : the answer
    paper : whether it is printed, where no key and no option helps
    """
    if report.unknown:
        on = ", and what is left there is at most what is said" if report.loads else ""
        key = "" if paper else "; in the board file it is current = …"
        yield (
            f"No current is told for {listed(report.unknown)}: it is in no figure here{on}. It "
            f"stands on the pedal or in its papers{key}{'.' if paper else ''}"
        )
        if not (paper or report.guess) and any(usual(drain) for drain in report.drains):
            yield "--guess reckons with what such boxes usually draw."
    if report.guessed:
        yield (
            f"Guessed for {listed(report.guessed)}: the upper end of what such boxes usually draw "
            "(common practice, no source). Read the label before you buy."
        )


def boxes_words(report: PowerReport, *, paper: bool = False) -> Iterator[str]:
    """Yield which boxes of loops are taken for passive, because nothing says what they draw."""
    if report.untold_boxes:
        it = "it" if len(report.untold_boxes) == 1 else "each of them"
        key = "" if paper else "; its current goes into its [boxes.NAME]"
        yield (
            f"No current is told for {listed(report.untold_boxes)}, with jacks of loops: {it} is "
            "taken for passive and is on no output here. Most switchers with lights or a memory "
            f"need a supply (common practice, no source): look at the label{key}."
        )


def scenes_words(report: PowerReport, *, paper: bool = False) -> Iterator[str]:
    """Yield why no hours by scene are told, where there are scenes and hours."""
    told = [one for one in report.hours if one.everything is not None]
    if told and report.board.scenes and not any(one.scenes for one in told):
        key = "" if paper else " (current_off)"
        yield (
            f"No hours by scene: of no pedal on a battery it is told what it draws when off{key}, "
            "so each is reckoned as on."
        )


def usual(drain: Drain) -> bool:
    """Whether a guess could stand for a current that is not known."""
    return drain.draws is None and getattr(drain.fed, "usual_current", None) is not None


def joined_words(joined: Joined) -> str:
    """Return whose returns meet in a supply."""
    names = _with_and(joined.names)
    if joined.in_output:
        return (
            f"{names} share {quoted(joined.where)}: their returns meet there, and with the screens "
            "of the cables between them they close a loop, a usual cause of hum (common practice)."
        )
    return (
        f"The outputs of {quoted(joined.where)} are not isolated: the returns of {names} meet in "
        "it, and with the screens of the cables between them they close a loop, a usual cause of "
        "hum (common practice)."
    )


def _with_and(names: Sequence[str]) -> str:
    """Return names in one line, with `and` before the last of a few."""
    if 1 < len(names) <= _MOST_AND:
        return f"{listed(names[:-1])} and {listed(names[-1:])}"
    return listed(names)


def turned_words(load: OutletLoad) -> Iterator[str]:
    """Yield that a pedal needs a lead which reverses the plug."""
    for name in load.turned:
        output = load.outlet.output
        yield (
            f"{quoted(name)} needs a lead that turns the plug round: {quoted(load.outlet.name)} is "
            f"{output.polarity}. Nothing else may hang on this output."
        )


def hours_text(hours: Range | None) -> str:
    """Return hours as `4.2 h`, as a range where a guess is in it."""
    if hours is None:
        return "-"
    low, high = _hours(hours.low), _hours(hours.high)
    return f"{low} h" if low == high else f"{low} to {high} h"


def _hours(value: float) -> str:
    return f"{value:.2g}" if value < 10 else f"{value:,.0f}"


def battery_words(hours: Hours) -> str:
    """Return what the hours of one supply are reckoned from."""
    battery = hours.supply.battery
    assert battery is not None, "hours are told of a battery"
    told = render(battery.amount, battery.unit)
    if hours.supply.battery_voltage is not None:
        told += f" at {render(hours.supply.battery_voltage, 'V')}"
    return (
        f"{quoted(hours.supply.name)}: {told} × {hours.supply.efficiency:g} = "
        f"{hours.energy:.3g} Wh at its outputs. A battery that is old or cold gives less."
    )


def supplies_words(board: Board) -> Iterator[str]:
    """Yield which supplies a board file has, in one line."""
    said = []
    for supply in board.supplies.values():
        outputs = count(len(supply.outputs), "output")
        how = ", isolated" if supply.isolated else ""
        on = ", on a battery" if supply.battery is not None else ""
        said.append(f"{quoted(supply.name)} ({outputs}{how}{on})")
    if said:
        left = f" and {len(said) - _MOST_AND} more" if len(said) > _MOST_AND else ""
        yield f"Supplies: {', '.join(said[:_MOST_AND])}{left}."

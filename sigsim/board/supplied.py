"""What stages write of the supply that feeds them, and whether it can."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from sigsim.errors import Problem, nearest, quote
from sigsim.items.feeding import Fed
from sigsim.items.supply import Output, Supply, output_name
from sigsim.units import render

_MOST_LISTED: Final = 12
# Sums of decimal fractions are off by this much of themselves at most.
ROUNDING: Final = 1e-6


@dataclass(frozen=True)
class Written:
    """What draws a current, as a file has it.

    Attributes
    ----------
    place : what messages call its table
    name : of the stage or box
    fed : what it draws, and of which supply
    """

    place: str
    name: str
    fed: Fed


def meant(supplies: Mapping[str, Supply], written: str) -> tuple[Supply, int | None] | None:
    """Return what a stage's `supply` means: a supply, or one output of it from 0; None for nothing.

    Parameters
    ----------
    supplies : by name
    written : the name of a supply, or that of an output such as `left 2`
    """
    if written in supplies:
        return supplies[written], None
    name, _, number = written.rpartition(" ")
    supply = supplies.get(name)
    if supply is None or not (number.isascii() and number.isdigit() and len(number) < 4):
        return None
    index = int(number) - 1
    same = output_name(name, index) == written
    return (supply, index) if same and 0 <= index < len(supply.outputs) else None


def written_problems(
    written: Sequence[Written], read: Mapping[str, Supply | None]
) -> Iterator[Problem]:
    """Yield what is wrong with the supplies that stages write.

    Parameters
    ----------
    written : all that draws a current in this file
    read : the supplies by name, None for one in which something is wrong
    """
    supplies = {name: supply for name, supply in read.items() if supply is not None}
    by_output: dict[str, list[Written]] = {}
    for one in written:
        name = one.fed.supply
        if not name or name in read.keys() - supplies.keys():
            continue
        if name.rpartition(" ")[0] in read.keys() - supplies.keys():
            continue
        found = meant(supplies, name)
        if found is None:
            yield _unknown(one, supplies)
            continue
        problem = _unfed(one, *found)
        if problem is not None:
            yield problem
            continue
        supply, index = found
        only = 0 if index is None and len(supply.outputs) == 1 else index
        if only is not None:
            by_output.setdefault(supply.output_name(only), []).append(one)
    for called, together in by_output.items():
        supply, index = meant(supplies, called) or (next(iter(supplies.values())), 0)
        yield from _together(called, supply.outputs[index or 0], together)


def _unknown(one: Written, supplies: Mapping[str, Supply]) -> Problem:
    where, name = f"{one.place}, supply", one.fed.supply
    head, _, number = name.rpartition(" ")
    if head in supplies and number.isdigit():
        supply = supplies[head]
        count = len(supply.outputs)
        has = "1 output" if count == 1 else f"{count} outputs"
        last = supply.output_name(count - 1)
        accepted = quote(supply.output_name(0)) + (f" to {quote(last)}" if count > 1 else "")
        return Problem(f"the supply {quote(head)} has {has}", where, quote(name), accepted)
    outputs = [s.output_name(i) for s in supplies.values() for i in range(len(s.outputs))]
    names = [*supplies, *outputs]
    accepted = ", ".join(map(quote, supplies)) or "a table [supplies.NAME]"
    if supplies:
        accepted += ", or one output such as " + quote(outputs[0])
    near = nearest(name, names)
    return Problem("there is no supply of this name", where, quote(name), accepted, near)


def volts(values: Sequence[float]) -> str:
    """Return voltages as `9 V or 12 V`."""
    return " or ".join(render(value, "V") for value in values)


def common(voltages: Sequence[Sequence[float]]) -> tuple[float, ...]:
    """Return the voltages that are in all of some lists, the lowest first."""
    first, *others = ({round(v, 6): v for v in one} for one in voltages)
    return tuple(first[v] for v in sorted(first) if all(v in other for other in others))


def suits(fed: Fed, supply: Supply, output: Output) -> str:
    """Return why an output cannot feed a thing, even alone; empty where it can.

    Parameters
    ----------
    fed : what is to be fed
    supply : that has the output
    output : the output
    """
    if not common([fed.voltage, output.voltage]):
        return f"it gives {volts(output.voltage)}, and {volts(fed.voltage)} is needed"
    if fed.polarity != output.polarity and not supply.isolated:
        return (
            f"it is {output.polarity}; turned round to {fed.polarity} it has to be an isolated "
            "output"
        )
    if fed.most is not None and fed.most > output.current * (1 + ROUNDING):
        gives, needs = render(output.current, "A"), render(fed.most, "A")
        return f"it gives {gives}, and {needs} are needed"
    return ""


def _unfed(one: Written, supply: Supply, index: int | None) -> Problem | None:
    """Return the problem of a written supply that cannot feed its stage, None where it can."""
    tried = range(len(supply.outputs)) if index is None else [index]
    whys = [suits(one.fed, supply, supply.outputs[i]) for i in tried]
    if not all(whys):
        return None
    if len(whys) == 1:
        what = f"this output cannot feed it: {whys[0]}"
    else:
        named = zip(map(supply.output_name, tried), whys, strict=True)
        said = (f"{quote(name)}: {why}" for name, why in named)
        shown = "; ".join([*said][:_MOST_LISTED])
        what = f"no output of this supply can feed it ({shown})"
    accepted = "a supply that can, or the line left out, so that one is looked for"
    return Problem(what, f"{one.place}, supply", quote(one.fed.supply), accepted)


def _together(called: str, output: Output, together: Sequence[Written]) -> Iterator[Problem]:
    """Yield why an output cannot feed all for which it is written."""
    if len(together) < 2:
        return
    names = ", ".join(quote(one.name) for one in together[:_MOST_LISTED])
    last = together[-1]
    where, found = f"{last.place}, supply", quote(last.fed.supply)
    accepted = "an output of its own for one of them, or the line left out"
    turned = [one for one in together if one.fed.polarity != output.polarity]
    if turned:
        one = turned[0]
        yield Problem(
            f"{quote(called)} is {output.polarity} and shared by {names}: {quote(one.name)} is "
            f"{one.fed.polarity} and has to stand alone on an isolated output",
            f"{one.place}, supply",
            quote(one.fed.supply),
            accepted,
        )
        return
    if not common([output.voltage, *(one.fed.voltage for one in together)]):
        what = f"all on one output share one voltage, and {names} have none in common"
        yield Problem(f"{what} that {quote(called)} gives", where, found, accepted)
    load = sum(one.fed.most or 0.0 for one in together)
    if load > output.current * (1 + ROUNDING):
        yield Problem(
            f"{names} draw {render(load, 'A')} from {quote(called)}, which gives "
            f"{render(output.current, 'A')}",
            where,
            found,
            accepted,
        )

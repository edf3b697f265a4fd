"""What was measured as a document and as JSON."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING, Any, Final

from sigsim.show import kinds
from sigsim.show.document import Column, Document, Group, Heading, Items, Paragraph, Table
from sigsim.show.figures import UNTOLD, bounds, figure_text, in_words, span, value_text, within_db
from sigsim.show.kinds import Kind
from sigsim.show.measured_toml import toml
from sigsim.show.render.json import finite, json_document

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from sigsim.measure.result import Assumed, Figure, Measured
    from sigsim.show.document import Row

TITLE: Final = "What was measured"
# Of a cable [F/m]: what the parts library spans as usual.
_USUAL: Final = (80e-12, 130e-12)
# Of an input: 1 MΩ is what amps have, less a tolerance of 20 %; below 150 kΩ a pickup suffers [Ω].
_USUAL_INPUT, _LEAST_INPUT = 0.8e6, 150e3
_THINGS: Final = {
    "cable": "this cable",
    "pickup": "this pickup",
    "input": "this input",
    "bypass": "this box when it is off",
    "output": "this output",
}
_FIGURE: Final = Column("", kinds.PHRASE, wide="figure")
_FIGURES: Final = (
    _FIGURE,
    Column("measured", Kind(figure_text)),
    Column("95 % interval", Kind(bounds, right=False)),
)
_ASSUMED: Final = (
    _FIGURE,
    Column("taken as", Kind(lambda a: value_text(a.value, a.unit))),
    Column(
        "",
        Kind(lambda a: kinds.TOLERANCE.text(a.tolerance) if a.tolerance else "exact"),
        wide="tolerance",
    ),
    Column("", Kind(lambda a: "given" if a.given else "assumed", right=False), wide="by whom"),
)
_MOST_LEFT_OUT: Final = 6
# Of a line that is to be copied from a terminal.
_WIDEST: Final = 79


def document(measured: Measured, name: str | None, written: Sequence[str] = ()) -> Document:
    """Return the sentence, the figures, what they rest on, and the lines of a board file.

    Parameters
    ----------
    measured : from a recipe
    name : of the table that the lines are for, None if that was not said
    written : what was written into a board file
    """
    doubts = tuple(_doubts(measured))
    blocks = (
        Paragraph((sentence(measured),)),
        _figures(measured),
        *((_assumed(measured),) if measured.assumed else ()),
        *((Items(doubts),) if doubts else ()),
        Paragraph((_quality(measured), ""), quiet=True),
        Heading("For the board file:"),
        Paragraph(tuple(_to_copy(toml(measured, name).rstrip("\n")))),
        *((Paragraph(("", *written)),) if written else ()),
    )
    return Document(TITLE, blocks)


def sentence(measured: Measured) -> str:
    """Return the first sentence: the thing and what it has."""
    said = _SENTENCES[measured.recipe](measured.figures)
    return f"{said[:1].upper()}{said[1:]}."


def _cable(figures: Mapping[str, Figure]) -> str:
    total = figure_text(figures["total_capacitance"])
    per_metre = figures.get("capacitance")
    if per_metre is None or not isinstance(per_metre.value, float):
        return f"this cable has {total}; with --length it is told per metre"
    low, high = _USUAL
    word = "a low" if per_metre.value < low else "a high" if per_metre.value > high else "a usual"
    text = kinds.PER_METRE.text(per_metre.value)
    return f"this cable has {total}, {text} pF per metre: {word} one"


def _pickup(figures: Mapping[str, Figure]) -> str:
    keys = ("inductance", "resistance", "capacitance")
    inductance, resistance, capacitance = (_there(figures[key], key) for key in keys)
    rest = "its wiring and jack included"
    return f"this pickup has {inductance}, {resistance} and {capacitance}, {rest}"


def _there(figure: Figure, name: str) -> str:
    text = figure_text(figure)
    return f"some {name} that {text}" if text == UNTOLD else text


def _input(figures: Mapping[str, Figure]) -> str:
    resistance, capacitance = (
        figure_text(figures[key]) for key in ("input_resistance", "input_capacitance")
    )
    judged = _judged(figures["input_resistance"])
    return f"this input is {resistance} with {capacitance} across it{judged}"


def _judged(figure: Figure) -> str:
    """Return whether an input loads a pickup, empty where its resistance is not known enough."""
    least = figure.value if isinstance(figure.value, float) else figure.low
    if least is None:
        return ""
    if least >= _USUAL_INPUT:
        return "; it does not load a pickup more than an amp does"
    if figure.value is None:
        return ""
    word = "a little" if least >= _LEAST_INPUT else "heavily: it takes treble and level"
    return f"; it loads a pickup {word}"


def _bypass(figures: Mapping[str, Figure]) -> str:
    word = figures.get("bypass")
    if word is not None and word.value == "true":
        wiring = figure_text(figures["wiring_capacitance"])
        return f"when it is off this box is true bypass: all that is left is {wiring} of wiring"
    of = "bypass_" if "bypass_input_resistance" in figures else ""
    load = _input({key.removeprefix(of): figure for key, figure in figures.items()})
    return load.replace("this input is", "when it is off this box still hangs on the line:")


def _output(figures: Mapping[str, Figure]) -> str:
    capacitor = figures.get("output_capacitor")
    behind = "" if capacitor is None else f" behind a capacitor of {figure_text(capacitor)}"
    return f"this output has {figure_text(figures['output_resistance'])}{behind}"


_SENTENCES: Final = {
    "cable": _cable,
    "pickup": _pickup,
    "input": _input,
    "bypass": _bypass,
    "output": _output,
}


def _figures(measured: Measured) -> Table:
    rows: list[Row] = [Group(_THINGS[measured.recipe])]
    rows += [_row(measured.recipe, key, figure) for key, figure in measured.figures.items()]
    if measured.point:
        rows.append(Group("the point: lead and interface together"))
        rows += [_row("", key, figure) for key, figure in measured.point.items()]
    return Table("The figures", _FIGURES, rows, captioned=False)


def _row(recipe: str, key: str, figure: Figure) -> Row:
    return in_words(key, recipe), figure, figure


def _assumed(measured: Measured) -> Table:
    rows = [(in_words(key, ""), a, a, a) for key, a in measured.assumed.items()]
    return Table("What this rests on:", _ASSUMED, rows)


def _doubts(measured: Measured) -> Iterator[str]:
    """Yield what cannot be told, and what was left out."""
    for keys in _groups(measured.not_told_apart):
        *others, last = (in_words(key, measured.recipe) for key in keys)
        rest = "the other makes" if len(others) == 1 else "the others make"
        yield (
            f"Not told apart: {', '.join(others)} and {last}; if one of them is larger, {rest} up "
            "for it."
        )
    if measured.left_out:
        listed = [span(*stretch, "Hz") for stretch in measured.left_out[:_MOST_LEFT_OUT]]
        more = len(measured.left_out) - len(listed)
        listed += [f"{more} more"] if more else []
        yield f"Left out, because something else was louder there: {', '.join(listed)}."


def _groups(pairs: Sequence[tuple[str, str]]) -> list[list[str]]:
    """Return figures that cannot be told apart together, through whichever of them."""
    groups: list[list[str]] = []
    for pair in pairs:
        meant = [group for group in groups if set(group) & set(pair)]
        joined = dict.fromkeys(key for group in [*meant, list(pair)] for key in group)
        groups = [group for group in groups if group not in meant] + [list(joined)]
    return groups


def _to_copy(text: str) -> Iterator[str]:
    """Yield the lines of a board file so that a terminal breaks none of them."""
    for line in text.splitlines():
        code, mark, comment = line.rpartition("#") if len(line) > _WIDEST else (line, "", "")
        yield from (f"# {part}" for part in wrap(comment.strip(), _WIDEST - 2))
        if code.strip() or not mark:
            yield code.rstrip()


def _quality(measured: Measured) -> str:
    """Return how well the circuit agrees with the recordings, and what their clocks did."""
    said = f"The circuit agrees with the recordings within {within_db(measured.residual_db)}"
    clock = measured.clock_ppm
    if clock is not None and abs(clock) >= 1:
        said += f"; a difference of {abs(clock):.0f} millionths between the clocks was taken out"
    return f"{said}."


def as_json(measured: Measured, name: str | None) -> str:
    """Return what was measured as one JSON document; SI units, null where there is no number."""
    values = {
        "recipe": measured.recipe,
        "files": {
            role: list(files) if role == "loaded" else files[0]
            for role, files in measured.files.items()
            if files
        },
        "figures": _figure_values(measured.figures),
        "point": _figure_values(measured.point),
        "assumed": {key: _assumed_values(a) for key, a in measured.assumed.items()},
        "not_told_apart": [list(pair) for pair in measured.not_told_apart],
        "residual_db": finite(measured.residual_db),
        "clock_ppm": finite(measured.clock_ppm),
        "left_out_hz": [list(stretch) for stretch in measured.left_out],
        "notes": list(measured.notes),
        "toml": toml(measured, name),
    }
    return json_document(values)


def _figure_values(figures: Mapping[str, Figure]) -> dict[str, dict[str, Any]]:
    return {
        key: {
            "value": figure.value if isinstance(figure.value, str) else finite(figure.value),
            "low": finite(figure.low),
            "high": finite(figure.high),
            "unit": figure.unit,
        }
        for key, figure in figures.items()
    }


def _assumed_values(assumed: Assumed) -> dict[str, Any]:
    return {
        "value": assumed.value,
        "tolerance": assumed.tolerance,
        "given": assumed.given,
    }

"""The page's model in a browser, and what the program itself finds for the same states."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Final

import numpy as np

from helpers.browser import Browser, browser
from helpers.page_server import page_server
from helpers.signs import plain_signs
from sigsim import metrics
from sigsim.board.model import Board
from sigsim.decide.loss.report import StateReport
from sigsim.items.cable import Cable
from sigsim.items.instrument import ActiveInstrument
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.show.page.things import Thing
from sigsim.show.render.text import decibel, peak, short_hertz, signed
from sigsim.states.circuit import Circuit
from sigsim.states.path import Segment, in_reference, path, segments

# What the browser gives back of each state: as it is printed, and as it is.
_STATES: Final = """
const data = JSON.parse(given[0]), model = createModel(data);
const plain = (v) => (Number.isFinite(v) ? v : null);
const drawing = drawingOf(data, pathsOf(data, columnsOf(data)));
return given[1].map((numbers) => {
  const on = new Set(numbers), found = model.state(on), shown = { data, model, on, found };
  const { decibel, signed, shortHertz, peak } = words;
  const terms = drawing.terms(segmentsOf(metBy(data.chain, on)), on);
  return {
    sentence: words.sentence(shown, data), state: words.stateWords(shown),
    printed: [signed(found.level), ...found.losses.map(decibel), decibel(found.treble), found.word,
      shortHertz(found.corner), peak(found.resonance)],
    lead: decibel(found.withLead), direct: decibel(found.direct),
    level: plain(found.level), treble: plain(found.treble), losses: found.losses.map(plain),
    withLead: plain(found.withLead), straight: plain(found.direct),
    corner: found.corner, resonance: found.resonance, referenceCorner: found.referenceCorner,
    bareResonance: found.bareResonance,
    heard: model.heard(on), terms: terms.map(plain), summary: model.summary(on),
    line: Object.fromEntries(model.line(on)),
    curve: given[2] ? [found.N, found.R, found.B].map((one) => model.curve(one).map(plain)) : [],
  };
});
"""
_MODULES: Final = {
    "model": "{ createModel }",
    "words": "words",
    "drawn": "{ drawingOf }",
    "path": "{ metBy, pathsOf, segmentsOf }",
    "complex": "{ columnsOf }",
}


@contextmanager
def page_modules() -> Iterator[Browser]:
    """Give a browser in which the page's modules can be imported."""
    with page_server() as address, browser() as window:
        window.driver.set_script_timeout(60)
        window.driver.get(address)
        yield window


def asked(window: Browser, script: str, *arguments: Any) -> Any:
    """Return what a script returns that knows the page's modules and `given`, its arguments."""
    files = ", ".join(f'import("/js/{name}.js")' for name in _MODULES)
    found = window.driver.execute_async_script(
        "const done = arguments[arguments.length - 1], given = [...arguments].slice(0, -1);"
        f"Promise.all([{files}]).then(([{', '.join(_MODULES.values())}]) => {{{script}}})"
        ".then(done, (error) => done({ error: String(error.stack) }));",
        *arguments,
    )
    assert not (isinstance(found, dict) and "error" in found), found
    return found


def states_on_page(
    window: Browser, data: dict[str, Any], states: Sequence[Sequence[int]], *, curves: bool = False
) -> list[dict[str, Any]]:
    """Return all that the page's model finds for states, given by the numbers of switches."""
    found: list[dict[str, Any]] = asked(window, _STATES, json.dumps(data), states, curves)
    for one in found:
        one["printed"] = [plain_signs(text) for text in one["printed"]]
        one["sentence"] = {key: plain_signs(text) for key, text in one["sentence"].items()}
        one["lead"], one["direct"] = plain_signs(one["lead"]), plain_signs(one["direct"])
    return found


def printed(state: StateReport) -> list[str]:
    """Return the numbers of a state as `sigsim loss` prints them, the verdict in its place."""
    losses = [decibel(loss) for loss in state.losses.values()]
    return [signed(state.level_change), *losses, decibel(state.treble_loss), state.verdict,
            short_hertz(state.corner), peak(state.resonance)]  # fmt: skip


class Drawn:
    """What is drawn of a board in a state, found with the program's own circuit.

    Parameters
    ----------
    board : the board
    on : the names of what is on
    """

    def __init__(self, board: Board, on: frozenset[str]) -> None:
        self.board, self.on = board, on
        self.circuit = Circuit(board, metrics.USUAL_BASIS.frequency)
        self.active = isinstance(board.instrument, ActiveInstrument)
        self.segments = list(segments(path(board.chain, on)))

    def _level(self, segment: Segment) -> Any:
        return metrics.decibels(self.circuit.gain(segment))

    def _bare(self, segment: Segment) -> Segment:
        run = tuple(met for met in segment.run if in_reference(*met, "ideal"))
        return segment._replace(run=run)

    def terms(self) -> list[float]:
        """Return what each segment takes of the treble [dB]; together they are the treble loss.

        The ideal has one segment where an isolator that is off cuts the board's own into several:
        of these the others count against themselves without wiring, and the first for the rest.
        """
        found: list[float] = []
        groups: list[list[Segment]] = []
        for segment in self.segments:
            if segment.begin is None or in_reference(*segment.begin, "ideal"):
                groups.append([])
            groups[-1].append(segment)
        for first, *others in groups:
            last = others[-1] if others else first
            run = tuple(met for one in (first, *others) for met in self._bare(one).run)
            ideal = self._level(Segment(first.begin, run, last.end))
            theirs = [self._level(self._bare(one)) for one in others]
            # What is silent has no terms.
            with np.errstate(all="ignore"):
                terms = [ideal - sum(theirs, np.zeros_like(ideal)) - self._level(first)]
                terms += [bare - self._level(one) for bare, one in zip(theirs, others, strict=True)]
                found += [float(term[:-1].mean() - term[-1]) for term in terms]
        return found

    def on_pickup(self) -> set[int]:
        """Return the identity of what hangs on the pickup: all to the first isolator's input."""
        if self.active:
            return set()
        first = self.segments[0]
        return {id(met.item) for met in (*first.run, *([first.end] if first.end else []))}

    def summary(self) -> dict[str, float]:
        """Return the metres and boxes of the strip."""
        met = list(path(self.board.chain, self.on))
        hot = self.on_pickup()
        cables = [m.item for m in met if isinstance(m.item, Cable)]
        loops_in = self._loops_in()
        boxes = [m for m in met if not isinstance(m.item, Cable | Tap) and m.item.key != "split"]
        return {
            "wire": float(sum(float(cable.length) for cable in cables)),
            "onPickup": float(sum(float(c.length) for c in self._hot_cables())),
            "beside": self._beside(self.board.chain),
            "boxes": sum(id(m.item) in hot for m in boxes) + loops_in,
        }

    def _hot_cables(self) -> list[Cable]:
        run = () if self.active else self.segments[0].run
        return [met.item for met in run if isinstance(met.item, Cable)]

    def _loops_in(self) -> int:
        """Return how many loops are in whose send hangs on the pickup."""
        count = 0

        def walk(items: Sequence[Any]) -> bool:
            """Return whether an isolator was met."""
            nonlocal count
            for item in items:
                if isinstance(item, Loop) and item.loop in self.on:
                    count += 1
                    if walk(item.inside):
                        return True
                elif not isinstance(item, Split) and item.isolates(
                    item.switch is None or item.switch in self.on
                ):
                    return True
            return False

        if not self.active:
            walk(self.board.chain)
        return count

    def _beside(self, items: Sequence[Any], *, aside: bool = False) -> float:
        """Return the metres of taps and of what is in splits."""
        total = 0.0
        for item in items:
            if isinstance(item, Tap):
                total += float(item.cable.length)
            elif isinstance(item, Cable):
                total += float(item.length) * aside
            elif isinstance(item, Split):
                total += self._beside(item.inside, aside=True)
            elif isinstance(item, Loop) and item.loop in self.on:
                total += self._beside(item.inside, aside=aside)
        return total


def keyed_path(
    things: Sequence[Thing], items: Sequence[Any], on: frozenset[str]
) -> Iterator[tuple[str, Any, Sequence[Thing]]]:
    """Yield what `path` yields as the key on the page, the item and what is inside."""
    rest = iter(items)
    for thing in things:
        if thing.joint:
            continue
        item = next(rest)
        if isinstance(item, Loop) and item.loop in on:
            yield from keyed_path(thing.inside, item.inside, on)
        else:
            yield thing.about["key"], item, thing.inside

"""`sigsim blame`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import Answer, answered
from sigsim.cli.ends import at_option

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.metrics import Basis


@click.command("blame")
@options.board_argument
@at_option
@options.one_state_options
@click.option("--every", is_flag=True, help="A row for each thing, not only for what matters.")
@click.option("--explain", is_flag=True, help="Add what the columns mean.")
@options.basis_options
@answered
def command(board: Board, state: State | None, every: bool, explain: bool, basis: Basis) -> Answer:
    """What costs the most: everything in one combination, taken out and alone.

    Without a choice the worst of all. Each thing is made ideal with all else as it is (Out), and
    is left real with all else ideal (Alone). Ideal is a cable of no length and no plugs, a perfect
    wire for what is off, no side cable, no other way of a split, and an open input, which also
    gives back the level that the input took. A pedal that is off but buffered is a perfect wire
    too: if it shields what comes before it, taking it out loses more, and its number has a minus.

    The two numbers differ where things act on one another. Two cables in a row do not cost twice
    as much as one, because the second meets what the first has left; so each saves less when taken
    out of many than it costs alone. Where a resonance moves or a buffer shields it can be the
    other way round. Shares are parts of the whole loss and need not add up to 100 %.

    The loss is measured against the same reference throughout. What the reference has as well (the
    instrument's lead, the inputs of what is on, the amp) does not count in the loss; it is listed
    apart, and its Alone is what it takes in the reference.
    """
    from sigsim.decide.blame.report import blame_report, blame_worst
    from sigsim.show import blame as show

    report = blame_report(board, state, basis) if state else blame_worst(board, basis)
    return Answer(
        lambda: show.document(report, every=every, explain=explain),
        lambda: show.as_json(report),
        lambda: (report,),
    )

"""The entry point: finds the command, and turns every error into one message and a status."""

from __future__ import annotations

import os
import sys
import warnings
from importlib import import_module
from typing import Any, Final

import click

from sigsim import stopping
from sigsim.cli.output import together
from sigsim.cli.said import refuse_what_says_nothing
from sigsim.cli.streams import complain, flush_streams, muted, point_away, shown_by, usable_streams
from sigsim.cli.usage import no_command, reworded
from sigsim.decide.solver import solve_within
from sigsim.errors import SigsimError, shown_path

# Name → one line of help. The command itself is `sigsim.cli.commands.NAME:command`.
# A test compares each line with the command's own help.
COMMANDS: Final[dict[str, str]] = {
    "loss": "How much top end the chain loses, combination by combination and at worst.",
    "response": "The frequency response of one combination as a table of numbers.",
    "states": "Every combination of boxes on and off: how they spread, which is worst.",
    "buffer": "Where one buffer, or two or three, cuts the treble loss most.",
    "order": "In which order the pedals lose least, under what you ask of an order.",
    "cables": "Which cable to buy: every cable in every role, and how long each may be.",
    "compare": "Build this board or that one: two or more side by side.",
    "blame": "What costs the most: everything in one combination, taken out and alone.",
    "spread": "How sure the losses are, given what parts and cables may be off by.",
    "noise": "How much the chain hisses, combination by combination, and which part of it does.",
    "listen": "Hear it: a recording as it would sound through the chain.",
    "layout": "Where things stand: every run, the length to take, what to buy, "
    "a drawing from above.",
    "power": "What feeds the board: which pedal on which output, what is left, hours on a battery.",
    "sheet": "The wiring sheet: connections, what to cut and buy, the switches of each scene.",
    "report": "One page to keep and to show: switch boxes in a browser and see the curve move.",
    "edit": "Build and change a board on a page in the browser, and save it to the same file.",
    "sweep": "Write the test signal to play and record, and say how to wire it.",
    "record": "Play the test signal through an audio interface and record what comes back.",
    "measure": "Measure a cable, a pickup, a pedal: recordings of a sweep become figures.",
    "verify": "Does the built board do what was planned? A measurement beside the plan.",
    "check": "Check a board file and say what was understood.",
    "parts": "List the parts library, or show one part with its sources.",
    "new": "Write a commented board file from a few plain questions.",
    "demo": "Run the main job on a bundled board and draw its plot here.",
    "schema": "Print the JSON Schema of board files, for editors.",
    "netlist": "Write the circuit of one combination for a SPICE simulator.",
    "crosscheck": "Compare the response with ngspice, combination by combination.",
}


class LazyGroup(click.Group):
    """A group that knows its commands by name and loads one only when it is used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the command names in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load a command."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(f"sigsim.cli.commands.{cmd_name}").command
        return command

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        """Name the nearest command when there is none of the name given."""
        name = args[0]
        if name not in COMMANDS and not name.startswith("-"):
            ctx.fail(no_command(name, list(COMMANDS)))
        found, command, rest = super().resolve_command(ctx, args)
        if command is not None:
            refuse_what_says_nothing(ctx, command, rest)
        return found, command, rest

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; its files appear together."""
        with together():
            return super().invoke(ctx)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands from the table, without loading any."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="sigsim")
def cli() -> None:
    """How much top end an electric bass or guitar loses through a chain of cables and pedals.

    Describe the board once in a small text file ("sigsim new board.toml" asks a few questions and
    writes it), then ask. Start with "sigsim demo".
    """


def main() -> None:
    """Run the command line; exit status 0 done, 1 a check did not hold, 2 bad input or usage."""
    # The matrices are small: threads of the linear algebra would only wait for each other.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if not sys.warnoptions:  # whoever asks Python for warnings gets them
        warnings.simplefilter("ignore")
    usable_streams()
    solve_within(muted)
    sys.exit(_run())


def _run() -> int:
    """Run the command and return the exit status."""
    status: Any = 0
    try:
        # Not `cli()`: that ends a broken pipe with status 1, which here means a check that failed.
        with stopping.unwinding(), cli.make_context("sigsim", sys.argv[1:]) as context:
            status = cli.invoke(context)
            flush_streams()
    except click.exceptions.Exit as leaving:
        status = leaving.exit_code
    except (click.Abort, KeyboardInterrupt) as error:
        return _stopped(error)
    except BrokenPipeError:
        point_away()  # the reader has seen enough, as `| head` does
    except Exception as error:
        if stopping.was_asked():  # what a stop in the middle of things made of them
            return _stopped(error)
        return _failed(error)
    return status if isinstance(status, int) else 0


def _stopped(error: BaseException) -> int:
    stopping.clean()
    complain(stopping.STOPPED)
    return stopping.status(error)


def _failed(error: Exception) -> int:
    """Say what went wrong and return the status; what is no fault of the user is raised."""
    if isinstance(error, SigsimError):
        complain(f"sigsim: {error}\n")
        return error.exit_status
    if isinstance(error, click.ClickException):
        complain(shown_by(reworded(error)))
        return 2
    if not isinstance(error, OSError):
        raise error
    # What is read or written by name says so; and of what standard error cannot take no one hears.
    what = "standard output cannot be written" if error.filename is None else error.filename
    complain(f"sigsim: {shown_path(what)}: {error.strerror or error}\n")
    return 2

"""The entry point: finds the command, and turns every error into one message and a status."""

from __future__ import annotations

import os
import sys
from importlib import import_module
from typing import Any, Final

import click

from sigsim.cli.usage import ESCAPES, no_command, reworded
from sigsim.errors import SigsimError

# Name → one line of help. The command itself is `sigsim.cli.commands.NAME:command`.
# A test compares each line with the command's own help.
COMMANDS: Final[dict[str, str]] = {
    "loss": "How much top end the chain loses, state by state and at worst.",
    "response": "The frequency response of one state as a table of numbers.",
    "states": "Every combination of stages on and off: how they spread, which is worst.",
    "buffer": "Where one buffer, or two or three, cuts the treble loss most.",
    "cables": "Which cable to buy: every cable in every role, and how long each may be.",
    "compare": "Build this board or that one: two or more side by side.",
    "blame": "What costs the most: everything in one state, taken out and alone.",
    "spread": "How sure the losses are, given what parts and cables may be off by.",
    "noise": "How much the chain hisses, state by state, and which part of it does.",
    "listen": "Hear it: a recording as it would sound through the chain.",
    "sheet": "The wiring sheet: connections, what to cut and buy, the switches of each scene.",
    "report": "One page to keep and to show: switch boxes in a browser and see the curve move.",
    "check": "Check a board file and say what was understood.",
    "parts": "List the parts library, or show one part with its sources.",
    "new": "Write a commented board file from a few plain questions.",
    "demo": "Run the main job on a bundled board and draw its plot here.",
    "schema": "Print the JSON Schema of board files, for editors.",
    "netlist": "Write the circuit of one state for a SPICE simulator.",
    "crosscheck": "Compare the response with ngspice, state by state.",
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
        return super().resolve_command(ctx, args)

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
    _usable_streams()
    status: Any = 0
    try:
        # Not `cli()`: that ends a broken pipe with status 1, which here means a check that failed.
        with cli.make_context("sigsim", sys.argv[1:]) as context:
            status = cli.invoke(context)
        sys.stdout.flush()
    except click.exceptions.Exit as leaving:
        status = leaving.exit_code
    except SigsimError as error:
        click.echo(f"sigsim: {error}", err=True)
        sys.exit(error.exit_status)
    except click.ClickException as error:
        reworded(error).show()
        sys.exit(2)
    except (click.Abort, KeyboardInterrupt):
        click.echo("sigsim: stopped; nothing more was written", err=True)
        sys.exit(130)
    except BrokenPipeError:
        _point_away()  # the reader has seen enough, as `| head` does
        sys.exit(0)
    except OSError as error:
        _point_away()
        click.echo(f"sigsim: standard output cannot be written: {error.strerror}", err=True)
        sys.exit(2)
    sys.exit(status if isinstance(status, int) else 0)


def _usable_streams() -> None:
    """Give closed streams somewhere to go, and never fail on a letter that a stream lacks."""
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w")  # noqa: SIM115  it lives as long as the program
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w")  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=ESCAPES)


def _point_away() -> None:
    """Point standard output away so that the interpreter's flush at exit does not complain."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())

"""The command line: one command a step. It reads, asks, shows; it computes nothing itself.

Exit code 0: good. 1: there is something about engine or ignition that the person must see. 2: what was
given can't be used; the reason stands on the error stream and nothing was written.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import get_args

import click

from sparkwright import __version__
from sparkwright.cli import (
    axes_command,
    desk_commands,
    drive_commands,
    fleet_commands,
    job_commands,
    learn_commands,
    light_commands,
    mine_command,
    pull_commands,
    serve_command,
    settings_commands,
    sheet_commands,
    shop_commands,
    start_commands,
)
from sparkwright.cli.common import CUT_OFF, GOOD, REFUSED, SEE, STOPPED
from sparkwright.cli.startup import collect_seldom
from sparkwright.errors import SparkwrightError, printable
from sparkwright.units import System

__all__ = ["CUT_OFF", "GOOD", "REFUSED", "SEE", "STOPPED", "commands", "main"]


IN_ORDER_OF_WORK = (
    ("Ask and plan", ("new", "check", "point", "plan", "axes", "opinion", "whatif", "trims")),
    ("Hold a map against it", ("mine", "compare")),
    (
        "Start and prove",
        ("settings", "export", "sheets", "deadcentre", "tape", "ring", "start", "light", "card"),
    ),
    ("Measure and learn", ("dyno", "next", "learn", "pulls", "drive")),
    ("Find a fault", ("desk",)),
    ("Many jobs and engines", ("serve", "shop", "fleet", "schema")),
)
"""The commands in the order in which a job needs them, under what they are for."""


class Commands(click.Group):
    """Commands that are listed in the order of the work, each with its whole first sentence."""

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List them part by part; a narrow terminal wraps a line, and none is cut.

        Parameters
        ----------
        ctx : click.Context
            Of the call.
        formatter : click.HelpFormatter
            Writes the help.
        """
        for part, names in IN_ORDER_OF_WORK:
            rows = [(name, self.commands[name].get_short_help_str(limit=1000)) for name in names]
            with formatter.section(part):
                formatter.write_dl(rows, col_max=12)


@click.group(
    cls=Commands, context_settings={"help_option_names": ["-h", "--help"]}, invoke_without_command=True
)
@click.option(
    "--units",
    type=click.Choice(get_args(System)),
    envvar="SPARKWRIGHT_UNITS",
    default="metric",
    show_default=True,
    help="What results, sheets and pictures are told in; SPARKWRIGHT_UNITS says it for good.",
)
@click.version_option(__version__, message="sparkwright %(version)s")
@click.pass_context
def commands(context: click.Context, units: System) -> int:
    """Plan and prove the ignition timing of engines that fire through a distributor.

    It is advice for a person at the engine: prove every value on the engine, with the emission law and
    the licences of your place. Start with `sparkwright new my-engine.toml`.
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help())
    return GOOD


for command in (
    *job_commands.COMMANDS,
    *start_commands.COMMANDS,
    *settings_commands.COMMANDS,
    *mine_command.COMMANDS,
    *axes_command.COMMANDS,
    *light_commands.COMMANDS,
    *learn_commands.COMMANDS,
    *fleet_commands.COMMANDS,
    *drive_commands.COMMANDS,
    *desk_commands.COMMANDS,
    *pull_commands.COMMANDS,
    *sheet_commands.COMMANDS,
    *serve_command.COMMANDS,
    *shop_commands.COMMANDS,
):
    commands.add_command(command)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and give its exit code; what can't be used ends in a sentence, never in a traceback.

    Parameters
    ----------
    arguments : sequence of str, optional
        Words behind the program's name; None for those that it was started with.
    """
    collect_seldom()
    for stream in (sys.stdout, sys.stderr):
        # A terminal that can't show a letter of a customer's name gets its escape, not a crash.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    try:
        code = commands.main(
            args=None if arguments is None else list(arguments),
            prog_name="sparkwright",
            standalone_mode=False,
        )
    except SparkwrightError as refusal:
        return _refused([refusal.on_this_machine])
    except click.ClickException as refusal:
        return _refused([_usage(refusal)])
    except click.Abort:
        return STOPPED
    except (BrokenPipeError, SystemExit):
        # Whoever read our output has enough; click asks to leave then, and nothing else here does.
        return CUT_OFF
    except OSError as problem:
        return _refused(
            [f"{problem.filename}: can't be read or written ({(problem.strerror or '').lower()})"]
        )
    return code if isinstance(code, int) else GOOD


def _refused(sentences: Sequence[str]) -> int:
    for sentence in sentences:
        for line in sentence.splitlines():
            click.echo(printable(line), err=True)
    return REFUSED


def _usage(refusal: click.ClickException) -> str:
    """Say what was wrong with the command in a sentence, and where to read more."""
    context = refusal.ctx if isinstance(refusal, click.UsageError) else None
    command = context.command_path if context is not None else "sparkwright"
    if isinstance(refusal, click.MissingParameter):
        name = refusal.param.make_metavar(context) if refusal.param and context else "something"
        hint = refusal.param.opts[0] if refusal.param and refusal.param.opts[0].startswith("-") else name
        said = f"{hint} must be given"
    elif isinstance(refusal, click.BadParameter):
        name = refusal.param.opts[0] if refusal.param else "a value"
        said = f"{name}: {refusal.message.rstrip('.')}"
    else:
        said = refusal.format_message().rstrip(".")
    return f"{said}; `{command} --help` says how"

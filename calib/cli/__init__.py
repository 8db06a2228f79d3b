"""The commands: read options, call, show. A command's module is imported when it is used."""

from __future__ import annotations

import importlib
import signal
import sys
from collections.abc import Sequence
from itertools import pairwise

import click

from calib import __version__
from calib.cli.streams import cannot_write, finish_streams, prepare_streams, tell
from calib.errors import CalibError, UsageError
from calib.store.text import neutral

INTERRUPTED_EXIT_CODE = 130
OF_THE_GROUP = ("-h", "--help", "--version")


PLACES = HERE, NETWORK = "here", "lan"
"""Where ``--phone`` serves its page: to this machine alone, or to the local network."""

COMMANDS: dict[str, dict[str, str]] = {
    "Try it without a machine": {
        "demo": "The whole job on the simulated bench, unattended.",
        "simulate": "The simulated bench alone, on a port it names.",
    },
    "Connect the logger": {
        "logger-code": "Source for a bare logger board.",
        "ports": "Serial ports, and who has them open.",
        "setup": "A rig file: rate, layout, columns of the logger.",
        "meter": "True the logger's volts against a multimeter.",
        "check": "Every input after a rewire, against the last good one.",
    },
    "Hand controls": {"travel": "Rest, full travel, dead band of a control."},
    "Wheel and display": {
        "wheel": "Pulses a turn, circumference, and the shown speed.",
        "display": "What only the display shows, against the truth.",
    },
    "Tilt sensor": {
        "poses": "True an accelerometer from poses in the hand.",
        "level": "Level zero; --turned tells the floor from the sensor.",
        "signs": "Sign, axis and scale from poses of the machine.",
        "surge": "False pitch of a push fore and aft.",
        "still": "Noise and drift at rest: how long to average.",
        "trust": "May a tilt-based aid be trusted, and if not, why.",
    },
    "Type in and keep": {
        "sheet": "What to type in; --verify: did the controller take it?",
        "report": "One HTML file of everything, to print and to keep.",
    },
    "Any time": {
        "evening": "The open steps one after the other.",
        "history": "What was measured when, and the drift since.",
        "status": "What is done or stale, and the next command.",
        "watch": "Every channel live, for hours; one in large figures.",
        "record": "Capture for a time, or until Ctrl-C.",
        "explain": "The pages for the garage, without a network.",
        "schema": "The JSON Schema of a document, for scripts.",
    },
}
"""By the part of the evening in which they are used, in the order of work: each command with its
line of help. It stands as ``command`` in the module of its name."""

_NAMES = [name for part in COMMANDS.values() for name in part]


class OrderOfWork(click.Group):
    """A group that knows its commands by name and imports one only when it is used."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 (click's signature)
        """Every command, in the order of work."""
        return _NAMES

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Import the one command that is asked for."""
        if cmd_name not in _NAMES:
            return None
        module = importlib.import_module(f"{__name__}.{cmd_name.replace('-', '_')}")
        found: click.Command = module.command
        return found

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that is meant; a slip of the keys is told with the nearest name.

        Raises:
            UsageError: There is no such command.
        """
        name = args[0]
        if name not in _NAMES and not name.startswith("-"):
            from difflib import get_close_matches

            near = get_close_matches(name, _NAMES, n=1)
            hint = f"Did you mean 'calib {near[0]}'?" if near else "See 'calib --help'."
            raise UsageError(f"There is no command {neutral(name)!r}.", hint)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """List the commands under the parts of the work, without importing them."""
        for title, part in COMMANDS.items():
            with formatter.section(title):
                formatter.write_dl([*part.items()])


def _tell_version(context: click.Context, _option: click.Parameter, asked: bool) -> None:
    """What a report of trouble needs, in one line."""
    if asked:
        import platform

        python, system = platform.python_version(), platform.platform()
        click.echo(f"calib {__version__}, Python {python}, {system}")
        context.exit()


@click.group(
    cls=OrderOfWork,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
    epilog="calib only listens; it never writes to a controller. The controller maker's manual, "
    "local codes and licensed practice come first.",
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_tell_version,
    help="Version, Python and system, for reports of trouble.",
)
@click.pass_context
def cli(ctx: click.Context) -> None:
    """Find out what hand controls and the tilt sensor really send, and what to type in.

    The order of work: connect the logger, true it, check the wires, measure the hand controls,
    then the tilt sensor, then type in and verify. COMMAND --help tells more of each.

    Without a command: what is done, missing or stale for this rig, and the next command.
    """
    if ctx.invoked_subcommand is None:
        from calib.cli.status import command as status

        ctx.exit(status.main([], prog_name="calib status", standalone_mode=False))


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line: one place turns every error into one line and an exit code.

    Args:
        arguments: What follows the program's name; from the shell when None.
    """
    prepare_streams()
    given = list(sys.argv[1:] if arguments is None else arguments)
    if given and given[0].startswith("-") and given[0] not in OF_THE_GROUP:
        given.insert(0, "status")  # calib alone takes the options that status takes
    try:
        code = _run(_with_places(given))
    except SystemExit as ended:  # click ends so, with 1, when the reader of a pipe has gone
        code = INTERRUPTED_EXIT_CODE if ended.code else 0
    except BrokenPipeError:
        code = INTERRUPTED_EXIT_CODE
    except OSError as error:
        code = cannot_write(error)
    sys.exit(finish_streams(code if isinstance(code, int) else 0))


def _with_places(given: list[str]) -> list[str]:
    """The words, each ``--phone`` with its place: what comes after it may be a channel."""
    return [
        f"--phone={HERE}" if word == "--phone" and after not in PLACES else word
        for word, after in pairwise([*given, ""])
    ]


def _run(given: list[str]) -> object:
    """Run one command, its errors told; the exit code, or what the command returned."""
    try:
        _stop_as_ctrl_c()
        return cli.main(given, prog_name="calib", standalone_mode=False)
    except CalibError as error:
        return _tell(error, as_json="--json" in given)
    except click.ClickException as error:
        name = f"{given[0]} " if given and given[0] in _NAMES else ""
        hint = f"See 'calib {name}--help'."
        return _tell(UsageError(error.format_message(), hint), as_json="--json" in given)
    except (click.Abort, KeyboardInterrupt):
        tell("Stopped.")
        return INTERRUPTED_EXIT_CODE


def _stop_as_ctrl_c() -> None:
    """Let a closed terminal and a polite kill stop as Ctrl-C does: captures closed, all restored.

    What is told to be ignored, as by nohup, stays ignored.
    """
    for name in ("SIGTERM", "SIGHUP", "SIGBREAK"):
        number = getattr(signal, name, None)  # not every system has both
        if number is not None and signal.getsignal(number) is signal.SIG_DFL:
            signal.signal(number, signal.default_int_handler)


def _tell(error: CalibError, *, as_json: bool) -> int:
    """One line on stderr, or one document on stdout; the exit code."""
    what, hint, code = error.what, error.hint, error.exit_code
    capture = None if error.capture is None else str(error.capture)
    if as_json:
        from calib.cli.flow import print_document
        from calib.store.documents.finding import ErrorDocument

        print_document(ErrorDocument(what=what, hint=hint, exit_code=code, capture=capture))
    else:
        kept = "" if capture is None or capture in what else f" (kept: {capture})"
        tell(f"calib: {what} {hint}{kept}")
    return code

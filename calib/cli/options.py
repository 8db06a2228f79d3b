"""How an option is stated, and the options that commands share.

Options:
    --rig: The rig file; or set CALIB_RIG.
    --port: Any pyserial URL; else the rig file's.
    --from: Judge a capture or text log instead of listening.
    --rate-hz: Samples a second, for lines without a clock.
    --out: Folder for captures and records; else beside the rig file.
    --json: One JSON document on stdout, nothing else.
    --yes: Ask nothing but the isolation of a live machine.
    --isolated: State, for scripts, that the drive is isolated.
    --plain: One line an event, no page that is drawn anew; or set CALIB_PLAIN=1.
    --phone: The live page in a browser: here, or with 'lan' on the network. It steers nothing.
    --speak: Say aloud what to do, by a speech program that is here.
    --meter-pct: The meter's accuracy: per cent of reading.
    --meter-digits: The meter's accuracy: last digits.
    --meter-step-V: Volts of the meter's last digit.
    --condition: Lights on, cold, after washing ...
    --shown-step-deg: Step of the controller's display.
    --wheelbase-mm: Else the rig file's.
"""

from __future__ import annotations

import functools
import inspect
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final, Protocol, get_type_hints

import click

from calib.cli import HERE, PLACES
from calib.errors import UsageError
from calib.store.plausible import WHEELBASE_MM, Usual, number_at_prompt

if TYPE_CHECKING:
    from calib.controls.meter import MeterSpec
    from calib.store.asked import AskingRig

    Kind = click.ParamType[Any] | Usual | tuple[str, ...]

Whole: Final = click.IntRange
Command = Callable[..., Any]

DEFAULT_RIG: Final = Path("rig.toml")

LIVE: Final = ("isolated", "plain", "phone", "speak")
"""Shared options of whatever shows a live page."""

FILE: Final = click.Path(path_type=Path)
NEW_FILE: Final = click.Path(path_type=Path, dir_okay=False)
FOLDER: Final = click.Path(path_type=Path, file_okay=False)

ASSUMED: Final = (0.5, 2.0, 0.01)
"""Own choice: a plain hand-held multimeter on its 20 V range, as per cent, digits and step in V."""


class Quantity(click.FloatRange):
    """The type of every option that takes a number: finite, and in a range that the trade knows.

    Anything else ends with exit code 2 and says the range.
    """

    def __init__(self, usual: Usual) -> None:
        """Take the numbers of a range."""
        super().__init__(usual.low, usual.high)
        self.usual = usual

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """The number that was typed."""
        try:
            return number_at_prompt(str(value), self.usual)
        except ValueError as error:
            self.fail(f"{error}.", param, ctx)


class Adds(Protocol):
    """Adds an option or an argument to a function; ``name`` is the parameter it arrives in."""

    def __call__(self, command: Command, name: str = "", *, is_flag: bool = False) -> Command:
        """The function, with it."""


def option(words: str = "", kind: Kind | None = None, **more: Any) -> Adds:
    """An option: stated at its parameter; above the function where it is one of ``**given``.

    Args:
        words: What follows it in the help, ``TEXT``; before that what is typed, where that is not
            the parameter's name: ``--for S``.
        kind: What it takes: a figure of a usual range, one of some words, a ``Whole`` number, a
            file; text when None. A parameter that is a bool takes nothing.
        more: What else ``click.option`` takes; a default is shown.
    """
    typed, _, value = words.partition(" ") if words.startswith("--") else ("", "", words)
    more.setdefault("show_default", more.get("default") is not None)
    if isinstance(kind, Usual):
        kind = Quantity(kind)
    elif isinstance(kind, tuple):
        kind = click.Choice(kind)
    more["type"] = kind

    def add(command: Command, name: str = "", *, is_flag: bool = False) -> Command:
        said = typed or f"--{name.replace('_', '-')}"
        arrives = name or typed.removeprefix("--").replace("-", "_")
        if is_flag:
            more["is_flag"] = True
        return click.option(said, arrives, metavar=value or None, **more)(command)

    return add


def argument(**more: Any) -> Adds:
    """An argument, by the name of its parameter; ``more`` is what ``click.argument`` takes."""

    def add(command: Command, name: str = "", *, is_flag: bool = False) -> Command:  # noqa: ARG001
        return click.argument(name, **more)(command)

    return add


def channel_names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:  # noqa: ARG001 (click's signature)
    """What Tab offers: channels of the rig file that is named, or here; none where it is not."""
    import tomllib

    path = ctx.params.get("rig_path") or DEFAULT_RIG
    try:
        tree = tomllib.loads(Path(path).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
        return []
    channels = tree.get("channels", {})
    names = channels if isinstance(channels, dict) else {}
    return [name for name in names if name.startswith(incomplete)]


ChannelName = Annotated[str, argument(shell_complete=channel_names)]
ChannelIfAny = Annotated[str | None, argument(required=False, shell_complete=channel_names)]
"""The channel that a command is about; Tab offers those of the rig file."""

RigFile = Annotated[Path, option("--rig FILE", kind=FILE, default=DEFAULT_RIG, envvar="CALIB_RIG")]
Phone = Annotated[str | None, option("[lan]", kind=PLACES, is_flag=False, flag_value=HERE)]
AsJson = Annotated[bool, option("--json")]
Condition = Annotated[str | None, option("TEXT")]
ShownStep = Annotated[float, option("A", kind=Usual(0.001, 5.0, "degrees"), default=0.1)]
Wheelbase = Annotated[float | None, option("N", kind=WHEELBASE_MM)]


class Meter:
    """A multimeter: how its accuracy is stated, and what that comes to."""

    Pct = Annotated[float | None, option("P", kind=Usual(0.0, 10.0, "per cent"))]
    Digits = Annotated[float | None, option("D", kind=Usual(0.0, 100.0, "digits"))]
    Step = Annotated[float | None, option("S", kind=Usual(1e-6, 1.0, "V"))]

    @staticmethod
    def accuracy(*stated: float | None) -> tuple[MeterSpec, bool]:
        """That of per cent, digits and step as stated, and whether any of it was assumed."""
        from calib.controls.meter import MeterSpec

        assumed = zip(stated, ASSUMED, strict=True)
        found = MeterSpec(*(usual if each is None else each for each, usual in assumed))
        return found, None in stated


def go_together(hint: str, **given: object) -> None:
    """Refuse one of two options that say nothing alone.

    Args:
        hint: What to do.
        given: Both by name, None where one was not given.

    Raises:
        UsageError: One was given, and the other was not.
    """
    if len({value is None for value in given.values()}) > 1:
        names = " and ".join(f"--{name.replace('_', '-')}" for name in given)
        raise UsageError(f"{names} go together.", hint)


@dataclass(frozen=True, slots=True)
class Shared:
    """The shared options as they are stated and given, in the order of the help.

    Attributes:
        rig_path: The rig file.
        port: A port that takes the place of the rig file's.
        from_file: A capture or text log to judge instead of listening.
        rate_hz: Samples a second, where the lines carry no clock.
        out: Folder for captures and records; beside the rig file when None.
        as_json: One JSON document on stdout, nothing else there.
        yes: Ask no questions but the isolation of a live machine.
        isolated: The isolation is stated.
        plain: One line an event in place of a live page.
        phone: Whom the live page is served to: "here" or "lan"; nobody when None.
        speak: Say aloud what the bell rings for.
    """

    rig_path: RigFile
    port: Annotated[str | None, option("URL")] = None
    from_file: Annotated[Path | None, option("--from FILE", kind=FILE)] = None
    rate_hz: Annotated[float | None, option("N", kind=Usual(0.001, 1e6, "Hz"))] = None
    out: Annotated[Path | None, option("DIR", kind=FOLDER)] = None
    as_json: AsJson = False
    yes: Annotated[bool, option()] = False
    isolated: Annotated[bool, option()] = False
    plain: Annotated[bool, option(envvar="CALIB_PLAIN")] = False
    phone: Phone = None
    speak: Annotated[bool, option()] = False

    @property
    def folder(self) -> Path:
        """Where captures and records go."""
        return self.out if self.out is not None else self.rig_path.parent

    def rig(self, again: AskingRig | None = None) -> AskingRig:
        """The rig file, read; with ``--port`` put in its place. It notes what is asked of it.

        Args:
            again: The same, read before it was written to: what was asked of it stays noted.

        Raises:
            RigError: It cannot be read, or names a limit that nothing reads.
        """
        import msgspec

        from calib.checks.limits import refuse_unknown_limits
        from calib.store.asked import asking
        from calib.store.rig import Time, load_rig

        rig = load_rig(self.rig_path)
        refuse_unknown_limits(rig)
        if self.rate_hz is not None:
            rig = msgspec.structs.replace(rig, time=Time(rate_hz=self.rate_hz))
        if self.port is not None:
            link = msgspec.structs.replace(rig.link, port=self.port)
            rig = msgspec.structs.replace(rig, link=link)
        return asking(rig, None if again is None else again.asked)


_SHARED: Final = get_type_hints(Shared, include_extras=True)
"""How each attribute of ``Shared`` is stated."""


def as_command(example: str = "", also: Sequence[str] = ()) -> Callable[[Command], click.Command]:
    """Make a command of a function; its docstring is its help, its parameters state its options.

    The section ``Options:`` has a line for each option that is the command's own, by what is typed;
    those of options that commands share stand in this module's.

    Args:
        example: What follows the command in the example with which its help ends.
        also: Attributes of ``Shared`` that are options too, before its own.
    """

    def make(command: Command) -> click.Command:
        about, own = _told(command.__doc__)
        words = _told(__doc__)[1] | own
        name = command.__module__.rpartition(".")[2].replace("_", "-")
        epilog = f"Example: calib {name} {example}".rstrip()
        stated = {each: _SHARED[each] for each in _SHARED if each in also}
        stated |= get_type_hints(command, include_extras=True)
        for each, hint in reversed(stated.items()):
            for adds in getattr(hint, "__metadata__", ()):
                adds(command, each, is_flag=hint.__origin__ is bool)
        made = click.command(help=about, epilog=epilog)(command)
        for param in made.params:
            if isinstance(param, click.Option):
                param.help = words.get(param.opts[0])
        return made

    return make


def _told(docstring: str | None) -> tuple[str, dict[str, str]]:
    """What a docstring says before its section ``Options:``, and the words of each option in it."""
    about, _, section = inspect.cleandoc(docstring or "").partition("\nOptions:\n")
    lines = re.findall(r"^    (--[\w-]+): (.*(?:\n {8}.*)*)", section, re.MULTILINE)
    return about, {typed: " ".join(words.split()) for typed, words in lines}


def shared(*names: str, example: str = "") -> Callable[[Command], click.Command]:
    """Make a command that has shared options; they arrive as one ``Shared`` named ``shared``.

    Args:
        names: Attributes of ``Shared``; all of them when none is named. ``rig_path`` and ``yes``
            are always there: a script gives them to any command.
        example: What follows the command in the example with which its help ends.
    """
    wanted = names or tuple(_SHARED)
    if "from_file" in wanted:
        wanted = (*wanted, "rate_hz")

    def make(command: Command) -> click.Command:
        @functools.wraps(command)
        def run(**given: Any) -> Any:
            options = Shared(**{key: given.pop(key) for key in list(given) if key in _SHARED})
            if options.phone is None and not options.speak:
                return command(shared=options, **given)
            from calib.cli.audience import gathered

            with gathered(options):
                return command(shared=options, **given)

        return as_command(example, ("rig_path", "yes", *wanted))(run)

    return make

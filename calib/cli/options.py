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
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final, get_type_hints

import click

from calib.cli import HERE, PLACES
from calib.errors import UsageError
from calib.store.plausible import WHEELBASE_MM, Usual, number_at_prompt

if TYPE_CHECKING:
    from calib.store.asked import AskingRig

    Kind = click.ParamType[Any] | Usual | tuple[str, ...] | type[bool]

Whole: Final = click.IntRange
Command = Callable[..., Any]
Adds = Callable[[Command], Command]

DEFAULT_RIG: Final = Path("rig.toml")

LIVE: Final = ("isolated", "plain", "phone", "speak")
"""Shared options of whatever shows a live page."""

FILE: Final = click.Path(path_type=Path)
NEW_FILE: Final = click.Path(path_type=Path, dir_okay=False)
FOLDER: Final = click.Path(path_type=Path, file_okay=False)

METER_PCT: Final = Usual(0.0, 10.0, "per cent")
METER_DIGITS: Final = Usual(0.0, 100.0, "digits")
METER_STEP_V: Final = Usual(1e-6, 1.0, "V")
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


def option(words: str, about: str | None = None, kind: Kind | None = None, **more: Any) -> Adds:
    """An option; it arrives under its own name unless ``name`` says otherwise.

    Args:
        words: As it is typed, and what follows it in the help: ``--condition TEXT``.
        about: Its line of help, where no docstring has it; see ``as_command``.
        kind: What it takes: a figure of a usual range, one of some words, a ``Whole`` number, a
            file; ``bool`` where it takes nothing, and text when None.
        more: What else ``click.option`` takes; a default is shown.
    """
    typed, _, value = words.partition(" ")
    name = more.pop("name", typed.lstrip("-").replace("-", "_"))
    more.setdefault("show_default", more.get("default") is not None)
    if kind is bool:
        more["is_flag"] = True
    elif isinstance(kind, Usual):
        more["type"] = Quantity(kind)
    elif isinstance(kind, tuple):
        more["type"] = click.Choice(kind)
    elif kind is not None:
        more["type"] = kind
    return click.option(typed, name, metavar=value or None, help=about, **more)


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


def channel_argument(*, required: bool = True) -> Adds:
    """The channel that a command is about; Tab offers those of the rig file."""
    return click.argument("channel", required=required, shell_complete=channel_names)


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


json_option: Adds = option("--json", kind=bool, name="as_json")


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

    rig_path: Annotated[
        Path,
        option("--rig FILE", kind=FILE, name="rig_path", default=DEFAULT_RIG, envvar="CALIB_RIG"),
    ]
    port: Annotated[str | None, option("--port URL")] = None
    from_file: Annotated[Path | None, option("--from FILE", kind=FILE, name="from_file")] = None
    rate_hz: Annotated[float | None, option("--rate-hz N", kind=Usual(0.001, 1e6, "Hz"))] = None
    out: Annotated[Path | None, option("--out DIR", kind=FOLDER)] = None
    as_json: Annotated[bool, json_option] = False
    yes: Annotated[bool, option("--yes", kind=bool)] = False
    isolated: Annotated[bool, option("--isolated", kind=bool)] = False
    plain: Annotated[bool, option("--plain", kind=bool, envvar="CALIB_PLAIN")] = False
    phone: Annotated[
        str | None, option("--phone [lan]", kind=PLACES, is_flag=False, flag_value=HERE)
    ] = None
    speak: Annotated[bool, option("--speak", kind=bool)] = False

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


_SHARED: Final[dict[str, Adds]] = {
    name: hint.__metadata__[0] for name, hint in get_type_hints(Shared, include_extras=True).items()
}
"""How each attribute of ``Shared`` is stated."""


def as_command(example: str = "") -> Callable[[Command], click.Command]:
    """Make a command of a function; its docstring is its help.

    The section ``Options:`` has a line for each option that is the command's own, by what is typed;
    those of options that commands share stand in this module's.

    Args:
        example: What follows the command in the example with which its help ends.
    """

    def make(command: Command) -> click.Command:
        about, own = _told(command.__doc__)
        words = _told(__doc__)[1] | own
        name = command.__module__.rpartition(".")[2].replace("_", "-")
        epilog = f"Example: calib {name} {example}".rstrip()
        made = click.command(help=about, epilog=epilog)(command)
        for param in made.params:
            if isinstance(param, click.Option):
                param.help = param.help or words.get(param.opts[0])
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

        wrapped: Command = run
        for name in reversed(_SHARED):
            if name in {"rig_path", "yes", *wanted}:
                wrapped = _SHARED[name](wrapped)
        return as_command(example)(wrapped)

    return make


def meter_accuracy(command: Command) -> Command:
    """Add what states a multimeter's accuracy; it arrives as ``accuracy``.

    That is the accuracy as a ``MeterSpec``, and whether any of it was assumed.
    """

    @option("--meter-pct P", kind=METER_PCT)
    @option("--meter-digits D", kind=METER_DIGITS)
    @option("--meter-step-V S", kind=METER_STEP_V)
    @functools.wraps(command)
    def run(**given: Any) -> Any:
        from calib.controls.meter import MeterSpec

        names = ("meter_pct", "meter_digits", "meter_step_V")
        stated = [given.pop(name) for name in names]
        assumed = zip(stated, ASSUMED, strict=True)
        spec = MeterSpec(*(usual if each is None else each for each, usual in assumed))
        return command(accuracy=(spec, None in stated), **given)

    return run


condition_option: Adds = option("--condition TEXT")

shown_step_option: Adds = option(
    "--shown-step-deg A", kind=Usual(0.001, 5.0, "degrees"), default=0.1
)

wheelbase_option: Adds = option("--wheelbase-mm N", kind=WHEELBASE_MM)

"""The options that commands share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from calib.cli import HERE, PLACES
from calib.cli.quantity import Quantity
from calib.store.plausible import Usual

if TYPE_CHECKING:
    from calib.store.asked import AskingRig

F = TypeVar("F", bound=Callable[..., Any])


DEFAULT_RIG = Path("rig.toml")


@dataclass(frozen=True, slots=True)
class Shared:
    """The shared options as given.

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

    rig_path: Path
    port: str | None = None
    from_file: Path | None = None
    rate_hz: float | None = None
    out: Path | None = None
    as_json: bool = False
    yes: bool = False
    isolated: bool = False
    plain: bool = False
    phone: str | None = None
    speak: bool = False

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


_OPTIONS: dict[str, Callable[[F], F]] = {
    "rig_path": click.option(
        "--rig",
        "rig_path",
        type=click.Path(path_type=Path),
        default=DEFAULT_RIG,
        envvar="CALIB_RIG",
        show_default=True,
        metavar="FILE",
        help="The rig file; or set CALIB_RIG.",
    ),
    "port": click.option("--port", metavar="URL", help="Any pyserial URL; else the rig file's."),
    "from_file": click.option(
        "--from",
        "from_file",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help="Judge a capture or text log instead of listening.",
    ),
    "rate_hz": click.option(
        "--rate-hz",
        "rate_hz",
        type=Quantity(Usual(0.001, 1e6, "Hz")),
        metavar="N",
        help="Samples a second, for lines without a clock.",
    ),
    "out": click.option(
        "--out",
        type=click.Path(path_type=Path, file_okay=False),
        metavar="DIR",
        help="Folder for captures and records; else beside the rig file.",
    ),
    "as_json": click.option(
        "--json", "as_json", is_flag=True, help="One JSON document on stdout, nothing else."
    ),
    "yes": click.option(
        "--yes", is_flag=True, help="Ask nothing but the isolation of a live machine."
    ),
    "isolated": click.option(
        "--isolated", is_flag=True, help="State, for scripts, that the drive is isolated."
    ),
    "plain": click.option(
        "--plain",
        is_flag=True,
        envvar="CALIB_PLAIN",
        help="One line an event, no page that is drawn anew; or set CALIB_PLAIN=1.",
    ),
    "phone": click.option(
        "--phone",
        type=click.Choice(PLACES),
        is_flag=False,
        flag_value=HERE,
        metavar="[lan]",
        help="The live page in a browser: here, or with 'lan' on the network. It steers nothing.",
    ),
    "speak": click.option(
        "--speak", is_flag=True, help="Say aloud what to do, by a speech program that is here."
    ),
}


def shared(*names: str) -> Callable[[F], F]:
    """Add shared options to a command; they arrive as one ``Shared`` named ``shared``.

    Args:
        names: Attributes of ``Shared``; all of them when none is named. ``rig_path`` and ``yes``
            are always there: a script gives them to any command.
    """
    wanted = names or tuple(_OPTIONS)
    if "from_file" in wanted:
        wanted = (*wanted, "rate_hz")

    def add(command: F) -> F:
        import functools

        @functools.wraps(command)
        def run(**given: Any) -> Any:
            options = Shared(**{key: given.pop(key) for key in list(given) if key in _OPTIONS})
            if options.phone is None and not options.speak:
                return command(shared=options, **given)
            from calib.cli.audience import gathered

            with gathered(options):
                return command(shared=options, **given)

        wrapped: Any = run
        for name in reversed(_OPTIONS):
            if name in {"rig_path", "yes", *wanted}:
                wrapped = _OPTIONS[name](wrapped)
        result: F = wrapped
        return result

    return add

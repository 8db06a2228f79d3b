"""``calib setup``: makes a rig file from what the logger sends."""

from __future__ import annotations

import time
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import click

from calib.cli.flow import finish
from calib.cli.options import Shared, choice, figure, option, shared, whole
from calib.errors import UsageError
from calib.store.plausible import Usual

if TYPE_CHECKING:
    from calib.guide.protocols import Person
    from calib.guide.setup.plan import Asked
    from calib.link.detect.layout import Stated
    from calib.link.detect.listening import Listened
    from calib.store.rig import Rig


@click.command("setup")
@shared("port", "from_file", "as_json", "yes", "isolated")
@whole("--baud N", "Its rate; else it is found.", 50, 20_000_000)
@choice("--layout", "How its lines are laid out.", ("delimited", "pairs", "json", "nmea"))
@choice("--checksum", "Whether lines end in *hh.", ("xor", "none"))
@choice(
    "--separator",
    "Between the fields of the delimited layout.",
    ("comma", "semicolon", "tab", "blank"),
)
@choice("--decimal", "The decimal mark.", ("point", "comma"))
@option("--time-column COLUMN", "The logger's clock; 'none' for no clock.")
@choice("--time-unit", "Unit of the clock.", ("s", "ms", "us", "text"))
@whole("--time-wrap N", "Where the clock wraps.", 2, 2**64)
@option(
    "--column CHANNEL=COLUMN",
    "A channel's column, by name or number from 0: throttle=a0. May be given again.",
    name="columns",
    multiple=True,
)
@option("--role CHANNEL=ROLE", "What a channel is.", name="roles", multiple=True)
@option("--unit [CHANNEL=]UNIT", "count, V, mV ...", name="units", multiple=True)
@option("--full-scale [CHANNEL=]N", "Counts at the reference voltage.", multiple=True)
@option(
    "--reference-V [CHANNEL=]V",
    "The converter's reference, at the logger's pin.",
    multiple=True,
)
@option("--divider [CHANNEL=]X", "Volts at the wire over volts at the pin.", multiple=True)
@option(
    "--work PART",
    "A part to be worked, so that what moves tells its column: throttle, regen, brake ...; "
    "'wheel' to turn it, 'tilt' to raise the front.",
    multiple=True,
)
@option("--name TEXT", "The machine's name on pages.")
@option(
    "--set TABLE.KEY=VALUE",
    "Any further key of the rig file, as it is written there.",
    name="settings",
    multiple=True,
)
@figure(
    "--listen S",
    "How long to listen once the rate is known.",
    Usual(0.5, 600.0, "s"),
    name="listen_s",
    default=3.0,
)
def command(shared: Shared, **given: Any) -> int:
    """Make a rig file: find rate, layout, clock and columns of the logger, and write them down.

    It opens only the port that was chosen, and sends nothing. Work the throttle, and the column
    that moves is the throttle. What it could not tell is said, and marked as assumed in the file.
    A second run changes only what changed.
    """
    from functools import partial

    from calib.cli.session import person_at
    from calib.cli.setup_options import asked_for, stated_lines
    from calib.cli.setup_run import Run, wanted_parts
    from calib.cli.status import next_command
    from calib.guide.cautions import LISTEN_CAUTIONS
    from calib.guide.setup.guided import Told
    from calib.guide.setup.making import make_rig
    from calib.guide.setup.plan import look_at
    from calib.link.detect.listening import read_log
    from calib.show.setup import show_setup
    from calib.store.rig import load_rig

    asked, stated = asked_for({**given, "rate_hz": shared.rate_hz}), stated_lines(given)
    rig = load_rig(shared.rig_path) if shared.rig_path.exists() else None
    _refuse_polled(rig)
    if shared.from_file is not None:
        sent = look_at(read_log(shared.from_file, stated), _listed(asked, rig), timed=False)
        told = Told((), (), sent)
        document = make_rig(
            shared.rig_path, rig, told, asked, found=None, port=None, cautions=LISTEN_CAUTIONS
        )
    else:
        with person_at(shared) as person:
            stated_parts = given["work"]
            only = "" if stated_parts or shared.yes else _only_port(shared, rig)
            port = only or _port(shared, rig, person)
            names = wanted_parts(stated_parts, asked, rig, person, yes=shared.yes, only=only)
            listened = _listen(port, rig, person, stated, given)
            sent = look_at(listened.heard, _listed(asked, rig), timed=True)
            run = Run(shared, port, listened.found, asked, person)
            document = run.make(rig, sent, names)
    page = partial(show_setup, then=next_command(shared))
    return finish(document, page, as_json=shared.as_json)


def _refuse_polled(rig: Rig | None) -> None:
    """Leave a rig file alone that declares an instrument to be asked."""
    if rig is not None and rig.link.layout in ("scpi", "modbus"):
        raise UsageError(
            f"{rig.path} declares an instrument that is asked ({rig.link.layout}); setup asks "
            "none.",
            "Mend [link] by hand, or name another file with --rig.",
        )


def _listed(asked: Asked, rig: Rig | None) -> tuple[str, ...]:
    """Names of columns that were stated, or that the rig file lists."""
    stated = asked.keys.get(("link",), {}).get("columns")
    if isinstance(stated, tuple):
        return tuple(map(str, stated))
    return () if rig is None else rig.link.columns


def _only_port(shared: Shared, rig: Rig | None) -> str:
    """The one port that there is, where none was chosen; the question after it names it."""
    from calib.link.ports import known_ports

    if shared.port or (rig is not None and rig.link.port):
        return ""
    ports = known_ports()
    return ports[0].path if len(ports) == 1 and not ports[0].users else ""


def _port(shared: Shared, rig: Rig | None, person: Person) -> str:
    """The port that was chosen: by option, by the rig file, or by the person.

    Raises:
        UsageError: There is none, or nobody may be asked.
    """
    from calib.guide.asking import ask_until
    from calib.link.ports import known_ports

    chosen = shared.port or (rig.link.port if rig is not None else "")
    if chosen:
        return chosen
    ports = known_ports()
    listed = "; ".join(f"{port.path} ({port.description})" for port in ports) or "none"
    if shared.yes or not ports:
        raise UsageError(
            f"No port is chosen. There are: {listed}.", "Choose one with --port; none was opened."
        )
    for number, port in enumerate(ports, 1):
        about = ", ".join(part for part in (port.description, port.maker, *port.users) if part)
        click.echo(f"  {number}  {port.path}  {about}", err=True)
    numbered = {str(number): port.path for number, port in enumerate(ports, 1)}

    def read(answer: str) -> str | None:
        """One of those by its number; any other name, but no other number."""
        typed = answer.strip()
        return numbered.get(typed) or (None if typed.isdigit() else typed or None)

    return ask_until(
        person,
        "Which is the logger? Its number or its name; no other is opened",
        read,
        f"A number from 1 to {len(ports)}, or a name.",
    )


def _listen(
    port: str, rig: Rig | None, person: Person, stated: Stated, given: Mapping[str, Any]
) -> Listened:
    """Listen to the port: the rate that was stated, else the file's, then the usual ones."""
    from calib.guide.protocols import Live, Step
    from calib.link.detect.listening import listen_to
    from calib.link.detect.rate import RATES

    first = () if rig is None else (rig.link.baud,)
    rates = (given["baud"],) if given["baud"] else tuple(dict.fromkeys((*first, *RATES)))
    return listen_to(
        port,
        rates,
        stated,
        listen_s=given["listen_s"],
        clock=time.monotonic,
        tell=lambda baud: person.show(Live(Step("listen", f"{port} at {baud} baud"))),
    )

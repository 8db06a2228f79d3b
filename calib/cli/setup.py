"""``calib setup``: makes a rig file from what the logger sends."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from calib.cli.flow import finish
from calib.cli.options import Shared, Whole, option, shared
from calib.errors import UsageError
from calib.store.plausible import Usual
from calib.store.text import neutral

if TYPE_CHECKING:
    from calib.guide.setup.draft import Value
    from calib.guide.setup.plan import Asked
    from calib.store.rig_writing import TableName

_EXAMPLES = {"full_scale": "1024", "reference_V": "4.97", "divider": "2"}
"""What takes a number, for one channel or for all, with one that makes sense."""


@shared("port", "from_file", "as_json", "yes", "isolated", example="--port /dev/ttyACM0")
@option("--baud N", kind=Whole(50, 20_000_000))
@option("--layout", kind=("delimited", "pairs", "json", "nmea"))
@option("--checksum", kind=("xor", "none"))
@option("--separator", kind=("comma", "semicolon", "tab", "blank"))
@option("--decimal", kind=("point", "comma"))
@option("--time-column COLUMN")
@option("--time-unit", kind=("s", "ms", "us", "text"))
@option("--time-wrap N", kind=Whole(2, 2**64))
@option("--column CHANNEL=COLUMN", multiple=True)
@option("--role CHANNEL=ROLE", multiple=True)
@option("--unit [CHANNEL=]UNIT", multiple=True)
@option("--full-scale [CHANNEL=]N", multiple=True)
@option("--reference-V [CHANNEL=]V", multiple=True)
@option("--divider [CHANNEL=]X", multiple=True)
@option("--work PART", multiple=True)
@option("--name TEXT")
@option("--set TABLE.KEY=VALUE", multiple=True)
@option("--listen S", kind=Usual(0.5, 600.0, "s"), default=3.0)
def command(shared: Shared, **given: Any) -> int:
    """Make a rig file: find rate, layout, clock and columns of the logger, and write them down.

    It opens only the port that was chosen, and sends nothing. Work the throttle, and the column
    that moves is the throttle. What it could not tell is said, and marked as assumed in the file.
    A second run changes only what changed.

    Options:
        --baud: Its rate; else it is found.
        --layout: How its lines are laid out.
        --checksum: Whether lines end in *hh.
        --separator: Between the fields of the delimited layout.
        --decimal: The decimal mark.
        --time-column: The logger's clock; 'none' for no clock.
        --time-unit: Unit of the clock.
        --time-wrap: Where the clock wraps.
        --column: A channel's column, by name or number from 0: throttle=a0. May be given again.
        --role: What a channel is.
        --unit: count, V, mV ...
        --full-scale: Counts at the reference voltage.
        --reference-V: The converter's reference, at the logger's pin.
        --divider: Volts at the wire over volts at the pin.
        --work: A part to be worked, so that what moves tells its column: throttle, regen, brake
            ...; 'wheel' to turn it, 'tilt' to raise the front.
        --name: The machine's name on pages.
        --set: Any further key of the rig file, as it is written there.
        --listen: How long to listen once the rate is known.
    """
    from functools import partial

    from calib.cli.session import person_at
    from calib.cli.setup_run import listed, live_setup
    from calib.cli.status import next_command
    from calib.guide.cautions import LISTEN_CAUTIONS
    from calib.guide.setup.guided import Told
    from calib.guide.setup.making import make_rig
    from calib.guide.setup.plan import look_at
    from calib.link.detect.layout import Stated, read_log
    from calib.show.setup import show_setup
    from calib.store.rig import load_rig

    asked = asked_for({**given, "rate_hz": shared.rate_hz})
    stated = Stated(given["layout"], given["checksum"], given["separator"], given["decimal"])
    rig = load_rig(shared.rig_path) if shared.rig_path.exists() else None
    if rig is not None and rig.link.layout in ("scpi", "modbus"):
        raise UsageError.of("setup-of-instrument", path=rig.path, layout=rig.link.layout)
    if shared.from_file is None:
        with person_at(shared) as person:
            document = live_setup(shared, rig, asked, stated, person, given)
    else:
        sent = look_at(read_log(shared.from_file, stated), listed(asked, rig))
        told = Told((), (), sent)
        document = make_rig(shared.rig_path, rig, told, asked, LISTEN_CAUTIONS)
    page = partial(show_setup, then=next_command(shared))
    return finish(document, page, as_json=shared.as_json)


def asked_for(given: Mapping[str, Any]) -> Asked:
    """What the person said of columns and channels.

    Raises:
        UsageError: An option cannot be read.
    """
    from calib.guide.setup.plan import Asked

    every: dict[str, Value] = {}
    keys: dict[TableName, dict[str, Value]] = defaultdict(dict)
    columns = dict(_pair("--column", text) for text in given["column"])
    for channel, role in (_pair("--role", text) for text in given["role"]):
        keys["channels", channel]["role"] = role
    for key in ("unit", *_EXAMPLES):
        for text in given[key]:
            channel, equals, value = (part.strip() for part in text.rpartition("="))
            table = keys["channels", channel] if equals else every
            table[key] = value if key == "unit" else _number(key, value)
    if given["name"] is not None:
        keys[("rig",)]["name"] = given["name"]
    for text in given["set"]:
        path, key, value = _setting(text)
        keys[path][key] = value
    return Asked(
        columns=columns,
        keys=dict(keys),
        every=every,
        rate_stated=given["baud"] is not None,
        time_column=given["time_column"],
        time_unit=given["time_unit"],
        time_wrap=given["time_wrap"],
        rate_hz=given.get("rate_hz"),
    )


def _pair(typed: str, text: str) -> tuple[str, str]:
    """A channel and what is said of it."""
    channel, equals, value = text.partition("=")
    if not equals or not channel.strip() or not value.strip():
        example = "control" if typed == "--role" else "a0"
        raise UsageError.of(
            "not-channel-and-value", typed=typed, text=neutral(text), example=example
        )
    return channel.strip(), value.strip()


def _number(key: str, text: str) -> int | float:
    """A number above nought; counts are whole.

    Raises:
        UsageError: It is none.
    """
    typed = f"--{key.replace('_', '-')}"
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        number = 0.0
    if not 0.0 < number < 1e12:
        raise UsageError.of("not-positive", typed=typed, text=neutral(text), example=_EXAMPLES[key])
    return int(number) if key == "full_scale" and number.is_integer() else number


def _setting(text: str) -> tuple[TableName, str, Value]:
    """Table, key and value of a ``--set``."""
    import tomllib

    path, _, written = text.partition("=")
    names: Sequence[str] = [part.strip() for part in path.split(".")]
    if len(names) < 2 or not all(names):
        raise UsageError.of("not-table-and-key", text=neutral(text))
    try:
        value = tomllib.loads(f"value = {written.strip()}")["value"]
    except tomllib.TOMLDecodeError:
        value = written.strip()  # a word without its quotes
    if isinstance(value, list):
        value = tuple(value)
    return tuple(names[:-1]), names[-1], value

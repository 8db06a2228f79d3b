"""The rig file: what each column of the logger is, and what was learned about its scale."""

from __future__ import annotations

import hashlib
import math
import re
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar, get_args, get_type_hints

import msgspec
from msgspec import Meta

from calib.errors import RigError, UsageError
from calib.store.acts import Acts, acts_by_name
from calib.store.files import read_whole, refused_as
from calib.store.text import neutral

MOST_RIG_BYTES = 1_000_000
"""Own choice: a rig file of a hundred channels has some tens of thousand bytes."""

Volts = Annotated[float, Meta(ge=-200, le=200)]
Three = tuple[float, float, float]
Role = Literal[
    "control", "pitch", "roll", "accel-x", "accel-y", "accel-z", "gyro-x", "gyro-y", "gyro-z",
    "supply", "temperature", "ambient", "switch", "wheel", "other",
]  # fmt: skip
Unit = Literal[
    "count", "percent", "share", "V", "mV", "deg", "rad", "g", "mg", "m/s2", "deg/s", "rad/s",
    "degC", "degF", "level", "pulses", "raw",
]  # fmt: skip
TILT_ROLES: tuple[Role, ...] = ("pitch", "roll", "accel-x", "accel-y", "accel-z")

WHEEL_UNITS = ("level", "pulses")
PitchConvention = Literal["nose-up-positive", "nose-down-positive"]
ASSUMED = "assumed"
"""How the comment on a value begins that nobody measured or stated; the value follows."""
UNTRUED_PCT = 7.0
"""How far volts that were never held against a meter may be off, where the rig file states no
tolerance of the reference. Own choice: the far end of the 2 to 7 % that a USB supply taken for
5.000 V makes of all volts; 4.83 V was seen at a "5 V" pin. The one figure for it everywhere."""


class _Table(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A table of the rig file: an unknown key is an error, since it may be a typing slip."""


class RigNotes(_Table, frozen=True, kw_only=True):
    """``[rig]``: the machine's name and the steps in which its controller takes values.

    Attributes:
        name: Of the machine.
        setting_step_V: Step of a voltage.
        setting_step_pct: Step of a share of full scale, per cent; None where it takes voltages.
    """

    name: str = "my rig"
    setting_step_V: Annotated[float, Meta(ge=1e-4, le=0.5)] = 0.01
    setting_step_pct: Annotated[float, Meta(ge=1e-3, le=10.0)] | None = None


class Link(_Table, frozen=True, kw_only=True):
    """``[link]``: where the logger is and how its bytes are laid out.

    Attributes:
        port: Any pyserial URL.
        baud: Bits per second.
        usb: The logger behind the port, as the system knows it: vendor, product, serial number.
        layout: How lines are read.
        separator: Between fields of the delimited layout; None to find it.
        header: Whether a header line is sent, noted by setup; the decoder finds it by itself.
        decimal: ``point`` or ``comma``; None to find it.
        checksum: ``xor`` for lines that end in ``*hh``.
        columns: Names of all columns in order, for a logger whose header is not seen.
        queries: What a declared polled instrument is asked, one query a column.
        poll_s: Seconds between two rounds of queries.
        unit_id: Modbus unit identifier.
    """

    port: str = ""
    baud: Annotated[int, Meta(ge=50, le=20_000_000)] = 115200
    usb: str | None = None
    layout: Literal["delimited", "pairs", "json", "nmea", "scpi", "modbus"] = "delimited"
    separator: Literal["comma", "semicolon", "tab", "blank"] | None = None
    header: bool | None = None
    decimal: Literal["point", "comma"] | None = None
    checksum: Literal["xor"] | None = None
    columns: tuple[str, ...] = ()
    queries: tuple[str, ...] = ()
    poll_s: Annotated[float, Meta(ge=1e-3, le=3600)] = 0.1
    unit_id: int = 1


class Time(_Table, frozen=True, kw_only=True):
    """``[time]``: the device's clock; without one the arrival time serves on a live line.

    Attributes:
        column: Name or 0-based number of the clock's column.
        unit: Of its counts; ``text`` for a wall clock in words.
        wrap: Counts at which it starts again; None if it never does.
        rate_hz: In place of a column: samples come evenly at this rate.
    """

    column: str | int | None = None
    unit: Literal["s", "ms", "us", "text"] = "ms"
    wrap: Annotated[float, Meta(gt=0)] | None = None
    rate_hz: Annotated[float, Meta(gt=0, le=1e6)] | None = None

    @property
    def seconds_per_count(self) -> float:
        """Length of one count of the time column, in seconds; a wall clock is read as seconds."""
        return {"s": 1.0, "ms": 1e-3, "us": 1e-6, "text": 1.0}[self.unit]


class Scale(_Table, frozen=True, kw_only=True):
    """``[channels.X.scale]``: the logger's scale as trued against a multimeter.

    True volts are ``gain`` times the volts at the wire plus ``offset_V``; ``cov`` is the
    covariance of the two. Where the converter bows, the rows of ``curve`` take their place.

    Attributes:
        gain: True volts a volt at the wire.
        offset_V: True volts where the wire reads 0.
        u_gain: Standard uncertainty of the gain.
        u_offset_V: Standard uncertainty of the offset.
        cov: Covariance of gain and offset, V.
        date: When it was trued.
        from_V: Lowest true voltage that was held against the meter; None where nobody noted it.
        to_V: Highest such voltage.
        curve: Rows of volts at the wire, true volts and their standard uncertainty, rising;
            straight in between. Each uncertainty holds the meter's own scale, which all rows
            share, so between two rows it is at most what lies straight between theirs.
    """

    gain: Annotated[float, Meta(ge=0.1, le=10)]
    offset_V: Annotated[float, Meta(ge=-20, le=20)]
    u_gain: Annotated[float, Meta(ge=0, le=1)]
    u_offset_V: Annotated[float, Meta(ge=0, le=20)]
    cov: float
    date: str
    from_V: float | None = None
    to_V: float | None = None
    curve: tuple[Three, ...] | None = None


class Channel(_Table, frozen=True, kw_only=True):
    """``[channels.X]``: what one column carries; voltages are at the wire unless said.

    Attributes:
        role: What it is on the machine.
        acts: Control: whether it drives or brakes; None where it is not stated.
        column: Header name or 0-based number.
        unit: Unit of the numbers as received.
        full_scale: Counts at ``reference_V``.
        reference_V: The converter's reference, in volts at the logger's pin; for a percent or a
            share the volts of the whole, without which other channels than controls stay shares.
        reference_tolerance_pct: How far the reference may be off, in per cent.
        divider: Volts at the wire over volts at the pin.
        divider_tolerance_pct: Tolerance of the divider's resistors, in per cent.
        source_ohm: Resistance that feeds the pin.
        leak_ohm: Resistance of the logger's input to ground.
        pin_max_V: What the pin stands, in volts.
        second_track: The channel with the other track of a two-track control or wheel sensor.
        supply: The channel to which this one is ratiometric.
        supply_V: What feeds the sensor, in volts, where no channel logs it.
        nonlinearity_lsb: How far the converter bows, in its steps.
        output_range_V: The sensor's published output range, low and high, in volts.
        zero_V: Analog inclinometer: volts at level.
        sensitivity_V_per_deg: Analog inclinometer: volts a degree.
        counts_per_g: Accelerometer in counts: counts for one g.
        zero_count: Accelerometer in counts: counts for zero g.
        range_g: Accelerometer: largest reading that it can give, in g.
        sign: Accelerometer: -1 where it counts the other way along its axis.
        active: Switch: the level at which it is on.
        threshold_V: Switch: volts between off and on.
        ntc_R25_ohm: Thermistor: resistance at 25 degC.
        ntc_beta_K: Thermistor: beta constant.
        pullup_ohm: Thermistor: resistance to ``pullup_V``.
        pullup_V: Thermistor: voltage that feeds the pull-up.
        wrap: Wheel in pulses: counts at which the running count starts again; None to find it.
        current_A: Current in the shared ground while the control is worked, for its resistance.
        scale: The scale as trued by ``calib meter``.
        limits: The user's own limits, by name.
    """

    role: Role
    column: str | int
    unit: Unit
    acts: Acts | None = None
    full_scale: Annotated[float, Meta(ge=2, le=2**32)] | None = None
    reference_V: Annotated[float, Meta(ge=0.2, le=100)] | None = None
    reference_tolerance_pct: Annotated[float, Meta(ge=0, le=25)] | None = None
    divider: Annotated[float, Meta(ge=0.01, le=1000)] = 1.0
    divider_tolerance_pct: Annotated[float, Meta(ge=0, le=25)] | None = None
    source_ohm: Annotated[float, Meta(ge=0, le=1e9)] | None = None
    leak_ohm: Annotated[float, Meta(ge=1, le=1e13)] | None = None
    pin_max_V: Annotated[float, Meta(ge=0.5, le=200)] | None = None
    second_track: str | None = None
    supply: str | None = None
    supply_V: Annotated[float, Meta(ge=0.5, le=100)] | None = None
    nonlinearity_lsb: Annotated[float, Meta(ge=0, le=1000)] | None = None
    output_range_V: tuple[Volts, Volts] | None = None
    zero_V: Annotated[float, Meta(ge=-200, le=200)] | None = None
    sensitivity_V_per_deg: Annotated[float, Meta(ge=-10, le=10)] | None = None
    counts_per_g: Annotated[float, Meta(ge=1e-3, le=1e9)] | None = None
    zero_count: Annotated[float, Meta(ge=-1e10, le=1e10)] | None = None
    range_g: Annotated[float, Meta(ge=0.2, le=1000)] | None = None
    sign: Literal[1, -1] = 1
    active: Literal["low", "high"] | None = None
    threshold_V: Annotated[float, Meta(ge=1e-3, le=200)] | None = None
    ntc_R25_ohm: Annotated[float, Meta(ge=1, le=1e7)] | None = None
    ntc_beta_K: Annotated[float, Meta(ge=500, le=10_000)] | None = None
    pullup_ohm: Annotated[float, Meta(ge=1, le=1e7)] | None = None
    pullup_V: Annotated[float, Meta(ge=0.2, le=100)] | None = None
    wrap: Annotated[float, Meta(ge=2, le=2**53)] | None = None
    current_A: Annotated[float, Meta(ge=1e-3, le=1000)] | None = None
    scale: Scale | None = None
    limits: dict[str, float] = {}

    @property
    def untrued_pct(self) -> float | None:
        """How far its volts may be off, per cent, as long as nobody trued it; None once trued."""
        if self.scale is not None:
            return None
        stated = self.reference_tolerance_pct
        return UNTRUED_PCT if stated is None else stated


class Truing(_Table, frozen=True, kw_only=True):
    """``[tilt.truing]``: an accelerometer's bias (g) and matrix, as found by ``calib poses``.

    True specific force is ``matrix @ (reading - bias)``, in g.

    Attributes:
        bias: Of each axis, g.
        matrix: Scale and cross-axis terms.
        u: Standard uncertainty of the bias, g.
        date: When the poses were taken.
        columns: The columns that were accel-x, -y and -z then, each with its sign (``"-ay"``);
            None where nobody noted them.
    """

    bias: Three
    matrix: tuple[Three, Three, Three]
    u: float
    date: str
    columns: tuple[str, str, str] | None = None


class Tilt(_Table, frozen=True, kw_only=True):
    """``[tilt]``: what the controller expects of a tilt signal, and the machine's geometry.

    Attributes:
        expects: Sign convention of pitch that the controller expects.
        wheelbase_mm: Between the axles.
        latitude_deg: For normal gravity.
        aid_starts_deg: Angle at which the aid begins to act.
        aid_ended_deg: Angle by which it must have taken all power.
        dive_deg: How far the fork dives or the tail squats in riding.
        launch_m_s2: Hardest acceleration when driving off.
        cg_ahead_of_rear_axle_mm: Centre of gravity ahead of the rear axle, rider rearmost.
        cg_height_mm: Its height above the ground, rider rearmost.
        sensor: Who sees the tilt sensor: the logger, the controller alone, or both.
        on_signal_loss: What the controller does when its tilt signal dies, in the person's words.
        mounting: A note of how and where the sensor is mounted.
        truing: The accelerometer's bias and scale.
    """

    expects: PitchConvention | None = None
    wheelbase_mm: Annotated[float, Meta(ge=300, le=3000)] | None = None
    latitude_deg: Annotated[float, Meta(ge=-90, le=90)] | None = None
    aid_starts_deg: Annotated[float, Meta(ge=1, le=45)] | None = None
    aid_ended_deg: Annotated[float, Meta(ge=2, le=80)] | None = None
    dive_deg: Annotated[float, Meta(ge=0, le=20)] | None = None
    launch_m_s2: Annotated[float, Meta(ge=0.2, le=15)] | None = None
    cg_ahead_of_rear_axle_mm: Annotated[float, Meta(ge=50, le=2500)] | None = None
    cg_height_mm: Annotated[float, Meta(ge=150, le=2000)] | None = None
    sensor: Literal["logger", "controller", "both"] = "logger"
    on_signal_loss: str | None = None
    mounting: str | None = None
    truing: Truing | None = None


TABLES = ("rig", "link", "time", "channels", "tilt")
"""The tables of a rig file by their names."""


class Rig(msgspec.Struct, frozen=True, kw_only=True):
    """A whole rig file.

    Attributes:
        path: Where it lies; captures and records go beside it.
        sha256: Of its bytes.
        rig: ``[rig]``.
        link: ``[link]``.
        time: ``[time]``.
        channels: ``[channels.X]`` by name, in the file's order.
        tilt: ``[tilt]``.
        assumed: Keys, by table and name (``channels.throttle.reference_V``), of which the file
            itself says that their value is assumed.
    """

    path: Path
    sha256: str
    rig: RigNotes
    link: Link
    time: Time
    channels: dict[str, Channel]
    tilt: Tilt
    assumed: frozenset[str] = frozenset()

    def channel(self, name: str) -> Channel:
        """One channel by name.

        Raises:
            UsageError: There is no such channel; the hint lists those that there are.
        """
        if name not in self.channels:
            known = ", ".join(self.channels) or "none"
            raise UsageError.of("no-such-channel", path=self.path, name=neutral(name), known=known)
        return self.channels[name]

    @property
    def has_tilt(self) -> bool:
        """Whether the machine has a tilt sensor, be it one that only the controller sees."""
        return bool(self.tilt_channels) or self.tilt.sensor != "logger"

    @property
    def tilt_channels(self) -> dict[str, Channel]:
        """The channels that make the tilt sensor."""
        return self.with_role(*TILT_ROLES)

    def control(self, name: str) -> Channel:
        """One hand control by name.

        Raises:
            UsageError: There is no such channel, or it is not a control.
        """
        channel = self.channel(name)
        if channel.role != "control":
            raise self._of_another(name, "control", "has a travel", self.with_role("control"))
        return channel

    def wheel(self, name: str | None) -> tuple[str, Channel]:
        """A wheel sensor by name, or the only one.

        Raises:
            UsageError: There is no such channel, none or several, or it is no wheel's.
        """
        first = list(self._first_tracks("wheel"))
        if name is None and not first:
            raise UsageError.of("no-wheel", path=self.path)
        if name is None and len(first) > 1:
            names = ", ".join(map(neutral, first))
            raise UsageError.of("many-wheels", path=self.path, count=len(first), names=names)
        found = first[0] if name is None else name
        channel = self.channel(found)
        if channel.role != "wheel":
            raise self._of_another(found, "wheel", "turns", first)
        return found, channel

    def _of_another(self, name: str, role: Role, does: str, there: Iterable[str]) -> UsageError:
        """A channel has not the role that alone does what is asked for."""
        return UsageError(
            f"{self.path}: {neutral(name)!r} has the role {self.channel(name).role!r}, and only a "
            f"{role} {does}.",
            f"{role.capitalize()}s in this rig file: {', '.join(map(neutral, there)) or 'none'}.",
        )

    def acts(self, name: str) -> Acts | None:
        """What a control does: as stated, else as its name plainly says; None where neither."""
        return self.channels[name].acts or acts_by_name(name)

    def acts_assumed(self, name: str) -> bool:
        """Whether what a control does was taken from its name, and not from the file."""
        return self.channels[name].acts is None and acts_by_name(name) is not None

    def with_limit(self, name: str) -> list[Channel]:
        """The channels for which the user gives a limit, whatever they are."""
        return [ch for ch in self.channels.values() if name in ch.limits]

    def with_role(self, *roles: Role) -> dict[str, Channel]:
        """The channels that have one of ``roles``, by name, in the file's order."""
        return {name: ch for name, ch in self.channels.items() if ch.role in roles}

    def worked_controls(self) -> dict[str, Channel]:
        """The hand controls that are worked for themselves: no second track of another one."""
        return self._first_tracks("control")

    def _first_tracks(self, role: Role) -> dict[str, Channel]:
        """The channels of a role without the second tracks of others of it."""
        there = self.with_role(role)
        seconds = {channel.second_track for channel in there.values()}
        return {name: channel for name, channel in there.items() if name not in seconds}


def load_rig(path: Path) -> Rig:
    """Read and check a rig file.

    Args:
        path: The file.

    Raises:
        RigError: It is missing, unreadable, not TOML, or says what cannot be; the text names
            line and key.
    """
    hint = "Make one with 'calib setup', or name another with --rig FILE."
    with refused_as(RigError, f"Rig file {path} cannot be read", hint):
        raw = read_whole(path, MOST_RIG_BYTES)
    return read_rig(path, raw)


def read_rig(path: Path, raw: bytes) -> Rig:
    """Check the content of a rig file.

    Args:
        path: Where it lies or will lie.
        raw: Its bytes.

    Raises:
        RigError: As `load_rig`.
    """
    try:
        text = raw.decode("utf-8")
        tree = tomllib.loads(text)
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise RigError(f"{path}, line {line}: not UTF-8 text.", "Save it as UTF-8.") from error
    except tomllib.TOMLDecodeError as error:
        raise RigError.of("not-toml", path=path, error=neutral(str(error), 160)) from error
    source = _Source(path, text)
    for key in tree:
        if key not in TABLES:
            raise source.problem((key,), f"unknown table {neutral(key)!r}")
    channels = tree.get("channels", {})
    if not isinstance(channels, dict):
        raise source.problem(("channels",), "expected tables [channels.NAME]")
    rig = Rig(
        path=path,
        sha256=hashlib.sha256(raw).hexdigest(),
        rig=source.convert(("rig",), tree.get("rig", {}), RigNotes),
        link=source.convert(("link",), tree.get("link", {}), Link),
        time=source.convert(("time",), tree.get("time", {}), Time),
        channels={
            name: source.convert(("channels", name), table, Channel)
            for name, table in channels.items()
        },
        tilt=source.convert(("tilt",), tree.get("tilt", {}), Tilt),
        assumed=frozenset(source.assumed()),
    )
    if (wrong := next(_contradictions(rig), None)) is not None:
        raise source.problem(*wrong)
    return rig


T = TypeVar("T")


class _Source:
    """The text of a rig file, to name the line of what is wrong in it."""

    def __init__(self, path: Path, text: str) -> None:
        self.path = path
        self.lines = text.splitlines()

    def convert(self, table: tuple[str, ...], value: Any, kind: type[T]) -> T:
        """``value`` as ``kind``, or a RigError that names line and key."""
        try:
            _refuse_endless(value)
            return msgspec.convert(value, kind)
        except msgspec.ValidationError as error:
            what, _, where = str(error).partition(" - at `$")
            keys = re.findall(r"[A-Za-z_][\w]*", where)
            usual = _usual(kind, keys)
            if usual is not None and what.startswith(("Expected `float`", "Expected `int`")):
                what = f"{what}; usual is {usual}"
            if unknown := re.search(r"unknown field `(.+)`", what):
                keys.append(unknown[1])
            if missing := re.search(r"missing required field `(.+)`", what):
                what = f"the key {missing[1]!r} is missing"
            raise self.problem((*table, *keys), what[:1].lower() + what[1:]) from error

    def problem(self, keys: tuple[str, ...], text: str) -> RigError:
        """A RigError about the key at ``keys``."""
        return RigError(
            f"{self.path}, line {self.line_of(keys)}, {neutral('.'.join(keys))}: "
            f"{neutral(text, 160)}.",
            "Mend the rig file; 'calib setup' writes a fresh one with comments.",
        )

    def line_of(self, keys: tuple[str, ...]) -> int:
        """1-based line on which the longest findable part of ``keys`` stands."""
        best = 1
        for number, names, line in self._named_lines():
            if names and keys[: len(names)] == names:
                if "=" in line.partition("[")[0]:
                    return number
                best = number
        return best

    def assumed(self) -> Iterator[str]:
        """Keys whose line says that this very value is assumed; one typed over it is not."""
        for _, names, line in self._named_lines():
            found = re.search(rf"=\s*(.+?)\s*#\s*{ASSUMED} (.+?):", line)
            if found and found.group(1).strip("\"'") == found.group(2):
                yield ".".join(names)

    def _named_lines(self) -> Iterator[tuple[int, tuple[str, ...], str]]:
        """Lines that begin a table or set a key: number, names from the top down, text."""
        table: tuple[str, ...] = ()
        for number, line in enumerate(self.lines, 1):
            if header := re.match(r"\s*\[+([^\]]+)\]+", line):
                table = tuple(part.strip().strip("\"'") for part in header[1].split("."))
                yield number, table, line
            elif key := re.match(r"\s*([\w\"'.-]+)\s*=", line):
                yield number, (*table, key[1].strip("\"'")), line


def _refuse_endless(value: Any, at: str = "$") -> None:
    """Refuse what TOML calls a number and nobody can have measured.

    Raises:
        msgspec.ValidationError: A value is infinite or not a number.
    """
    if isinstance(value, float) and not math.isfinite(value):
        raise msgspec.ValidationError(f"expected a finite number, got {value} - at `{at}`")
    if isinstance(value, dict):
        for key, each in value.items():
            _refuse_endless(each, f"{at}.{key}")
    elif isinstance(value, list):
        for each in value:
            _refuse_endless(each, at)


def _usual(kind: Any, keys: Sequence[str]) -> str | None:
    """The range of a key in words; None where it has none."""
    for key in keys:
        hint = get_type_hints(kind, include_extras=True).get(key)
        parts = [hint, *get_args(hint)]
        for part in parts:
            for meta in getattr(part, "__metadata__", ()):
                if meta.ge is not None and meta.le is not None:
                    return f"{meta.ge:g} to {meta.le:g}"
        kind = next((part for part in parts if isinstance(part, type)), kind)
    return None


Wrong = tuple[tuple[str, ...], str]
"""A key by its tables and name, and why what is there cannot be."""


def _contradictions(rig: Rig) -> Iterator[Wrong]:
    """What would damage the logger, or give wrong volts or times without a sign of it."""
    if rig.time.column is not None and rig.time.rate_hz is not None:
        yield ("time", "rate_hz"), "either a column is the clock, or samples come evenly at rate_hz"
    for name, channel in rig.channels.items():
        for keys, text in _of_channel(rig, name, channel):
            yield ("channels", name, *keys), text


def _of_channel(rig: Rig, name: str, channel: Channel) -> Iterator[Wrong]:
    if not name.isprintable() or not name.strip():
        yield (), "a channel needs a plain printable name"
    yield from _of_unit(channel)
    if channel.sign < 0 and not channel.role.startswith("accel-"):
        yield ("sign",), "only an accelerometer's axis has a sign"
    if channel.scale is not None:
        yield from _of_scale(channel.scale)
    if channel.acts is not None and channel.role != "control":
        yield ("acts",), "only a control drives or brakes"
    for key in ("second_track", "supply"):
        other = getattr(channel, key)
        if other is not None and other not in rig.channels:
            yield (key,), f"there is no channel named {other!r}"
    if channel.pin_max_V is not None and channel.role in ("control", "supply"):
        # A hand-control sensor is fed from 5 V unless stated: at its top the pin sees that.
        fed_V = channel.supply_V or 5.0
        at_pin_V = fed_V / channel.divider
        if at_pin_V > channel.pin_max_V + 0.3:
            yield (
                ("pin_max_V",),
                f"a {fed_V:g} V signal over a divider of {channel.divider:g} puts {at_pin_V:.2f} V "
                f"on a pin that stands {channel.pin_max_V:g} V; fit a divider and say so",
            )


def _of_unit(channel: Channel) -> Iterator[Wrong]:
    """Counts and shares whose volts nobody knows, and pulses of anything but a wheel."""
    if (channel.role == "wheel") != (channel.unit in WHEEL_UNITS):
        yield (), "a wheel has the unit 'level' or 'pulses', and nothing else has either"
    if channel.wrap is not None and channel.unit != "pulses":
        yield ("wrap",), "only a running count of pulses wraps"
    counts_volts = channel.unit == "count" and channel.counts_per_g is None
    if counts_volts and (channel.full_scale is None or channel.reference_V is None):
        yield (), "unit 'count' needs full_scale and reference_V"
    shared = channel.unit in ("percent", "share") and channel.role in ("control", "supply")
    if shared and channel.reference_V is None:
        unit, role = channel.unit, channel.role
        yield (), f"unit {unit!r} of a {role} needs reference_V, the volts of the whole"


def _of_scale(scale: Scale) -> Iterator[Wrong]:
    """A truing whose range or curve cannot be."""
    if (scale.from_V is None) != (scale.to_V is None):
        yield ("scale",), "from_V and to_V go together"
    if scale.from_V is not None and scale.to_V is not None and scale.from_V >= scale.to_V:
        yield ("scale", "from_V"), "from_V must lie below to_V"
    if scale.curve is None:
        return
    pairs = list(zip(scale.curve, scale.curve[1:], strict=False))
    rising = all(after[0] > before[0] and after[1] > before[1] for before, after in pairs)
    if not pairs or not rising or any(row[2] < 0.0 for row in scale.curve):
        yield ("scale", "curve"), "expected two rows or more of volts, true volts and u, all rising"

"""The draft of a rig file from what was heard and what the person said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from calib.book import entries
from calib.errors import UsageError
from calib.guide.setup.draft import WHY, Draft, Proposed, Value
from calib.guide.setup.roles import VOLTAGE_ROLES, part_by_header, role_by_name
from calib.link.detect import numbers
from calib.link.detect.clock import ClockColumn, TimeUnit, find_clock
from calib.link.detect.layout import Heard
from calib.link.detect.rate import RateFound
from calib.store.acts import acts_by_name
from calib.store.columns import column_index
from calib.store.conversion import STANDARD_GRAVITY_M_S2
from calib.store.documents.printed import Origin
from calib.store.rig import Channel, Rig, Role
from calib.store.rig_writing import TableName
from calib.store.text import neutral
from calib.wheel.counting import WheelUnit, unit_of

COUNTER_WRAP = 2**32
"""Where a clock of whole milliseconds or microseconds is assumed to wrap: the width of the counter
on common microcontrollers; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What the person said.

    Attributes:
        columns: Column (name or number, as typed) by channel.
        keys: Further values by table.
        every: Values for every channel that carries a voltage.
        rate_stated: The rate was stated, not found.
        time_column: Name or number of the clock's column; ``none`` for no clock.
        time_unit: Its unit.
        time_wrap: Counts at which it starts again.
        rate_hz: In place of a clock: samples a second.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    keys: Mapping[TableName, Mapping[str, Value]] = field(default_factory=dict)
    every: Mapping[str, Value] = field(default_factory=dict)
    rate_stated: bool = False
    time_column: str | None = None
    time_unit: TimeUnit | None = None
    time_wrap: int | None = None
    rate_hz: float | None = None


@dataclass(frozen=True, slots=True)
class Sent:
    """What the logger sends.

    Attributes:
        heard: Layout and numbers.
        names: Of the columns: by header, by the rig file's list, or ``c`` and their place.
        named: Whether the names are the logger's or the file's, not ours.
        columns: What was seen of each.
        clock: The column that goes with time; None where none was found.
        found: Its rate; None for a file.
        port: The port that was listened to; None for a file.
    """

    heard: Heard
    names: tuple[str, ...]
    named: bool
    columns: tuple[numbers.Column, ...]
    clock: ClockColumn | None
    found: RateFound | None
    port: str | None

    @property
    def timed(self) -> bool:
        """Whether arrival is known, so that the pace of a clock can be told."""
        return self.found is not None

    def reference(self, index: int) -> str | int:
        """How the rig file names a column: by name where the logger names it."""
        return self.names[index] if self.named else index

    def shown(self, index: int) -> str:
        """How a page names a column, neutral."""
        return neutral(str(self.reference(index)), 40)

    def place(self, wanted: str | int) -> int | None:
        """Place of a column by name or number; None where there is none."""
        return column_index(self.names, wanted)


def look_at(
    heard: Heard, listed: Sequence[str], found: RateFound | None = None, port: str | None = None
) -> Sent:
    """What the logger sends.

    Args:
        heard: What the layout made of it.
        listed: Names of its columns in the rig file, or stated; none where they are not listed.
        found: Its rate; None for a file, of which no arrival is known.
        port: The port that was listened to; None for a file.

    Raises:
        UsageError: Another count of names is listed than columns are sent.
    """
    width = heard.values.shape[1]
    if listed and len(listed) != width:
        raise UsageError.of("columns-miscounted", count=len(listed), width=width)
    names = tuple(listed) or heard.names  # in this order, as the line does it
    named = names is not None
    shown = names or tuple(f"c{number}" for number in range(width))
    arrival_s = np.full(heard.samples, np.nan) if found is None else heard.arrival_s
    columns = numbers.columns_of(heard.values, shown, heard.units)
    clock = find_clock(heard.values, arrival_s, shown, heard.stamped)
    return Sent(heard, shown, named, columns, clock, found, port)


def draft_rig(sent: Sent, asked: Asked, rig: Rig | None, told: Sequence[Proposed]) -> Draft:
    """The whole draft.

    Args:
        sent: What the logger sends.
        asked: What the person said.
        rig: The rig file that is there; None where there is none.
        told: What working the parts, or moving the machine, told.

    Raises:
        UsageError: A channel's column is not sent, its role is not known, or counts were stated of
            a converter whose width nobody can guess.
    """
    draft = Draft()
    draft.put(("rig",), "name", "my rig", Origin.ASSUMED, WHY["name"])
    draft.put(("rig",), "setting_step_V", 0.01, Origin.ASSUMED, WHY["setting_step_V"])
    _draft_link(draft, sent, asked)
    if sent.heard.names is not None and (rig is None or not rig.link.columns):
        draft.put(("link",), "columns", sent.heard.names, Origin.FOUND, WHY["columns"])
    _draft_time(draft, sent, asked)
    known: Mapping[str, Channel] = {} if rig is None else rig.channels
    for name, typed in asked.columns.items():
        index = place_of(sent, typed)
        draft.put(("channels", name), "role", *_role(name, asked, known))
        draft.put(("channels", name), "column", sent.reference(index), Origin.STATED)
    # nobody can be asked to work the parts of a file, and a wheel is none that is worked
    _draft_by_header(draft, sent, known, only=("wheel",) if sent.timed else ())
    for proposed in told:
        draft.add(proposed)
    for table, values in asked.keys.items():
        if table[0] == "channels" and table[:2] not in draft.tables and table[1] not in known:
            raise UsageError.of("channel-without-column", name=neutral(table[1]))
        draft.state(table, values)
    _draft_acts(draft, known)
    carried = _carried(draft, sent, asked, known)
    counted = [each.column.high for each in carried if each.unit == "count" and each.is_voltage]
    for each in carried:
        _draft_scale(draft, each, max(counted, default=0.0))
    return draft


def _draft_acts(draft: Draft, known: Mapping[str, Channel]) -> None:
    """Whether each control drives or brakes, where its name says it plainly."""
    for table in draft.tables:
        if table[0] != "channels" or len(table) != 2:
            continue
        was = known.get(table[1])
        role = draft.value(table, "role", None if was is None else was.role)
        acts = acts_by_name(table[1])
        if role == "control" and acts is not None:
            draft.put(table, "acts", acts, Origin.ASSUMED, WHY["acts"])


def _draft_by_header(
    draft: Draft, sent: Sent, known: Mapping[str, Channel], only: Sequence[str]
) -> None:
    """Channels that the header names plainly, where nothing else says which column they are.

    Args:
        draft: What nothing else says is put there.
        sent: What the logger sends.
        known: Channels of the rig file.
        only: Names that are looked for; all where none is given.
    """
    used = {sent.place(channel.column) for channel in known.values()}
    used |= {
        sent.place(place)
        for table in draft.tables
        if isinstance(place := draft.value(table, "column"), str | int)
    }
    named: dict[str, tuple[Role, int]] = {}
    for column in sent.columns if sent.named else ():
        part = part_by_header(column.name)
        if part is None or column.index in used or (only and part[0] not in only):
            continue
        name, role = part
        if name not in known and ("channels", name) not in draft.tables:
            named.setdefault(name, (role, column.index))
    axes = [index for name, (_, index) in named.items() if name.startswith("accel_")]
    unit = _force_unit(sent.heard.values[:, axes]) if len(axes) == 3 else None
    for name, (role, index) in named.items():
        if name.startswith("accel_") and unit is None:
            continue
        table = ("channels", name)
        draft.put(table, "role", role, Origin.ASSUMED, WHY["header"])
        draft.put(table, "column", sent.reference(index), Origin.ASSUMED, WHY["header"])
        if name.startswith("accel_") and unit is not None:
            draft.put(table, "unit", unit, Origin.ASSUMED, WHY["force"])


def _force_unit(force: NDArray[np.float64]) -> str | None:
    """The unit in which three columns, shape (n, 3), are 1 g long as a rule; None in none."""
    length = float(np.median(np.linalg.norm(force, axis=1)))
    per_g = {"g": 1.0, "mg": 1000.0, "m/s2": STANDARD_GRAVITY_M_S2}
    near = (unit for unit, one in per_g.items() if abs(length / one - 1.0) <= FORCE_TOLERANCE)
    return next(near, None)


def place_of(sent: Sent, typed: str) -> int:
    """Place of a column as typed: a name, else a number.

    Raises:
        UsageError: The logger sends no such column.
    """
    index = sent.place(typed) if sent.named else None
    if index is None and typed.isascii() and typed.isdigit():
        index = sent.place(int(typed))
    if index is None:
        there = ", ".join(
            f"{column.index}" + (f" ({neutral(column.name, 20)})" if sent.named else "")
            for column in sent.columns
        )
        by = "number or name" if sent.named else "number"
        raise UsageError.of("column-not-sent", typed=neutral(typed, 40), there=there, by=by)
    return index


def _role(name: str, asked: Asked, known: Mapping[str, Channel]) -> tuple[Value, Origin, str]:
    """The role of a channel: stated, as it was, or by its name."""
    stated = asked.keys.get(("channels", name), {}).get("role")
    if stated is not None:
        return stated, Origin.STATED, ""
    if name in known:
        return known[name].role, Origin.ASSUMED, ""
    by_name = role_by_name(name)
    if by_name is None:
        raise UsageError.of("role-unknown", name=neutral(name))
    return by_name, Origin.STATED, ""


def _draft_link(draft: Draft, sent: Sent, asked: Asked) -> None:
    """The link as it was heard."""
    table, link, found = ("link",), sent.heard.link, sent.found
    draft.state(table, {"port": sent.port})
    if found is not None:
        others = [str(each.baud) for each in found.tried if each is not found.best]
        why = f"decodes; {', '.join(others)} did not" if others else "the first that was tried"
        origin = Origin.STATED if asked.rate_stated else Origin.FOUND
        draft.put(table, "baud", found.best.baud, origin, "" if asked.rate_stated else why)
    heard: Mapping[str, Value | None] = {
        "layout": link.layout,
        "checksum": link.checksum,
        "separator": link.separator if len(sent.columns) > 1 else None,
        "decimal": link.decimal,
        "header": link.header or None,
    }
    draft.state(table, heard, Origin.FOUND)


def _draft_time(draft: Draft, sent: Sent, asked: Asked) -> None:
    """The logger's clock."""
    table, clock = ("time",), sent.clock
    draft.state(table, {"rate_hz": asked.rate_hz})
    if asked.rate_hz is not None or asked.time_column == "none":
        return
    if asked.time_column is not None:
        index = place_of(sent, asked.time_column)
        draft.state(table, {"column": sent.reference(index)})
        clock = clock if clock is not None and clock.index == index else None
    draft.state(table, {"unit": asked.time_unit, "wrap": asked.time_wrap})
    if clock is None or (clock.unit is None and asked.time_unit is None):
        return
    why = WHY["wall-clock" if clock.unit == "text" else "goes-on"]
    draft.put(table, "column", sent.reference(clock.index), Origin.FOUND, why)
    if clock.unit is not None:
        pace = f"it counts {clock.pace_hz:.4g} a second" if sent.timed else ""
        why = entries("setup")["clock unit"].get(clock.unit_from, pace)
        origin = Origin.ASSUMED if clock.unit_from == "steps" else Origin.FOUND
        draft.put(table, "unit", clock.unit, origin, why)
    if clock.wrap is not None:
        draft.put(table, "wrap", clock.wrap, Origin.FOUND, WHY["wrapped"])
    elif clock.may_wrap and clock.unit in ("ms", "us"):
        draft.put(table, "wrap", COUNTER_WRAP, Origin.ASSUMED, WHY["wrap"])


@dataclass(frozen=True, slots=True)
class _Carried:
    """A channel and the column that carries it.

    Attributes:
        name: Of the channel.
        column: As seen.
        is_voltage: Its role is that of a voltage.
        wheel: What a wheel's readings seem to be; None for another role.
        was: As it stands in the file; None where it is new.
        stated: What the person said of it.
    """

    name: str
    column: numbers.Column
    is_voltage: bool
    wheel: WheelUnit | None
    was: Channel | None
    stated: Mapping[str, Value]

    @property
    def guess(self) -> numbers.UnitGuess:
        """What the numbers, or the column's name, speak for."""
        guess = numbers.guess_unit(self.column)
        return guess if self.is_voltage or guess.by_name else numbers.UnitGuess(None, guess.why)

    @property
    def unit(self) -> Value:
        """Stated, as it was, or by its numbers; ``raw`` where nothing tells."""
        if "unit" in self.stated:
            return self.stated["unit"]
        if self.was is not None and self.was.unit != "raw":
            return self.was.unit
        return self.guess.unit or "raw"

    def says(self, key: str) -> bool:
        """Whether the person or the file gives a key of it."""
        return key in self.stated or getattr(self.was, key, None) is not None


def _carried(
    draft: Draft, sent: Sent, asked: Asked, known: Mapping[str, Channel]
) -> list[_Carried]:
    """Every channel, of the file and of the draft, whose column the logger sends."""
    drafted = [table[1] for table in draft.tables if table[0] == "channels"]
    found = []
    for name in dict.fromkeys([*known, *drafted]):
        table, was = ("channels", name), known.get(name)
        column = draft.value(table, "column", was.column if was else None)
        index = sent.place(column) if isinstance(column, str | int) else None
        if index is None:
            continue
        role = draft.value(table, "role", was.role if was else None)
        is_voltage = role in VOLTAGE_ROLES
        wheel = unit_of(sent.heard.values[:, index]) if role == "wheel" else None
        stated = {**(asked.every if is_voltage else {}), **asked.keys.get(table, {})}
        found.append(_Carried(name, sent.columns[index], is_voltage, wheel, was, stated))
    return found


FORCE_TOLERANCE = 0.1
"""Share by which the usual length of an accelerometer's vector may miss 1 g: own choice; a hand
that moves a sensor seldom makes more of it, and one without gravity shows far less."""

WHOLE_V = 5.0
"""Volts of the whole that a share is of, where nobody states them: the usual supply of a hand
control; common practice, no source."""

_SHARES = ("percent", "share")


def _draft_scale(draft: Draft, each: _Carried, highest: float) -> None:
    """Unit, full scale, reference and divider of one channel."""
    table, guess = ("channels", each.name), each.guess
    draft.state(table, {"unit": each.stated.get("unit")})
    if guess.by_name and guess.unit is not None and (each.was is None or each.was.unit == "raw"):
        draft.put(table, "unit", guess.unit, Origin.FOUND, guess.why)
    elif each.wheel is not None:
        why = entries("setup")["wheel unit"][each.wheel]
        draft.put(table, "unit", each.wheel, Origin.ASSUMED, why)
    else:
        draft.put(table, "unit", guess.unit or "raw", Origin.ASSUMED, guess.why)
    if not each.is_voltage or each.unit not in ("count", "V", "mV", *_SHARES):
        return
    counts = each.unit == "count" and not each.says("counts_per_g")
    if each.unit in _SHARES:
        draft.state(table, {"reference_V": each.stated.get("reference_V")})
        draft.put(table, "reference_V", WHOLE_V, Origin.ASSUMED, WHY["whole"])
    keys = ("full_scale", "reference_V", "divider") if counts else ("divider",)
    draft.state(table, {key: each.stated.get(key) for key in keys})
    if counts:
        _draft_counts(draft, each, highest)
    draft.put(table, "divider", 1.0, Origin.ASSUMED, WHY["divider"])


def _draft_counts(draft: Draft, each: _Carried, highest: float) -> None:
    """Full scale and reference of a channel that is sent as counts."""
    table, full_scale = ("channels", each.name), numbers.guess_full_scale(highest)
    if full_scale is None:
        needed = (key for key in ("full_scale", "reference_V") if not each.says(key))
        missing, name = " and ".join(needed), neutral(each.name)
        if missing:
            raise UsageError.of("converter-unknown", highest=highest, missing=missing, name=name)
        return
    why = f"the usual width above the highest count seen, {highest:.0f}"
    draft.put(table, "full_scale", full_scale, Origin.ASSUMED, why)
    reference_V = numbers.USUAL_REFERENCE_V[full_scale]
    draft.put(table, "reference_V", reference_V, Origin.ASSUMED, WHY["reference_V"])

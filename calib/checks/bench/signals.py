"""The channels of a capture as arrays, with what the checks need to know of each."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from calib.store.capture import Capture
from calib.store.columns import column_index, has_column, received
from calib.store.conversion import base_unit, step_in, to_base
from calib.store.rig import Channel, Rig

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

SELDOM_SHARE = 0.1
"""Share of missing readings above which a channel comes less often than the others, and its last
reading is held: own choice, for temperatures and supplies that are sent every tenth line or so."""

CONVERTED_UNIT = "count"


@dataclass(frozen=True, slots=True)
class Signal:
    """One channel of a capture.

    Attributes:
        name: Its name in the rig file.
        channel: What the rig file says of it.
        unit: Base unit of ``values``.
        values: Readings in ``unit``, shape (n,).
        raw: Numbers as received, shape (n,).
        step: Step in which readings come, in ``unit``; 0 where none is seen.
        last_code: Highest code of the converter; None where numbers are not counts.
    """

    name: str
    channel: Channel
    unit: str
    values: Floats = field(repr=False)
    raw: Floats = field(repr=False)
    step: float
    last_code: float | None

    @property
    def role(self) -> str:
        """What it is on the machine."""
        return self.channel.role


@dataclass(frozen=True, slots=True)
class Signals:
    """All channels of a capture that the rig file knows.

    Attributes:
        time_s: Device clock, s, shape (n,).
        arrival_s: Host clock, s, shape (n,).
        rate_hz: Median rate of readings, Hz; 0 where there are fewer than two.
        by_name: Channels in the order of the rig file.
        missing: Channels of the rig file that the capture has no column for.
    """

    time_s: Floats = field(repr=False)
    arrival_s: Floats = field(repr=False)
    rate_hz: float
    by_name: dict[str, Signal] = field(repr=False)
    missing: tuple[str, ...] = ()

    def with_role(self, *roles: str) -> list[Signal]:
        """The channels that have one of ``roles``, in the order of the rig file."""
        return [signal for signal in self.by_name.values() if signal.role in roles]

    def samples_in(self, duration_s: float) -> int:
        """Count of readings in a time, at least 1."""
        return max(1, round(duration_s * self.rate_hz))


def signals_of(capture: Capture, rig: Rig) -> Signals:
    """The channels of a capture in their base units.

    Args:
        capture: The capture.
        rig: What its columns are.
    """
    capture.require_clock("the check")
    capture = _dense(capture, rig)
    there = [
        name
        for name in rig.channels
        if has_column(capture.columns, rig, name)
        and not np.isnan(received(capture, rig, name)).all()
    ]
    return Signals(
        time_s=capture.time_s,
        arrival_s=capture.arrival_s,
        rate_hz=capture.rate_hz or 0.0,
        by_name={name: _signal(capture, rig, name) for name in there},
        missing=tuple(name for name in rig.channels if name not in there),
    )


def _dense(capture: Capture, rig: Rig) -> Capture:
    """The samples in which every channel has a number, but for those that come less often."""
    columns = [
        capture.columns[place]
        for channel in rig.channels.values()
        if (place := column_index(capture.columns, channel.column)) is not None
    ]
    often = [c for c in columns if np.mean(np.isnan(capture.values[c])) <= SELDOM_SHARE]
    return capture.where_present(often)


def _held(raw: Floats) -> Floats:
    """Numbers with the last one held where one is missing; before the first, the first."""
    missing = np.isnan(raw)
    if not missing.any():
        return raw
    latest = np.maximum.accumulate(np.where(missing, -1, np.arange(len(raw))))
    first = int(np.argmax(~missing))
    held: Floats = raw[np.where(latest < 0, first, latest)]
    return held


def _signal(capture: Capture, rig: Rig, name: str) -> Signal:
    channel = rig.channels[name]
    raw = _held(received(capture, rig, name))
    counted = channel.unit == CONVERTED_UNIT
    return Signal(
        name=name,
        channel=channel,
        unit=base_unit(channel),
        values=to_base(channel, raw),
        raw=raw,
        step=step_in(channel, raw),
        last_code=channel.full_scale - 1 if counted and channel.full_scale is not None else None,
    )


def block_means(values: Floats, block: int) -> Floats:
    """Means of successive blocks of readings, in their unit; a last part block is dropped.

    Args:
        values: Readings, shape (n,).
        block: Readings a block, at least 1.

    Source: own choice, because it costs one pass at any rate.
    """
    if block == 1:
        return values
    whole = len(values) // block
    means: Floats = values[: whole * block].reshape(whole, block).mean(axis=1)
    return means


@dataclass(frozen=True, slots=True)
class Run:
    """A run of readings: index of the first and index one past the last."""

    first: int
    stop: int

    def __len__(self) -> int:
        """Count of readings."""
        return self.stop - self.first


def runs(flags: Flags) -> list[Run]:
    """Runs of true flags, in order."""
    edges = np.diff(np.concatenate([[0], flags.view(np.int8), [0]]))
    starts = np.flatnonzero(edges == 1).tolist()
    stops = np.flatnonzero(edges == -1).tolist()
    return [Run(first, stop) for first, stop in zip(starts, stops, strict=True)]

"""The channels of a capture as arrays, with what the checks need to know of each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from calib.checks.limits import limit
from calib.measure.sliding import Run
from calib.store.capture import Capture
from calib.store.columns import column_index, has_column, sent
from calib.store.conversion import base_unit, step_in, to_base
from calib.store.rig import Channel, Rig

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Times = tuple[float, float]
"""From when to when, s."""

SELDOM_SHARE = 0.1
"""Share of missing readings above which a channel comes less often than the others, and its last
reading is held: own choice, for temperatures and supplies that are sent every tenth line or so."""

CONVERTED_UNIT = "count"

REPEATS_RATIO = 2.0
"""Repeats from one sample to the next over those across two, above which there are copies; own
choice, because a code that seldom changes repeats nearly as often across two."""

EVERY_SAMPLE = 0.4
"""Share of copies from which every sample comes twice; own choice, for then it is a half."""


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
        place: Number of its column.
    """

    name: str
    channel: Channel
    unit: str
    values: Floats = field(repr=False)
    raw: Floats = field(repr=False)
    step: float
    last_code: float | None
    place: int = 0

    @property
    def role(self) -> str:
        """What it is on the machine."""
        return self.channel.role

    def limit(self, name: str) -> float:
        """A limit's figure for this channel. Source: see the table of limits."""
        return limit(name, self.channel)


@dataclass(frozen=True, slots=True)
class Signals:
    """All channels of a capture that the rig file knows.

    Attributes:
        time_s: Device clock, s, shape (n,).
        arrival_s: Host clock, s, shape (n,).
        rate_hz: Median rate of readings, Hz; 0 where there are fewer than two.
        by_name: Channels in the order of the rig file.
        missing: Channels of the rig file that the capture has no column for.
        repeated_pct: Share of samples that were copies of the one before; such copies are left out
            of all arrays where they carry the same time, or where every sample comes twice.
    """

    time_s: Floats = field(repr=False)
    arrival_s: Floats = field(repr=False)
    rate_hz: float
    by_name: dict[str, Signal] = field(repr=False)
    missing: tuple[str, ...] = ()
    repeated_pct: float = 0.0

    def is_second_track(self, name: str) -> bool:
        """Whether a channel is the other track of a control."""
        return any(each.channel.second_track == name for each in self.by_name.values())

    def with_role(self, *roles: str) -> list[Signal]:
        """The channels that have one of ``roles``, in the order of the rig file."""
        return [signal for signal in self.by_name.values() if signal.role in roles]

    def samples_in(self, duration_s: float) -> int:
        """Count of readings in a time, at least 1."""
        return max(1, round(duration_s * self.rate_hz))

    def run(self, from_s: float, to_s: float) -> Run:
        """The readings between two times."""
        first, stop = np.searchsorted(self.time_s, [from_s, to_s]).tolist()
        return Run(first, stop)

    def within(self, times: Iterable[Times]) -> Flags:
        """Which readings lie in one of several stretches of time; shape (n,)."""
        flags = np.zeros(self.time_s.shape[0], dtype=np.bool_)
        for from_s, to_s in times:
            run = self.run(from_s, to_s)
            flags[run.first : run.stop] = True
        return flags

    def mean(self, values: Floats, from_s: float, to_s: float) -> float:
        """Mean of the readings between two times, NaN left out; NaN where there is none."""
        part = self.run(from_s, to_s).of(values)
        part = part[np.isfinite(part)]
        return float(part.mean()) if part.size else float("nan")


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
        if has_column(capture.columns, rig, name) and not np.isnan(sent(capture, rig, name)).all()
    ]
    numbers = {name: _held(sent(capture, rig, name)) for name in there}
    copied, share = copied_rows(list(numbers.values()), capture.time_s)
    kept: slice | Flags = ~copied if copied.any() else slice(None)  # a slice copies no array
    time_s = capture.time_s[kept]
    step_s = float(np.median(np.diff(time_s))) if time_s.size > 1 else 0.0
    return Signals(
        time_s=time_s,
        arrival_s=capture.arrival_s[kept],
        rate_hz=1.0 / step_s if step_s > 0.0 else 0.0,
        by_name={name: _signal(capture, rig, name, raw[kept]) for name, raw in numbers.items()},
        missing=tuple(name for name in rig.channels if name not in there),
        repeated_pct=100.0 * share,
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
    first = int(np.argmax(~missing))
    held: Floats = raw[np.maximum.accumulate(np.where(missing, first, np.arange(len(raw))))]
    return held


def copied_rows(columns: Sequence[Floats], time_s: Floats) -> tuple[Flags, float]:
    """Samples that repeat the one before in every column, and should not.

    Independent noise repeats as often over two samples as over one; a copy repeats over one alone.

    Args:
        columns: Numbers as received, each of shape (n,).
        time_s: Device clock, s, shape (n,).

    Returns:
        Which samples to leave out, shape (n,); and the share of samples that are copies.

    Source: own choice of method.
    """
    flags = np.zeros(time_s.shape[0], dtype=np.bool_)
    if not columns or time_s.shape[0] < 3:
        return flags, 0.0
    same = np.ones(time_s.shape[0] - 1, dtype=np.bool_)
    over_two = np.ones(time_s.shape[0] - 2, dtype=np.bool_)
    for column in columns:
        same &= column[1:] == column[:-1]
        over_two &= column[2:] == column[:-2]
    sent_again = same & (np.diff(time_s) == 0.0)
    if sent_again.any():
        flags[1:] = sent_again
        return flags, float(sent_again.mean())
    once, twice = float(same.mean()), float(over_two.mean())
    share = once - twice if once > REPEATS_RATIO * twice else 0.0
    if share > EVERY_SAMPLE:
        flags[1:] = same
    return flags, share


def _signal(capture: Capture, rig: Rig, name: str, raw: Floats) -> Signal:
    channel = rig.channels[name]
    counted = channel.unit == CONVERTED_UNIT
    return Signal(
        name=name,
        channel=channel,
        unit=base_unit(channel),
        values=to_base(channel, raw),
        raw=raw,
        step=step_in(channel, raw),
        last_code=channel.full_scale - 1 if counted and channel.full_scale is not None else None,
        place=column_index(capture.columns, channel.column) or 0,
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

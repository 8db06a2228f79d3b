"""Inputs that are on or off: switches that never changed, chatter or creep; pulses of a wheel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.signals import Flags, Floats, Signal, Signals
from calib.checks.file.moved import NOMINAL_SUPPLY_V
from calib.store.conversion import base_unit
from calib.store.documents import said
from calib.store.documents.finding import Severity
from calib.store.rig import Channel
from calib.wheel.counting import is_high, unwrapped

BURST_S = 0.3
"""Time within which further changes belong to the same throw; own choice, because no hand throws
a switch twice in it."""

DEFAULT_THRESHOLD_V = 2.5
"""Volts between off and on where the rig file names none; own choice, the middle of 5 V."""


@dataclass(frozen=True, slots=True)
class Throw:
    """One throw of a switch with its chatter.

    Attributes:
        at_s: When it first changed, s.
        changes: Count of changes; 1 without chatter.
        chatter_s: From the first to the last change, s.
        on: Whether it ended on.
    """

    at_s: float
    changes: int
    chatter_s: float
    on: bool


@dataclass(frozen=True, slots=True)
class SwitchFigures:
    """What a switch did.

    Attributes:
        starts_on: Whether it was on at the beginning.
        throws: Throws in order.
        levels_V: Median readings above and below the threshold, V, of those that were seen; none
            where the switch does not come in volts.
    """

    starts_on: bool
    throws: tuple[Throw, ...]
    levels_V: tuple[float, ...] = ()

    @property
    def on_from_to_s(self) -> list[tuple[float, float]]:
        """Stretches during which it was held in the state that it did not begin in."""
        before = [self.starts_on, *(throw.on for throw in self.throws)]
        changed = [each for each, was in zip(self.throws, before, strict=False) if each.on != was]
        away_and_back = zip(changed[::2], changed[1::2], strict=False)
        return [(away.at_s + away.chatter_s, back.at_s) for away, back in away_and_back]


def threshold_of(channel: Channel) -> float:
    """Reading between off and on, in the channel's base unit."""
    if channel.threshold_V is not None:
        return channel.threshold_V
    return DEFAULT_THRESHOLD_V if base_unit(channel) == "V" else 0.5


def is_on_at(channel: Channel, values: Floats | float) -> Flags:
    """Whether a switch is on, by readings in its base unit; the shape of ``values``.

    A switch in volts is compared with its threshold, any other with a half.
    """
    high: Flags = np.asarray(values) > threshold_of(channel)
    return high ^ (channel.active == "low")


def switch_figures(signals: Signals, signal: Signal) -> SwitchFigures:
    """Throws of a switch. Source: own choice of method."""
    on = is_on_at(signal.channel, signal.values)
    changes = np.flatnonzero(on[1:] != on[:-1]) + 1
    apart = np.flatnonzero(np.diff(signals.time_s[changes]) > BURST_S) + 1
    bursts = [burst for burst in np.split(changes, apart) if burst.size]
    times_s = [signals.time_s[burst[[0, -1]]].tolist() for burst in bursts]
    sides = (signal.values[on], signal.values[~on]) if signal.unit == "V" else ()
    return SwitchFigures(
        starts_on=bool(on[0]),
        throws=tuple(
            Throw(first_s, len(burst), last_s - first_s, on=bool(on[burst[-1]]))
            for burst, (first_s, last_s) in zip(bursts, times_s, strict=True)
        ),
        levels_V=tuple(float(np.median(side)) for side in sides if side.size),
    )


def switch_findings(
    signal: Signal, figures: SwitchFigures, *, asked: bool, then_on: bool | None
) -> said.Findings:
    """What is odd about a switch.

    Args:
        signal: The switch.
        figures: What it did.
        asked: Whether it was asked to be worked.
        then_on: Whether it rested on in the record.
    """
    name, starts_on = signal.name, figures.starts_on
    if not figures.throws and asked:
        yield said.fail(
            "switch-never-changed/on" if starts_on else "switch-never-changed/off", channel=name
        )
    elif not figures.throws:
        yield said.caution("switch-not-worked", channel=name)
    elif starts_on and then_on is not True:
        yield said.fail("switch-inverted", channel=name)
    yield from _levels(signal, figures)
    yield from _bounce(signal, figures.throws)


def _levels(signal: Signal, figures: SwitchFigures) -> said.Findings:
    """Levels that have crept towards the threshold: the nearest one counts.

    Source: limits ``switch_gap_pct`` and ``switch_gap_fail_pct``.
    """
    if not figures.levels_V:
        return
    threshold = threshold_of(signal.channel)
    gap_V = min(abs(level_V - threshold) for level_V in figures.levels_V)
    gap_pct = 100.0 * gap_V / NOMINAL_SUPPLY_V
    least_pct, fail_pct = signal.limit("switch_gap_pct"), signal.limit("switch_gap_fail_pct")
    if gap_pct < least_pct:
        failed = gap_pct < fail_pct
        yield said.finding(
            Severity.FAIL if failed else Severity.CAUTION,
            "switch-levels",
            gap_pct,
            fail_pct if failed else least_pct,
            channel=signal.name,
            levels=" and ".join(f"{level_V:.2f} V" for level_V in figures.levels_V),
            threshold=threshold,
        )


def _bounce(signal: Signal, throws: Sequence[Throw]) -> said.Findings:
    """Chatter of the worst throw. Source: limit ``bounce_ms``."""
    chattering = [throw for throw in throws if throw.changes > 1]
    if not chattering:
        return
    worst = max(chattering, key=lambda throw: throw.chatter_s)
    yield from said.above(
        "switch-bounces",
        1000.0 * worst.chatter_s,
        signal.limit("bounce_ms"),
        channel=signal.name,
        changes=worst.changes,
        chattering=len(chattering),
        throws=len(throws),
    )


def standing_findings(signal: Signal) -> said.Findings:
    """Pulses of a wheel that nobody turns. Source: limit ``wheel_standing_pulses``."""
    if signal.unit == "pulses":
        steps = np.diff(unwrapped(signal.raw, signal.channel.wrap))
        pulses = int(np.abs(steps).sum())
    else:
        high = is_high(signal.raw)
        pulses = 0 if high is None else int(np.count_nonzero(high[1:] & ~high[:-1]))
    most = signal.limit("wheel_standing_pulses")
    yield from said.above("pulses-standing", float(pulses), most, channel=signal.name)

"""Switches: never changed, the other way round, chattering, levels that crept."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.signals import Flags, Floats, Signal, Signals
from calib.checks.file.moved import NOMINAL_SUPPLY_V
from calib.checks.limits import limit
from calib.store.conversion import base_unit
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Channel

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
        threshold: Reading between off and on, in the channel's base unit.
    """

    starts_on: bool
    throws: tuple[Throw, ...]
    levels_V: tuple[float, ...] = ()
    threshold: float = DEFAULT_THRESHOLD_V

    @property
    def on_from_to_s(self) -> list[tuple[float, float]]:
        """Stretches during which it was held in the state that it did not begin in."""
        found = []
        since_s: float | None = None
        for throw in self.throws:
            if throw.on != self.starts_on and since_s is None:
                since_s = throw.at_s + throw.chatter_s
            elif throw.on == self.starts_on and since_s is not None:
                found.append((since_s, throw.at_s))
                since_s = None
        return found


def threshold_of(channel: Channel) -> float:
    """Reading between off and on, in the channel's base unit."""
    if channel.threshold_V is not None:
        return channel.threshold_V
    return DEFAULT_THRESHOLD_V if base_unit(channel) == "V" else 0.5


def is_on(signal: Signal) -> Flags:
    """Whether a switch is on at each reading, shape (n,)."""
    return is_on_at(signal.channel, signal.values)


def is_on_at(channel: Channel, values: Floats | float) -> Flags:
    """Whether a switch is on, by readings in its base unit; the shape of ``values``.

    A switch in volts is compared with its threshold, any other with a half.
    """
    high: Flags = np.asarray(values) > threshold_of(channel)
    return high ^ (channel.active == "low")


def switch_figures(signals: Signals, signal: Signal) -> SwitchFigures:
    """Throws of a switch. Source: own choice of method."""
    on = is_on(signal)
    changes = np.flatnonzero(on[1:] != on[:-1]) + 1
    throws: list[Throw] = []
    first = last = -1
    count = 0
    for place in [*changes.tolist(), -1]:
        near = place >= 0 and first >= 0 and signals.time_s[place] - signals.time_s[last] <= BURST_S
        if near:
            last, count = place, count + 1
            continue
        if first >= 0:
            throws.append(
                Throw(
                    at_s=float(signals.time_s[first]),
                    changes=count,
                    chatter_s=float(signals.time_s[last] - signals.time_s[first]),
                    on=bool(on[last]),
                )
            )
        first = last = place
        count = 1
    sides = (signal.values[on], signal.values[~on]) if signal.unit == "V" else ()
    return SwitchFigures(
        starts_on=bool(on[0]),
        throws=tuple(throws),
        levels_V=tuple(float(np.median(side)) for side in sides if side.size),
        threshold=threshold_of(signal.channel),
    )


def switch_findings(
    signal: Signal, figures: SwitchFigures, *, asked: bool, then_on: bool | None
) -> Iterator[Finding]:
    """What is odd about a switch.

    Args:
        signal: The switch.
        figures: What it did.
        asked: Whether it was asked to be worked.
        then_on: Whether it rested on in the record.
    """
    if not figures.throws and asked:
        state = "on" if figures.starts_on else "off"
        yield Finding(
            code="switch-never-changed",
            severity=Severity.FAIL,
            text=f"{signal.name} stayed {state} all the time: its wire is "
            + ("shorted" if figures.starts_on else "open")
            + ", the switch is stuck, or nobody worked it.",
            action="Work it with its plug off and measure its contacts in ohms.",
            channel=signal.name,
        )
    if not figures.throws and not asked:
        yield said.caution("switch-not-worked", channel=signal.name)
    if figures.throws and figures.starts_on and then_on is not True:
        yield said.fail("switch-inverted", channel=signal.name)
    yield from _levels(signal, figures)
    yield from _bounce(signal, figures.throws)


def _levels(signal: Signal, figures: SwitchFigures) -> Iterator[Finding]:
    """Levels that have crept towards the threshold: the nearest one counts.

    Source: limits ``switch_gap_pct`` and ``switch_gap_fail_pct``.
    """
    if not figures.levels_V:
        return
    nearest_V = min(figures.levels_V, key=lambda level_V: abs(level_V - figures.threshold))
    gap_pct = 100.0 * abs(nearest_V - figures.threshold) / NOMINAL_SUPPLY_V
    least_pct = limit("switch_gap_pct", signal.channel)
    fail_pct = limit("switch_gap_fail_pct", signal.channel)
    if gap_pct >= least_pct:
        return
    failed = gap_pct < fail_pct
    levels = " and ".join(f"{level_V:.2f} V" for level_V in figures.levels_V)
    yield said.finding(
        Severity.FAIL if failed else Severity.CAUTION,
        "switch-levels",
        gap_pct,
        fail_pct if failed else least_pct,
        channel=signal.name,
        levels=levels,
        threshold=figures.threshold,
    )


def _bounce(signal: Signal, throws: Sequence[Throw]) -> Iterator[Finding]:
    chattering = [throw for throw in throws if throw.changes > 1]
    if not chattering:
        return
    worst = max(chattering, key=lambda throw: throw.chatter_s)
    chatter_ms = 1000.0 * worst.chatter_s
    if chatter_ms <= limit("bounce_ms", signal.channel):
        return
    yield said.caution(
        "switch-bounces",
        chatter_ms,
        limit("bounce_ms", signal.channel),
        channel=signal.name,
        changes=worst.changes,
        chattering=len(chattering),
        throws=len(throws),
    )

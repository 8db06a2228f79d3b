"""A check as a whole: its times, its length, its columns, and what its logger cannot see."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from calib.checks.bench.noise import MAINS_HZ, UNSEEN_HZ, alias_hz
from calib.checks.bench.signals import Floats, Signals
from calib.checks.capture import line_findings
from calib.checks.limits import limit_of_all, limit_of_line
from calib.store.capture import Capture
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Rig

MISSED_STEPS = 1.5
"""Own choice: a lost line makes two steps of one, and jitter seldom half a step."""

AROUND = 40
"""Readings on each side of a step over which host and device clock are compared; own choice,
because a USB line hands over that many at a time."""

SAMPLES_OF_BOUNCE = 3.0
"""Readings that must fall into a chatter for it to be seen; own choice: with one it is luck."""

SHORTEST_DROP_OUT_S = 0.01
"""Own choice: a contact that opens for less is seldom felt at the wheel."""


def whole_findings(
    capture: Capture, rig: Rig, signals: Signals, *, compared: bool
) -> Iterator[Finding]:
    """Everything that is odd about a check whatever its channels read.

    Args:
        capture: The capture.
        rig: The rig file, whose channels share the limits of the line.
        signals: Its channels.
        compared: Whether there is a record to compare with.
    """
    jump_s, missed_pct = limit_of_line("jump_s", rig), limit_of_line("missed_pct", rig)
    times_s = signals.time_s, signals.arrival_s
    yield from clock_findings(*times_s, missed_pct=missed_pct, jump_s=jump_s)
    most_pct, least_s = limit_of_line("repeated_pct", rig), limit_of_line("check_short_s", rig)
    yield from said.above("samples-repeated", signals.repeated_pct, most_pct)
    yield from line_findings(capture, rig)
    length_s = float(capture.time_s[-1] - capture.time_s[0]) if len(capture) else 0.0
    yield from said.below("too-short", length_s, least_s, Severity.UNKNOWN)
    for name in signals.missing:
        yield said.unknown("column-missing", channel=name)
    if not compared:
        yield said.caution("no-record")


def clock_findings(
    time_s: Floats, arrival_s: Floats, *, missed_pct: float, jump_s: float
) -> Iterator[Finding]:
    """Missed samples and jumps of the clock.

    A long step of the device's clock is a jump when the host's clock did not see it pass.

    Args:
        time_s: Device clock, s, shape (n,).
        arrival_s: Host clock, s, shape (n,); not finite where it is unknown.
        missed_pct: Limit ``missed_pct``.
        jump_s: Limit ``jump_s``.

    Source: own choice of method.
    """
    steps_s = np.diff(time_s)
    usual_s = float(np.median(steps_s)) if steps_s.size > 1 else 0.0
    if usual_s <= 0.0:
        return
    missed, longest_s, jumps_s = 0, 0.0, []
    for place in np.flatnonzero(steps_s > MISSED_STEPS * usual_s).tolist():
        step_s = float(steps_s[place])
        ahead_s = _ahead_s(time_s, arrival_s, place)
        if ahead_s > max(jump_s, 0.5 * step_s):
            jumps_s.append(ahead_s)
            continue
        missed += round(step_s / usual_s) - 1
        longest_s = max(longest_s, step_s)
    jumps_s += steps_s[steps_s < -jump_s].tolist()
    due = len(time_s) + missed
    pct = 100.0 * missed / due
    yield from said.above(
        "samples-missed", pct, missed_pct, missed=missed, samples=due, longest_s=longest_s
    )
    if jumps_s:
        worst_s = max(abs(each_s) for each_s in jumps_s)
        yield said.caution("clock-jumps", worst_s, jump_s, jumps=len(jumps_s))


def _ahead_s(time_s: Floats, arrival_s: Floats, place: int) -> float:
    """How far the device's clock went ahead of the host's over one step, s; 0 where unknown."""
    window = slice(max(0, place + 1 - AROUND), place + 1 + AROUND)
    offset_s = time_s[window] - arrival_s[window]
    here = place + 1 - window.start
    if not np.isfinite(offset_s).all() or np.ptp(arrival_s[window]) <= 0.0:
        return 0.0
    return float(np.median(offset_s[here:]) - np.median(offset_s[:here]))


def unseen_mains_hz(rate_hz: float) -> tuple[float, ...]:
    """Mains lines that look like a level, or hang on their phase, at this rate, Hz.

    Source: sampling theorem: a multiple of the rate lands on nought, half the rate on its phase.
    """
    return tuple(
        line_hz
        for line_hz in MAINS_HZ
        if alias_hz(line_hz, rate_hz) < UNSEEN_HZ
        or abs(alias_hz(line_hz, rate_hz) - 0.5 * rate_hz) < UNSEEN_HZ
    )


def cannot_see(signals: Signals) -> Iterator[str]:
    """What is beyond this logger at its rate, one sentence each."""
    rate_hz = signals.rate_hz
    if rate_hz <= 0.0:
        yield "The rate of the readings is not known, so nothing quick can be seen."
        return
    step_ms = 1000.0 / rate_hz
    switches = [each.channel for each in signals.with_role("switch")]
    bounce_ms = limit_of_all("bounce_ms", switches)
    if switches and step_ms * SAMPLES_OF_BOUNCE > bounce_ms:
        yield (
            f"At {rate_hz:.4g} Hz a switch's chatter shorter than "
            f"{step_ms * SAMPLES_OF_BOUNCE:.0f} ms can go unseen; it takes "
            f"{1000 * SAMPLES_OF_BOUNCE / bounce_ms:.0f} Hz to judge {bounce_ms:g} ms."
        )
    unseen = unseen_mains_hz(rate_hz)
    if unseen:
        lines = ", ".join(f"{line_hz:.0f}" for line_hz in unseen)
        yield (
            f"At {rate_hz:.4g} Hz mains hum of {lines} Hz looks like a constant level, or depends "
            "on its phase: it may pass unseen."
        )
    if step_ms > 1000.0 * SHORTEST_DROP_OUT_S:
        yield f"A contact that opens for less than {step_ms:.0f} ms can fall between two readings."
    if signals.with_role("control") and not signals.with_role("supply"):
        yield "No supply is logged: a moved supply looks like moved controls."

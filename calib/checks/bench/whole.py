"""Findings about a check as a whole: its times, its length, its columns, its record."""

from __future__ import annotations

from calib.checks.bench.clock import clock_figures, clock_findings
from calib.checks.bench.signals import Signals
from calib.checks.capture import capture_findings
from calib.store.capture import Capture
from calib.store.documents.finding import Finding, Severity

LEAST_CHECK_S = 5.0
"""Shortest capture that can be a check; own choice: three seconds of rest and one press."""


def whole_findings(capture: Capture, signals: Signals, *, compared: bool) -> list[Finding]:
    """Everything that is odd about a check whatever its channels read.

    Args:
        capture: The capture.
        signals: Its channels.
        compared: Whether there is a record to compare with.
    """
    return [
        *_capture(capture),
        *_short(capture),
        *_missing(signals),
        *([] if compared else [_no_record()]),
    ]


def _capture(capture: Capture) -> list[Finding]:
    timed = clock_findings(clock_figures(capture.time_s, capture.arrival_s))
    told = {finding.code for finding in timed}
    return [*timed, *(f for f in capture_findings(capture) if f.code not in told)]


def _short(capture: Capture) -> list[Finding]:
    """A capture in which no check can have taken place."""
    length_s = float(capture.time_s[-1] - capture.time_s[0]) if len(capture) else 0.0
    if length_s >= LEAST_CHECK_S:
        return []
    return [
        Finding(
            code="too-short",
            severity=Severity.UNKNOWN,
            text=f"The capture lasts {length_s:.1f} s: nobody can have worked every input in it.",
            value=length_s,
            limit=LEAST_CHECK_S,
            unit="s",
            action="Capture a whole check: rest, each control, each switch, flexing.",
        )
    ]


def _missing(signals: Signals) -> list[Finding]:
    return [
        Finding(
            code="column-missing",
            severity=Severity.UNKNOWN,
            text=f"The logger sends no column for {name}.",
            action="Mend 'column' in the rig file, or run 'calib setup'.",
            channel=name,
        )
        for name in signals.missing
    ]


def _no_record() -> Finding:
    return Finding(
        code="no-record",
        severity=Severity.CAUTION,
        text="There is no earlier good check of this rig to compare with.",
        action="Keep this one; the next check after a rewire is compared with it.",
    )

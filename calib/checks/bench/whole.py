"""Findings about a check as a whole: its times, its length, its columns, its record."""

from __future__ import annotations

from collections.abc import Iterator

from calib.checks.bench.clock import clock_figures, clock_findings, repeat_findings
from calib.checks.bench.signals import Signals
from calib.checks.capture import capture_findings
from calib.checks.limits import limit_of_line
from calib.store.capture import Capture
from calib.store.documents import said
from calib.store.documents.finding import Finding
from calib.store.rig import Rig


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
    jump_s = limit_of_line("jump_s", rig)
    missed_pct = limit_of_line("missed_pct", rig)
    figures = clock_figures(signals.time_s, signals.arrival_s, jump_s)
    yield from clock_findings(figures, missed_pct=missed_pct, jump_s=jump_s)
    yield from repeat_findings(signals.repeated_pct, limit_of_line("repeated_pct", rig))
    # Of missed samples their share decides, which the clock's findings say.
    odd = capture_findings(capture, rig)
    yield from (each for each in odd if each.code != "samples-missed")
    yield from _short(capture, limit_of_line("check_short_s", rig))
    for name in signals.missing:
        yield said.unknown("column-missing", channel=name)
    if not compared:
        yield said.caution("no-record")


def _short(capture: Capture, least_s: float) -> Iterator[Finding]:
    """A capture in which no check can have taken place."""
    length_s = float(capture.time_s[-1] - capture.time_s[0]) if len(capture) else 0.0
    if length_s >= least_s:
        return
    yield said.unknown("too-short", length_s, least_s)

"""Findings about a capture as such: gaps, resets, rejected lines, a line that was cut short."""

from __future__ import annotations

import numpy as np

from calib.checks.limits import limit_of_line
from calib.checks.order import in_order
from calib.store.capture import Capture
from calib.store.columns import has_column, in_base_unit
from calib.store.conversion import base_unit
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.documents.record import ChannelRange, RecordDocument
from calib.store.rig import Rig
from calib.store.samples import EventKind
from calib.store.text import neutral


def capture_findings(capture: Capture, rig: Rig) -> tuple[Finding, ...]:
    """What is odd about a capture, whatever was measured in it. Source: ``limits``."""
    found = []
    if capture.was_changed:
        found.append(said.unknown("capture-changed", name=neutral(capture.path.name)))
    for cut in (event for event in capture.events if event.kind is EventKind.CUT):
        found.append(said.caution("cut-short", text=cut.text))
    found += _on_time(capture, limit_of_line("stamps_late_s", rig))
    if capture.gap_count:
        longest_s = max(event.duration_s for event in capture.events)
        found.append(said.caution("samples-missed/capture", longest_s, gap_count=capture.gap_count))
    resets = sum(event.kind is EventKind.RESET for event in capture.events)
    if resets:
        found.append(said.caution("logger-reset", float(resets)))
    lines = capture.rejected_lines + len(capture)
    pct = 100.0 * capture.rejected_lines / lines if lines else 0.0
    most_pct = limit_of_line("rejected_pct", rig)
    if pct > most_pct and capture.rejected_lines > 1:
        found.append(
            said.caution(
                "rejected-lines", pct, most_pct, rejected_lines=capture.rejected_lines, lines=lines
            )
        )
    return tuple(found)


def _on_time(capture: Capture, most_s: float) -> list[Finding]:
    """Whether there is a clock, and what was made of one whose stamps are ragged."""
    if not capture.has_clock:
        text = (
            "There is no clock in it: samples were taken as evenly spaced, and every time is left "
            "out: how long it was held, and how long it took to return."
        )
        action = "State the rate with --rate-hz N, or name the clock's column in [time]."
        return [Finding(code="no-clock", severity=Severity.CAUTION, text=text, action=action)]
    pace = capture.pace
    if not pace.laid or pace.rate_hz is None:
        return []
    coarse = pace.late_s > most_s
    return [
        Finding(
            code="stamps-ragged",
            severity=Severity.CAUTION if coarse else Severity.PASS,
            text=f"Its time stamps are ragged; an even time at {pace.rate_hz:.4g} Hz was laid "
            f"along the earliest of them. Stamps come up to {pace.late_s:.2g} s after it, and no "
            "time is known better than that.",
            value=pace.late_s,
            limit=most_s,
            unit="s",
            action="Have the logger stamp its own samples." if coarse else "",
        )
    ]


def judge_record(capture: Capture, rig: Rig, cautions: tuple[str, ...]) -> RecordDocument:
    """The document of a plain capture."""
    findings = in_order(capture_findings(capture, rig))
    return RecordDocument(
        verdict=worst([Severity.PASS, *(finding.severity for finding in findings)]),
        findings=findings,
        cautions=cautions,
        capture=capture.ref(),
        channels={
            name: _range(capture, rig, name)
            for name in rig.channels
            if has_column(capture.columns, rig, name)
        },
    )


def _range(capture: Capture, rig: Rig, name: str) -> ChannelRange:
    values = in_base_unit(capture.where_present([rig.channels[name].column]), rig, name)
    return ChannelRange(
        low=float(values.min()),
        median=float(np.median(values)),
        high=float(values.max()),
        unit=base_unit(rig.channels[name]),
    )

"""Findings about a capture as such: gaps, resets, rejected lines, a line that was cut short."""

from __future__ import annotations

import numpy as np

from calib.checks.limits import limit_of_line
from calib.checks.order import in_order
from calib.store.capture import Capture
from calib.store.columns import has_column, in_base_unit
from calib.store.conversion import base_unit
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.documents.record import ChannelRange, RecordDocument
from calib.store.rig import Rig
from calib.store.samples import EventKind
from calib.store.text import counted, neutral


def capture_findings(capture: Capture, rig: Rig) -> tuple[Finding, ...]:
    """What is odd about a capture, whatever was measured in it. Source: ``limits``."""
    found = []
    if capture.was_changed:
        found.append(
            Finding(
                code="capture-changed",
                severity=Severity.UNKNOWN,
                text=f"{neutral(capture.path.name)} is not what was captured: its SHA-256 is no "
                "longer the one that was noted when it was closed.",
                action="Judge the capture as it was taken, or capture again.",
            )
        )
    for cut in (event for event in capture.events if event.kind is EventKind.CUT):
        found.append(
            Finding(
                code="cut-short",
                severity=Severity.CAUTION,
                text=f"The line broke off: {cut.text}",
                action="Look at cable and plug; capture again if anything below is missing.",
            )
        )
    found += _on_time(capture, limit_of_line("stamps_late_s", rig))
    if capture.gap_count:
        longest_s = max(event.duration_s for event in capture.events)
        found.append(
            Finding(
                code="samples-missed",
                severity=Severity.CAUTION,
                text=f"{counted(capture.gap_count, 'gap')} in time; the longest lasted "
                f"{longest_s:.2f} s.",
                value=longest_s,
                unit="s",
                action="Samples are missing there and nothing was joined across; capture again "
                "if a press fell into one.",
            )
        )
    resets = sum(event.kind is EventKind.RESET for event in capture.events)
    if resets:
        found.append(
            Finding(
                code="logger-reset",
                severity=Severity.CAUTION,
                text=f"The logger restarted {counted(resets, 'time')} while it was listened to.",
                value=float(resets),
                action="Look at its supply and ground before trusting the capture.",
            )
        )
    lines = capture.rejected_lines + len(capture)
    pct = 100.0 * capture.rejected_lines / lines if lines else 0.0
    most_pct = limit_of_line("rejected_pct", rig)
    if pct > most_pct and capture.rejected_lines > 1:
        found.append(
            Finding(
                code="rejected-lines",
                severity=Severity.CAUTION,
                text=f"{capture.rejected_lines} of {lines} lines could not be decoded.",
                value=pct,
                limit=most_pct,
                unit="%",
                action="See the .rejected.txt beside the capture; check baud, cable and ground.",
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

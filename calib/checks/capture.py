"""Findings about a capture as such: gaps, resets, rejected lines, a line that was cut short."""

from __future__ import annotations

import numpy as np

from calib.checks.limits import limit_of_line
from calib.checks.order import judged
from calib.store.capture import Capture
from calib.store.columns import has_column, in_base_unit
from calib.store.conversion import base_unit
from calib.store.documents import said
from calib.store.documents.finding import Severity
from calib.store.documents.record import ChannelRange, RecordDocument
from calib.store.rig import Rig
from calib.store.samples import EventKind
from calib.store.text import neutral


def capture_findings(capture: Capture, rig: Rig) -> said.Findings:
    """What is odd about a capture, whatever was measured in it. Source: ``limits``."""
    if capture.gap_count:
        longest_s = max(event.duration_s for event in capture.events)
        yield said.caution("samples-missed/capture", longest_s, gap_count=capture.gap_count)
    yield from line_findings(capture, rig)


def line_findings(capture: Capture, rig: Rig) -> said.Findings:
    """The same without the samples that are missing, for whoever judges their share."""
    if capture.was_changed:
        yield said.unknown("capture-changed", name=neutral(capture.path.name))
    for cut in (event for event in capture.events if event.kind is EventKind.CUT):
        yield said.caution("cut-short", text=cut.text)
    yield from _clock_findings(capture, limit_of_line("stamps_late_s", rig))
    resets = sum(event.kind is EventKind.RESET for event in capture.events)
    if resets:
        yield said.caution("logger-reset", float(resets))
    rejected, lines = capture.rejected_lines, capture.rejected_lines + len(capture)
    pct = 100.0 * rejected / lines if lines else 0.0
    most_pct = limit_of_line("rejected_pct", rig)
    if pct > most_pct and rejected > 1:
        yield said.caution("rejected-lines", pct, most_pct, rejected_lines=rejected, lines=lines)


def _clock_findings(capture: Capture, most_s: float) -> said.Findings:
    """Whether there is a clock, and what was made of one whose stamps are ragged."""
    pace = capture.pace
    if not capture.has_clock:
        yield said.caution("no-clock")
    elif pace.laid and pace.rate_hz is not None:
        rate_hz, late_s = pace.rate_hz, pace.late_s
        yield said.within("stamps-ragged", "stamps-ragged/coarse", late_s, most_s, rate_hz=rate_hz)


def judge_record(capture: Capture, rig: Rig, cautions: tuple[str, ...]) -> RecordDocument:
    """The document of a plain capture."""
    findings = list(capture_findings(capture, rig))
    return RecordDocument(
        **judged(findings, cautions, capture.ref(), Severity.PASS),
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

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from calib.checks.capture import capture_findings, judge_record
from calib.store.capture import read_capture
from calib.store.capture_writer import CaptureWriter
from calib.store.documents.finding import Severity
from calib.store.samples import Event, EventKind, RejectedLine
from tests.hands import NOON, as_capture, as_samples, make_rig, pressed


def test_a_clean_capture_has_nothing_to_say(tmp_path: Path) -> None:
    """No finding, and so a pass."""
    rig = make_rig(tmp_path)
    document = judge_record(as_capture(tmp_path, rig, pressed()), rig, ())
    assert document.findings == ()
    assert document.verdict is Severity.PASS
    assert document.channels["throttle"].high == pytest.approx(4.2, abs=0.02)


def test_gaps_resets_rejected_lines_and_a_cut_are_each_told(tmp_path: Path) -> None:
    """None of them is fatal, none of them is silent."""
    rig = make_rig(tmp_path)
    samples = as_samples(pressed(presses=1))
    events = (
        Event(kind=EventKind.RESET, time_s=2.0, text="banner"),
        Event(kind=EventKind.CUT, time_s=2.5, text="The cable went."),
    )
    rejected = [RejectedLine(b"?", "no number")] * 20
    path = tmp_path / "dirty.csv"
    with CaptureWriter(path, rig, ["a0"], command="record", started=NOON) as writer:
        writer.append(
            type(samples)(
                time_s=samples.time_s + 0.4 * (samples.time_s > 1.0),
                arrival_s=samples.arrival_s,
                values=samples.values,
                rows=samples.rows,
                rejected=rejected,
                events=events,
            )
        )
    findings = list(capture_findings(read_capture(path), rig))
    assert {finding.code: finding.severity for finding in findings} == {
        "cut-short": Severity.CAUTION,
        "samples-missed": Severity.CAUTION,
        "logger-reset": Severity.CAUTION,
        "rejected-lines": Severity.CAUTION,
    }
    assert all(finding.action for finding in findings)


def test_a_document_has_no_absent_keys_and_no_nan(tmp_path: Path) -> None:
    """A missing figure is null, never left out."""
    rig = make_rig(tmp_path)
    document = judge_record(as_capture(tmp_path, rig, pressed()), rig, ("mind",))
    read = msgspec.json.decode(msgspec.json.encode(document))
    assert read["schema"] == "calib.record/1"
    assert set(read["capture"]) == {
        "path", "sha256", "samples", "rejected_lines", "gaps", "rate_hz",
    }  # fmt: skip

"""What to type into the controller: one module for each kind of evidence that values come from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from calib.checks.file.standing import Evidence
from calib.checks.order import in_order
from calib.checks.sheet import tilt, travel, wheel
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity, worst
from calib.store.documents.sheet import SheetDocument, SheetEntry

Source = Callable[[Evidence], Sequence[SheetEntry]]

SOURCES: Final[tuple[Source, ...]] = (travel.entries, tilt.entries, wheel.entries)
"""In the order in which the values are typed in; a new kind of evidence is added here."""

_SEVERITY: Final = {
    "ready": Severity.PASS,
    "failed": Severity.FAIL,
    "unknown": Severity.UNKNOWN,
    "stale": Severity.UNKNOWN,
    "not measured": Severity.UNKNOWN,
}


def make_sheet(evidence: Evidence, cautions: tuple[str, ...] = ()) -> SheetDocument:
    """Every value that this rig's controller wants, each with its origin or why there is none.

    Args:
        evidence: What is on file, and the rig file as it is now.
        cautions: What stands at the foot of the sheet.
    """
    entries = tuple(entry for source in SOURCES for entry in source(evidence))
    findings = (
        *(_finding(entry) for entry in entries if entry.state != "ready"),
        *travel.warnings(evidence),
    )
    if not entries:
        findings = (said.unknown("nothing-to-type-in"),)
    return SheetDocument(
        verdict=worst(
            [
                *(_SEVERITY[entry.state] for entry in entries),
                *(finding.severity for finding in findings),
            ]
        ),
        findings=in_order(findings),
        cautions=cautions,
        entries=entries,
    )


def _finding(entry: SheetEntry) -> Finding:
    return Finding(
        code="no-value",
        severity=_SEVERITY[entry.state],
        text=f"{entry.channel}, {entry.name}: {entry.state}.",
        action=entry.origin,
        channel=entry.channel,
    )

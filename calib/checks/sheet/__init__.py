"""What to type into the controller: one module for each kind of evidence that values come from."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from calib.checks.file.validity import Filed
from calib.checks.order import judged
from calib.checks.sheet import tilt, travel, wheel
from calib.store.documents import said
from calib.store.documents.finding import Severity
from calib.store.documents.sheet import SheetDocument, SheetEntry

SOURCES: Final = (travel.entries, tilt.entries, wheel.entries)
"""In the order in which the values are typed in; a new kind of evidence is added here."""


def make_sheet(filed: Filed, cautions: tuple[str, ...] = ()) -> SheetDocument:
    """Every value that this rig's controller wants, each with its origin or why there is none.

    Args:
        filed: What is on file, and the rig file as it is now.
        cautions: What stands at the foot of the sheet.
    """
    entries = tuple(entry for source in SOURCES for entry in source(filed))
    findings = [*_missing(entries), *travel.warnings(filed)]
    if not entries:
        findings.append(said.unknown("nothing-to-type-in"))
    return SheetDocument(**judged(findings, cautions, without=Severity.PASS), entries=entries)


def _missing(entries: Iterable[SheetEntry]) -> said.Findings:
    """The values that there are none of."""
    for entry in entries:
        if entry.state != "ready":
            severity = Severity.FAIL if entry.state == "failed" else Severity.UNKNOWN
            yield said.finding(severity, "no-value", channel=entry.channel, setting=entry)

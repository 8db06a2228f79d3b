"""Which finding is told first: causes before what follows from them, then the worse one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final, TypedDict

import msgspec

from calib.store.documents.codes import CODES, PLACE
from calib.store.documents.finding import CaptureRef, Finding, Severity, worst

CHANGED: Final = "capture-changed"
"""Whatever else is said of such a capture may follow from that."""


class Head(TypedDict):
    """What every document carries."""

    verdict: Severity
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    capture: CaptureRef | None


def judged(
    findings: Sequence[Finding],
    cautions: tuple[str, ...],
    capture: CaptureRef | None = None,
    without: Severity = Severity.UNKNOWN,
) -> Head:
    """What a document says of its findings: the verdict is the worst of them.

    Args:
        findings: In any order.
        cautions: The usual cautions of the flow.
        capture: What it was made from; None without one.
        without: The verdict where nothing was found.
    """
    return {
        "verdict": worst([finding.severity for finding in findings] or [without]),
        "findings": in_order(findings),
        "cautions": cautions,
        "capture": capture,
    }


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings with causes first and passes last; what follows from a cause says so in its action.

    Terminal and report show them as they stand here.

    Args:
        findings: In any order.
    """
    found = list(findings)
    causes = [_cause_of(each, found) for each in found]

    def key(each: tuple[Finding, Finding | None]) -> tuple[bool, bool, int, int]:
        finding, cause = each
        passes = finding.severity is Severity.PASS
        place = PLACE.get(finding.code, len(PLACE))
        return passes, cause is not None, -finding.severity.rank, place

    paired = sorted(zip(found, causes, strict=True), key=key)
    return tuple(finding if cause is None else _told(finding, cause) for finding, cause in paired)


def _cause_of(finding: Finding, found: Sequence[Finding]) -> Finding | None:
    """What explains a finding, the first in the published list; a pass has no part in it."""
    if finding.severity is Severity.PASS:
        return None
    explain = [
        other
        for other in found
        if other is not finding
        and other.severity is not Severity.PASS
        and other.code in CODES
        and finding.code in _consequences(other, finding.channel)
    ]
    return min(explain, key=lambda each: PLACE[each.code], default=None)


def _consequences(cause: Finding, channel: str | None) -> tuple[str, ...]:
    if cause.code == CHANGED:
        return tuple(CODES)
    known = CODES[cause.code]
    return known.here if cause.channel == channel else known.elsewhere


def _told(finding: Finding, cause: Finding) -> Finding:
    where = f" of {cause.channel}" if cause.channel is not None else ""
    return msgspec.structs.replace(
        finding,
        action=f"May follow from '{cause.code}'{where}: mend that first, then check again.",
    )

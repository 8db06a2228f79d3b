"""The gate: whether a tilt-based aid may be trusted, and why not."""

from __future__ import annotations

from calib.show.report.context import Context
from calib.show.report.markup import Markup, element, table
from calib.show.report.parts import section_of, verdict_badge
from calib.store.documents.trust import TrustDocument
from calib.store.records import Record


def section(context: Context, record: Record, document: TrustDocument) -> Markup:  # noqa: ARG001
    """Every required piece of evidence, in the order in which it is made."""
    rows = [
        (
            each.name,
            verdict_badge(each.verdict),
            "" if each.age_h is None else f"{each.age_h:.0f} h",
            each.text,
            each.action,
        )
        for each in document.evidence
    ]
    return section_of(
        record,
        "May the tilt-based aid be trusted?",
        element("p", element("strong", document.statement)),
        table(("evidence", "verdict", "age", "what is known", "what to do"), rows),
        findings=False,
    )

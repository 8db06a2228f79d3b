"""The gate: whether a tilt-based aid may be trusted, and why not."""

from __future__ import annotations

from calib.show.report.context import Context
from calib.show.report.markup import Markup
from calib.show.report.parts import section_of
from calib.show.view import Table, View
from calib.store.documents.trust import TrustDocument
from calib.store.records import Record


def section(context: Context, record: Record, document: TrustDocument) -> Markup:  # noqa: ARG001
    """Every required piece of evidence, in the order in which it is made."""
    rows = tuple(
        (
            each.name,
            each.verdict.value.upper(),
            "" if each.age_h is None else f"{each.age_h:.0f} h",
            f"{each.text} {each.action}".strip(),
        )
        for each in document.evidence
    )
    view = View(
        about="trust in a tilt-based aid",
        right="",
        verdict=document.verdict,
        findings=(),
        tables=(Table(("evidence", "verdict", "age", "what is known, what to do"), rows),),
        notes=(document.statement,),
    )
    return section_of(record, "May the tilt-based aid be trusted?", view)

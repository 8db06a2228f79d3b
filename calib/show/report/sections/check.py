"""The bench check: every input now, beside what the earlier record held."""

from __future__ import annotations

from calib.show.check import check_view
from calib.show.report.context import Context
from calib.show.report.markup import Markup, element
from calib.show.report.parts import section_of
from calib.store.documents.check import CheckDocument, CheckFigures
from calib.store.records import Record


def section(context: Context, record: Record, document: CheckDocument) -> Markup:
    """Channel by channel: verdict, figures before and after; or the wires pulled; findings."""
    view = check_view(document, _earlier(context, document.compared_with))
    blind = [element("li", sentence) for sentence in document.cannot_see]
    unseen = [element("p", "This logger cannot see:"), element("ul", blind)] if blind else None
    return element("div", section_of(record, _title(document), view), unseen)


def _title(document: CheckDocument) -> str:
    if document.pulled:
        return f"Wires pulled on purpose: {', '.join(document.channels)}"
    kind = "Quick bench check" if document.quick else "Bench check"
    against = document.compared_with
    return f"{kind}, {'nothing to compare with' if against is None else f'against {against}'}"


def _earlier(context: Context, record_id: str | None) -> dict[str, CheckFigures | None]:
    """The figures of the check that it was compared with; empty where it is not one."""
    for record in context.evidence.records:
        if record.id == record_id and isinstance(record.document, CheckDocument):
            return {name: each.figures for name, each in record.document.channels.items()}
    return {}

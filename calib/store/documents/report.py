"""The document of ``calib report``: where the HTML file lies."""

from __future__ import annotations

from calib.store.documents.finding import Document


class ReportDocument(Document, frozen=True, kw_only=True, tag="calib.report/1"):
    """The report as written; its verdict is that of the sheet in it.

    Attributes:
        path: The HTML file.
        records: Count of records that it was made from.
    """

    path: str
    records: int

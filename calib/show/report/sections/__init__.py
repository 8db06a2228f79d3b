"""The sections of the report: one module for each kind of document."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from calib.show.report.context import Context
from calib.show.report.markup import Markup
from calib.show.report.sections import travel, verify
from calib.store.documents.finding import Document
from calib.store.documents.sheet import VerifyDocument
from calib.store.documents.travel import TravelDocument
from calib.store.records import Record

Section = Callable[[Context, Record, Any], Markup]

SECTIONS: Final[dict[str, dict[type[Document], Section]]] = {
    "Hand controls": {TravelDocument: travel.section, VerifyDocument: verify.section},
}
"""Chapters in the order of work; a new kind of document is added here."""

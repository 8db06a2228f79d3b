"""The documents that calib hands out: one module each, their keys fixed by contract."""

from __future__ import annotations

from calib.store.documents.record import RecordDocument
from calib.store.documents.travel import TravelDocument

AnyDocument = RecordDocument | TravelDocument
"""Every document that a record may hold; a new kind is added to this union."""

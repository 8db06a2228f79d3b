"""Every kind of document that a record may hold."""

from __future__ import annotations

from calib.store.documents.check import CheckDocument
from calib.store.documents.display import DisplayDocument
from calib.store.documents.meter import MeterDocument
from calib.store.documents.note import NoteDocument
from calib.store.documents.record import RecordDocument
from calib.store.documents.sheet import VerifyDocument
from calib.store.documents.tilt import (
    LevelDocument,
    PosesDocument,
    SignsDocument,
    StillDocument,
    SurgeDocument,
    TrustDocument,
)
from calib.store.documents.travel import TravelDocument
from calib.store.documents.wheel import WheelDocument

AnyDocument = (
    CheckDocument
    | DisplayDocument
    | LevelDocument
    | MeterDocument
    | NoteDocument
    | PosesDocument
    | RecordDocument
    | SignsDocument
    | StillDocument
    | SurgeDocument
    | TravelDocument
    | TrustDocument
    | VerifyDocument
    | WheelDocument
)
"""Every document that a record may hold; a new kind is added to this union."""

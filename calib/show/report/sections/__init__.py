"""The sections of the report: one module for each kind of document."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from calib.show.report.context import Context
from calib.show.report.markup import Markup
from calib.show.report.sections import (
    check,
    display,
    level,
    meter,
    poses,
    signs,
    still,
    surge,
    travel,
    trust,
    verify,
    wheel,
)
from calib.store.documents.check import CheckDocument
from calib.store.documents.display import DisplayDocument
from calib.store.documents.finding import Document
from calib.store.documents.level import LevelDocument
from calib.store.documents.meter import MeterDocument
from calib.store.documents.poses import PosesDocument
from calib.store.documents.sheet import VerifyDocument
from calib.store.documents.signs import SignsDocument
from calib.store.documents.still import StillDocument
from calib.store.documents.surge import SurgeDocument
from calib.store.documents.travel import TravelDocument
from calib.store.documents.trust import TrustDocument
from calib.store.documents.wheel import WheelDocument
from calib.store.records import Record

Section = Callable[[Context, Record, Any], Markup]

SECTIONS: Final[dict[str, dict[type[Document], Section]]] = {
    "Hand controls": {TravelDocument: travel.section, VerifyDocument: verify.section},
    "Wires and inputs": {CheckDocument: check.section, MeterDocument: meter.section},
    "Wheel and display": {
        WheelDocument: wheel.section,
        DisplayDocument: display.section,
    },
    "Tilt": {
        TrustDocument: trust.section,
        LevelDocument: level.section,
        SignsDocument: signs.section,
        SurgeDocument: surge.section,
        StillDocument: still.section,
        PosesDocument: poses.section,
    },
}
"""Chapters in the order of work; a new kind of document is added here."""

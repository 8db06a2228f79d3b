"""The view of each kind of document that has one, for whoever shows documents of any kind."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from calib.show.inputs import check_view, meter_view
from calib.show.sheet import verify_view
from calib.show.tilt import level_view, poses_view, signs_view, still_view, surge_view
from calib.show.travel import travel_view
from calib.show.trust import trust_view
from calib.show.view import View
from calib.show.wheel import display_view, wheel_view
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

CHAPTERS: Final[dict[str, dict[type[Document], Callable[[Any], View]]]] = {
    "Hand controls": {TravelDocument: travel_view, VerifyDocument: verify_view},
    "Wires and inputs": {CheckDocument: check_view, MeterDocument: meter_view},
    "Wheel and display": {WheelDocument: wheel_view, DisplayDocument: display_view},
    "Tilt": {
        TrustDocument: trust_view,
        LevelDocument: level_view,
        SignsDocument: signs_view,
        SurgeDocument: surge_view,
        StillDocument: still_view,
        PosesDocument: poses_view,
    },
}
"""The views under the report's chapters, in the order of work; a new kind is added here."""


def view_of(document: Document) -> View:
    """The document's own view; of one that has none, its verdict and what was found."""
    views = {kind: view for chapter in CHAPTERS.values() for kind, view in chapter.items()}
    view = views.get(type(document))
    return View(document, about="") if view is None else view(document)

"""The view of each kind of document that has one, for whoever shows documents of any kind."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from calib.show.inputs import check_view, meter_view
from calib.show.sheet import verify_view
from calib.show.tilt import level_view, poses_view, signs_view, still_view, surge_view
from calib.show.travel import travel_view
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
from calib.store.documents.wheel import WheelDocument

_VIEWS: Final[dict[type[Document], Callable[[Any], View]]] = {
    CheckDocument: check_view,
    DisplayDocument: display_view,
    LevelDocument: level_view,
    MeterDocument: meter_view,
    PosesDocument: poses_view,
    SignsDocument: signs_view,
    StillDocument: still_view,
    SurgeDocument: surge_view,
    TravelDocument: travel_view,
    VerifyDocument: verify_view,
    WheelDocument: wheel_view,
}


def view_of(document: Document) -> View:
    """The document's own view; of one that has none, its verdict and what was found."""
    view = _VIEWS.get(type(document))
    return View(document, about="") if view is None else view(document)

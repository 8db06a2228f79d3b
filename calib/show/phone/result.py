"""What is shown of a document that a command ends with."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from calib.show.check import check_view
from calib.show.level import level_view
from calib.show.meter import meter_view
from calib.show.poses import poses_view
from calib.show.signs import signs_view
from calib.show.still import still_view
from calib.show.surge import surge_view
from calib.show.travel import travel_view
from calib.show.view import View
from calib.show.wheel import wheel_view
from calib.store.documents.check import CheckDocument
from calib.store.documents.finding import Document
from calib.store.documents.level import LevelDocument
from calib.store.documents.meter import MeterDocument
from calib.store.documents.poses import PosesDocument
from calib.store.documents.signs import SignsDocument
from calib.store.documents.still import StillDocument
from calib.store.documents.surge import SurgeDocument
from calib.store.documents.travel import TravelDocument
from calib.store.documents.wheel import WheelDocument

_VIEWS: Final[dict[type[Document], Callable[[Any], View]]] = {
    CheckDocument: check_view,
    LevelDocument: level_view,
    MeterDocument: meter_view,
    PosesDocument: poses_view,
    SignsDocument: signs_view,
    StillDocument: still_view,
    SurgeDocument: surge_view,
    TravelDocument: travel_view,
    WheelDocument: wheel_view,
}


def view_of(document: Document) -> View:
    """The document's own view; of one that has none, its verdict and what was found."""
    view = _VIEWS.get(type(document))
    if view is not None:
        return view(document)
    return View("", "", document.verdict, document.findings)

"""The view of each kind of document that has one, for whoever shows documents of any kind."""

from __future__ import annotations

from collections.abc import Callable
from functools import singledispatch
from itertools import chain
from typing import Final

from calib.show.console import Screen
from calib.show.inputs import check_view, meter_view, record_view
from calib.show.page import print_view
from calib.show.sheet import verify_view
from calib.show.tilt import level_view, poses_view, signs_view, still_view, surge_view
from calib.show.travel import travel_view
from calib.show.trust import trust_view
from calib.show.view import View
from calib.show.wheel import display_view, wheel_view
from calib.store.documents.finding import Document

CHAPTERS: Final[dict[str, tuple[Callable[..., View], ...]]] = {
    "Hand controls": (travel_view, verify_view),
    "Wires and inputs": (check_view, meter_view),
    "Wheel and display": (wheel_view, display_view),
    "Tilt": (trust_view, level_view, signs_view, surge_view, still_view, poses_view),
}
"""The views under the report's chapters, in the order of work; that of a new kind is added here."""


@singledispatch
def view_of(document: Document) -> View:
    """The document's own view; of one that has none, its verdict and what was found."""
    return View(document, about="")


for _view in (record_view, *chain.from_iterable(CHAPTERS.values())):
    view_of.register(_view)


def show_view(document: Document, console: Screen) -> None:
    """The page of a document that is shown by its view."""
    print_view(console, view_of(document))

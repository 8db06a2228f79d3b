"""The document of ``calib display``: what only the display shows, against something true."""

from __future__ import annotations

from typing import Literal

import msgspec

from calib.store.documents.finding import Document, Severity


class DisplayFigure(msgspec.Struct, frozen=True, kw_only=True):
    """One figure of the display beside what is true.

    Attributes:
        figure: Which: pack volts, or the temperature of the cold motor.
        unit: Of all the figures.
        shown: What the display showed.
        true: What was measured.
        difference: Shown less true.
        explained: How much of a difference the accuracies of both explain, with 95 %.
        true_from: Who measured it.
        verdict: What came of it.
    """

    figure: Literal["pack", "motor"]
    unit: Literal["V", "degC"]
    shown: float
    true: float
    difference: float
    explained: float
    true_from: str
    verdict: Severity


class BrakeShown(msgspec.Struct, frozen=True, kw_only=True):
    """What the display said of the brake switch.

    Attributes:
        pulled: On or off with the lever pulled.
        free: On or off with the lever free.
        verdict: What came of it.
    """

    pulled: Literal["on", "off"]
    free: Literal["on", "off"]
    verdict: Severity


class DisplayDocument(Document, frozen=True, kw_only=True, tag="calib.display/1"):
    """What only the display shows.

    Attributes:
        figures: Each figure that was read.
        brake: The brake switch; None where it was not tried.
    """

    figures: tuple[DisplayFigure, ...] = ()
    brake: BrakeShown | None = None

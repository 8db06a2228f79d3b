"""The document of ``calib level``: the level zero of the tilt sensor, in degrees."""

from __future__ import annotations

from typing import Literal

import msgspec

from calib.store.documents.budget import BudgetLine
from calib.store.documents.finding import Document

Method = Literal["single", "turned", "typed-slope"]


class AxisZeroFigures(msgspec.Struct, frozen=True, kw_only=True):
    """One axis, degrees, in the sensor's own sign (nose-up positive from an accelerometer).

    Attributes:
        reading: What was read in the first standing.
        zero: What the sensor reads when the machine is truly level.
        u: Standard uncertainty of the zero.
        u95: Half-width that holds the true zero with 95 per cent confidence.
        floor_slope: Slope of the floor, positive where the front was higher in the first standing
            (for roll: the left side); None when it was not separated from the sensor.
        floor_slope_u: Its standard uncertainty.
        rider_tilt: Shift of pitch when the rider sits, nose up positive; None when not seated.
        rider_tilt_u: Its standard uncertainty.
        budget: What ``u`` is made of, largest first.
    """

    reading: float
    zero: float
    u: float
    u95: float
    floor_slope: float | None = None
    floor_slope_u: float | None = None
    rider_tilt: float | None = None
    rider_tilt_u: float | None = None
    budget: tuple[BudgetLine, ...] = ()

    def expanded(self, u: float | None) -> float | None:
        """Half-width of another figure of this axis, with the zero's own coverage factor."""
        return None if u is None or self.u <= 0.0 else u * self.u95 / self.u


class LevelDocument(Document, frozen=True, kw_only=True, tag="calib.level/1"):
    """The level zero. ``pitch`` is None when no zero could be made.

    Attributes:
        pitch: Along the machine.
        roll: Across it; None where nothing shows it.
        method: How the floor was told from the sensor.
        basis: Who saw ``pitch``: the logger, or the controller's display (typed).
        shown: Pitch as the controller shows it, when that was typed beside the logger's.
        shown_method: How the floor was told from the sensor in the typed readings.
        standings: Standings used.
        stand: Whether a stand fixed to the floor set the roll.
    """

    pitch: AxisZeroFigures | None = None
    roll: AxisZeroFigures | None = None
    method: Method = "single"
    basis: Literal["logger", "controller"] = "logger"
    shown: AxisZeroFigures | None = None
    shown_method: Method | None = None
    standings: int = 0
    stand: bool = False

    @property
    def has_rider(self) -> bool:
        """Whether the rider's tilt was measured."""
        return self.pitch is not None and self.pitch.rider_tilt is not None

    @property
    def claims_zero(self) -> bool:
        """Whether it is about the zero, and not the rider's tilt alone."""
        return not (self.method == "single" and self.has_rider)

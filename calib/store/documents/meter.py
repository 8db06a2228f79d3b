"""The document of ``calib meter``: a logger's scale held against a multimeter."""

from __future__ import annotations

import msgspec

from calib.store.documents.finding import Document


class MeterPoint(msgspec.Struct, frozen=True, kw_only=True):
    """One pair of readings, in volts.

    Attributes:
        logger: Mean of the logger's still stretch, before any truing.
        u_logger: Its standard uncertainty from noise and step.
        meter: What the multimeter showed.
        u_meter: Its standard uncertainty from the stated accuracy.
    """

    logger: float
    u_logger: float
    meter: float
    u_meter: float


class MeterDocument(Document, frozen=True, kw_only=True, tag="calib.meter/1"):
    """True volts are ``gain`` times the logger's volts plus ``offset_V``; None where unknown.

    Where ``curve`` is there, its rows take the place of gain and offset.

    Attributes:
        channel: The channel's name in the rig file.
        gain: True volts a logger's volt.
        offset_V: True volts where the logger reads 0.
        u_gain: Standard uncertainty of the gain.
        u_offset_V: Standard uncertainty of the offset.
        cov: Covariance of gain and offset, in volts.
        residuals_V: Meter less straight line, one for each pair.
        from_V: Lowest true voltage that was held against the logger.
        to_V: Highest such voltage.
        bend_V: Farthest that the readings' bend lies from the straight line; None with fewer than
            five readings, where none can be told.
        curve: Rows of the logger's volts, true volts and standard uncertainty, straight in between.
        points: The pairs of readings.
    """

    channel: str
    gain: float | None = None
    offset_V: float | None = None
    u_gain: float | None = None
    u_offset_V: float | None = None
    cov: float | None = None
    residuals_V: tuple[float, ...] = ()
    from_V: float | None = None
    to_V: float | None = None
    bend_V: float | None = None
    curve: tuple[tuple[float, float, float], ...] | None = None
    points: tuple[MeterPoint, ...] = ()

"""The document of ``calib still``: noise and drift of a channel at rest."""

from __future__ import annotations

from calib.store.documents.finding import Document


class StillDocument(Document, frozen=True, kw_only=True, tag="calib.still/1"):
    """How long to average, and how far it wanders.

    Attributes:
        channel: The channel's name; None for the pitch of an accelerometer.
        tau_s: Averaging times, rising.
        sigma: Allan deviation at each, in ``unit``.
        average_s: Averaging time after which more averaging gains nothing, or that reaches the
            wanted noise; None if the rest was too short to tell.
        drift_per_h: Straight-line drift in an hour, in ``unit``; None if too short to tell.
        drift_u_per_h: Its standard uncertainty.
        drift_expanded_per_h: Half-width that holds the true drift with 95 per cent probability.
        unit: Unit of the figures.
        noise: Standard deviation of single readings over seconds, in ``unit``.
        hold_s: Length of the rest.
        lag_s: How late the angle is behind the accelerometer; None if unknown.
    """

    channel: str | None = None
    tau_s: tuple[float, ...] = ()
    sigma: tuple[float, ...] = ()
    average_s: float | None = None
    drift_per_h: float | None = None
    drift_u_per_h: float | None = None
    drift_expanded_per_h: float | None = None
    unit: str = "deg"
    noise: float | None = None
    hold_s: float | None = None
    lag_s: float | None = None

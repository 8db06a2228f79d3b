"""The document of ``calib surge``: false pitch from a push, in degrees."""

from __future__ import annotations

from calib.store.documents.finding import Document


class SurgeDocument(Document, frozen=True, kw_only=True, tag="calib.surge/1"):
    """What shaking fore and aft did to the pitch reading.

    Attributes:
        false_pitch_deg: Pitch shown beyond rest in the shake; None where the shake says nothing.
        fused: Whether the sensor tells tilt from push; None if unknown.
        launch_false_pitch_deg: What a launch would make of it; None if unknown.
        launch_m_s2: The acceleration that was assumed for it.
        shake_g: Strength of the shake (root mean square), g.
        shake_hz: Its rate.
        gain: Pitch shown over the pitch of a bare accelerometer.
    """

    false_pitch_deg: float | None = None
    fused: bool | None = None
    launch_false_pitch_deg: float | None = None
    launch_m_s2: float | None = None
    shake_g: float | None = None
    shake_hz: float | None = None
    gain: float | None = None

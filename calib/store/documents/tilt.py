"""The documents of a tilt sensor: what is measured of it, and whether an aid may trust it."""

from __future__ import annotations

from typing import Literal

import msgspec

from calib.store.documents.finding import BudgetLine, Document, Severity

Vector = tuple[float, float, float]
Claim = Literal["full", "bias", "none"]
"""How much still poses can say."""


class PosesDocument(Document, frozen=True, kw_only=True, tag="calib.poses/1"):
    """True force is ``matrix`` times (reading less ``bias``).

    Attributes:
        claim: How much the poses support: all of it, the bias alone, or nothing.
        bias: Bias of each axis; None where nothing is claimed.
        matrix: Scale and cross-axis terms; None where they are not claimed.
        u: Standard uncertainty of the least certain bias; None where nothing is claimed.
        poses: Still poses found.
        distinct: Poses that differ from each other.
        rms_g: Root mean square of |g| less one after truing.
        raw_rms_g: The same before.
        u_scale: Standard uncertainty of the least certain term of ``matrix``.
    """

    claim: Claim = "none"
    bias: Vector | None = None
    matrix: tuple[Vector, Vector, Vector] | None = None
    u: float | None = None
    poses: int = 0
    distinct: int = 0
    rms_g: float | None = None
    raw_rms_g: float | None = None
    u_scale: float | None = None


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


Convention = Literal["nose-up-positive", "nose-down-positive"]


class PoseFigures(msgspec.Struct, frozen=True, kw_only=True):
    """One pose of the machine, degrees.

    Attributes:
        pose: Its name ("front raised").
        pitch: Reading of pitch.
        pitch_change: Change of pitch from level.
        roll_change: Change of roll from level; None where nothing shows it.
    """

    pose: str
    pitch: float
    pitch_change: float
    roll_change: float | None = None


class StatedAxis(msgspec.Struct, frozen=True, kw_only=True):
    """What the rig file would have to say of one channel of the accelerometer.

    Attributes:
        channel: Its name.
        column: Its column.
        role: The vehicle axis along which it lies.
        sign: -1 where it counts the other way.
    """

    channel: str
    column: str
    role: Literal["accel-x", "accel-y", "accel-z"]
    sign: Literal[1, -1]


class SignsDocument(Document, frozen=True, kw_only=True, tag="calib.signs/1"):
    """Sign, axis and scale.

    Attributes:
        convention: Which way the reading counts; None where no sign was proven.
        pitch_sign: +1 if raising the nose raises the reading, -1 if it lowers it, None if unknown.
        axis_ok: Whether pitch answers to the nose and not to lean; None if unknown.
        scale_ratio: Measured over expected angle; None if unknown.
        gravity_ratio: |g| over what it must be; None without an accelerometer.
        expects: What the controller expects; None if the person did not say.
        basis: Whose readings these are: the logger's, or the controller's display (typed).
        shown_pitch_sign: The sign as the controller shows it; None where it was not typed.
        expected_deg: Pitch that the block makes.
        scale_against: What the true angle was taken from.
        cross_share: Share of a lean that shows as pitch; None without a lean.
        yaw_deg: How far the sensor is turned to the left about the upright axis; None if unknown.
        mounting: The mounting in words; None where it is unknown.
        lag_s: How late the angle is, s, measured or as the person saw it; None if unknown.
        axes: How the accelerometer's axes would have to be stated; empty where they are right.
        poses: What was read.
    """

    convention: Convention | None = None
    pitch_sign: Literal[-1, 1] | None = None
    axis_ok: bool | None = None
    scale_ratio: float | None = None
    gravity_ratio: float | None = None
    expects: Convention | None = None
    basis: Literal["logger", "controller"] = "logger"
    shown_pitch_sign: Literal[-1, 1] | None = None
    expected_deg: float | None = None
    scale_against: Literal["block", "accelerometer"] = "block"
    cross_share: float | None = None
    yaw_deg: float | None = None
    mounting: str | None = None
    lag_s: float | None = None
    axes: tuple[StatedAxis, ...] = ()
    poses: tuple[PoseFigures, ...] = ()


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


class Evidence(msgspec.Struct, frozen=True, kw_only=True):
    """One required piece of evidence.

    Attributes:
        name: What it is ("zero").
        verdict: How good it is; anything but pass is not trust.
        age_h: Hours since it was made; None where there is none or it has no age.
        text: The statement, for the person.
        action: What to do next; empty where nothing needs doing.
    """

    name: str
    verdict: Severity
    age_h: float | None
    text: str
    action: str = ""


class TrustDocument(Document, frozen=True, kw_only=True, tag="calib.trust/1"):
    """The gate.

    Attributes:
        trusted: True only when every required piece of evidence passes and is fresh.
        evidence: All required pieces, in the order in which they are made.
        statement: What "trusted" means here, and what it does not.
    """

    trusted: bool = False
    evidence: tuple[Evidence, ...] = ()
    statement: str = ""

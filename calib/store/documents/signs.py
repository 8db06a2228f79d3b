"""The document of ``calib signs``: which way the tilt sensor counts, and along which axis."""

from __future__ import annotations

from typing import Literal

import msgspec

from calib.store.documents.finding import Document

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

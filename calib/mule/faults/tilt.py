"""Faults of the tilt sensors: mounting, scale, range, drift, and pushes read as tilt."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from calib.mule.bench import Bench
from calib.mule.faults.kind import Fault, on_bench
from calib.mule.gravity import rotation

PITCH: Final = ("pitch",)
ACCEL: Final = ("accel_x",)


def _pitch(bench: Bench, **figures: Any) -> Bench:
    return replace(bench, pitch=replace(bench.pitch, **figures))


def _reversed(bench: Bench, severity: int) -> Bench:
    del severity
    return _pitch(bench, gain=-bench.pitch.gain)


def _sideways(bench: Bench, severity: int) -> Bench:
    del severity
    return _pitch(bench, axis_yaw_deg=90.0)


def _yawed(bench: Bench, severity: int) -> Bench:
    return _pitch(bench, axis_yaw_deg=(60.0, 40.0, 25.0, 15.0, 8.0)[severity - 1])


def _scaled(bench: Bench, severity: int) -> Bench:
    return _pitch(bench, gain=bench.pitch.gain * (0.4, 1.6, 0.75, 0.85, 0.92)[severity - 1])


def _saturated(bench: Bench, severity: int) -> Bench:
    range_deg = (0.6, 1.5, 3.0, 4.5, 6.0)[severity - 1]
    return _pitch(bench, range_deg=range_deg, offset_deg=0.0)


def _drifting(bench: Bench, severity: int) -> Bench:
    return _pitch(bench, drift_deg_per_h=(120.0, 50.0, 20.0, 8.0, 3.0)[severity - 1])


def _pushed(bench: Bench, severity: int) -> Bench:
    leak = (1.0, 0.7, 0.4, 0.2, 0.1)[severity - 1]
    return _pitch(bench, fused=severity > 1, leak_through=leak)


def _lagging(bench: Bench, severity: int) -> Bench:
    return _pitch(bench, lag_s=(2.5, 1.5, 0.8, 0.4, 0.2)[severity - 1])


def _dead(bench: Bench, severity: int) -> Bench:
    del severity
    return _pitch(bench, v_per_deg=0.0, noise_deg=0.0, zero_v=0.0)


def _accel(bench: Bench, **figures: Any) -> Bench:
    return replace(bench, accel=replace(bench.accel, **figures))


def _accel_turned(bench: Bench, severity: int) -> Bench:
    """Quarter turns and half turns, then smaller ones."""
    turns = (
        (180.0, 0.0, 0.0),
        (90.0, 0.0, 0.0),
        (0.0, 0.0, 90.0),
        (35.0, 0.0, 0.0),
        (15.0, 0.0, 0.0),
    )
    return _accel(bench, mounting=rotation(*turns[severity - 1]))


def _accel_biased(bench: Bench, severity: int) -> Bench:
    bias_g = (0.5, 0.3, 0.15, 0.1, 0.06)[severity - 1]
    return _accel(bench, bias_g=(bias_g * 0.4, 0.0, bias_g))


def _accel_scaled(bench: Bench, severity: int) -> Bench:
    gain = (0.5, 1.25, 0.85, 0.92, 0.96)[severity - 1]
    return _accel(bench, gain=(gain, gain, gain))


def _accel_saturated(bench: Bench, severity: int) -> Bench:
    return _accel(bench, range_g=(0.5, 0.8, 0.95, 1.02, 1.1)[severity - 1])


FAULTS: Final[dict[str, Fault]] = {
    "tilt-reversed": Fault("nose-up reads nose-down", on_bench(_reversed), PITCH, graded=False),
    "tilt-sideways": Fault("pitch answers to lean", on_bench(_sideways), PITCH, graded=False),
    "tilt-yawed": Fault("pitch sensor turned about the upright axis", on_bench(_yawed), PITCH),
    "tilt-scaled": Fault("an angle of the wrong size", on_bench(_scaled), PITCH),
    "tilt-saturated": Fault("the angle stops short", on_bench(_saturated), PITCH),
    "tilt-drifting": Fault("the angle wanders off", on_bench(_drifting), PITCH),
    "tilt-pushed": Fault("a push reads as tilt", on_bench(_pushed), PITCH),
    "tilt-lagging": Fault("the angle comes late", on_bench(_lagging), PITCH),
    "tilt-dead": Fault("no signal from the pitch sensor", on_bench(_dead), PITCH, graded=False),
    "accel-turned": Fault("accelerometer mounted turned", on_bench(_accel_turned), ACCEL),
    "accel-biased": Fault("accelerometer with an offset", on_bench(_accel_biased), ACCEL),
    "accel-scaled": Fault("accelerometer of the wrong scale", on_bench(_accel_scaled), ACCEL),
    "accel-saturated": Fault(
        "accelerometer at the end of its range", on_bench(_accel_saturated), ACCEL
    ),
}

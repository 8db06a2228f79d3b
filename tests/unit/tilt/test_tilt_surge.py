"""Surge: a bare accelerometer, a blended sensor, a slow one, and no shake at all."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest

from calib.tilt.lag import step_lag
from calib.tilt.series import TiltSeries
from calib.tilt.surge import Strokes, find_surge, surge_shown

RATE_HZ = 100.0
Array = npt.NDArray[np.float64]


def _shake(peak_g: float, shake_hz: float = 1.2) -> tuple[Array, Array]:
    """Force of a rest of 4 s, a shake of 10 s and a rest; and the push alone, g."""
    rng = np.random.default_rng(1)
    time_s = np.arange(0, 18, 1 / RATE_HZ)
    push = np.where(
        (time_s > 4) & (time_s < 14), peak_g * np.sin(2 * np.pi * shake_hz * (time_s - 4)), 0.0
    )
    force = np.column_stack([push, np.zeros_like(push), np.ones_like(push)])
    return force + rng.normal(0, 0.002, force.shape), push


def _blend(push_g: Array, blend_s: float) -> Array:
    """What a first-order blend makes of the pitch of a bare accelerometer, degrees."""
    bare = np.degrees(np.arctan(push_g))
    shown = np.zeros_like(bare)
    share = 1 / (blend_s * RATE_HZ + 1)
    for i in range(1, shown.size):
        shown[i] = shown[i - 1] + share * (bare[i] - shown[i - 1])
    return shown + np.random.default_rng(2).normal(0, 0.03, shown.size)


def test_a_bare_accelerometer_shows_the_whole_push() -> None:
    """0.2 g of shake is 11.3 degrees of false pitch; a launch of 3 m/s2 is 17.0."""
    force, _ = _shake(0.2)
    found = find_surge(TiltSeries(RATE_HZ, force_g=force), launch_m_s2=3.0)
    assert found.fused is False
    assert found.false_pitch_deg == pytest.approx(math.degrees(math.atan(0.2)), abs=0.5)
    assert found.launch_false_pitch_deg == pytest.approx(17.0097, abs=1e-3)
    assert found.shake_g == pytest.approx(0.2 / math.sqrt(2), rel=0.05)
    assert found.shake_hz == pytest.approx(1.2, abs=0.15)


@pytest.mark.parametrize("blend_s", [1.5, 4.0])
def test_a_blended_sensor_is_known_by_its_blending_time(blend_s: float) -> None:
    """From the shake the launch follows: atan(a/g) times 1 - exp(-T/tau), within a fifth."""
    force, push = _shake(0.25)
    series = TiltSeries(RATE_HZ, pitch_deg=_blend(push, blend_s), force_g=force)
    found = find_surge(series, launch_m_s2=3.0)
    assert found.fused is True
    expected = 17.0097 * (1 - math.exp(-2.0 / blend_s))
    assert found.launch_false_pitch_deg == pytest.approx(expected, rel=0.2)


def test_a_channel_that_is_a_bare_accelerometer_in_disguise() -> None:
    """A pitch channel that follows every push is not fused."""
    force, push = _shake(0.2)
    series = TiltSeries(RATE_HZ, pitch_deg=_blend(push, 0.01), force_g=force)
    assert find_surge(series, launch_m_s2=3.0).fused is False


def test_no_shake_proves_nothing() -> None:
    """A rest, or a shake too weak: no figure, no verdict on fusing."""
    for peak_g in (0.0, 0.03):
        force, _ = _shake(peak_g)
        found = find_surge(TiltSeries(RATE_HZ, force_g=force), launch_m_s2=3.0)
        assert found.false_pitch_deg is None
        assert found.fused is None
        assert found.launch_false_pitch_deg is None


def test_an_unknown_launch_stays_unknown() -> None:
    """Without the machine's acceleration there is no launch figure."""
    force, _ = _shake(0.2)
    found = find_surge(TiltSeries(RATE_HZ, force_g=force), launch_m_s2=None)
    assert found.launch_false_pitch_deg is None
    assert found.false_pitch_deg is not None


def test_strokes_counted_by_the_person_serve_an_angle_alone() -> None:
    """12 strokes of 100 mm in 10 s are 0.2 g rms: against it the shown pitch is judged."""
    strokes = Strokes(stroke_mm=100, count=12, over_s=10)
    peak = (2 * math.pi * 1.2) ** 2 * 0.05 / 9.80665
    assert strokes.rms_g == pytest.approx(peak / math.sqrt(2))
    _, push = _shake(peak)
    bare = find_surge(
        TiltSeries(RATE_HZ, pitch_deg=_blend(push, 0.01)), launch_m_s2=3.0, strokes=strokes
    )
    blended = find_surge(
        TiltSeries(RATE_HZ, pitch_deg=_blend(push, 2.0)), launch_m_s2=3.0, strokes=strokes
    )
    unknown = find_surge(TiltSeries(RATE_HZ, pitch_deg=_blend(push, 2.0)), launch_m_s2=3.0)
    assert (bare.fused, blended.fused, unknown.fused) == (False, True, None)


@pytest.mark.parametrize("late_s", [0.0, 0.25, 1.0])
def test_lag_of_an_angle_behind_the_accelerometer(late_s: float) -> None:
    """A tilt onto the block and back, the angle late by a known time."""
    time_s = np.arange(0, 14, 1 / RATE_HZ)

    def tilt(at_s: Array) -> Array:
        return 4.6 * (np.clip((at_s - 3) / 0.7, 0, 1) - np.clip((at_s - 8) / 0.7, 0, 1))

    rng = np.random.default_rng(3)
    reference = tilt(time_s) + rng.normal(0, 0.1, time_s.size)
    angle = -tilt(time_s - late_s) + rng.normal(0, 0.03, time_s.size)
    found = step_lag(angle, reference, RATE_HZ)
    assert found is not None
    assert found.lag_s == pytest.approx(late_s, abs=0.03)
    assert found.likeness > 0.6


def test_no_tilt_no_lag() -> None:
    """Nothing can be said of the lag while nothing tilts."""
    still = np.random.default_rng(4).normal(0, 0.05, 1000)
    assert step_lag(still, still, RATE_HZ) is None


@pytest.mark.parametrize(("most_deg", "told_deg"), [(0.0, 0.5), (0.2, 0.5), (-0.8, 0.8)])
def test_a_display_that_did_not_move_may_have_moved_by_its_step(
    most_deg: float, told_deg: float
) -> None:
    """What was read off cannot be less than one step of the display, whichever way it went."""
    strokes = Strokes(stroke_mm=100.0, count=12, over_s=10.0)
    assert surge_shown(most_deg, 0.5, strokes, None).false_pitch_deg == told_deg

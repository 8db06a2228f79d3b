"""Surge: a bare accelerometer, a blended sensor, a slow one, and no shake at all."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest

from calib.tilt.series import TiltSeries, step_lag
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


STROKES = Strokes(stroke_mm=100.0, count=12, over_s=10.0)
PEAK_DEG = math.degrees(math.atan((2 * math.pi * 1.2) ** 2 * 0.05 / 9.80665))
"""Largest false pitch of a bare accelerometer in those strokes, degrees."""


@pytest.mark.parametrize(
    ("gain", "fused"),
    [(0.29, True), (0.3, True), (0.31, None), (0.69, None), (0.7, False), (1.2, False)],
)
def test_how_much_of_a_shake_a_fused_sensor_shows(gain: float, fused: bool | None) -> None:
    """Up to three tenths it tells tilt from push, from seven tenths on it does not."""
    found = surge_shown(gain * PEAK_DEG, 0.01, STROKES, 3.0)
    assert found.gain == pytest.approx(gain)
    assert found.fused is fused
    assert (found.shake_g, found.shake_hz) == (STROKES.rms_g, 1.2)


@pytest.mark.parametrize(("count", "over_s"), [(12, 10.0), (8, 10.0), (5, 2.0)])
@pytest.mark.parametrize("gain", [0.2, 0.5, 0.95])
def test_a_launch_by_the_blending_that_a_shake_reveals(
    gain: float, count: int, over_s: float
) -> None:
    """A first-order low pass: 1/√(1 + (2π·f·τ)²) of a shake, 1 - exp(-2/τ) of two seconds."""
    strokes = Strokes(stroke_mm=200.0, count=count, over_s=over_s)
    peak_deg = math.degrees(math.atan(math.sqrt(2.0) * strokes.rms_g))
    found = surge_shown(-gain * peak_deg, 0.01, strokes, 3.0)
    blend_s = math.sqrt(1.0 / gain**2 - 1.0) / (2.0 * math.pi * count / over_s)
    assert 1.0 / math.sqrt(1.0 + (2.0 * math.pi * count / over_s * blend_s) ** 2) == pytest.approx(
        gain
    )
    expected = math.degrees(math.atan(3.0 / 9.80665)) * (1.0 - math.exp(-2.0 / blend_s))
    assert found.launch_false_pitch_deg == pytest.approx(expected)


@pytest.mark.parametrize("gain", [1.0, 1.5])
def test_a_sensor_that_shows_all_of_a_shake_shows_all_of_a_launch(gain: float) -> None:
    """Nothing is blended: atan(a/g)."""
    found = surge_shown(gain * PEAK_DEG, 0.01, STROKES, 3.0)
    assert found.launch_false_pitch_deg == pytest.approx(17.0097, abs=1e-3)


@pytest.mark.parametrize(("rms_g", "told"), [(0.039, False), (0.041, True)])
def test_a_shake_of_four_hundredths_of_g_is_the_least(rms_g: float, told: bool) -> None:
    """As counted by the person and as an accelerometer shows it."""
    stroke_mm = rms_g * math.sqrt(2.0) * 9.80665 * 2000.0 / (2.0 * math.pi * 1.2) ** 2
    strokes = Strokes(stroke_mm=stroke_mm, count=12, over_s=10.0)
    assert strokes.rms_g == pytest.approx(rms_g)
    shown = surge_shown(1.0, 0.1, strokes, 3.0)
    assert (shown.false_pitch_deg is not None) is told
    _, push = _shake(rms_g * math.sqrt(2.0))
    counted = find_surge(
        TiltSeries(RATE_HZ, pitch_deg=_blend(push, 0.01)), launch_m_s2=3.0, strokes=strokes
    )
    assert (counted.false_pitch_deg is not None) is told


def test_what_strokes_show_is_their_scatter_without_the_noise_at_rest() -> None:
    """A sinusoid of 5 degrees beside 1 degree of noise: 5/√2 over what a bare one would show."""
    rng = np.random.default_rng(6)
    time_s = np.arange(0, 60, 1 / RATE_HZ)
    shake = 5.0 * np.sin(2 * np.pi * 1.2 * time_s) * ((time_s > 10) & (time_s < 50))
    series = TiltSeries(RATE_HZ, pitch_deg=shake + rng.normal(0, 1.0, time_s.size))
    found = find_surge(series, launch_m_s2=None, strokes=STROKES)
    bare_deg = math.degrees(math.atan(STROKES.rms_g))
    assert found.gain == pytest.approx(5.0 / math.sqrt(2.0) / bare_deg, rel=0.02)


def test_without_a_rest_or_a_pitch_nothing_is_seen() -> None:
    """A roll alone, and a machine that is never put down."""
    still = TiltSeries(RATE_HZ, roll_deg=np.zeros(1000))
    rocking = TiltSeries(
        RATE_HZ, pitch_deg=5.0 * np.sin(2 * np.pi * 0.7 * np.arange(0, 20, 1 / RATE_HZ))
    )
    resting = TiltSeries(RATE_HZ, pitch_deg=np.zeros(1000))
    for series in (still, rocking, resting):
        found = find_surge(series, launch_m_s2=3.0, strokes=STROKES)
        assert found == find_surge(resting, launch_m_s2=3.0)
        assert (found.false_pitch_deg, found.shake_g, found.gain) == (None, None, None)


def _ramp(late: int, height: float = 5.0) -> Array:
    """A tilt of half a second, late by some readings."""
    ramp: Array = height * np.clip((np.arange(1400.0) - 500.0 - late) / 50.0, 0.0, 1.0)
    return ramp


@pytest.mark.parametrize("late", [0, 1, 37, 299, 300, -1, -37, -300])
def test_lag_to_the_reading(late: int) -> None:
    """Three seconds either way; without noise both are alike to the last digit."""
    found = step_lag(-2.0 * _ramp(late), _ramp(0), RATE_HZ)
    assert found is not None
    assert found.lag_s == late / RATE_HZ
    assert found.likeness == pytest.approx(1.0)


def test_a_lag_beyond_three_seconds_is_not_looked_for() -> None:
    """What agrees best within them is told, and how little it agrees."""
    found = step_lag(_ramp(450), _ramp(0), RATE_HZ)
    assert found is not None
    assert abs(found.lag_s) <= 3.0
    assert found.likeness < 0.5
    for late, lag_s in ((301, 3.0), (-301, -3.0)):
        found = step_lag(_ramp(late), _ramp(0), RATE_HZ)
        assert found is not None
        assert found.lag_s == lag_s


@pytest.mark.parametrize(("height", "told"), [(1.45, False), (1.55, True)])
def test_a_tilt_of_a_degree_and_a_half_has_a_lag(height: float, told: bool) -> None:
    """Less does not stand out of a push; an angle that does not move at all has none."""
    assert (step_lag(_ramp(0), _ramp(0, height), RATE_HZ) is not None) is told
    assert step_lag(np.zeros(1400), _ramp(0, height), RATE_HZ) is None


def test_a_brief_record_has_a_lag_too() -> None:
    """Shorter than three seconds, and so slow that a second is one reading."""
    short = 5.0 * np.clip((np.arange(20.0) - 8.0) / 2.0, 0.0, 1.0)
    found = step_lag(np.roll(short, 2) * (np.arange(20) > 2), short, 1.0)
    assert found is not None
    assert found.lag_s == 2.0
    wide = step_lag(short, short, 100.0)
    assert wide is not None
    assert wide.lag_s == 0.0

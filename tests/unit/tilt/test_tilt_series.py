"""Still stretches and their means."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from calib.measure.sliding import Run
from calib.tilt.series import TiltReading, TiltSeries, mean_u, reading_of, rests_of
from calib.tilt.stillness import find_rests
from tests.tilt_world import RATE_HZ, Sensor, turned


def test_rests_between_movements_are_found() -> None:
    """Three attitudes, held 4 s each: three stretches, the movements left out."""
    rng = np.random.default_rng(1)
    series = Sensor(noise_g=0.003).series(
        [(turned(), 4.0), (turned(5), 4.0), (turned(left_up=8), 4.0)], rng
    )
    found = rests_of(series)
    assert len(found) == 3
    for index, still in enumerate(found):
        assert 290 <= len(still) <= 400
        assert still.first >= index * 480 - 1
        assert still.stop <= index * 480 + 401


def test_a_machine_that_moves_all_the_time_never_stands() -> None:
    """Rocking by some degrees from end to end: no stretch, whatever the quiet floor is."""
    time_s = np.arange(0, 20, 1 / RATE_HZ)
    rocking = 4 * np.sin(2 * np.pi * 0.7 * time_s) + 0.1 * np.random.default_rng(2).normal(
        size=time_s.size
    )
    assert rests_of(TiltSeries(RATE_HZ, pitch_deg=rocking)) == ()


def test_a_capture_too_short_has_no_rest() -> None:
    """Fewer readings than two windows say nothing."""
    assert find_rests(np.zeros((6, 1)), 100, most_unrest=1.0) == ()


def test_constant_readings_stand_still() -> None:
    """A display's constant reading is a rest (whether it is frozen is judged elsewhere)."""
    found = rests_of(TiltSeries(RATE_HZ, pitch_deg=np.full(500, 1.5)))
    assert found == (Run(0, 500),)


def test_mean_of_noisy_force_is_not_biased() -> None:
    """The mean of angles of a noisy force leans; the angle of the mean force does not."""
    rng = np.random.default_rng(3)
    force = Sensor().force(turned(60.0)) + rng.normal(0, 0.2, (40_000, 3))
    reading = reading_of(TiltSeries(RATE_HZ, force_g=force), Run(0, 40_000))
    assert reading.pitch_deg == pytest.approx(60.0, abs=0.2)
    assert reading.pitch_from_force


def test_mean_uncertainty_sees_correlation() -> None:
    """Noise with correlation 0.9 makes a mean 4.4 times as uncertain as white noise would."""
    rng = np.random.default_rng(4)
    scatter = []
    stated = []
    for _ in range(300):
        noise = rng.normal(size=4000)
        for i in range(1, noise.size):
            noise[i] += 0.9 * noise[i - 1]
        scatter.append(noise.mean())
        stated.append(mean_u(noise))
    assert np.mean(np.square(stated)) == pytest.approx(np.var(scatter), rel=0.2)


def test_a_reading_needs_a_sensor() -> None:
    """No pitch and no force: refused, not zero."""
    with pytest.raises(ValueError, match="neither a pitch channel nor an accelerometer"):
        reading_of(TiltSeries(RATE_HZ, roll_deg=np.zeros(100)), Run(0, 100))


def test_drift_is_told() -> None:
    """A reading that creeps by 0.4 degrees through the rest shows most of it as drift."""
    creeping = np.linspace(0, 0.4, 1000)
    reading = reading_of(TiltSeries(RATE_HZ, pitch_deg=creeping), Run(0, 1000))
    assert reading.drift_deg == pytest.approx(0.3, abs=0.01)


@pytest.mark.parametrize("rate_hz", [10, 20, 100])
@pytest.mark.parametrize("axes", [1, 3])
def test_a_rest_is_whole_at_any_rate(rate_hz: int, axes: int) -> None:
    """A minute of mere noise is one rest, though a slow logger's windows hold few readings."""
    noise = np.random.default_rng(5).normal(0, 0.003, (60 * rate_hz, axes))
    found = find_rests(noise, rate_hz, most_unrest=np.inf)
    assert found == (Run(0, 60 * rate_hz),)


@pytest.mark.parametrize("rate_hz", [10, 20, 100])
def test_a_light_touch_still_parts_two_rests(rate_hz: int) -> None:
    """A touch of ten times the noise for a second and a half is told at 10 Hz as at 100 Hz."""
    time_s = np.arange(60 * rate_hz) / rate_hz
    reading = np.random.default_rng(6).normal(0, 0.003, time_s.size)
    touched = (time_s > 30.0) & (time_s < 31.5)
    reading[touched] += 0.03 * np.sin(2 * np.pi * 2.2 * time_s[touched])
    first, second = find_rests(reading[:, None], rate_hz, most_unrest=np.inf)
    assert first.stop / rate_hz == pytest.approx(30.0, abs=0.5)
    assert second.first / rate_hz == pytest.approx(31.5, abs=0.5)


def test_a_figure_by_itself_is_a_reading_of_no_length() -> None:
    """What is typed off a display has neither force nor drift; nothing to read is no reading."""
    typed = TiltReading(1.0, 0.1)
    assert (typed.hold_s, typed.drift_deg) == (0.0, 0.0)
    assert (typed.roll_deg, typed.u_roll_deg, typed.force_g) == (None, None, None)
    assert (typed.pitch_from_force, typed.roll_from_force) == (False, False)
    empty = TiltSeries(100.0)
    assert (empty.count, empty.motion_deg.shape) == (0, (0, 0))
    assert (empty.reported_pitch_deg, empty.reported_roll_deg) == (None, None)


def test_part_of_a_series_has_the_breaks_inside_it() -> None:
    """A break before the first reading of a part, or behind its last, is none of its own."""
    series = TiltSeries(100.0, pitch_deg=np.arange(10.0), breaks=(2, 3, 7, 8))
    part = series.between(2, 8)
    assert part.breaks == (1, 5)
    assert part.pitch_deg is not None
    assert part.pitch_deg.tolist() == [2.0, 3.0, 4.0, 5.0, 6.0, 7.0]
    assert (part.roll_deg, part.force_g) == (None, None)


def test_a_reading_of_few_by_hand() -> None:
    """Mean, drift from first to last quarter, how long, and which figure comes from where."""
    force = np.tile([0.0, 0.1, 1.0], (3, 1))
    series = TiltSeries(2.0, pitch_deg=np.array([0.0, 1.0, 5.0]), force_g=force)
    found = reading_of(series, Run(0, 3))
    assert (found.pitch_deg, found.drift_deg, found.hold_s) == (2.0, 5.0, 1.5)
    assert (found.pitch_from_force, found.roll_from_force) == (False, True)
    assert found.roll_deg == pytest.approx(np.degrees(np.arctan(0.1)))
    rolled = TiltSeries(2.0, roll_deg=np.array([1.0, 1.0, 4.0]), force_g=force)
    found = reading_of(rolled, Run(0, 3))
    assert (found.roll_deg, found.pitch_deg) == (2.0, 0.0)
    assert (found.pitch_from_force, found.roll_from_force) == (True, False)


def test_uncertainty_of_a_mean_by_hand() -> None:
    """Batches of equal length from sixteen readings on, each reading a batch below.

    By hand: a zigzag of ±1 in pairs has eight batches of ±1, and its own spread over √n where
    that is larger.
    """
    assert mean_u(np.array([3.0])) == 0.0
    assert mean_u(np.array([0.0, 1.0])) == pytest.approx(0.5)
    pairs = np.repeat(np.tile([1.0, -1.0], 4), 2)
    assert mean_u(pairs) == pytest.approx((8.0 / 7.0 / 8.0) ** 0.5)
    assert mean_u(pairs[:10]) == pytest.approx((9.6 / 9.0 / 10.0) ** 0.5)
    assert mean_u(pairs[:15]) == pytest.approx(pairs[:15].std(ddof=1) / 15.0**0.5)
    assert mean_u(np.concatenate([np.tile([1.0, -1.0], 4), [0.0, 0.0]])) == pytest.approx(
        (8.0 / 9.0 / 10.0) ** 0.5
    )
    assert mean_u(np.tile([1.0, -1.0], 8)) == pytest.approx((16.0 / 15.0 / 16.0) ** 0.5)


@pytest.mark.parametrize(("slope_deg_s", "rests"), [(0.65, 1), (0.85, 2)])
def test_a_movement_too_slow_to_stand_out_of_the_noise_is_one(
    slope_deg_s: float, rests: int
) -> None:
    """It shifts the mean of 0.4 s by more than 0.3 degrees from one window to the next."""
    time_s = np.arange(0, 14, 1 / RATE_HZ)
    pitch = np.clip((time_s - 5.0) * slope_deg_s, 0.0, 4.0 * slope_deg_s)
    pitch += 0.05 * np.random.default_rng(11).normal(size=time_s.size)
    found = rests_of(TiltSeries(RATE_HZ, pitch_deg=pitch))
    assert len(found) == rests


def test_noise_of_a_slow_logger_is_no_slow_movement() -> None:
    """Windows of five readings wander by more than 0.3 degrees where each wanders by as much."""
    noise = 0.3 * np.random.default_rng(12).normal(size=600)
    assert rests_of(TiltSeries(10.0, pitch_deg=noise)) == (Run(0, 600),)


def zigzag(
    rate_hz: float, *parts: tuple[float, float]
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """A reading that swings by ±amplitude from each to the next, for some seconds each."""
    swing = np.concatenate([np.full(round(seconds * rate_hz), size) for seconds, size in parts])
    swing *= np.tile([1.0, -1.0], swing.size)[: swing.size]
    return np.column_stack([swing + 1e-6 * np.arange(swing.size)])


@pytest.mark.parametrize(("rate_hz", "dof", "least"), [(10.0, 4, 6.85), (1000.0, 399, 3.0)])
@pytest.mark.parametrize(("share", "rests"), [(0.97, 1), (1.03, 2)])
def test_how_far_unrest_stands_above_the_quiet_floor(
    rate_hz: float, dof: int, least: float, share: float, rests: int
) -> None:
    """Three times it, and more where few readings make a window.

    Source: scipy's χ²; one window in a million may pass for a movement, and the floor is the
    median of the quietest tenth.
    """
    by_chance = (stats.chi2.ppf(1.0 - 1e-6, dof) / stats.chi2.ppf(0.05, dof)) ** 0.5
    assert max(by_chance, 3.0) == pytest.approx(least, abs=0.01)
    swung = zigzag(rate_hz, (8.0, 1.0), (4.0, share * least), (8.0, 1.0))
    found = find_rests(swung, rate_hz, most_unrest=np.inf, least_s=1.0)
    assert len(found) == rests


@pytest.mark.parametrize(("most", "rests"), [(0.99, 0), (1.01, 1)])
def test_nothing_noisier_than_what_is_allowed_stands_still(most: float, rests: int) -> None:
    """However even the noise is."""
    swung = zigzag(100.0, (10.0, 1.0))
    assert len(find_rests(swung, 100.0, most_unrest=most)) == rests


@pytest.mark.parametrize(("readings", "rests"), [(9, 0), (10, 1)])
def test_two_windows_are_the_least(readings: int, rests: int) -> None:
    """At 10 Hz a window is five readings, and a rest of a second ten."""
    found = find_rests(np.zeros((readings, 1)), 10.0, most_unrest=1.0)
    assert found == (Run(0, readings),) * rests


def test_no_rest_crosses_a_break() -> None:
    """A quarter of a window on both sides of it is left out, from the very first reading on."""
    still = np.zeros((500, 1))
    found = find_rests(still, 100.0, most_unrest=1.0, breaks=[200])
    assert found == (Run(0, 190), Run(211, 500))
    assert find_rests(still, 100.0, most_unrest=1.0, breaks=[1]) == (Run(12, 500),)
    assert find_rests(still, 100.0, most_unrest=1.0, breaks=[0, 500]) == (Run(0, 500),)
    assert max(found, key=len) == Run(211, 500)


@pytest.mark.parametrize(("least_s", "count"), [(1.9, 2), (1.91, 1)])
def test_a_rest_lasts_as_long_as_is_asked(least_s: float, count: int) -> None:
    """A hundred and ninety readings at 100 Hz are 1.9 s."""
    found = find_rests(np.zeros((500, 1)), 100.0, most_unrest=1.0, least_s=least_s, breaks=[200])
    assert len(found) == count


@pytest.mark.parametrize(("swing_deg", "rests"), [(1.4, 1), (1.6, 0)])
def test_a_sensor_noisier_than_a_degree_and_a_half_never_stands(
    swing_deg: float, rests: int
) -> None:
    """Nothing can be zeroed by it."""
    pitch = zigzag(RATE_HZ, (10.0, swing_deg))[:, 0]
    assert len(rests_of(TiltSeries(RATE_HZ, pitch_deg=pitch))) == rests

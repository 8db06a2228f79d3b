"""Still stretches and their means."""

from __future__ import annotations

import numpy as np
import pytest

from calib.tilt.series import TiltSeries, mean_u, reading_of, rests_of
from calib.tilt.stillness import Still, find_rests
from tests.tilt_world import RATE_HZ, Sensor, turned


def test_rests_between_movements_are_found() -> None:
    """Three attitudes, held 4 s each: three stretches, the movements left out."""
    rng = np.random.default_rng(1)
    series = Sensor(noise_g=0.003).series(
        [(turned(), 4.0), (turned(5), 4.0), (turned(left_up=8), 4.0)], rng
    )
    found = rests_of(series).stretches
    assert len(found) == 3
    for index, still in enumerate(found):
        assert 290 <= still.count <= 400
        assert still.start >= index * 480 - 1
        assert still.stop <= index * 480 + 401


def test_a_machine_that_moves_all_the_time_never_stands() -> None:
    """Rocking by some degrees from end to end: no stretch, whatever the quiet floor is."""
    time_s = np.arange(0, 20, 1 / RATE_HZ)
    rocking = 4 * np.sin(2 * np.pi * 0.7 * time_s) + 0.1 * np.random.default_rng(2).normal(
        size=time_s.size
    )
    assert rests_of(TiltSeries(RATE_HZ, pitch_deg=rocking)).stretches == ()


def test_a_capture_too_short_has_no_rest() -> None:
    """Fewer readings than two windows say nothing."""
    assert find_rests(np.zeros((6, 1)), 100, most_unrest=1.0).longest() is None


def test_constant_readings_stand_still() -> None:
    """A display's constant reading is a rest (whether it is frozen is judged elsewhere)."""
    found = rests_of(TiltSeries(RATE_HZ, pitch_deg=np.full(500, 1.5)))
    assert found.stretches == (Still(0, 500),)


def test_mean_of_noisy_force_is_not_biased() -> None:
    """The mean of angles of a noisy force leans; the angle of the mean force does not."""
    rng = np.random.default_rng(3)
    force = Sensor().force(turned(60.0)) + rng.normal(0, 0.2, (40_000, 3))
    reading = reading_of(TiltSeries(RATE_HZ, force_g=force), Still(0, 40_000))
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
        reading_of(TiltSeries(RATE_HZ, roll_deg=np.zeros(100)), Still(0, 100))


def test_drift_is_told() -> None:
    """A reading that creeps by 0.4 degrees through the rest shows most of it as drift."""
    creeping = np.linspace(0, 0.4, 1000)
    reading = reading_of(TiltSeries(RATE_HZ, pitch_deg=creeping), Still(0, 1000))
    assert reading.drift_deg == pytest.approx(0.3, abs=0.01)


@pytest.mark.parametrize("rate_hz", [10, 20, 100])
@pytest.mark.parametrize("axes", [1, 3])
def test_a_rest_is_whole_at_any_rate(rate_hz: int, axes: int) -> None:
    """A minute of mere noise is one rest, though a slow logger's windows hold few readings."""
    noise = np.random.default_rng(5).normal(0, 0.003, (60 * rate_hz, axes))
    found = find_rests(noise, rate_hz, most_unrest=np.inf)
    assert found.stretches == (Still(0, 60 * rate_hz),)


@pytest.mark.parametrize("rate_hz", [10, 20, 100])
def test_a_light_touch_still_parts_two_rests(rate_hz: int) -> None:
    """A touch of ten times the noise for a second and a half is told at 10 Hz as at 100 Hz."""
    time_s = np.arange(60 * rate_hz) / rate_hz
    reading = np.random.default_rng(6).normal(0, 0.003, time_s.size)
    touched = (time_s > 30.0) & (time_s < 31.5)
    reading[touched] += 0.03 * np.sin(2 * np.pi * 2.2 * time_s[touched])
    first, second = find_rests(reading[:, None], rate_hz, most_unrest=np.inf).stretches
    assert first.stop / rate_hz == pytest.approx(30.0, abs=0.5)
    assert second.start / rate_hz == pytest.approx(31.5, abs=0.5)

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.controls.meter import MeterSpec, Stretch, Trued, still_stretches, true_scale
from calib.controls.scale_budget import trued_u
from calib.store.conversion import trued

SPEC = MeterSpec(pct=0.5, digits=2.0, step_V=0.001)


def stretches(*levels_V: float, u_V: float = 0.0005) -> tuple[Stretch, ...]:
    """Still stretches at given levels."""
    return tuple(Stretch(level_V, u_V, 0.0, 3.0) for level_V in levels_V)


def steps(*levels_V: float, hold_s: float = 2.0) -> NDArray[np.float64]:
    """Volts of a potentiometer that is turned from level to level, at 100 Hz."""
    parts: list[NDArray[np.float64]] = []
    for before, level_V in zip((levels_V[0], *levels_V), levels_V, strict=False):
        parts += [np.linspace(before, level_V, 40), np.full(round(hold_s * 100), level_V)]
    volts = np.concatenate(parts)
    return volts + 0.001 * np.random.default_rng(91).normal(size=volts.shape)


@pytest.mark.parametrize(
    ("pct", "digits", "step_V", "volts", "limit_V", "u_V"),
    [
        (0.08, 2.0, 0.001, 2.0, 0.0036, 0.0020785),
        (0.5, 3.0, 0.001, 2.0, 0.013, 0.0075056),
        (0.8, 2.0, 0.1, 100.0, 1.0, 0.5773503),
    ],
)
def test_meter_statement(
    pct: float, digits: float, step_V: float, volts: float, limit_V: float, u_V: float
) -> None:
    """±(per cent + digits) gives the makers' own worked limits, and a rectangular uncertainty.

    Source: worked examples of two multimeter makers' pages (limits seen there).
    """
    spec = MeterSpec(pct, digits, step_V)
    assert spec.half_width_V(volts) == pytest.approx(limit_V, abs=1e-9)
    assert spec.u_V(volts) == pytest.approx(u_V, abs=1e-6)


def test_still_voltages_are_found_in_order() -> None:
    """Each voltage that stands for two seconds is a stretch, with its mean."""
    volts = steps(0.8, 2.4, 4.1)
    found = still_stretches(np.arange(len(volts)) / 100.0, volts)
    assert [one.mean_V for one in found] == pytest.approx([0.8, 2.4, 4.1], abs=5e-4)
    assert all(0.0 < one.u_V < 0.001 and one.hold_s > 1.5 for one in found)


def test_a_touch_does_not_make_two_of_one() -> None:
    """A short disturbance leaves one stretch; a level held for half a second is none."""
    volts = steps(0.8, 4.1)
    volts[130:150] += 0.3
    found = still_stretches(np.arange(len(volts)) / 100.0, volts)
    assert len(found) == 2
    short = steps(0.8, 2.4, hold_s=0.5)
    assert still_stretches(np.arange(len(short)) / 100.0, short) == ()


def test_gain_and_offset_are_recovered() -> None:
    """A logger that reads 4 % high and 10 mV off is put right."""
    logger = [0.9, 2.4, 4.0]
    meter = [(volts - 0.01) / 1.04 for volts in logger]
    found = true_scale(stretches(*logger), meter, SPEC)
    assert found.scale.gain == pytest.approx(1.0 / 1.04)
    assert trued(found.scale, np.array(2.4)) == pytest.approx(meter[1])
    assert (found.scale.from_V, found.scale.to_V) == (meter[0], meter[2])
    assert np.abs(found.residuals_V).max() < 1e-12
    assert not found.beyond


def test_the_meter_s_own_scale_is_not_averaged_away() -> None:
    """However many readings, the gain is known no better than the meter's per cent of reading."""
    logger = list(np.linspace(0.5, 4.5, 40))
    found = true_scale(stretches(*logger), logger, SPEC)
    assert found.scale.u_gain == pytest.approx(0.005 / 3.0**0.5, rel=0.05)
    assert trued_u(4.0, found.scale) >= 0.005 * 4.0 / 3.0**0.5


def test_uncertainty_by_drawing() -> None:
    """Gain, offset and covariance agree with a simulation of the meter's and logger's errors."""
    rng = np.random.default_rng(92)
    logger = np.array([0.9, 2.0, 4.0])
    drawn = []
    for _ in range(4000):
        common = rng.uniform(-0.005, 0.005)
        digits = rng.uniform(-0.002, 0.002, 3)
        read = tuple((logger + 0.0005 * rng.normal(size=3)).tolist())
        found = true_scale(stretches(*read), (logger * (1.0 + common) + digits).tolist(), SPEC)
        drawn.append((found.scale.gain, found.scale.offset_V))
    covariance = np.cov(np.array(drawn).T)
    stated = true_scale(stretches(*logger.tolist()), logger.tolist(), SPEC)
    assert stated.scale.u_gain == pytest.approx(covariance[0, 0] ** 0.5, rel=0.06)
    assert stated.scale.u_offset_V == pytest.approx(covariance[1, 1] ** 0.5, rel=0.06)
    assert stated.scale.cov == pytest.approx(covariance[0, 1], rel=0.15)


def test_a_slip_is_seen() -> None:
    """A reading typed 0.1 V wrong lies beyond what meter and logger allow."""
    found = true_scale(stretches(0.9, 2.4, 4.0), [0.9, 2.5, 4.0], SPEC)
    assert found.beyond
    assert np.abs(found.residuals_V).max() > found.allowed_V.max()


def test_a_voltage_that_is_come_back_to_is_another_reading() -> None:
    """Left for another voltage and set again, it is a stretch of its own."""
    volts = steps(0.8, 2.4, 0.8, hold_s=1.5)
    found = still_stretches(np.arange(len(volts)) / 100.0, volts)
    assert [one.mean_V for one in found] == pytest.approx([0.8, 2.4, 0.8], abs=1e-3)


def test_one_reading_off_by_more_than_the_meter_says_is_beyond() -> None:
    """Five readings on a line pass; one of them 20 mV off contradicts ±(0.5 % + 2 digits)."""
    at = (0.8, 1.6, 2.4, 3.2, 4.0)
    sound = true_scale(stretches(*at), [1.01 * volts for volts in at], SPEC)
    assert not sound.beyond
    assert sound.bend is None or not sound.bend.is_one
    off = true_scale(stretches(*at), [1.01 * volts + 0.02 * (volts == 2.4) for volts in at], SPEC)
    assert off.beyond


def held(*levels: tuple[float, int], rate_hz: float = 64.0) -> tuple[Stretch, ...]:
    """Stretches of levels that stand for some readings each, with no reading on the way between.

    The last digit flickers, or the levels themselves would be taken for the converter's steps.
    """
    volts = np.concatenate([np.full(count, level_V) for level_V, count in levels])
    volts += 1e-5 * np.tile([1.0, -1.0], len(volts))[: len(volts)]
    return still_stretches(np.arange(len(volts)) / rate_hz, volts)


def test_a_stretch_stands_for_a_second() -> None:
    """From its first reading to its last; one reading less is none."""
    second, shorter, third = (1.0, 65), (2.0, 64), (3.0, 97)
    assert [(one.start_s, one.hold_s, one.end_s) for one in held(second, third)] == [
        (0.0, 1.0, 1.0),
        (65 / 64, 1.5, 161 / 64),
    ]
    found = held(second, shorter, third)
    assert [one.mean_V for one in found] == pytest.approx([1.0, 3.0], abs=1e-5)


def test_neighbours_nearer_than_fifty_millivolts_are_one_stretch() -> None:
    """What a touch broke in two is put together: its mean, its beginning and both times."""
    first, low, high = (0.5, 96), (2.0, 60), (2.04, 20)
    assert len(held(first, low, (2.06, 60))) == 1
    _, both = held(first, low, high)
    assert both.mean_V == pytest.approx((60 * 2.0 + 20 * 2.04) / 80, abs=1e-5)
    assert (both.start_s, both.hold_s) == (1.5, 78 / 64)
    assert len(held(first, (2.0, 70), (2.06, 70))) == 3
    assert len(held(first, (2.0, 70), (1.96, 70))) == 2


def test_what_a_mean_is_known_to_by_noise_and_by_step() -> None:
    """A zigzag of ±e over n readings: e/√n, for it is not correlated; a still code: step/√12."""
    time_s = np.arange(200) / 100.0
    (zigzag,) = still_stretches(time_s, 2.0 + 0.001 * np.tile([1.0, -1.0], 100))
    assert zigzag.u_V == pytest.approx(0.001 / 200.0**0.5)
    (code,) = still_stretches(time_s, np.full(200, 2.0), lsb_V=0.02)
    assert code.u_V == pytest.approx(0.02 / 12.0**0.5)


DIGITS_U = 0.002 / 3.0**0.5
"""Standard uncertainty of two digits of a millivolt."""


def trued_by(
    residuals: NDArray[np.float64], pct: float = 0.0, u_V: float = 0.0, *, curved: bool = False
) -> Trued:
    """A scale of gain 1 from readings at even places that leave these residuals."""
    logger = 0.5 + 0.25 * np.arange(len(residuals))
    spec = MeterSpec(pct, 2.0, 0.001)
    meter = (logger + residuals).tolist()
    return true_scale(stretches(*logger.tolist(), u_V=u_V), meter, spec, curved=curved)


@pytest.mark.parametrize(("over", "beyond"), [(0.99, False), (1.01, True)])
def test_residuals_too_large_together_contradict_the_meter(over: float, beyond: bool) -> None:
    """χ² of twelve readings about a line is beyond 23.209, 1 % of ten degrees of freedom.

    Source: χ² tables. Each residual alone is within the meter's two digits.
    """
    size = DIGITS_U * (23.209 * over / 12.0) ** 0.5
    found = trued_by(size * np.tile([1.0, -1.0, -1.0, 1.0], 3))
    assert np.abs(found.residuals_V).max() < found.allowed_V.min()
    assert found.beyond is beyond


@pytest.mark.parametrize(("off_V", "beyond"), [(0.0038, False), (0.0042, True)])
def test_one_residual_too_large_contradicts_the_meter(off_V: float, beyond: bool) -> None:
    """Of forty readings one: χ² bears it, the meter's digits with twice the logger's doubt do not.

    The line follows a lone reading in the middle by a fortieth.
    """
    residuals = np.zeros(41)
    residuals[20] = off_V
    found = trued_by(residuals, u_V=0.001)
    assert found.residuals_V[20] == pytest.approx(off_V * 40.0 / 41.0)
    assert found.allowed_V == pytest.approx(np.full(41, 0.004))
    assert found.beyond is beyond


def test_what_meter_and_logger_allow_by_hand() -> None:
    """Per cent of the meter's reading, its digits, and two of the logger's u times the gain."""
    logger = (1.0, 2.0, 4.0)
    found = true_scale(stretches(*logger, u_V=0.003), [2.0 * v for v in logger], SPEC)
    by_hand = [0.005 * 2.0 * v + 0.002 + 2.0 * 2.0 * 0.003 for v in logger]
    assert found.allowed_V == pytest.approx(by_hand)


def test_two_readings_make_a_line_that_nothing_contradicts() -> None:
    """Gain, offset and covariance of two exact readings and a meter with its own found.

    By hand for logger 1 and 4 V: u/3·√2, u/3·√17 and -5/9·u² from the digits, and the meter's
    per cent, common to both, times gain and offset.
    """
    found = true_scale(stretches(1.0, 4.0, u_V=0.0), [1.12, 4.18], SPEC)
    assert (found.scale.gain, found.scale.offset_V) == pytest.approx((1.02, 0.1))
    assert not found.beyond
    assert (found.bend, found.scale.curve) == (None, None)
    common = 0.005 / 3.0**0.5
    u_gain = np.hypot(DIGITS_U * 2.0**0.5 / 3.0, common * 1.02)
    assert found.scale.u_gain == pytest.approx(u_gain)
    assert found.scale.u_offset_V == pytest.approx(
        np.hypot(DIGITS_U * 17.0**0.5 / 3.0, common * 0.1)
    )
    assert found.scale.cov == pytest.approx(-5.0 / 9.0 * DIGITS_U**2 + common**2 * 1.02 * 0.1)
    assert (found.scale.from_V, found.scale.to_V) == (1.12, 4.18)


def test_a_line_through_a_bow_is_worth_no_more_than_the_bow() -> None:
    """Without a curve the bend is in the offset, rectangular; with one it is in the curve."""
    bow = 0.01 * np.array([5.0, -1.0, -4.0, -4.0, -1.0, 5.0])
    line, curve = trued_by(bow), trued_by(bow, curved=True)
    assert line.bend is not None
    assert line.bend.is_one
    assert (line.scale.curve, curve.bend) == (None, line.bend)
    assert curve.scale.curve is not None
    added = line.scale.u_offset_V**2 - curve.scale.u_offset_V**2
    assert added**0.5 == pytest.approx(0.05 / 3.0**0.5)
    straight = trued_by(0.0001 * bow, curved=True)
    assert straight.scale.curve is None
    assert straight.scale.u_offset_V == pytest.approx(curve.scale.u_offset_V)


def test_what_a_touch_broke_belongs_to_the_stretch_before_it() -> None:
    """Whichever of several that is, and in however many parts."""
    first, second, third, later = (0.5, 96), (1.5, 96), (2.0, 60), (2.04, 60)
    found = held(first, second, third, later)
    assert [one.hold_s for one in found] == [95 / 64, 95 / 64, 118 / 64]
    assert found[2].mean_V == pytest.approx(2.02, abs=1e-5)
    parts = held(first, (2.0, 60), (2.04, 60), (2.08, 60), second)
    assert [one.hold_s for one in parts] == [95 / 64, 177 / 64, 95 / 64]

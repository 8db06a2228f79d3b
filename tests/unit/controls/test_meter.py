from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.controls.meter import MeterSpec, Stretch, still_stretches, true_scale
from calib.controls.trued import trued_u
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
    scale = true_scale(stretches(*logger), meter, SPEC)
    assert scale.gain == pytest.approx(1.0 / 1.04)
    assert trued(scale.as_scale(""), np.array(2.4)) == pytest.approx(meter[1])
    assert (scale.from_V, scale.to_V) == (meter[0], meter[2])
    assert np.abs(scale.residuals_V).max() < 1e-12
    assert not scale.beyond


def test_the_meter_s_own_scale_is_not_averaged_away() -> None:
    """However many readings, the gain is known no better than the meter's per cent of reading."""
    logger = list(np.linspace(0.5, 4.5, 40))
    scale = true_scale(stretches(*logger), logger, SPEC)
    assert scale.u_gain == pytest.approx(0.005 / 3.0**0.5, rel=0.05)
    assert trued_u(4.0, scale.as_scale("")) >= 0.005 * 4.0 / 3.0**0.5


def test_uncertainty_by_drawing() -> None:
    """Gain, offset and covariance agree with a simulation of the meter's and logger's errors."""
    rng = np.random.default_rng(92)
    logger = np.array([0.9, 2.0, 4.0])
    drawn = []
    for _ in range(4000):
        common = rng.uniform(-0.005, 0.005)
        digits = rng.uniform(-0.002, 0.002, 3)
        read = tuple((logger + 0.0005 * rng.normal(size=3)).tolist())
        scale = true_scale(stretches(*read), (logger * (1.0 + common) + digits).tolist(), SPEC)
        drawn.append((scale.gain, scale.offset_V))
    covariance = np.cov(np.array(drawn).T)
    stated = true_scale(stretches(*logger.tolist()), logger.tolist(), SPEC)
    assert stated.u_gain == pytest.approx(covariance[0, 0] ** 0.5, rel=0.06)
    assert stated.u_offset_V == pytest.approx(covariance[1, 1] ** 0.5, rel=0.06)
    assert stated.cov == pytest.approx(covariance[0, 1], rel=0.15)


def test_a_slip_is_seen() -> None:
    """A reading typed 0.1 V wrong lies beyond what meter and logger allow."""
    scale = true_scale(stretches(0.9, 2.4, 4.0), [0.9, 2.5, 4.0], SPEC)
    assert scale.beyond
    assert np.abs(scale.residuals_V).max() > scale.allowed_V.max()


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

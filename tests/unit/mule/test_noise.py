from __future__ import annotations

import numpy as np
import pytest

from calib.mule.sampler import Flicker, Relaxation


def test_relaxation_has_unit_variance_and_its_own_time_constant() -> None:
    """Samples one time constant apart correlate by 1/e."""
    noise = Relaxation(np.random.default_rng(4), tau_s=0.1, rate_hz=100.0, width=1)
    x = noise.block(200_000)[:, 0]
    assert x.std() == pytest.approx(1.0, abs=0.03)
    assert np.mean(x[:-10] * x[10:]) == pytest.approx(np.exp(-1.0), abs=0.03)


def test_flicker_power_falls_with_frequency() -> None:
    """A decade up in frequency loses a decade of power, within a factor of two."""
    x = Flicker(np.random.default_rng(5), rate_hz=100.0, width=1).block(2**18)[:, 0]
    power = np.abs(np.fft.rfft(x)) ** 2
    f_hz = np.fft.rfftfreq(len(x), 0.01)
    low = power[(f_hz > 0.02) & (f_hz < 0.06)].mean()
    high = power[(f_hz > 0.2) & (f_hz < 0.6)].mean()
    assert 5.0 < low / high < 20.0


def test_blocks_continue_each_other() -> None:
    """One long block and many short ones hold the same numbers."""
    whole = Flicker(np.random.default_rng(6), 50.0, 2).block(100)
    parts = Flicker(np.random.default_rng(6), 50.0, 2)
    joined = np.concatenate([parts.block(n) for n in (1, 7, 30, 62)])
    assert np.allclose(whole, joined, rtol=0, atol=1e-12)

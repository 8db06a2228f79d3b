from __future__ import annotations

import numpy as np
import pytest

from calib.checks.bench.noise import Noise, NoiseFigures, alias_hz, explained_share, noise_figures
from calib.store.documents.check import CheckFigures
from tests.unit.checks.bench.waves import Floats, noise, volts_signal

QUIET = np.ones(6000, dtype=np.bool_)


def _hum(line_hz: float, amplitude_V: float, rate_hz: float) -> Floats:
    time_s = np.arange(6000) / rate_hz
    return np.asarray(1.0 + amplitude_V * np.sin(2 * np.pi * line_hz * time_s + 0.7))


def _then(sd_V: float, hum: float | None = None) -> CheckFigures:
    """What is on record of a channel's noise."""
    return CheckFigures(unit="V", noise=sd_V, hum=hum)


@pytest.mark.parametrize(
    ("frequency_hz", "rate_hz", "expected_hz"),
    [(50.0, 1000.0, 50.0), (50.0, 100.0, 50.0), (60.0, 100.0, 40.0), (50.0, 50.0, 0.0),
     (60.0, 50.0, 10.0), (120.0, 100.0, 20.0)],
)  # fmt: skip
def test_a_frequency_appears_where_sampling_theory_says(
    frequency_hz: float, rate_hz: float, expected_hz: float
) -> None:
    """Folding about multiples of half the rate."""
    assert alias_hz(frequency_hz, rate_hz) == pytest.approx(expected_hz)


@pytest.mark.parametrize(("line_hz", "rate_hz"), [(50.0, 1000.0), (60.0, 1000.0), (60.0, 100.0)])
def test_the_amplitude_of_a_mains_line_is_read(line_hz: float, rate_hz: float) -> None:
    """20 mV of hum in 5 mV of noise is read as 20 mV, at the right line."""
    values = _hum(line_hz, 0.020, rate_hz) + noise(6000, 0.005)
    found = noise_figures(values, QUIET, rate_hz, 0.0)
    assert found.hum == pytest.approx(0.020, abs=0.003)
    assert found.hum_hz == line_hz
    assert found.stands_out


@pytest.mark.parametrize(("rate_hz", "looked_for"), [(0.1, False), (2.9, False), (3.2, True)])
def test_a_logger_that_reads_every_few_seconds_sees_no_mains(
    rate_hz: float, looked_for: bool
) -> None:
    """A line is told from a level from 1.5 Hz on; at less than twice that rate none can be."""
    found = noise_figures(1.0 + noise(6000, 0.01), QUIET, rate_hz, 0.0)
    assert (found.hum is not None) == looked_for
    assert found.sd == pytest.approx(0.01, rel=0.1)


def test_white_noise_has_no_line_that_stands_out_enough_to_be_hum() -> None:
    """Noise of any size is not called hum."""
    values = 1.0 + noise(6000, 0.05)
    found = noise_figures(values, QUIET, 1000.0, 0.0)
    assert not Noise(volts_signal(values), found, _then(0.05, hum=0.001), 3.0).hum_explains
    assert found.sd == pytest.approx(0.05, rel=0.05)


def test_warming_is_not_noise() -> None:
    """A drift of 20 mV over the check leaves the spread at that of the noise."""
    values = 1.0 + noise(6000, 0.002) + np.linspace(0.0, 0.020, 6000)
    assert noise_figures(values, QUIET, 100.0, 0.0).sd == pytest.approx(0.002, rel=0.1)


def test_the_step_of_the_converter_is_the_least_noise() -> None:
    """A reading that never flickers still has the spread of its step."""
    found = noise_figures(np.full(6000, 1.0), QUIET, 100.0, 0.005)
    assert found.sd == pytest.approx(0.005 / np.sqrt(12.0))


def test_grown_noise_is_judged_against_the_record_or_the_span() -> None:
    """Twice the record, or 1 % of the span without one."""
    now = NoiseFigures(0.03)
    signal = volts_signal(np.ones(10))
    assert not Noise(signal, now, _then(0.02), 3.1).grown
    assert Noise(signal, now, _then(0.01), 3.1).grown
    assert not Noise(signal, now, None, 3.1).grown
    assert Noise(signal, now, None, 2.0).grown


def test_a_common_noise_is_told_from_one_of_its_own() -> None:
    """A channel that follows its supply is explained by it; its own noise is not."""
    rail = 5.0 + noise(6000, 0.05, 1)
    follows = 0.2 * rail + noise(6000, 0.002, 2)
    own = 1.0 + noise(6000, 0.05, 3)
    assert explained_share(follows, rail, QUIET) > 0.9
    assert explained_share(own, rail, QUIET) < 0.01

from __future__ import annotations

import math

import numpy as np
import pytest

from calib.checks.bench.thermal import Temperature, temperature_findings, temperature_of
from calib.store.documents.finding import Severity
from calib.store.rig import Channel
from tests.unit.checks.bench.waves import volts_signal

MOTOR = Channel(
    role="temperature", column="a4", unit="V", ntc_R25_ohm=10_000.0, ntc_beta_K=3950.0,
    pullup_ohm=10_000.0, pullup_V=5.0,
)  # fmt: skip


def _read(ohms: float, name: str = "motor", then_degC: float | None = None) -> Temperature:
    volts = 5.0 * ohms / (ohms + 10_000.0) if np.isfinite(ohms) else 5.0
    found = temperature_of(volts_signal(np.full(10, volts), name, channel=MOTOR), then_degC)
    assert found is not None
    return found


def _at(degC: float, *, r25: float = 10_000.0, beta: float = 3950.0) -> float:
    """Ohms of a thermistor that follows the beta law."""
    return r25 * math.exp(beta * (1.0 / (degC + 273.15) - 1.0 / 298.15))


def test_a_thermistor_reads_its_temperature() -> None:
    """Ten kilohms under ten kilohms at half the supply is 25 degC."""
    assert _read(10_000.0).degC == pytest.approx(25.0, abs=1e-6)


@pytest.mark.parametrize(
    ("ohms", "code"),
    [(float("inf"), "temperature-open"), (5e6, "temperature-open"), (0.5, "temperature-short"),
     (0.0, "temperature-short")],
)  # fmt: skip
def test_an_absurd_temperature_is_open_or_shorted(ohms: float, code: str) -> None:
    """No resistance and endless resistance are told apart, and neither ends in a crash."""
    (finding,) = temperature_findings([_read(ohms)], cold=False)
    assert finding.code == code
    assert finding.value is None or np.isfinite(finding.value)


def test_a_garage_is_not_absurd() -> None:
    """Frost and summer pass."""
    for degC in (-15.0, 40.0):
        assert not list(temperature_findings([_read(_at(degC))], cold=True))


def test_two_that_agree_pass() -> None:
    """Within 3 K after a cold soak."""
    assert (
        next(temperature_findings([_read(_at(14.0)), _read(_at(16.0), "ambient")], cold=True), None)
        is None
    )


def test_a_bad_joint_is_named_by_the_colder_one() -> None:
    """Seven kelvin colder: a caution, and a fail where the machine is said to be cold."""
    both = [_read(_at(14.0), "ambient"), _read(_at(7.0), "motor")]
    warm, cold = (
        next(temperature_findings(both, cold=False), None),
        next(temperature_findings(both, cold=True), None),
    )
    assert warm is not None
    assert cold is not None
    assert (warm.code, warm.channel) == ("temperatures-apart", "motor")
    assert (warm.severity, cold.severity) == (Severity.CAUTION, Severity.FAIL)
    assert warm.value == pytest.approx(7.0, abs=0.01)


def test_the_record_says_which_of_two_moved() -> None:
    """The one that left its record is the odd one, even if it is the warmer."""
    both = [_read(_at(14.0), "ambient", 15.0), _read(_at(40.0), "motor", 15.0)]
    finding = next(temperature_findings(both, cold=False), None)
    assert finding is not None
    assert finding.channel == "motor"


@pytest.mark.parametrize(
    ("r25", "beta"), [(100_000.0, 3950.0), (47_000.0, 3950.0), (5_000.0, 3950.0)]
)
def test_another_type_is_named(r25: float, beta: float) -> None:
    """A sensor that would agree if it were of a common other type is said to be one."""
    both = [_read(_at(14.0, r25=r25, beta=beta), "motor", 14.0), _read(_at(14.0), "ambient", 14.0)]
    finding = next(temperature_findings(both, cold=False), None)
    assert finding is not None
    assert (finding.code, finding.channel) == ("temperature-wrong-type", "motor")
    assert f"{r25 / 1000:g} kΩ" in finding.text


def test_one_sensor_alone_has_nothing_to_agree_with() -> None:
    """A single temperature is not judged against itself."""
    assert next(temperature_findings([_read(_at(14.0))], cold=True), None) is None

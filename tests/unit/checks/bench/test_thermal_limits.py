"""Temperature sensors at both sides of each limit: open, short, apart, of another common type."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from calib.checks.bench.thermal import Temperature, temperature_findings, temperature_of
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Channel
from tests.unit.checks.bench.evening import checked, level, rig, told
from tests.unit.checks.bench.waves import volts_signal


def _sensor(
    name: str,
    degC: float,
    *,
    ohms: float | None = None,
    then_degC: float | None = None,
    r25_ohm: float = 10e3,
    **limits: float,
) -> Temperature:
    channel = Channel(
        role="temperature", column=name, unit="degC", ntc_R25_ohm=r25_ohm, ntc_beta_K=3950.0,
        limits=limits,
    )  # fmt: skip
    signal = replace(volts_signal(np.full(4, degC), name, channel=channel), unit="degC")
    return Temperature(signal, degC, ohms, then_degC)


def _ohms(degC: float, r25_ohm: float, beta_K: float) -> float:
    return r25_ohm * math.exp(beta_K * (1.0 / (degC + 273.15) - 1.0 / 298.15))


def _told(*sensors: Temperature, cold: bool = True) -> list[Finding]:
    return list(temperature_findings(sensors, cold=cold))


@pytest.mark.parametrize(("apart_K", "said"), [(2.5, False), (2.625, True)])
@pytest.mark.parametrize("turned", [False, True])
def test_sensors_may_be_apart_as_far_as_the_colder_ones_limit(
    apart_K: float, said: bool, turned: bool
) -> None:
    """After a cold soak; at that limit itself they agree. The farthest two of all count."""
    cold = _sensor("cold", 10.0, temperature_apart_K=2.5)
    warm = _sensor("warm", 10.0 + apart_K, temperature_apart_K=90.0)
    middle = _sensor("middle", 11.0, temperature_apart_K=90.0)
    found = _told(*((warm, middle, cold) if turned else (cold, middle, warm)))
    assert [(each.value, each.limit, each.channel) for each in found] == (
        [(2.625, 2.5, "cold")] if said else []
    )


@pytest.mark.parametrize(
    ("cold_then", "warm_then", "odd"),
    [
        (10.0, 20.0, "cold"),
        (14.0, 14.0, "warm"),
        (15.0, 15.0, "cold"),
        (15.0, 14.0, "warm"),
        (16.0, 14.5, "cold"),
        (None, 10.0, "cold"),
        (10.0, None, "cold"),
        (None, None, "cold"),
    ],
)
def test_the_one_that_moved_farthest_since_the_record_is_odd(
    cold_then: float | None, warm_then: float | None, odd: str
) -> None:
    """Of 10 and 20 degrees today; the colder one where both moved alike or nobody knows."""
    both = _sensor("cold", 10.0, then_degC=cold_then), _sensor("warm", 20.0, then_degC=warm_then)
    (found,) = _told(*both)
    assert (found.code, found.channel) == ("temperatures-apart", odd)
    assert f"{'colder' if odd == 'cold' else 'warmer'} than" in found.text
    assert found.value == 10.0


@pytest.mark.parametrize(
    ("degC", "code", "limit"),
    [(-40.0, None, None), (-40.5, "temperature-open", -40.0), (150.0, None, None),
     (150.5, "temperature-short", 150.0), (math.inf, "temperature-short", 150.0)],
)  # fmt: skip
def test_an_absurd_sensor_is_told_with_what_it_shows(
    degC: float, code: str | None, limit: float | None
) -> None:
    """And is not compared with any other; an endless one is over a thousand."""
    found = _told(_sensor("a", degC, ohms=1234.0), _sensor("b", degC if code is None else 20.0))
    assert [(each.code, each.limit) for each in found] == ([] if code is None else [(code, limit)])
    for each in found:
        assert each.value == (degC if math.isfinite(degC) else None)
        assert ("reads over 1000 degC" in each.text) is math.isinf(degC)
        assert "(1.23e+03 ohm)" in each.text
    bare = _told(_sensor("a", degC))
    assert all("ohm)" not in each.text for each in bare)


TYPES = [
    (r25_ohm, beta_K)
    for r25_ohm in (1e3, 2e3, 5e3, 10e3, 20e3, 47e3, 50e3, 100e3)
    for beta_K in (3435.0, 3950.0)
    if (r25_ohm, beta_K) != (10e3, 3950.0)
]


@pytest.mark.parametrize(("r25_ohm", "beta_K"), TYPES)
def test_each_common_type_is_named(r25_ohm: float, beta_K: float) -> None:
    """Beside one that reads 10 degrees below nought, by its resistance; the record knows which."""
    ohms = _ohms(-10.0, r25_ohm, beta_K)
    other = _sensor("ambient", -10.0, then_degC=-10.0)
    (found,) = _told(_sensor("motor", 20.0, ohms=ohms, then_degC=-10.0), other)
    assert (found.code, found.channel) == ("temperature-wrong-type", "motor")
    assert f"a sensor of {r25_ohm / 1000:g} kΩ, β {beta_K:g} K would agree" in found.text
    assert (found.value, found.limit, found.severity) == (30.0, 3.0, Severity.CAUTION)


@pytest.mark.parametrize(("miss_K", "named"), [(1.4, True), (1.6, False)])
def test_a_type_agrees_within_one_and_a_half_kelvin(miss_K: float, named: bool) -> None:
    """Else it is a sensor that is wrong."""
    ohms = _ohms(14.0 - miss_K, 5e3, 3950.0)
    other = _sensor("ambient", 14.0, then_degC=14.0)
    (found,) = _told(_sensor("motor", 30.0, ohms=ohms, then_degC=14.0), other)
    assert (found.code == "temperature-wrong-type") is named


@pytest.mark.parametrize("ohms", [None, 0.0, math.inf])
def test_what_has_no_resistance_is_of_no_type(ohms: float | None) -> None:
    """Nor is what is of the type that the rig file says."""
    other = _sensor("ambient", 14.0, then_degC=14.0)
    (found,) = _told(_sensor("motor", 30.0, ohms=ohms, then_degC=14.0), other)
    assert found.code == "temperatures-apart"
    declared = _ohms(14.0, 10e3, 3950.0)
    (found,) = _told(_sensor("motor", 30.0, ohms=declared, then_degC=14.0), other)
    assert found.code == "temperatures-apart"
    otherwise = _sensor("motor", 30.0, ohms=declared, then_degC=14.0, r25_ohm=5e3)
    (found,) = _told(otherwise, other)
    assert found.code == "temperature-wrong-type"


@pytest.mark.parametrize(
    ("cold_degC", "warm_degC", "odd"),
    [
        (-10.0, 60.0, "warm"),
        (-10.5, 60.0, "cold"),
        (-20.0, 45.0, "cold"),
        (-20.0, 45.5, "warm"),
        (5.0, 30.0, "cold"),
    ],
)
def test_of_two_that_may_both_be_of_another_type_the_one_that_reads_a_garage_is_right(
    cold_degC: float, warm_degC: float, odd: str
) -> None:
    """From 10 degrees of frost to 45 of heat; where both or none does, the nearer type counts.

    That is the one whose type would read just what the other reads, by a third of a kelvin; but
    where the heat decides it is the farther.
    """
    nearer, farther = (0.0, 0.3) if warm_degC == 60.0 or warm_degC == 30.0 else (0.3, 0.0)
    both = (
        _sensor("cold", cold_degC, ohms=_ohms(warm_degC - nearer, 5e3, 3950.0)),
        _sensor("warm", warm_degC, ohms=_ohms(cold_degC - farther, 20e3, 3950.0)),
    )
    for pair in (both, both[::-1]):
        (found,) = _told(*pair)
        assert (found.code, found.channel) == ("temperature-wrong-type", odd)


def test_with_a_record_only_the_one_that_moved_may_be_of_another_type() -> None:
    """The other is as it was; without one either may be."""
    ohms = _ohms(14.0, 5e3, 3950.0)
    fits = _sensor("fits", 30.0, ohms=ohms, then_degC=30.0)
    moved = _sensor("moved", 14.0, then_degC=30.0)
    (found,) = _told(fits, moved)
    assert (found.code, found.channel) == ("temperatures-apart", "moved")
    (found,) = _told(replace(fits, then_degC=None), replace(moved, then_degC=None))
    assert (found.code, found.channel) == ("temperature-wrong-type", "fits")


@pytest.mark.parametrize(("code", "degC"), [(1022.0, None), (1023.0, -273.15)])
def test_a_thermistor_that_mostly_reads_the_last_code_is_open(
    code: float, degC: float | None
) -> None:
    """It would have to be endless; one code below it there is a resistance."""
    channel = Channel(
        role="temperature", column="t", unit="count", full_scale=1024.0, reference_V=5.0,
        ntc_R25_ohm=10e3, ntc_beta_K=3950.0, pullup_ohm=10e3, pullup_V=5.0,
    )  # fmt: skip
    raw = np.full(101, code)
    raw[:50] = 512.0
    signal = replace(
        volts_signal((raw + 0.5) * 5.0 / 1024.0, channel=channel), raw=raw, last_code=1023.0
    )
    found = temperature_of(signal, 20.0)
    assert found is not None
    assert found.then_degC == 20.0
    if degC is None:
        assert found.ohms is not None
        assert math.isfinite(found.ohms)
        assert -40.0 < found.degC < 25.0
    else:
        assert (found.degC, found.ohms) == (degC, math.inf)
    warm = Channel(role="temperature", column="t", unit="degC")
    plain = temperature_of(replace(volts_signal(np.array([10.0, 20.0, 60.0]), channel=warm),
                                   unit="degC"), 5.0)  # fmt: skip
    assert plain is not None
    assert (plain.degC, plain.ohms, plain.moved_K) == (30.0, None, 25.0)
    assert temperature_of(volts_signal(raw)) is None


@pytest.mark.parametrize(
    ("condition", "severity"),
    [(None, Severity.CAUTION), ("warm", Severity.CAUTION), ("after a COLD night", Severity.FAIL)],
)
def test_sensors_that_differ_fail_only_where_the_machine_is_said_to_be_cold(
    condition: str | None, severity: Severity
) -> None:
    """Whatever else is said of the conditions."""
    text = "".join(
        f'[channels.{name}]\nrole = "{role}"\ncolumn = "{name}"\nunit = "degC"\n'
        for name, role in (("motor", "temperature"), ("garage", "ambient"))
    )
    document = checked(rig(text), condition=condition, motor=level(30.0), garage=level(10.0))
    found = told(document, "temperatures-apart", "garage")
    assert found is not None
    assert found.severity is severity
    figures = document.channels["motor"].figures
    assert figures is not None
    assert figures.degC == 30.0

"""Temperature sensors: open, shorted, of the wrong type, or apart after a cold soak."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations, product

import numpy as np

from calib.checks.bench.signals import Signal
from calib.checks.temperature import KELVIN_AT_0_DEGC, degrees, ntc_degC, thermistor_ohms
from calib.store.documents import said
from calib.store.documents.finding import Severity

TYPE_WITHIN_K = 1.5
"""How near a common type must come to what the other sensor reads; own choice, because a
thermistor of 1 per cent is within 0.3 K and a 10-bit logger resolves 1 K far from its middle."""

GARAGE_DEGC = (-10.0, 45.0)
"""Temperatures that a garage has; own choice: a sensor outside them is the odd one of two."""

ThermistorType = tuple[float, float]
"""Resistance at 25 degC in ohms, and beta in kelvin."""

COMMON_TYPES: tuple[ThermistorType, ...] = tuple(
    product((1e3, 2e3, 5e3, 10e3, 20e3, 47e3, 50e3, 100e3), (3435.0, 3950.0))
)
"""Types that a sensor may be instead. Source: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Temperature:
    """One sensor's mean temperature.

    Attributes:
        signal: The channel.
        degC: Mean in degrees Celsius; infinite when shorted.
        ohms: Mean resistance in ohms; None where it is not a thermistor.
        then_degC: Mean on record; None without one.
    """

    signal: Signal
    degC: float
    ohms: float | None
    then_degC: float | None = None

    @property
    def moved_K(self) -> float:
        """How far it is from the record, K; 0 without one."""
        return 0.0 if self.then_degC is None else abs(self.degC - self.then_degC)


def temperature_of(signal: Signal, then_degC: float | None = None) -> Temperature | None:
    """A channel's mean temperature; None where the rig file does not tell how to get it.

    Args:
        signal: The channel.
        then_degC: Its mean on record.
    """
    mean = np.array([float(np.mean(signal.values))])
    read = degrees(signal.channel, mean)
    if read is None:
        return None
    if signal.unit == "degC":
        return Temperature(signal, float(read[0]), None, then_degC)
    if signal.last_code is not None and float(np.median(signal.raw)) >= signal.last_code:
        return Temperature(signal, -KELVIN_AT_0_DEGC, math.inf, then_degC)
    ohms = float(thermistor_ohms(signal.channel, mean)[0])
    return Temperature(signal, float(read[0]), ohms, then_degC)


def temperature_findings(temperatures: Sequence[Temperature], *, cold: bool) -> said.Findings:
    """Sensors that are open or shorted, and among the others two that disagree.

    Args:
        temperatures: All sensors.
        cold: Whether the machine is said to have stood cold.

    Source: limits ``temperature_open_degC`` and ``temperature_short_degC``.
    """
    sound = []
    for each in temperatures:
        degC, coldest_degC = each.degC, each.signal.limit("temperature_open_degC")
        warmest_degC = each.signal.limit("temperature_short_degC")
        if coldest_degC <= degC <= warmest_degC:
            sound.append(each)
            continue
        yield said.fail(
            "temperature-open" if degC < coldest_degC else "temperature-short",
            degC if math.isfinite(degC) else None,
            coldest_degC if degC < coldest_degC else warmest_degC,
            channel=each.signal.name,
            shown=f"{degC:.0f}" if math.isfinite(degC) else "over 1000",
            ohms="" if each.ohms is None else f" ({each.ohms:.3g} ohm)",
        )
    yield from _apart_findings(sound, cold=cold)


def _apart_findings(temperatures: Sequence[Temperature], *, cold: bool) -> said.Findings:
    """Sensors that disagree though everything is cold.

    Without a record the colder one is named: a bad joint makes a thermistor read colder, while a
    warmer one may really be warm. With one it is the one that moved most.

    Source: limit ``temperature_apart_K``; beta law for the type.
    """
    if len(temperatures) < 2:
        return
    coldest = min(temperatures, key=lambda each: each.degC)
    warmest = max(temperatures, key=lambda each: each.degC)
    apart_K = warmest.degC - coldest.degC
    allowed_K = coldest.signal.limit("temperature_apart_K")
    if apart_K <= allowed_K:
        return
    known = warmest.then_degC is not None and coldest.then_degC is not None
    odd, sound = coldest, warmest
    if known and warmest.moved_K > coldest.moved_K:
        odd, sound = warmest, coldest
    other = _other_type(odd, sound, either=not known)
    if other is not None:
        odd, sound, (r25_ohm, beta_K) = other
        yield said.caution(
            "temperature-wrong-type",
            abs(odd.degC - sound.degC),
            odd.signal.limit("temperature_apart_K"),
            channel=odd.signal.name,
            odd=odd,
            sound=sound,
            kind=f"{r25_ohm / 1000:g} kΩ, β {beta_K:g} K",
        )
        return
    yield said.finding(
        Severity.FAIL if cold else Severity.CAUTION,
        "temperatures-apart/colder" if odd is coldest else "temperatures-apart/warmer",
        apart_K,
        allowed_K,
        channel=odd.signal.name,
        odd=odd,
        sound=sound,
    )


def _other_type(
    odd: Temperature, sound: Temperature, *, either: bool
) -> tuple[Temperature, Temperature, ThermistorType] | None:
    """Which sensor would agree with the other if it were of another common type.

    Args:
        odd: The one that is thought to be wrong.
        sound: The other.
        either: Whether it may as well be the other way round.

    Source: own choice of method: the type that comes nearest; beta law.
    """
    r25_ohm, beta_K = np.array(COMMON_TYPES).T
    found = []
    for first, second in permutations((odd, sound)) if either else ((odd, sound),):
        if first.ohms is None or not 0.0 < first.ohms < math.inf:
            continue
        degC = ntc_degC(np.array(first.ohms), r25_ohm=r25_ohm, beta_K=beta_K)
        misses_K = np.abs(degC - second.degC)
        kind, miss_K = COMMON_TYPES[int(misses_K.argmin())], float(misses_K.min())
        declared = (first.signal.channel.ntc_R25_ohm, first.signal.channel.ntc_beta_K)
        if miss_K <= TYPE_WITHIN_K and kind != declared:
            in_garage = GARAGE_DEGC[0] <= second.degC <= GARAGE_DEGC[1]
            found.append((not in_garage, miss_K, (first, second, kind)))
    return min(found, key=lambda each: each[:2], default=(True, 0.0, None))[2]

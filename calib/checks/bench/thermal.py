"""Temperature sensors: open, shorted, of the wrong type, or apart after a cold soak."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.signals import Signal
from calib.checks.limits import limit
from calib.checks.temperature import (
    degrees,
    has_thermistor,
    thermistor_ohms,
    type_that_fits,
)
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity

TYPE_WITHIN_K = 1.5
"""How near a common type must come to what the other sensor reads; own choice, because a
thermistor of 1 per cent is within 0.3 K and a 10-bit logger resolves 1 K far from its middle."""

GARAGE_DEGC = (-10.0, 45.0)
"""Temperatures that a garage has; own choice: a sensor outside them is the odd one of two."""


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
    def is_absurd(self) -> bool:
        """Whether no garage has it. Source: limits ``temperature_open_degC``, ``…_short_degC``."""
        channel = self.signal.channel
        low, high = (
            limit("temperature_open_degC", channel),
            limit("temperature_short_degC", channel),
        )
        return not low <= self.degC <= high

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
    ohms = None
    if signal.unit == "V" and has_thermistor(signal.channel):
        top = signal.last_code is not None and float(np.median(signal.raw)) >= signal.last_code
        ohms = float("inf") if top else float(thermistor_ohms(signal.channel, mean)[0])
        if top:
            read = np.array([-273.15])
    return Temperature(signal, float(read[0]), ohms, then_degC)


def absurd_finding(temperature: Temperature) -> Finding:
    """A temperature that no garage has: open or shorted.

    Source: limits ``temperature_open_degC`` and ``temperature_short_degC``.
    """
    channel, name = temperature.signal.channel, temperature.signal.name
    low, high = limit("temperature_open_degC", channel), limit("temperature_short_degC", channel)
    is_open = temperature.degC < low
    ohms = "" if temperature.ohms is None else f" ({temperature.ohms:.3g} ohm)"
    shown = f"{temperature.degC:.0f}" if np.isfinite(temperature.degC) else "over 1000"
    return Finding(
        code="temperature-open" if is_open else "temperature-short",
        severity=Severity.FAIL,
        text=f"{name} reads {shown} degC{ohms}: its sensor is "
        + ("open or its wire broken." if is_open else "shorted."),
        value=temperature.degC if np.isfinite(temperature.degC) else None,
        limit=low if is_open else high,
        unit="degC",
        action=f"Unplug {name} and measure the sensor in ohms: a 10 kΩ thermistor has 10 to 30 kΩ "
        "between 0 and 25 degC.",
        channel=name,
    )


def apart_findings(temperatures: Sequence[Temperature], *, cold: bool) -> Iterator[Finding]:
    """Sensors that disagree though everything is cold.

    Without a record the colder one is named: a bad joint makes a thermistor read colder, while a
    warmer one may really be warm. With one it is the one that moved most.

    Args:
        temperatures: Sensors that are not absurd.
        cold: Whether the machine is said to have stood cold.

    Source: limit ``temperature_apart_K``; beta law for the type.
    """
    if len(temperatures) < 2:
        return
    coldest = min(temperatures, key=lambda each: each.degC)
    warmest = max(temperatures, key=lambda each: each.degC)
    apart_K = warmest.degC - coldest.degC
    allowed_K = limit("temperature_apart_K", coldest.signal.channel)
    if apart_K <= allowed_K:
        return
    known = warmest.then_degC is not None and coldest.then_degC is not None
    if known and warmest.moved_K > coldest.moved_K:
        odd, sound = warmest, coldest
    else:
        odd, sound = coldest, warmest
    other = _other_type(odd, sound, either=not known)
    if other is not None:
        yield other
        return
    colder = "colder" if odd is coldest else "warmer"
    why = f"a bad joint in {odd.signal.name}" if odd is coldest else f"damp in {odd.signal.name}"
    yield said.finding(
        Severity.FAIL if cold else Severity.CAUTION,
        "temperatures-apart",
        apart_K,
        allowed_K,
        channel=odd.signal.name,
        colder=colder,
        name=sound.signal.name,
        degC=odd.degC,
        degC2=sound.degC,
        why=why,
        name2=warmest.signal.name,
    )


def _other_type(odd: Temperature, sound: Temperature, *, either: bool) -> Finding | None:
    """Whether a sensor that disagrees would agree if it were of another common type.

    Args:
        odd: The one that is thought to be wrong.
        sound: The other.
        either: Whether it may as well be the other way round.
    """
    found = []
    for first, second in ((odd, sound), (sound, odd)) if either else ((odd, sound),):
        if first.ohms is None or not 0.0 < first.ohms < float("inf"):
            continue
        fit = type_that_fits(first.ohms, second.degC)
        declared = (first.signal.channel.ntc_R25_ohm, first.signal.channel.ntc_beta_K)
        if fit.miss_K <= TYPE_WITHIN_K and (fit.kind.r25_ohm, fit.kind.beta_K) != declared:
            found.append((fit, first, second))
    if not found:
        return None
    low_degC, high_degC = GARAGE_DEGC
    fit, odd, sound = min(
        found, key=lambda each: (not low_degC <= each[2].degC <= high_degC, each[0].miss_K)
    )
    return said.caution(
        "temperature-wrong-type",
        abs(odd.degC - sound.degC),
        limit("temperature_apart_K", odd.signal.channel),
        channel=odd.signal.name,
        degC=odd.degC,
        degC2=sound.degC,
        name=sound.signal.name,
        ohms=odd.ohms,
        name2=fit.kind.name,
    )

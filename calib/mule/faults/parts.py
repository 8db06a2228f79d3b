"""Faults of parts: springs, stops, magnets, tracks, thermistors and the brake switch."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from calib.mule.bench import CONTROLS, Bench, Control, Switch
from calib.mule.circuit import OPEN, Thermistor
from calib.mule.faults.kind import Fault, gripped, on_bench, on_control, sensed

TEMPERATURES: Final = ("motor", "ambient")


def _sticky(control: Control, severity: int) -> Control:
    at = (0.35, 0.25, 0.15, 0.10, 0.06)[severity - 1]
    for_s = (3.0, 2.0, 1.2, 0.8, 0.4)[severity - 1]
    return gripped(control, stuck_at=at, stuck_s=for_s)


def _slow(control: Control, severity: int) -> Control:
    return gripped(control, return_s=(3.0, 1.8, 0.9, 0.6, 0.42)[severity - 1], rebound=0.0)


def _rest_moved(control: Control, severity: int) -> Control:
    return gripped(control, rest=(0.15, 0.09, 0.05, 0.035, 0.02)[severity - 1])


def _full_moved(control: Control, severity: int) -> Control:
    return gripped(control, stop=1.0 - (0.25, 0.12, 0.06, 0.04, 0.02)[severity - 1])


def _weak_magnet(control: Control, severity: int) -> Control:
    return sensed(control, magnet=(0.45, 0.6, 0.75, 0.87, 0.94)[severity - 1])


def _reversed(control: Control, severity: int) -> Control:
    del severity
    hall = control.hall
    return sensed(control, rest_share=1.0 - hall.rest_share, full_share=1.0 - hall.full_share)


def _worn(control: Control, severity: int) -> Control:
    depth = (0.4, 0.25, 0.12, 0.07, 0.04)[severity - 1]
    return sensed(control, worn_at=0.55, worn_width=0.12, worn_depth=depth)


def _cracked(control: Control, severity: int) -> Control:
    return sensed(control, crack_at=0.45, crack_step=(0.35, 0.2, 0.1, 0.06, 0.03)[severity - 1])


def _flat(control: Control, severity: int) -> Control:
    width = (0.3, 0.2, 0.12, 0.08, 0.05)[severity - 1]
    return sensed(control, flat_at=0.45, flat_width=width)


def _play(control: Control, severity: int) -> Control:
    return gripped(control, play=(0.22, 0.15, 0.1, 0.08, 0.06)[severity - 1])


def _two_rests(control: Control, severity: int) -> Control:
    return gripped(control, second_rest=(0.12, 0.08, 0.06, 0.045, 0.035)[severity - 1])


def _lagging(control: Control, severity: int) -> Control:
    return gripped(control, lag=(0.3, 0.2, 0.12, 0.08, 0.05)[severity - 1])


def _sensor(bench: Bench, target: str) -> Thermistor:
    return bench.motor if target == "motor" else bench.ambient


def _with_sensor(bench: Bench, target: str, sensor: Thermistor) -> Bench:
    if target == "motor":
        return replace(bench, motor=sensor)
    return replace(bench, ambient=sensor)


def _disagrees(bench: Bench, target: str, severity: int) -> Bench:
    """A bad joint: as many ohms in series as make the bead seem colder by some kelvin."""
    colder_k = (20.0, 12.0, 8.0, 5.0, 3.0)[severity - 1]
    sensor = _sensor(bench, target)
    kelvin = bench.garage.ambient_c + 273.15
    bead_ohm = sensor.r25_ohm * math.exp(sensor.beta_k * (1.0 / kelvin - 1.0 / 298.15))
    colder_ohm = bead_ohm * math.exp(sensor.beta_k * (1.0 / (kelvin - colder_k) - 1.0 / kelvin))
    return _with_sensor(bench, target, replace(sensor, series_ohm=colder_ohm - bead_ohm))


def _ntc_open(bench: Bench, target: str, severity: int) -> Bench:
    damp_ohm = (OPEN, 5.0e6, 2.0e6, 8.0e5, 4.5e5)[severity - 1]
    sensor = replace(_sensor(bench, target), series_ohm=OPEN, across_ohm=damp_ohm)
    return _with_sensor(bench, target, sensor)


def _ntc_short(bench: Bench, target: str, severity: int) -> Bench:
    short_ohm = (0.5, 20.0, 60.0, 150.0, 400.0)[severity - 1]
    return _with_sensor(bench, target, replace(_sensor(bench, target), across_ohm=short_ohm))


def _ntc_other_type(bench: Bench, target: str, severity: int) -> Bench:
    r25_ohm, beta_k = (
        (100_000.0, 3950.0),
        (47_000.0, 3950.0),
        (5_000.0, 3950.0),
        (8_000.0, 3950.0),
        (10_000.0, 3435.0),
    )[severity - 1]
    sensor = replace(_sensor(bench, target), r25_ohm=r25_ohm, beta_k=beta_k)
    return _with_sensor(bench, target, sensor)


def _brake(bench: Bench, switch: Switch) -> Bench:
    return replace(bench, brake=switch)


def _brake_closed(bench: Bench, severity: int) -> Bench:
    del severity
    return _brake(bench, replace(bench.brake, stuck=True))


def _brake_open(bench: Bench, severity: int) -> Bench:
    del severity
    return _brake(bench, replace(bench.brake, stuck=False))


def _brake_inverted(bench: Bench, severity: int) -> Bench:
    del severity
    return _brake(bench, replace(bench.brake, normally_closed=True))


def _brake_crept(bench: Bench, severity: int) -> Bench:
    """Damp across the contact and a bad joint: both levels come nearer to one another."""
    off_v = (0.2, 0.4, 0.6, 0.8, 0.95)[severity - 1]
    return _brake(bench, replace(bench.brake, closed_v=2.5 - off_v, pullup_v=2.5 + off_v))


def _brake_bounces(bench: Bench, severity: int) -> Bench:
    bounce_s = (0.2, 0.12, 0.05, 0.02, 0.008)[severity - 1]
    return _brake(bench, replace(bench.brake, bounce_s=bounce_s))


FAULTS: Final[dict[str, Fault]] = {
    "return-sticky": Fault("hangs part open on the way back", on_control(_sticky), CONTROLS),
    "return-slow": Fault("comes back slowly", on_control(_slow), CONTROLS),
    "rest-moved": Fault("no longer comes back all the way", on_control(_rest_moved), CONTROLS),
    "full-moved": Fault("no longer reaches its stop", on_control(_full_moved), CONTROLS),
    "span-shrunk": Fault("magnet weak or loose", on_control(_weak_magnet), CONTROLS),
    "control-reversed": Fault("works backwards", on_control(_reversed), CONTROLS, graded=False),
    "spot-worn": Fault("falls back at one place of the travel", on_control(_worn), CONTROLS),
    "magnet-cracked": Fault("jumps at one place of the travel", on_control(_cracked), CONTROLS),
    "spot-flat": Fault("stands still over part of the travel", on_control(_flat), CONTROLS),
    "play": Fault("its lever is loose at rest", on_control(_play), CONTROLS),
    "rest-double": Fault("catches at a second rest", on_control(_two_rests), CONTROLS),
    "hysteresis": Fault("the sensor lags behind its lever", on_control(_lagging), CONTROLS),
    "temperature-off": Fault(
        "one cold sensor reads colder than the other", _disagrees, TEMPERATURES
    ),
    "ntc-open": Fault("thermistor open", _ntc_open, TEMPERATURES),
    "ntc-short": Fault("thermistor shorted", _ntc_short, TEMPERATURES),
    "ntc-other-type": Fault("thermistor of another type", _ntc_other_type, TEMPERATURES),
    "brake-stuck-closed": Fault(
        "brake switch always on", on_bench(_brake_closed), ("brake",), graded=False
    ),
    "brake-stuck-open": Fault(
        "brake switch never on", on_bench(_brake_open), ("brake",), graded=False
    ),
    "brake-inverted": Fault(
        "brake switch the other way round", on_bench(_brake_inverted), ("brake",), graded=False
    ),
    "brake-crept": Fault("brake switch's levels crept", on_bench(_brake_crept), ("brake",)),
    "brake-bounces": Fault("brake switch chatters", on_bench(_brake_bounces), ("brake",)),
}

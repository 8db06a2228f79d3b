"""Faults of the harness and the supply: opens, shorts, bridges, bad grounds, bad contacts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from calib.mule.bench import CONTROLS, Bench, Control, Intermittent
from calib.mule.circuit import OPEN
from calib.mule.faults.kind import Fault, on_bench, on_control, wired


def _floating(control: Control, severity: int) -> Control:
    joint_ohm = (OPEN, 3.0e10, 2.0e9, 3.0e8, 3.0e7)[severity - 1]
    return wired(control, signal_ohm=joint_ohm, leak_ohm=1.0e9, hum_a=2.0e-10)


def _pulled_down(control: Control, severity: int) -> Control:
    joint_ohm = (OPEN, 1.0e7, 2.0e5, 3.0e4, 8.0e3)[severity - 1]
    return wired(control, signal_ohm=joint_ohm, leak_ohm=1.0e5, leak_to_v=0.0)


def _pulled_up(control: Control, severity: int) -> Control:
    joint_ohm = (OPEN, 1.0e7, 2.0e5, 3.0e4, 8.0e3)[severity - 1]
    return wired(control, signal_ohm=joint_ohm, leak_ohm=1.0e5, leak_to_v=5.0)


def _open_near_mains(control: Control, severity: int) -> Control:
    joint_ohm = (OPEN, 5.0e6, 1.0e6, 2.0e5, 5.0e4)[severity - 1]
    return wired(control, signal_ohm=joint_ohm, leak_ohm=1.0e7, hum_a=2.0e-7)


def _short_to_ground(control: Control, severity: int) -> Control:
    return wired(control, to_ground_ohm=(0.5, 3.0, 60.0, 200.0, 600.0)[severity - 1])


def _short_to_supply(control: Control, severity: int) -> Control:
    return wired(control, to_supply_ohm=(0.5, 3.0, 60.0, 200.0, 600.0)[severity - 1])


def _ground_lost(control: Control, severity: int) -> Control:
    return wired(control, ground_ohm=(OPEN, 400.0, 60.0, 20.0, 8.0)[severity - 1])


def _supply_lost(control: Control, severity: int) -> Control:
    return wired(control, supply_ohm=(OPEN, 400.0, 100.0, 40.0, 15.0)[severity - 1])


def _hum(control: Control, severity: int) -> Control:
    amplitude_v = (0.3, 0.15, 0.07, 0.03, 0.012)[severity - 1]
    return wired(control, hum_a=amplitude_v / control.hall.out_ohm)


def _burst(control: Control, severity: int) -> Control:
    sd_v = (0.25, 0.12, 0.06, 0.03, 0.015)[severity - 1]
    return wired(control, burst_a=sd_v / control.hall.out_ohm)


def _bridged(bench: Bench, severity: int) -> Bench:
    return replace(bench, bridge_ohm=(0.1, 10.0, 40.0, 100.0, 200.0)[severity - 1])


def _wet(bench: Bench, severity: int) -> Bench:
    return replace(bench, bridge_ohm=(600.0, 1200.0, 3000.0, 6000.0, 20000.0)[severity - 1])


def _shared_ground(bench: Bench, severity: int) -> Bench:
    ohm = (0.25, 0.12, 0.06, 0.03, 0.012)[severity - 1]
    return replace(bench, rail=replace(bench.rail, shared_ground_ohm=ohm))


def _rail_low(bench: Bench, severity: int) -> Bench:
    volts = (3.6, 4.2, 4.5, 4.65, 4.72)[severity - 1]
    return replace(bench, rail=replace(bench.rail, volts=volts))


def _rail_high(bench: Bench, severity: int) -> Bench:
    volts = (6.4, 5.8, 5.5, 5.36, 5.29)[severity - 1]
    return replace(bench, rail=replace(bench.rail, volts=volts))


def _sagging(bench: Bench, severity: int) -> Bench:
    sag_v = (1.6, 0.9, 0.55, 0.35, 0.2)[severity - 1]
    return replace(bench, rail=replace(bench.rail, sag_v=sag_v))


def _ripple(bench: Bench, severity: int) -> Bench:
    ripple_v = (0.4, 0.2, 0.1, 0.05, 0.02)[severity - 1]
    return replace(bench, rail=replace(bench.rail, ripple_v=ripple_v))


def _swapped(bench: Bench, severity: int) -> Bench:
    del severity
    return replace(bench, logger=replace(bench.logger, swaps=(CONTROLS,)))


def _loose(
    wire: str, per_s: tuple[float, ...], open_s: tuple[float, ...]
) -> Callable[[Bench, str, int], Bench]:
    def change(bench: Bench, target: str, severity: int) -> Bench:
        contact = Intermittent(target, wire, per_s[severity - 1], open_s[severity - 1])
        return replace(bench, contacts=(*bench.contacts, contact))

    return change


_SHORT_OPENS: Final = ((6.0, 3.0, 1.5, 0.8, 0.4), (0.02, 0.012, 0.008, 0.005, 0.003))
_LONG_OPENS: Final = ((1.5, 1.0, 0.7, 0.4, 0.2), (0.4, 0.25, 0.15, 0.08, 0.05))

FAULTS: Final[dict[str, Fault]] = {
    "signal-open-floating": Fault(
        "signal wire open, input floating", on_control(_floating), CONTROLS
    ),
    "signal-open-pulled-down": Fault(
        "signal wire open, input pulled to ground", on_control(_pulled_down), CONTROLS
    ),
    "signal-open-pulled-up": Fault(
        "signal wire open, input pulled to the supply", on_control(_pulled_up), CONTROLS
    ),
    "signal-open-hum": Fault(
        "signal wire open beside a mains cable", on_control(_open_near_mains), CONTROLS
    ),
    "signal-to-ground": Fault(
        "signal wire shorted to ground", on_control(_short_to_ground), CONTROLS
    ),
    "signal-to-supply": Fault(
        "signal wire shorted to the supply", on_control(_short_to_supply), CONTROLS
    ),
    "ground-lost": Fault(
        "the sensor's ground open or corroded", on_control(_ground_lost), CONTROLS
    ),
    "supply-lost": Fault(
        "the sensor's supply open or corroded", on_control(_supply_lost), CONTROLS
    ),
    "hum-pickup": Fault("mains hum on one signal wire", on_control(_hum), CONTROLS),
    "noise-grown": Fault("wide-band noise on one signal wire", on_control(_burst), CONTROLS),
    "controls-bridged": Fault("both signal wires joined", on_bench(_bridged), ("throttle",)),
    "cross-talk-damp": Fault(
        "damp plug leaks between the signal wires", on_bench(_wet), ("throttle",)
    ),
    "cross-talk-ground": Fault(
        "brake lamp's current in the sensors' ground", on_bench(_shared_ground), ("throttle",)
    ),
    "channels-swapped": Fault(
        "the plugs of both controls changed places", on_bench(_swapped), ("throttle",), graded=False
    ),
    "rail-low": Fault("sensor supply too low", on_bench(_rail_low), ("rail",)),
    "rail-high": Fault("sensor supply too high", on_bench(_rail_high), ("rail",)),
    "rail-sagging": Fault("sensor supply drops again and again", on_bench(_sagging), ("rail",)),
    "supply-noise": Fault("ripple on the sensor supply, seen by all", on_bench(_ripple), ("rail",)),
    "glitches-flexed": Fault(
        "signal contact opens for milliseconds when flexed",
        _loose("signal", *_SHORT_OPENS),
        CONTROLS,
    ),
    "drop-outs-flexed": Fault(
        "signal contact drops out when flexed", _loose("signal", *_LONG_OPENS), CONTROLS
    ),
    "ground-flexed": Fault(
        "ground contact drops out when flexed", _loose("ground", *_LONG_OPENS), CONTROLS
    ),
    "supply-flexed": Fault(
        "supply contact drops out when flexed", _loose("supply", *_LONG_OPENS), CONTROLS
    ),
}

"""One simulated bench: everything that is true of this logger, these controls and this garage."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final, Literal

import numpy as np

from calib.mule.circuit import Converter, Hall, Thermistor, Wiring
from calib.mule.gravity import Accelerometer, Floor, Inclinometer, rotation
from calib.mule.wheel import Tyre, Wheel, draw_ring, draw_tyre

# The scan order of the logger, which is also the order of its columns after the time.
ANALOG: Final = ("throttle", "regen", "rail", "brake", "motor", "ambient", "pitch")
ACCEL: Final = ("accel_x", "accel_y", "accel_z")
CHANNELS: Final = ANALOG + ACCEL
CONTROLS: Final = ("throttle", "regen")
MAGNETS: Final = 6  # what a light machine's wheel sensor often has


@dataclass(frozen=True, slots=True)
class Grip:
    """The mechanics of one control: where its spring leaves it and how it gets there."""

    rest: float = 0.0  # share of the travel
    rest_spread: float = 0.003  # from one release to the next, share of the travel
    friction: float = 0.003  # how much higher a slow release leaves it than a snap
    stop: float = 1.0  # where its end stop is, share of the travel
    stop_spread: float = 0.002
    return_s: float = 0.12
    rebound: float = 0.03  # height of the first bounce off the rest stop, share of the travel
    rebound_hz: float = 11.0
    stuck_at: float = 0.0  # where it catches on the way back, share of the travel
    stuck_s: float = 0.0  # how long it hangs there
    play: float = 0.0  # share of the travel within which nothing holds the lever at rest
    second_rest: float = 0.0  # where a catch holds it every other time, share of the travel
    lag: float = 0.0  # lost motion between lever and sensor, share of the travel


@dataclass(frozen=True, slots=True)
class Intermittent:
    """A contact that opens for moments while its connector is flexed."""

    control: str
    wire: str  # signal, ground or supply
    per_s: float
    open_s: float  # mean length


@dataclass(frozen=True, slots=True)
class Control:
    """A hand control: mechanics, sensor and harness."""

    grip: Grip
    hall: Hall
    wiring: Wiring = field(default_factory=Wiring)
    noise_v: float = 0.0008
    flicker_v: float = 0.0006
    follows: str = ""  # the control on whose shaft its sensor sits; on its own where empty


@dataclass(frozen=True, slots=True)
class Rail:
    """The 5 V supply of the sensors."""

    volts: float = 5.0
    source_ohm: float = 0.5
    noise_v: float = 0.001
    ripple_v: float = 0.0
    ripple_hz: float = 37.0
    sag_v: float = 0.0  # how far it drops while it is dropped
    sag_every_s: float = 4.0
    lamp_a: float = 1.6  # the brake lamp, lit by lever or pedal
    shared_ground_ohm: float = 0.001  # between the sensors' ground and the logger's


@dataclass(frozen=True, slots=True)
class Switch:
    """The brake switch: to ground, under a pull-up."""

    pullup_v: float = 5.0  # what it reads open
    closed_v: float = 0.03
    normally_closed: bool = False
    stuck: bool | None = None  # True: always closed; False: always open
    bounce_s: float = 0.0008


@dataclass(frozen=True, slots=True)
class Garage:
    """Where the machine stands, and what is true of its frame."""

    floor: Floor = field(default_factory=Floor)
    wheelbase_mm: float = 1230.0
    ambient_c: float = 14.0
    motor_c: float = 14.0
    warming_k_per_h: float = 1.5
    mains_hz: float = 50.0
    rider_tilt_deg: float = 2.4
    stiction_deg: float = 0.1  # standard deviation of how the suspension settles
    lean_spread_deg: float = 0.7  # how upright a hand holds it


@dataclass(frozen=True, slots=True)
class Logger:
    """The microcontroller: its converter, its clock and its bugs."""

    converter: Converter = field(default_factory=Converter)
    rate_hz: float = 100.0
    hum_v: float = 0.0003
    missed_share: float = 0.0  # of all lines
    missed_run: int = 1  # lines lost at a stretch
    clock_jumps_s: tuple[tuple[float, float], ...] = ()  # at which time, by how much
    frozen_from_s: tuple[tuple[str, float], ...] = ()
    stuck_bits: tuple[tuple[str, int, int], ...] = ()  # channel, bit, its value
    copies: tuple[tuple[str, str], ...] = ()  # channel that shows another one's voltage
    ceilings: tuple[tuple[str, float], ...] = ()  # channel that reads no higher, volts
    swaps: tuple[tuple[str, str], ...] = ()  # plugs that changed places
    sent_twice_share: float = 0.0  # lines that it sends a second time
    measured_every: int = 1  # lines a measurement; between them it repeats the last one
    columns_off: int = 0  # columns by which all stand to the right of their place
    shifted_bits: int = 0  # bits by which its converter's codes are shifted up
    in_millivolts: bool = False  # whether it sends millivolts instead of codes


@dataclass(frozen=True, slots=True)
class Bench:
    """A whole bench; a fault is a bench with other figures."""

    kind: str
    seed: int
    throttle: Control
    regen: Control
    bridge_ohm: float = float("inf")  # between the two signal wires
    rail: Rail = field(default_factory=Rail)
    brake: Switch = field(default_factory=Switch)
    motor: Thermistor = field(default_factory=Thermistor)
    ambient: Thermistor = field(default_factory=Thermistor)
    accel: Accelerometer = field(default_factory=Accelerometer)
    pitch: Inclinometer = field(default_factory=Inclinometer)
    garage: Garage = field(default_factory=Garage)
    logger: Logger = field(default_factory=Logger)
    rail_divider: float = 2.0
    contacts: tuple[Intermittent, ...] = ()
    wheel: Wheel | None = None  # none where nobody has wired its sensor to the logger
    tyre: Tyre = field(default_factory=Tyre)

    def control(self, name: str) -> Control:
        """The control of a name, throttle or regen."""
        return self.throttle if name == "throttle" else self.regen


def with_wheel(bench: Bench, unit: Literal["level", "pulses"]) -> Bench:
    """The same bench with the sensor of a wheel of six magnets on the logger."""
    ring = draw_ring(np.random.default_rng([bench.seed, 73]), MAGNETS, uneven=0.03)
    return replace(bench, wheel=Wheel(ring, unit))


@dataclass(frozen=True, slots=True)
class Make:
    """What sets one kind of bench apart from another."""

    codes: int
    rate_hz: float
    converter_noise_v: float
    sensor_noise_v: float
    rail_noise_v: float
    hum_v: float


KINDS: Final[dict[str, Make]] = {
    "quiet": Make(4096, 1000.0, 0.0006, 0.0006, 0.0006, 0.0002),
    "ordinary": Make(1024, 100.0, 0.0025, 0.0010, 0.0015, 0.0005),
    "noisy": Make(1024, 50.0, 0.0100, 0.0040, 0.0040, 0.0040),
}


def draw_bench(seed: int, kind: str = "ordinary") -> Bench:
    """Draw a sound bench: no two are alike, and each is as good as such parts are."""
    make = KINDS[kind]
    rng = np.random.default_rng([seed, 11])
    mains_hz = 50.0 + float(rng.uniform(-0.04, 0.04))  # a grid wanders, and so does a crystal
    return Bench(
        kind=kind,
        seed=seed,
        throttle=_draw_control(rng, make, (0.195, 0.23), (0.80, 0.85)),
        regen=_draw_control(rng, make, (0.17, 0.215), (0.70, 0.79)),
        rail=Rail(
            volts=float(rng.uniform(4.9, 5.08)),
            source_ohm=float(rng.uniform(0.2, 0.8)),
            noise_v=make.rail_noise_v,
        ),
        brake=Switch(bounce_s=float(rng.uniform(0.0003, 0.0015))),
        motor=Thermistor(r25_ohm=float(10_000 * (1 + 0.008 * rng.standard_normal()))),
        ambient=Thermistor(r25_ohm=float(10_000 * (1 + 0.008 * rng.standard_normal()))),
        accel=_draw_accelerometer(rng),
        pitch=Inclinometer(
            offset_deg=float(rng.uniform(-2.5, 2.5)),
            gain=float(1 + 0.01 * rng.standard_normal()),
            axis_yaw_deg=float(1.0 * rng.standard_normal()),
        ),
        garage=_draw_garage(rng, mains_hz),
        logger=Logger(
            converter=Converter(
                codes=make.codes,
                reference_v=float(5.0 * (1 + 0.002 * rng.standard_normal())),
                noise_v=make.converter_noise_v,
                skew_codes=float(rng.uniform(-0.5, 0.5)),
            ),
            rate_hz=make.rate_hz,
            hum_v=make.hum_v,
        ),
        tyre=draw_tyre(np.random.default_rng([seed, 61])),
    )


def _draw_control(
    rng: np.random.Generator,
    make: Make,
    rest_share: tuple[float, float],
    full_share: tuple[float, float],
) -> Control:
    return Control(
        grip=Grip(
            rest_spread=float(rng.uniform(0.0012, 0.003)),
            friction=float(rng.uniform(0.0, 0.003)),
            stop_spread=float(rng.uniform(0.001, 0.0025)),
            return_s=float(rng.uniform(0.08, 0.16)),
            rebound=float(rng.uniform(0.01, 0.04)),
            rebound_hz=float(rng.uniform(9.0, 14.0)),
        ),
        hall=Hall(
            rest_share=float(rng.uniform(*rest_share)),
            full_share=float(rng.uniform(*full_share)),
            bow=float(rng.uniform(-0.03, 0.03)),
            out_ohm=float(rng.uniform(30.0, 90.0)),
        ),
        noise_v=make.sensor_noise_v,
        flicker_v=make.sensor_noise_v * float(rng.uniform(0.3, 0.7)),
    )


def _draw_accelerometer(rng: np.random.Generator) -> Accelerometer:
    yaw, pitch, roll = rng.uniform(-3.0, 3.0, 3)
    bias = 0.02 * rng.standard_normal(3)
    gain = 1 + 0.006 * rng.standard_normal(3)
    drift = 0.00015 * rng.standard_normal(3)
    return Accelerometer(
        mounting=rotation(float(yaw), float(pitch), float(roll)),
        bias_g=(float(bias[0]), float(bias[1]), float(bias[2])),
        gain=(float(gain[0]), float(gain[1]), float(gain[2])),
        drift_g_per_k=(float(drift[0]), float(drift[1]), float(drift[2])),
    )


def _draw_garage(rng: np.random.Generator, mains_hz: float) -> Garage:
    ambient_c = float(rng.uniform(6.0, 26.0))
    return Garage(
        floor=Floor(float(rng.uniform(0.3, 1.2)), float(rng.uniform(-0.6, 0.6))),
        ambient_c=ambient_c,
        motor_c=ambient_c + float(rng.normal(0.0, 0.3)),
        mains_hz=mains_hz,
        rider_tilt_deg=float(rng.uniform(2.0, 3.0)),
    )

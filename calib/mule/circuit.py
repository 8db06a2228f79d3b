"""What the wires do: Hall sensor, harness, pull resistors, thermistor and converter.

Every function takes arrays of one value per sample (or numbers) and returns volts at a node with
respect to the logger's ground. Faults are values of resistors, not special cases.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

OPEN = float("inf")
KELVIN = 273.15


@dataclass(frozen=True, slots=True)
class Hall:
    """A ratiometric linear Hall sensor over its magnet."""

    rest_share: float  # output over supply with the control at rest
    full_share: float
    bow: float = 0.0  # curvature, share of the span in mid-travel
    magnet: float = 1.0  # field left of the magnet; 1 when new
    worn_at: float = 0.5  # where in the travel a bad spot lies
    worn_width: float = 0.05
    worn_depth: float = 0.0  # share of the span by which the spot falls back
    crack_at: float = 0.5  # beyond this share of the travel a cracked magnet has shifted
    crack_step: float = 0.0
    flat_at: float = 0.5  # where in the travel the output begins to stand still
    flat_width: float = 0.0  # over how much of the travel
    out_ohm: float = 60.0
    drawn_a: float = 0.008
    least_supply_v: float = 2.7  # below this the output stage no longer follows the field

    def share(self, position: Array) -> Array:
        """Output over the sensor's own supply at each position (0 rest … 1 full)."""
        passed = np.clip(position - self.flat_at, 0.0, self.flat_width)
        position = (position - passed) / (1.0 - self.flat_width)
        shape = position + self.bow * np.sin(np.pi * np.clip(position, 0.0, 1.0))
        dent = np.exp(-0.5 * ((position - self.worn_at) / (self.worn_width / 2.0)) ** 2)
        shape = shape - self.worn_depth * dent - self.crack_step * (position > self.crack_at)
        out = self.rest_share + (self.full_share - self.rest_share) * shape
        # the output without field is half the supply: a weaker magnet pulls both ends toward it
        out = 0.5 + self.magnet * (out - 0.5)
        return np.asarray(np.clip(out, 0.015, 0.985), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Wiring:
    """The harness of one control, in ohms; `OPEN` is a cut wire."""

    signal_ohm: float = 0.3
    ground_ohm: float = 0.05
    supply_ohm: float = 0.1
    leak_ohm: float = 1.0e6  # the logger input's own pull
    leak_to_v: float = 0.0
    to_ground_ohm: float = OPEN
    to_supply_ohm: float = OPEN
    hum_a: float = 2.0e-8  # mains current coupled into the wire
    burst_a: float = 0.0  # wide-band current coupled into the wire


def sensor_output(
    hall: Hall, share: Array, rail_v: Array, ground_v: Array, ground_ohm: Array, supply_ohm: Array
) -> Array:
    """Volts at the sensor's output pin, unloaded.

    A lost ground lets the output rise to the supply and a lost supply lets it fall to ground, as
    the data sheets of programmable linear Hall sensors state for open ground and open supply.
    """
    lift_v = ground_v + np.minimum(hall.drawn_a * ground_ohm, rail_v)
    drop_v = np.minimum(hall.drawn_a * supply_ohm, rail_v)
    own_v = np.maximum(rail_v - lift_v - drop_v, 0.0)
    alive = own_v >= hall.least_supply_v
    starved_v = np.where(lift_v - ground_v > drop_v, 0.975 * rail_v, 0.02 * rail_v)
    return np.where(alive, lift_v + share * own_v, starved_v)


@dataclass(frozen=True, slots=True)
class Node:
    """Everything that feeds current into one wire, folded: a conductance and a current."""

    siemens: Array
    amps: Array

    @property
    def volts(self) -> Array:
        """Volts of the node when nothing else is tied to it."""
        return self.amps / self.siemens


def wire_node(
    wiring: Wiring, source_v: Array, source_ohm: Array, rail_v: Array, coupled_a: Array
) -> Node:
    """Fold sensor, pull, shorts and coupled current of one signal wire into a node."""
    siemens = 1.0 / source_ohm + 1.0 / wiring.leak_ohm
    siemens = siemens + 1.0 / wiring.to_ground_ohm + 1.0 / wiring.to_supply_ohm
    amps = source_v / source_ohm + wiring.leak_to_v / wiring.leak_ohm + coupled_a
    return Node(siemens, amps + rail_v / wiring.to_supply_ohm)


def bridged(first: Node, second: Node, bridge_ohm: float) -> tuple[Array, Array]:
    """Volts of two wires that a resistance joins."""
    if not np.isfinite(bridge_ohm):
        return first.volts, second.volts
    tie = 1.0 / bridge_ohm
    a = first.siemens + tie
    b = second.siemens + tie
    det = a * b - tie**2
    return (first.amps * b + second.amps * tie) / det, (second.amps * a + first.amps * tie) / det


def floating(node: Node, neighbour_v: Array, carried_s: float) -> Node:
    """Add the charge that the multiplexer carries over from the channel read before."""
    return Node(node.siemens + carried_s, node.amps + neighbour_v * carried_s)


@dataclass(frozen=True, slots=True)
class Thermistor:
    """An NTC to ground under a pull-up resistor."""

    r25_ohm: float = 10_000.0
    beta_k: float = 3950.0
    pullup_ohm: float = 10_000.0
    pullup_v: float = 5.0
    series_ohm: float = 0.0  # a bad joint, or `OPEN`
    across_ohm: float = OPEN  # a short, or damp in the plug

    def ohms(self, temp_c: Array) -> Array:
        """Resistance in ohms of the bead and its faults at a temperature."""
        bead = self.r25_ohm * np.exp(self.beta_k * (1.0 / (temp_c + KELVIN) - 1.0 / (25 + KELVIN)))
        joined = np.asarray(bead + self.series_ohm, dtype=np.float64)
        if not np.isfinite(self.across_ohm):
            return joined
        if not np.isfinite(self.series_ohm):
            return np.full(joined.shape, self.across_ohm)
        return joined * self.across_ohm / (joined + self.across_ohm)

    def volts(self, temp_c: Array) -> Array:
        """Volts at the node between pull-up and bead."""
        low = self.ohms(temp_c)
        if not np.isfinite(low).all():
            return np.full(low.shape, self.pullup_v)
        return self.pullup_v * low / (low + self.pullup_ohm)


@dataclass(frozen=True, slots=True)
class Converter:
    """The logger's analog-to-digital converter."""

    codes: int = 1024
    reference_v: float = 5.0  # what it truly is, whatever the rig file says
    noise_v: float = 0.002
    sample_farad: float = 14e-12  # the sampling capacitor, which carries charge between channels
    skew_codes: float = 0.0

    def counts(self, volts: Array) -> NDArray[np.int64]:
        """The code of each voltage: rounded down, held at the ends."""
        code = np.floor(volts * (self.codes / self.reference_v) + self.skew_codes)
        return np.asarray(np.clip(code, 0, self.codes - 1), dtype=np.int64)

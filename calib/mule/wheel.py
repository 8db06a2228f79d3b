"""The wheel of the simulated bench: magnets, a sensor that sees them, a tyre that sags."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

PASSES: Final = 512  # turns after which the same passes are missed again


@dataclass(frozen=True, slots=True)
class Ring:
    """Magnets on the wheel, and what the sensor makes of them."""

    at_turns: tuple[float, ...] = (0.0,)  # places, rising from 0, share of a turn
    width_turns: tuple[float, ...] = (0.05,)  # over how much of a turn each is seen
    missed_share: tuple[float, ...] = (0.0,)  # of its passes in which each is not seen
    bounce_s: float = 0.0  # how long a reed chatters after each change
    lobes: int = 1  # pulses a magnet: 2 where a reed closes at either pole
    stuck: bool = False  # whether the level never falls

    @property
    def edges_turns(self) -> Array:
        """Where the level changes on its way round, rising, shape (2 * pulses,)."""
        at = np.repeat(np.array(self.at_turns), self.lobes)
        width = np.repeat(np.array(self.width_turns), self.lobes) / (2 * self.lobes - 1)
        lobe = np.tile(np.arange(self.lobes), len(self.at_turns))
        begins = at + 2.0 * lobe * width
        return np.column_stack([begins, begins + width]).ravel()


@dataclass(frozen=True, slots=True)
class Wheel:
    """A wheel whose sensor the logger hears.

    Attributes:
        ring: The magnets.
        unit: Whether the logger sends the level as it is, or counts its rising edges.
        wrap: Where the count starts again.
        both_ways: Whether the sensor has two tracks, by which the count falls when it turns back.
        turned_back: Whether the hands turn it the wrong way.
    """

    ring: Ring
    unit: Literal["level", "pulses"] = "level"
    wrap: int = 65536
    both_ways: bool = False
    turned_back: bool = False


@dataclass(frozen=True, slots=True)
class Tyre:
    """How far the wheel rolls in a turn."""

    free_radius_mm: float = 320.0
    sag_mm: float = 12.0  # under the machine alone
    rider_sag_mm: float = 5.0  # more under the rider

    def circumference_mm(self, *, seated: bool) -> float:
        """Way of one turn: the free radius less a third of the sag, all the way round."""
        sag_mm = self.sag_mm + (self.rider_sag_mm if seated else 0.0)
        return 2.0 * math.pi * (self.free_radius_mm - sag_mm / 3.0)


class WheelSensor:
    """The level of a wheel sensor while the wheel turns, block after block."""

    def __init__(self, ring: Ring, seed: int) -> None:
        """Stand still at 0 turns; the seed draws what bounces and what is missed."""
        self.ring = ring
        streams = [np.random.default_rng([seed, 71, number]) for number in range(2)]
        self._bounce_rng = streams[0]
        missed = streams[1].random((PASSES, len(ring.at_turns)))
        self._missed: Flags = missed < np.array(ring.missed_share)
        self._was: bool | None = None
        self._changed_s = -math.inf

    def level(self, times_s: Array, turns: Array) -> Flags:
        """The level at rising times a fraction of a millisecond apart, shape (n,)."""
        if self.ring.stuck:
            return np.ones(len(turns), dtype=np.bool_)
        return self._chattering(times_s, self._seen(turns))

    def _seen(self, turns: Array) -> Flags:
        """Whether a magnet is before the sensor."""
        whole = np.floor(turns)
        place = np.searchsorted(self.ring.edges_turns, turns - whole, side="right")
        magnet = np.maximum(place - 1, 0) // (2 * self.ring.lobes)
        missed = self._missed[whole.astype(np.intp) % PASSES, magnet]
        return np.asarray((place % 2 == 1) & ~missed, dtype=np.bool_)

    def _chattering(self, times_s: Array, seen: Flags) -> Flags:
        """The same with the chatter of the contact after each change."""
        was = seen[0] if self._was is None else self._was
        self._was = bool(seen[-1])
        if not self.ring.bounce_s:
            return seen
        changed = seen != np.concatenate([[was], seen[:-1]])
        last_s = np.maximum.accumulate(np.where(changed, times_s, self._changed_s))
        self._changed_s = float(last_s[-1])
        since_s = times_s - last_s
        loose = self._bounce_rng.random(len(seen)) < 0.5
        return np.where((since_s < self.ring.bounce_s) & loose & ~changed, ~seen, seen)


class WheelColumn:
    """The logger's column of a wheel, scan after scan."""

    def __init__(self, wheel: Wheel, seed: int) -> None:
        """Begin at no count."""
        self._wheel = wheel
        self._sensor = WheelSensor(wheel.ring, seed)
        self._high: bool | None = None
        self._count = 0

    def numbers(self, times_s: Array, turns: Array, every: int) -> NDArray[np.int64]:
        """What is sent at every so-manieth of some rising times, shape (n / every,).

        Args:
            times_s: Times a fraction of a millisecond apart, s, shape (n,).
            turns: How far the wheel has turned at each, shape (n,).
            every: How many of them belong to a scan.
        """
        turns = -turns if self._wheel.turned_back else turns
        level = self._sensor.level(times_s, turns)
        if self._wheel.unit == "level":
            return level[::every].astype(np.int64)
        before = level[0] if self._high is None else self._high
        self._high = bool(level[-1])
        last = np.concatenate([[before], level[:-1]])
        steps = (level & ~last).astype(np.int64)
        if self._wheel.both_ways:
            back = np.diff(turns, prepend=turns[:1]) < 0.0
            steps = np.where(back, -(last & ~level).astype(np.int64), steps)
        counts = self._count + np.cumsum(steps)
        self._count = int(counts[-1])
        return counts[::every] % self._wheel.wrap


def draw_tyre(rng: np.random.Generator) -> Tyre:
    """A tyre of a light machine, with the air of last week."""
    return Tyre(
        free_radius_mm=float(rng.uniform(280.0, 340.0)),
        sag_mm=float(rng.uniform(8.0, 16.0)),
        rider_sag_mm=float(rng.uniform(3.0, 8.0)),
    )


def draw_ring(
    rng: np.random.Generator, pulses: int, *, uneven: float = 0.0, width: float = 0.4
) -> Ring:
    """A sound ring of evenly made magnets, placed as well as a hand places them.

    Args:
        rng: Draws the places.
        pulses: Magnets.
        uneven: Standard deviation of their places, as a share of the gap between two.
        width: Share of the gap over which each is seen.
    """
    gap = 1.0 / pulses
    off = np.clip(uneven * rng.standard_normal(pulses), -0.25, 0.25) * gap
    at = np.arange(pulses) * gap + off + 0.3 * gap
    return Ring(tuple(at.tolist()), (width * gap,) * pulses, missed_share=(0.0,) * pulses)

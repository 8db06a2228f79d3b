"""The logger: scans the bench at its rate and turns what it finds into counts.

One block of a minute and many blocks of a few samples give the same counts, so that a campaign and
the device on the pseudo-terminal run on the same physics.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from calib.mule import circuit
from calib.mule.bench import ACCEL, ANALOG, CHANNELS, CONTROLS, Bench
from calib.mule.gravity import Lag, Pose, specific_force_g
from calib.mule.stage import Stage
from calib.mule.wheel import WheelColumn

Array = NDArray[np.float64]
Counts = NDArray[np.int64]

CUT_OHM: Final = 1.0e12  # a wire that is open for a moment
LAMP_LIT_AT: Final = 0.08  # share of the lever's travel at which it lights the brake lamp
WHEEL_HZ: Final = 10_000.0  # how often the wheel's level is worked out
COLUMN_OF: Final = {name: index for index, name in enumerate(CHANNELS)}

# Time constants a decade apart make a sum of relaxations fall as 1/f to within a decibel or two.
FLICKER_TAUS_S = (0.03, 0.3, 3.0, 30.0)


_AHEAD = 256
"""Samples that are made at once; own choice, and what is sent does not depend on it."""


@dataclass(frozen=True, slots=True)
class Samples:
    """A block as the logger sends it.

    Attributes:
        t_ms: The logger's clock, shape (n,).
        counts: Codes, shape (n, channels); a wheel's number behind them where there is one.
        true_s: Bench time, which the logger may have wrong, shape (n,).
    """

    t_ms: Counts
    counts: Counts
    true_s: Array


class Sampler:
    """Samples a stage from time zero on, block after block."""

    def __init__(self, stage: Stage, seed: int = 0) -> None:
        """Seed every source of noise on its own."""
        bench = stage.bench
        rate_hz = bench.logger.rate_hz
        streams = np.random.default_rng([bench.seed, seed, 37]).spawn(8)
        self._stage = stage
        self._taken = 0
        self._converter_noise, self._sensor_noise, self._rail_noise = streams[:3]
        self._accel_noise, self._pitch_noise, self._burst_noise, self._loss = streams[3:7]
        self._flicker = Flicker(streams[7], rate_hz, len(CONTROLS))
        self._pitch_lag = Lag(bench.pitch.lag_s, rate_hz)
        self._frozen: dict[str, int] = {}
        self._followed: dict[str, float] = {}
        self._measured: Counts | None = None
        self._lost_ahead = 0
        self._wheel = None if bench.wheel is None else WheelColumn(bench.wheel, bench.seed)

    @property
    def now_s(self) -> float:
        """Bench time in s up to which samples were taken."""
        return self._taken / self._stage.bench.logger.rate_hz

    def block(self, samples: int) -> Samples:
        """Take the next samples; lines that this logger loses are missing from them."""
        bench = self._stage.bench
        times_s = (self._taken + np.arange(samples)) / bench.logger.rate_hz
        self._taken += samples
        codes = self._codes(bench, self._pin_volts(bench, times_s))
        counts = np.column_stack([codes, self._accel_counts(bench, times_s)])
        self._spoil(bench, times_s, counts)
        if self._wheel is not None:
            counts = np.column_stack([counts, self._wheel_numbers(self._wheel, bench, samples)])
        t_ms = np.rint(1000.0 * times_s).astype(np.int64)
        for at_s, by_s in bench.logger.clock_jumps_s:
            t_ms[times_s >= at_s] += round(1000.0 * by_s)
        kept = np.flatnonzero(self._kept(bench, samples))
        if bench.logger.sent_twice_share:
            again = self._loss.random(len(kept)) < bench.logger.sent_twice_share
            kept = np.repeat(kept, 1 + again)
        return Samples(t_ms[kept], counts[kept], times_s[kept])

    def _wheel_numbers(self, wheel: WheelColumn, bench: Bench, samples: int) -> Counts:
        """What the logger sends of the wheel, looked at far more often than it sends."""
        every = max(1, round(WHEEL_HZ / bench.logger.rate_hz))
        first = (self._taken - samples) * every
        times_s = (first + np.arange(samples * every)) / (bench.logger.rate_hz * every)
        return wheel.numbers(times_s, self._stage.turned.at(times_s), every)

    @staticmethod
    def _codes(bench: Bench, volts: Array) -> Counts:
        """What the logger makes of its converter's codes."""
        converter = bench.logger.converter
        codes = converter.counts(volts)
        if bench.logger.in_millivolts:
            codes = np.rint(codes * (1000.0 * 5.0 / converter.codes)).astype(np.int64)
        return np.left_shift(codes, bench.logger.shifted_bits)

    def _pin_volts(self, bench: Bench, times_s: Array) -> Array:
        """Volts at the logger's analog pins, shape (samples, channels)."""
        rail_v, pitch_v = self._rail(bench, times_s), self._pitch(bench, times_s)
        throttle_v, regen_v = self._controls(bench, times_s, rail_v, pitch_v)
        warmer_k = bench.garage.warming_k_per_h * times_s / 3600.0
        pins = {
            "throttle": throttle_v,
            "regen": regen_v,
            "rail": rail_v / bench.rail_divider,
            "brake": self._brake(bench, times_s),
            "motor": bench.motor.volts(bench.garage.motor_c + warmer_k),
            "ambient": bench.ambient.volts(bench.garage.ambient_c + warmer_k),
            "pitch": pitch_v,
        }
        for first, second in bench.logger.swaps:
            pins[first], pins[second] = pins[second], pins[first]
        for shown, truly in bench.logger.copies:
            pins[shown] = pins[truly]
        for name, most_v in bench.logger.ceilings:
            pins[name] = np.minimum(pins[name], most_v)
        volts = np.column_stack([pins[name] for name in ANALOG])
        volts += bench.logger.hum_v * self._mains(bench, times_s)[:, None]
        volts += bench.logger.converter.noise_v * self._converter_noise.standard_normal(volts.shape)
        return volts

    def _rail(self, bench: Bench, times_s: Array) -> Array:
        rail = bench.rail
        drawn_a = bench.throttle.hall.drawn_a + bench.regen.hall.drawn_a
        volts = np.full(times_s.shape, rail.volts - drawn_a * rail.source_ohm)
        volts += rail.noise_v * self._rail_noise.standard_normal(len(times_s))
        volts += rail.ripple_v * np.sin(2.0 * np.pi * rail.ripple_hz * times_s)
        volts -= rail.sag_v * (times_s % rail.sag_every_s > 0.7 * rail.sag_every_s)
        return np.asarray(np.maximum(volts, 0.0), dtype=np.float64)

    def _controls(
        self, bench: Bench, times_s: Array, rail_v: Array, before_v: Array
    ) -> tuple[Array, Array]:
        """Volts of the two signal wires; `before_v` is the channel scanned before the first."""
        lit = self._stage.controls["regen"].at(times_s) > LAMP_LIT_AT
        lamp_on = lit | (self._stage.brake.at(times_s) > 0.5)
        ground_v = bench.rail.shared_ground_ohm * bench.rail.lamp_a * lamp_on.astype(np.float64)
        white = self._sensor_noise.standard_normal((len(times_s), 2))
        slow = self._flicker.block(len(times_s))
        burst = self._burst_noise.standard_normal((len(times_s), 2))
        mains = self._mains(bench, times_s)
        carried_s = bench.logger.rate_hz * bench.logger.converter.sample_farad
        nodes: list[circuit.Node] = []
        for index, name in enumerate(CONTROLS):
            control, wiring = bench.control(name), bench.control(name).wiring
            lever = self._stage.controls[control.follows or name].at(times_s)
            source_v = circuit.sensor_output(
                control.hall,
                control.hall.share(self._following(name, control.grip.lag, lever)),
                rail_v,
                ground_v,
                self._wire_ohm(name, "ground", wiring.ground_ohm, times_s),
                self._wire_ohm(name, "supply", wiring.supply_ohm, times_s),
            )
            noise_v = control.noise_v * white[:, index] + control.flicker_v * slow[:, index]
            coupled_a = wiring.hum_a * mains + wiring.burst_a * burst[:, index]
            signal_ohm = self._wire_ohm(name, "signal", wiring.signal_ohm, times_s)
            source_ohm = control.hall.out_ohm + signal_ohm
            node = circuit.wire_node(wiring, source_v + noise_v, source_ohm, rail_v, coupled_a)
            neighbour_v = nodes[0].volts if nodes else before_v
            nodes.append(circuit.floating(node, neighbour_v, carried_s))
        return circuit.bridged(nodes[0], nodes[1], bench.bridge_ohm)

    def _wire_ohm(self, name: str, wire: str, closed_ohm: float, times_s: Array) -> Array:
        """Resistance of a control's wire, which is cut now and then."""
        is_open = self._stage.opened[(name, wire)].at(times_s) > 0.5
        return np.asarray(closed_ohm + CUT_OHM * is_open, dtype=np.float64)

    def _following(self, name: str, lag: float, lever: Array) -> Array:
        """Where the sensor is: it follows its lever once the lost motion is taken up."""
        if not lag:
            return lever
        place = self._followed.get(name, float(lever[0]) + 0.5 * lag)
        places = np.empty_like(lever)
        for index, at in enumerate(lever.tolist()):
            place = min(max(place, at - 0.5 * lag), at + 0.5 * lag)
            places[index] = place
        self._followed[name] = place
        return places

    @staticmethod
    def _mains(bench: Bench, times_s: Array) -> Array:
        """Mains waveform of unit amplitude with some third harmonic, as cables pick it up."""
        phase = 2.0 * np.pi * bench.garage.mains_hz * times_s + 0.7
        return np.asarray(np.sin(phase) + 0.15 * np.sin(3.0 * phase), dtype=np.float64)

    def _brake(self, bench: Bench, times_s: Array) -> Array:
        switch = bench.brake
        closed = (self._stage.brake.at(times_s) > 0.5) != switch.normally_closed
        if switch.stuck is not None:
            closed = np.full(times_s.shape, switch.stuck)
        return np.where(closed, switch.closed_v, switch.pullup_v)

    def _pose(self, bench: Bench, times_s: Array) -> Pose:
        stage, garage = self._stage, bench.garage
        block = np.clip(stage.blocks_mm.at(times_s) / garage.wheelbase_mm, -1.0, 1.0)
        return Pose(
            heading_deg=stage.heading_deg.at(times_s),
            nose_up_deg=np.degrees(np.arcsin(block))
            + garage.rider_tilt_deg * stage.seated.at(times_s)
            + stage.settled_deg.at(times_s),
            lean_left_deg=stage.lean_left_deg.at(times_s),
            push_m_s2=stage.push_m_s2.at(times_s),
        )

    def _pitch(self, bench: Bench, times_s: Array) -> Array:
        pose = self._pose(bench, times_s)
        calm = Pose(pose.heading_deg, pose.nose_up_deg, pose.lean_left_deg, 0.0 * pose.push_m_s2)
        still_g, moved_g = (specific_force_g(bench.garage.floor, each) for each in (calm, pose))
        slope_deg = bench.pitch.slope_deg(still_g, moved_g)
        if bench.pitch.lag_s != self._pitch_lag.tau_s:  # another sensor was fitted meanwhile
            self._pitch_lag = Lag(bench.pitch.lag_s, bench.logger.rate_hz)
        noise = self._pitch_noise.standard_normal(len(times_s))
        return bench.pitch.volts(self._pitch_lag.block(slope_deg), times_s / 3600.0, noise)

    def _accel_counts(self, bench: Bench, times_s: Array) -> Counts:
        mounted_g = specific_force_g(bench.garage.floor, self._pose(bench, times_s))
        force_g = self._loose(mounted_g, times_s)
        noise = self._accel_noise.standard_normal((len(times_s), len(ACCEL)))
        warmer_k = bench.garage.warming_k_per_h * times_s / 3600.0
        return bench.accel.counts(bench.accel.reading_g(force_g, warmer_k, noise))

    def _loose(self, mounted_g: Array, times_s: Array) -> Array:
        """Specific force in g where the sensor lies loose, and elsewhere what it had mounted."""
        up = np.stack([track.at(times_s) for track in self._stage.loose], axis=-1)
        up = up / np.maximum(np.linalg.norm(up, axis=-1, keepdims=True), 1e-9)
        return np.where(self._stage.held.at(times_s)[:, None] > 0.5, up, mounted_g)

    def _spoil(self, bench: Bench, times_s: Array, counts: Counts) -> None:
        """Apply the logger's own bugs to the codes, in place."""
        place = np.arange(len(counts))
        fresh = (self._taken - len(counts) + place) % bench.logger.measured_every == 0
        taken = np.maximum.accumulate(np.where(fresh, place, -1))
        before = counts[:1] if self._measured is None else self._measured
        counts[:] = np.where(taken[:, None] >= 0, counts[taken], before)
        self._measured = counts[-1:].copy()
        counts[:] = np.roll(counts, bench.logger.columns_off, axis=1)
        for name, bit, value in bench.logger.stuck_bits:
            column, mask = COLUMN_OF[name], 1 << bit
            counts[:, column] = (counts[:, column] & ~mask) | (mask if value else 0)
        for name, from_s in bench.logger.frozen_from_s:
            column = COLUMN_OF[name]
            late = np.flatnonzero(times_s >= from_s)
            if late.size:
                held = self._frozen.setdefault(name, int(counts[late[0], column]))
                counts[late, column] = held

    def _kept(self, bench: Bench, samples: int) -> NDArray[np.bool_]:
        """Which lines get out of the logger."""
        kept = np.ones(samples, dtype=np.bool_)
        share, run = bench.logger.missed_share, bench.logger.missed_run
        if share <= 0.0:
            return kept
        starts = np.flatnonzero(self._loss.random(samples) < share / run)
        kept[: self._lost_ahead] = False
        ahead = max(0, self._lost_ahead - samples)
        for start in starts.tolist():
            kept[start : start + run] = False
            ahead = max(ahead, start + run - samples)
        self._lost_ahead = ahead
        return kept


class Relaxation:
    """Unit-variance first-order noise (AR(1)) of one time constant, for several columns at once."""

    def __init__(self, rng: np.random.Generator, tau_s: float, rate_hz: float, width: int) -> None:
        """Start in the steady state, so that the first sample is as wide as the last."""
        self._rng = rng
        self._rho = float(np.exp(-1.0 / (tau_s * rate_hz)))
        after = np.subtract.outer(np.arange(_AHEAD), np.arange(_AHEAD))
        self._kept = np.where(after < 0, 0.0, self._rho ** np.maximum(after, 0))
        self._last = rng.standard_normal((1, width))
        self._made = self._last[1:]

    def block(self, samples: int) -> Array:
        """Return the next samples, shape (samples, width), standard deviation 1."""
        made = [self._made]
        for _ in range(-(-(samples - len(self._made)) // _AHEAD)):
            new = self._rng.standard_normal((_AHEAD, self._last.shape[1]))
            new *= np.sqrt(1.0 - self._rho**2)
            new[:1] += self._rho * self._last
            made.append(self._kept @ new)
            self._last = made[-1][-1:]
        ready = np.concatenate(made)
        self._made = ready[samples:]
        return ready[:samples]


class Flicker:
    """Unit-variance noise whose power falls roughly as 1/f from about 5 Hz to 0.005 Hz."""

    def __init__(self, rng: np.random.Generator, rate_hz: float, width: int) -> None:
        """Give every time constant its own stream."""
        parts = zip(rng.spawn(len(FLICKER_TAUS_S)), FLICKER_TAUS_S, strict=True)
        self._parts = [Relaxation(stream, tau_s, rate_hz, width) for stream, tau_s in parts]

    def block(self, samples: int) -> Array:
        """Return the next samples, shape (samples, width), standard deviation 1."""
        total = np.sum([part.block(samples) for part in self._parts], axis=0)
        return np.asarray(total / np.sqrt(len(self._parts)), dtype=np.float64)

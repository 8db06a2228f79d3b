"""Hand-built channels and captures with known answers for the bench check."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from calib.checks.bench.signals import Signal, Signals
from calib.store.rig import Channel

Floats = NDArray[np.float64]


def volts_signal(
    values: Floats, name: str = "throttle", *, channel: Channel | None = None
) -> Signal:
    """A channel that is received in volts."""
    given = channel or Channel(role="control", column="a0", unit="V")
    return Signal(
        name=name, channel=given, unit="V", values=values, raw=values, step=0.0, last_code=None
    )


def counted_signal(counts: Floats, name: str = "throttle", codes: int = 1024) -> Signal:
    """A channel that is received in counts of a 5 V converter."""
    channel = Channel(
        role="control", column="a0", unit="count", full_scale=float(codes), reference_V=5.0
    )
    step = 5.0 / codes
    return Signal(
        name=name,
        channel=channel,
        unit="V",
        values=(counts + 0.5) * step,
        raw=counts,
        step=step,
        last_code=float(codes - 1),
    )


def signals_of_one(signal: Signal, rate_hz: float) -> Signals:
    """A capture with one channel."""
    return signals_of_all([signal], rate_hz)


def signals_of_all(given: list[Signal], rate_hz: float) -> Signals:
    """A capture with several channels of one length."""
    time_s = np.arange(len(given[0].values)) / rate_hz
    return Signals(
        time_s=time_s,
        arrival_s=time_s,
        rate_hz=rate_hz,
        by_name={signal.name: signal for signal in given},
    )


def flat(level_V: float, duration_s: float, rate_hz: float) -> Floats:
    """A level held for a time."""
    return np.full(round(duration_s * rate_hz), level_V)


def ramp(start_V: float, end_V: float, duration_s: float, rate_hz: float) -> Floats:
    """A straight way from one level to another."""
    return np.linspace(start_V, end_V, max(2, round(duration_s * rate_hz)))


def noise(count: int, sd_V: float, seed: int = 1) -> Floats:
    """White noise."""
    return np.random.default_rng(seed).normal(0.0, sd_V, count)


def rig_file(folder: Path, text: str) -> Path:
    """A rig file on disk."""
    path = folder / "rig.toml"
    path.write_text(text, encoding="utf-8")
    return path

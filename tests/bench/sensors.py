"""Kinds of sensor for the promise campaign: how readings at rest vary, with the true quantile."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import special, stats
from scipy.signal import lfilter

Floats = NDArray[np.float64]
Shape = Literal["normal", "uniform", "skewed", "expo", "heavy"]

REST_V = 0.9137
"""True rest, V; no whole number of any converter step."""
SD_WITHIN_V = 0.005
"""Noise of one reading within a plateau, V."""


@dataclass(frozen=True)
class Sensor:
    """One kind of sensor and logger.

    Attributes:
        ratio: Spread between presses over spread within a plateau.
        lag1: Correlation of neighbouring readings.
        lsb_V: Step of the converter, V.
        within: Shape of the noise.
        between: Shape of the spread between presses.
        rate_hz: Readings a second.
    """

    ratio: float
    lag1: float = 0.0
    lsb_V: float = 0.005
    within: Shape = "normal"
    between: Shape = "normal"
    rate_hz: float = 200.0

    @property
    def barred(self) -> bool:
        """Whether the spread between presses is normal or lighter-tailed."""
        return self.between in ("normal", "uniform")

    @property
    def name(self) -> str:
        """How the table names it."""
        return (
            f"{self.ratio:g}  {self.lag1:<5g} {1e3 * self.lsb_V:<4g} {self.within:7} "
            f"{self.between:7} {self.rate_hz:g}"
        )

    @property
    def sd_V(self) -> float:
        """Standard deviation of one future reading, V."""
        return SD_WITHIN_V * float(np.hypot(1.0, self.ratio))


def capture(sensor: Sensor, presses: int, rng: np.random.Generator) -> list[Floats]:
    """Readings of the rest plateaus after `presses` releases, V; holds of 0.3 to 2 s."""
    holds = np.exp(rng.uniform(np.log(0.3), np.log(2.0), presses))
    levels = REST_V + SD_WITHIN_V * sensor.ratio * _draw(sensor.between, rng, presses)
    counts = np.maximum(8, (holds * sensor.rate_hz).astype(int))
    return [
        _converted(sensor, level + SD_WITHIN_V * _noise(sensor, rng, int(count)))
        for level, count in zip(levels, counts, strict=True)
    ]


@lru_cache(maxsize=64)
def true_limit_V(ratio: float, within: Shape, between: Shape, content: float) -> float:
    """Level below which `content` of all future readings lie, V, before the converter.

    By convolution on a fine grid: the readings are independent sums of level and noise.
    """
    if within == between == "normal":
        z = {0.999: 3.090232306167813}[content]
        return REST_V + SD_WITHIN_V * float(z * np.hypot(1.0, ratio))
    step = 0.004
    grid = np.arange(-60.0, 60.0, step)
    levels = np.diff(_law(between).cdf(np.append(grid, 60.0) / ratio))
    noise = np.diff(_law(within).cdf(np.append(grid, 60.0)))
    total = np.convolve(levels, noise)
    at = int(np.searchsorted(np.cumsum(total), content))
    return REST_V + SD_WITHIN_V * (2.0 * float(grid[0]) + step * (at + 1.0))


def kinds() -> Iterator[Sensor]:
    """The kinds of sensor in the campaign."""
    for ratio in (0.3, 1.0, 3.0):
        yield Sensor(ratio)
        yield Sensor(ratio, lag1=0.3, lsb_V=0.002)
        yield Sensor(ratio, lag1=0.6, lsb_V=0.002)
        yield Sensor(ratio, lag1=0.95)
        yield Sensor(ratio, lag1=0.99, rate_hz=1000.0)
        yield Sensor(ratio, lsb_V=0.020)
        yield Sensor(ratio, lag1=0.9, lsb_V=0.020, rate_hz=1000.0)
        yield Sensor(ratio, within="skewed")
        yield Sensor(ratio, lag1=0.9, within="skewed", rate_hz=1000.0)
        yield Sensor(ratio, within="heavy", lsb_V=0.002)
        yield Sensor(ratio, within="heavy", rate_hz=1000.0)
        yield Sensor(ratio, between="uniform")
        yield Sensor(ratio, rate_hz=30.0)
        yield Sensor(ratio, between="expo")
        yield Sensor(ratio, between="heavy")


@lru_cache(maxsize=8)
def _law(shape: Shape) -> Any:
    """The distribution of a shape, with mean 0 and standard deviation 1."""
    laws = {
        "normal": stats.norm(),
        "uniform": stats.uniform(-np.sqrt(3.0), 2.0 * np.sqrt(3.0)),
        # Skewness 1, and (further down the table) 2.
        "skewed": stats.gamma(4.0, loc=-2.0, scale=0.5),
        "expo": stats.expon(loc=-1.0),
        "heavy": stats.t(5.0, scale=np.sqrt(0.6)),
    }
    return laws[shape]


def _draw(shape: Shape, rng: np.random.Generator, count: int) -> Floats:
    if shape == "normal":
        return rng.normal(size=count)
    return np.asarray(_law(shape).rvs(count, random_state=rng))


def _noise(sensor: Sensor, rng: np.random.Generator, count: int) -> Floats:
    """Correlated noise of mean 0, standard deviation 1 and the sensor's own shape."""
    if sensor.lag1 <= 0.0:
        return _draw(sensor.within, rng, count)
    white = rng.normal(size=count)
    white[1:] *= np.sqrt(1.0 - sensor.lag1**2)
    normal = np.asarray(lfilter([1.0], [1.0, -sensor.lag1], white))
    if sensor.within == "normal":
        return normal
    # A monotone map of a correlated normal keeps the order in time and has the exact shape.
    return np.asarray(_law(sensor.within).ppf(special.ndtr(normal)))


def _converted(sensor: Sensor, volts: Floats) -> Floats:
    codes: Floats = (np.floor(volts / sensor.lsb_V) + 0.5) * sensor.lsb_V
    return codes

"""Kinds of sensor for the promise campaign: how readings vary at one end, and the true limit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special, stats
from scipy.signal import lfilter

Floats = NDArray[np.float64]
Shape = Literal["normal", "uniform", "skewed", "expo", "heavy", "two"]
Spectrum = Literal["first-order", "pink", "multiplied"]
Releases = Literal["independent", "chained", "warming"]
End = Literal["rest", "full"]

LEVEL_V: dict[End, float] = {"rest": 0.9137, "full": 4.0571}
"""True level of each end, V; no whole number of any converter step."""
SD_WITHIN_V = 0.005
"""Noise of one reading within a plateau, V, unless a sensor is quieter."""
CHAIN = 0.8
"""Correlation of one release with the next where they are chained."""
WARMING_SDS = 3.0
"""How far rest drifts in a capture where it warms, in standard deviations between presses."""
PINK_LENGTH = 2**13


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
        spectrum: How the noise goes in time, or that it grows with the level.
        noise_V: Noise of one reading at rest, V.
        decimals: Decimals in which volts are sent; None for counts, whose step is known.
        uneven: How far the converter's edges lie off, in steps; the same in a whole capture.
        creep_sds: How far a release stops short and creeps home, in noise standard deviations.
        creep_s: Time constant of that creep, s.
        releases: Whether one release depends on the ones before it.
    """

    ratio: float
    lag1: float = 0.0
    lsb_V: float = 0.005
    within: Shape = "normal"
    between: Shape = "normal"
    rate_hz: float = 200.0
    spectrum: Spectrum = "first-order"
    noise_V: float = SD_WITHIN_V
    decimals: int | None = None
    uneven: float = 0.0
    creep_sds: float = 0.0
    creep_s: float = 0.3
    releases: Releases = "independent"

    def barred(self, presses: int) -> bool:
        """Whether a bar is set: independent releases, light-tailed from press to press.

        Three presses of a rest that falls to one of two levels show one of them alone in a quarter
        of all captures, and five in a sixteenth: there no limit can keep the promise.
        """
        if self.releases != "independent" or self.between in ("expo", "heavy"):
            return False
        return self.between != "two" or presses >= 10

    @property
    def name(self) -> str:
        """How the table names it."""
        words = [
            f"{self.ratio:g}  {self.lag1:<6g} {1e3 * self.lsb_V:<5g} {self.within:7} "
            f"{self.between:7} {self.rate_hz:<5g}"
        ]
        if self.spectrum != "first-order":
            words.append(self.spectrum)
        if self.noise_V != SD_WITHIN_V:
            words.append(f"noise {1e3 * self.noise_V:g} mV")
        if self.decimals is not None:
            words.append(f"volts .{self.decimals}")
        if self.uneven:
            words.append(f"edges ±{self.uneven:g}")
        if self.creep_sds:
            words.append(f"creeps {self.creep_sds:g} sd")
        if self.releases != "independent":
            words.append(self.releases)
        return " ".join(words)

    def sd_noise_V(self, end: End) -> float:
        """Standard deviation of the noise at one end, V."""
        grows = self.spectrum == "multiplied"
        return self.noise_V * (LEVEL_V[end] / LEVEL_V["rest"] if grows else 1.0)

    def sd_V(self, end: End) -> float:
        """Standard deviation of one future reading without its creep, V."""
        return float(np.hypot(self.sd_noise_V(end), self.ratio * self.noise_V))


def capture(sensor: Sensor, presses: int, rng: np.random.Generator, end: End) -> list[Floats]:
    """Readings of the plateaus at one end after `presses` presses, V; holds of 0.3 to 2 s."""
    short_s, long_s = _holds_s(sensor)
    holds_s = np.exp(rng.uniform(np.log(short_s), np.log(long_s), presses))
    between = _levels(sensor, rng, presses)
    levels = LEVEL_V[end] + sensor.ratio * sensor.noise_V * between
    counts = np.maximum(8, (holds_s * sensor.rate_hz).astype(int))
    edges = rng.uniform(-sensor.uneven, sensor.uneven, 4096) if sensor.uneven else None
    homeward = 1.0 if end == "rest" else -1.0
    stays = []
    for level, count in zip(levels, counts, strict=True):
        volts = level + sensor.sd_noise_V(end) * _noise(sensor, rng, int(count))
        if sensor.creep_sds:
            time_s = np.arange(count) / sensor.rate_hz
            far_V = sensor.creep_sds * sensor.noise_V * np.exp(-time_s / sensor.creep_s)
            volts = volts + homeward * far_V
        stays.append(_converted(sensor, volts, edges))
    return stays


def movement(sensor: Sensor) -> Floats:
    """Readings on the way from rest to full travel and back, V: the logger's codes are in them."""
    way = np.linspace(0.0, 1.0, max(8, round(0.15 * sensor.rate_hz)))
    phase = np.linspace(0.0, 0.4, 10)[:, None]
    volts = LEVEL_V["rest"] + (LEVEL_V["full"] - LEVEL_V["rest"]) * (way + phase / len(way))
    return _converted(sensor, volts.ravel(), None)


def _holds_s(sensor: Sensor) -> tuple[float, float]:
    """Holds of a hand, s; with a slow logger it holds for as many readings as it is told to."""
    return max(0.3, 8.0 / sensor.rate_hz), max(2.0, 20.0 / sensor.rate_hz)


@lru_cache(maxsize=256)
def true_limit_V(sensor: Sensor, end: End, content: float) -> float:
    """Level within which `content` of all future readings lie on the side of the travel, V.

    Before the converter; by convolution on a fine grid, since the readings are independent sums of
    level and noise. With a creep the readings of all moments of all holds count alike.
    """
    sign = 1.0 if end == "rest" else -1.0
    if sensor.creep_sds:
        return LEVEL_V[end] + sign * _creeping_reach_V(sensor, content)
    noise_V, level_V = sensor.sd_noise_V(end), sensor.ratio * sensor.noise_V
    if sensor.within == sensor.between == "normal":
        return LEVEL_V[end] + sign * float(special.ndtri(content) * np.hypot(noise_V, level_V))
    step = 0.004 * sensor.noise_V
    grid = np.arange(-60.0 * sensor.noise_V, 60.0 * sensor.noise_V, step)
    edges = np.append(grid, grid[-1] + step)
    levels = np.diff(_cdf(sensor.between, edges / level_V))
    noise = np.diff(_cdf(sensor.within, edges / noise_V))
    total = np.convolve(levels, noise)
    share = content if end == "rest" else 1.0 - content
    at = int(np.searchsorted(np.cumsum(total), share))
    return LEVEL_V[end] + 2.0 * float(grid[0]) + step * (at + 1.0)


def _creeping_reach_V(sensor: Sensor, content: float) -> float:
    """Distance from the level, V, that readings need when each release creeps home."""
    short_s, long_s = _holds_s(sensor)
    holds_s = np.exp(np.linspace(np.log(short_s), np.log(long_s), 200))
    time_s = np.concatenate([np.arange(0.0, hold, 1.0 / sensor.rate_hz) for hold in holds_s])
    far_V = sensor.creep_sds * sensor.noise_V * np.exp(-time_s / sensor.creep_s)
    sd_V = sensor.sd_V("rest")

    def short_of(reach_V: float) -> float:
        return float(special.ndtr((reach_V - far_V) / sd_V).mean()) - content

    return float(optimize.brentq(short_of, 0.0, 20.0 * sd_V))


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
    for ratio in (0.3, 1.0, 3.0):
        yield from _ordinary(ratio)


def _ordinary(ratio: float) -> Iterator[Sensor]:
    """Loggers and sensors of ordinary garages."""
    yield Sensor(ratio, spectrum="pink")
    yield Sensor(ratio, lag1=0.998, rate_hz=200.0)
    yield Sensor(ratio, spectrum="multiplied")
    yield Sensor(ratio, lsb_V=0.010, decimals=2, noise_V=0.002)
    yield Sensor(ratio, lsb_V=0.010, decimals=2, noise_V=0.0005)
    yield Sensor(ratio, lsb_V=5.0 / 1024, decimals=3, noise_V=0.001)
    yield Sensor(ratio, lsb_V=0.001, decimals=3)
    yield Sensor(ratio, lsb_V=5.0 / 256)
    yield Sensor(ratio, lsb_V=5.0 / 1024, noise_V=0.0015)
    yield Sensor(ratio, uneven=0.25)
    yield Sensor(ratio, rate_hz=10.0)
    yield Sensor(ratio, rate_hz=20.0, lag1=0.3)
    yield Sensor(ratio, creep_sds=2.0)
    yield Sensor(ratio, between="two")
    yield Sensor(ratio, releases="chained")
    yield Sensor(ratio, releases="warming")


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


def _cdf(shape: Shape, values: Floats) -> Floats:
    if shape == "two":
        return np.asarray(0.5 * ((values >= -1.0).astype(float) + (values >= 1.0)))
    return np.asarray(_law(shape).cdf(values))


def _draw(shape: Shape, rng: np.random.Generator, count: int) -> Floats:
    if shape == "normal":
        return rng.normal(size=count)
    if shape == "two":
        return rng.choice([-1.0, 1.0], size=count)
    return np.asarray(_law(shape).rvs(count, random_state=rng))


def _levels(sensor: Sensor, rng: np.random.Generator, presses: int) -> Floats:
    """Levels of the releases, mean 0 and standard deviation 1 over all captures."""
    drawn = _draw(sensor.between, rng, presses)
    if sensor.releases == "chained":
        drawn[1:] *= np.sqrt(1.0 - CHAIN**2)
        return np.asarray(lfilter([1.0], [1.0, -CHAIN], drawn))
    if sensor.releases == "warming":
        return drawn + WARMING_SDS * np.linspace(-1.0, 0.0, presses)
    return drawn


def _noise(sensor: Sensor, rng: np.random.Generator, count: int) -> Floats:
    """Noise of mean 0, standard deviation 1 and the sensor's own course in time and shape."""
    if sensor.spectrum == "pink":
        return _pink(rng, count)
    if sensor.lag1 <= 0.0:
        return _draw(sensor.within, rng, count)
    white = rng.normal(size=count)
    white[1:] *= np.sqrt(1.0 - sensor.lag1**2)
    normal = np.asarray(lfilter([1.0], [1.0, -sensor.lag1], white))
    if sensor.within == "normal":
        return normal
    # A monotone map of a correlated normal keeps the order in time and has the exact shape.
    return np.asarray(_law(sensor.within).ppf(special.ndtr(normal)))


def _pink(rng: np.random.Generator, count: int) -> Floats:
    """A stretch out of noise whose power falls as one over the frequency, over 40 s at 200 Hz."""
    wave = rng.normal(size=PINK_LENGTH // 2) + 1j * rng.normal(size=PINK_LENGTH // 2)
    spectrum = np.concatenate([[0.0], wave / np.sqrt(np.arange(1, PINK_LENGTH // 2 + 1))])
    power = 4.0 * float((1.0 / np.arange(1, PINK_LENGTH // 2)).sum()) + 1.0 / (PINK_LENGTH // 2)
    series = np.fft.irfft(spectrum, PINK_LENGTH) * PINK_LENGTH / np.sqrt(power)
    return np.asarray(series[:count])


def _converted(sensor: Sensor, volts: Floats, edges: Floats | None) -> Floats:
    """Codes in volts at the middle of the code, printed in as many decimals as the logger has."""
    if sensor.decimals is not None and sensor.lsb_V <= 10.0**-sensor.decimals:
        return np.asarray(np.round(volts, sensor.decimals))
    codes: Floats = np.floor(volts / sensor.lsb_V)
    if edges is not None:
        part, at = volts / sensor.lsb_V - codes, codes.astype(int) % (len(edges) - 1)
        codes += (part >= 1.0 + edges[at + 1]).astype(float) - (part < edges[at])
    middles: Floats = (codes + 0.5) * sensor.lsb_V
    if sensor.decimals is None:
        return middles
    return np.asarray(np.round(middles, sensor.decimals))

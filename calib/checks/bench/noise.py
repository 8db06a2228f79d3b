"""Noise at rest: how much, how much of it is mains hum, and how much the supply explains."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.hands import clipped_sd
from calib.checks.bench.signals import Flags, Floats, Run, Signal, runs
from calib.checks.limits import limit
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity

MAINS_HZ = (50.0, 60.0, 100.0, 120.0)
"""Frequencies at which mains gets into a wire: both nominal frequencies and their doubles."""

LEAST_WINDOW_S = 1.0
"""Shortest rest in which a mains line is looked for; own choice, it resolves 1 Hz."""

LONGEST_WINDOW_S = 4.0
"""Longest that is used; own choice, because mains wanders by some hundredths of a hertz."""

UNSEEN_HZ = 1.5
"""A line that lands nearer than this to nought cannot be told from a level; own choice, because
the window resolves 1 Hz."""

LINE_TO_FLOOR = 4.0
"""Amplitude of a line over that of its neighbours, to be one; own choice."""


@dataclass(frozen=True, slots=True)
class NoiseFigures:
    """Noise of one channel at rest.

    Attributes:
        sd: Standard deviation of single readings within the rests, in the channel's unit.
        hum: Amplitude of the strongest mains line, in the channel's unit; None where no rest is
            long enough.
        hum_hz: Its frequency, Hz.
        stands_out: Whether that line is well above its neighbours.
        hum_share: Share of the variance that the line makes up.
    """

    sd: float
    hum: float | None
    hum_hz: float | None
    stands_out: bool
    hum_share: float = 0.0


def alias_hz(frequency_hz: float, rate_hz: float) -> float:
    """Where a frequency appears when it is sampled, Hz, between 0 and half the rate.

    Source: sampling theorem.

    >>> alias_hz(60.0, 50.0)
    10.0
    """
    return abs(frequency_hz - rate_hz * round(frequency_hz / rate_hz))


def noise_figures(values: Floats, quiet: Flags, rate_hz: float, step: float) -> NoiseFigures:
    """Noise of one channel in the stretches where nothing is worked.

    Args:
        values: Readings, shape (n,); NaN is left out.
        quiet: Where nothing is worked, shape (n,).
        rate_hz: Rate of readings, Hz.
        step: Step of the converter, in the channel's unit.

    Source: standard deviation about the mean of each half second, so that warming is not noise;
    never below the step's own, JCGM 100 F.2.2.1.
    """
    stretches = runs(quiet & np.isfinite(values))
    sd = max(_pooled_sd(values, stretches, rate_hz), step / math.sqrt(12.0))
    longest = max(stretches, key=len, default=Run(0, 0))
    if len(longest) < LEAST_WINDOW_S * rate_hz or rate_hz <= 0.0:
        return NoiseFigures(sd, None, None, stands_out=False)
    count = min(len(longest), int(LONGEST_WINDOW_S * rate_hz))
    return _with_hum(values[longest.first : longest.first + count], rate_hz, sd)


def _pooled_sd(values: Floats, stretches: Sequence[Run], rate_hz: float) -> float:
    block = max(8, round(0.5 * rate_hz))
    parts = []
    for run in stretches:
        whole = len(run) // block
        if whole:
            rows = values[run.first : run.first + whole * block].reshape(whole, block)
            parts.append((rows - rows.mean(axis=1, keepdims=True)).ravel())
    if not parts:
        found = np.concatenate([values[run.first : run.stop] for run in stretches] or [values[:0]])
        return clipped_sd(found)
    inflate = math.sqrt(block / (block - 1.0))
    return clipped_sd(np.concatenate(parts)) * inflate


def _with_hum(values: Floats, rate_hz: float, sd: float) -> NoiseFigures:
    count = len(values)
    window = np.hanning(count)
    spectrum = np.abs(np.fft.rfft((values - values.mean()) * window)) * 2.0 / window.sum()
    bin_hz = rate_hz / count
    best = NoiseFigures(sd, 0.0, MAINS_HZ[0], stands_out=False)
    variance = max(float(values.var()), 1e-30)
    for line_hz in MAINS_HZ:
        at_hz = alias_hz(line_hz, rate_hz)
        if at_hz < UNSEEN_HZ:
            continue
        place = round(at_hz / bin_hz)
        near = spectrum[max(1, place - 2) : place + 3]
        around = np.concatenate(
            [spectrum[max(1, place - 24) : max(1, place - 4)], spectrum[place + 5 : place + 25]]
        )
        if not near.size or not around.size:
            continue
        amplitude = float(near.max())
        at_half_rate = place >= count // 2 - 2
        if at_half_rate:
            amplitude *= 0.5  # both halves of the spectrum fall together there
        stands_out = amplitude > LINE_TO_FLOOR * float(np.median(around))
        power = amplitude**2 if at_half_rate else 0.5 * amplitude**2
        if best.hum is None or amplitude > best.hum:
            best = NoiseFigures(sd, amplitude, line_hz, stands_out, power / variance)
    return best


@dataclass(frozen=True, slots=True)
class Noise:
    """Noise of a channel now and on record."""

    signal: Signal
    now: NoiseFigures
    then_sd: float | None
    then_hum: float | None
    span: float

    @property
    def ratio(self) -> float | None:
        """Spread over the spread on record."""
        if self.then_sd is None or self.then_sd <= 0.0:
            return None
        return self.now.sd / self.then_sd

    @property
    def hums(self) -> bool:
        """Whether a mains line is larger than it may be, and larger than on record."""
        if self.now.hum is None or not self.now.stands_out:
            return False
        least = limit("hum_mV", self.signal.channel) / 1000.0
        grown = self.then_hum is None or self.now.hum > self.then_hum * limit(
            "hum_ratio", self.signal.channel
        )
        return self.signal.unit == "V" and self.now.hum > least and grown

    @property
    def hum_explains(self) -> bool:
        """Whether the mains line is most of the noise."""
        return 100.0 * self.now.hum_share > limit("common_pct", self.signal.channel)

    @property
    def grown(self) -> bool:
        """Whether the spread is larger than it may be: than on record, else than its share."""
        ratio = self.ratio
        if ratio is not None and ratio > limit("noise_ratio", self.signal.channel):
            return True
        if ratio is not None or self.span <= 0.0 or self.signal.role not in ("control", "supply"):
            return False
        return 100.0 * self.now.sd / self.span > limit("noise_pct", self.signal.channel)


def explained_share(values: Floats, cause: Floats, quiet: Flags) -> float:
    """Share of a channel's variance at rest that another channel explains, 0 to 1.

    Args:
        values: The channel's readings, shape (n,).
        cause: The other's, shape (n,).
        quiet: Where nothing is worked, shape (n,).

    Source: squared correlation of first differences, so that slow drifts do not count.
    """
    both = quiet & np.isfinite(values) & np.isfinite(cause)
    if int(both.sum()) < 16:
        return 0.0
    a, b = np.diff(values[both]), np.diff(cause[both])
    kept = (np.abs(a) <= 8.0 * (a.std() or 1.0)) & (np.abs(b) <= 8.0 * (b.std() or 1.0))
    a, b = a[kept], b[kept]
    if a.size < 16 or a.std() <= 0.0 or b.std() <= 0.0:
        return 0.0
    return float(np.corrcoef(a, b)[0, 1] ** 2)


def hum_finding(noise: Noise, humming: Sequence[str]) -> Finding:
    """Mains hum of one channel, and whether it is the only one.

    Args:
        noise: The channel's noise.
        humming: Every channel that hums.
    """
    amplitude_mV = 1000.0 * (noise.now.hum or 0.0)
    alone = len(humming) == 1
    why = (
        "only this wire picks it up: its screen or ground is open, or it lies by a mains cable"
        if alone
        else f"so do {len(humming) - 1} others: an earth loop through charger or bench supply"
    )
    action = (
        "Check the joint of its signal and ground wire, then move it away from mains cables."
        if alone
        else "Take the charger out, run the laptop on battery, and check again."
    )
    return Finding(
        code="hum" if alone else "hum-common",
        severity=Severity.CAUTION,
        text=f"{noise.signal.name} hums at {noise.now.hum_hz:.0f} Hz with {amplitude_mV:.0f} mV: "
        f"{why}.",
        value=amplitude_mV,
        limit=limit("hum_mV", noise.signal.channel),
        unit="mV",
        action=action,
        channel=noise.signal.name,
    )


def grown_finding(noise: Noise) -> Finding:
    """Noise at rest that has grown, or is too large against the span."""
    ratio = noise.ratio
    unit = noise.signal.unit
    if ratio is None:
        return said.caution(
            "noise-high",
            100.0 * noise.now.sd / noise.span,
            limit("noise_pct", noise.signal.channel),
            channel=noise.signal.name,
            sd=noise.now.sd,
            the_unit=unit,
            pct=100 * noise.now.sd / noise.span,
        )
    failed = ratio > limit("noise_fail_ratio", noise.signal.channel)
    return said.finding(
        Severity.FAIL if failed else Severity.CAUTION,
        "noise-grown",
        ratio,
        limit("noise_fail_ratio" if failed else "noise_ratio", noise.signal.channel),
        channel=noise.signal.name,
        sd=noise.now.sd,
        the_unit=unit,
    )


def supply_noise_finding(rail: Signal, noise: Noise, followers: Sequence[str]) -> Finding:
    """Noise that comes with the supply, told apart from a noise of one channel."""
    who = ", ".join(followers) if followers else "the channels that it feeds"
    return said.finding(
        Severity.CAUTION
        if (noise.ratio or 0.0) <= limit("noise_fail_ratio", rail.channel)
        else Severity.FAIL,
        "supply-noise",
        noise.ratio if noise.ratio is not None else 1000.0 * noise.now.sd,
        limit("noise_ratio", rail.channel)
        if noise.ratio is not None
        else 10.0 * limit("noise_pct", rail.channel) * noise.span,
        channel=rail.name,
        unit="" if noise.ratio is not None else "mV",
        mV=1000 * noise.now.sd,
        who=who,
    )

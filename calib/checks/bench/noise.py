"""Noise at rest: how much, how much of it is mains hum, and how much the supply explains."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from calib.checks.bench.hands import Hand, clipped_sd
from calib.checks.bench.signals import Flags, Floats, Signal
from calib.measure.sliding import Run, runs_of
from calib.store.documents import said
from calib.store.documents.check import CheckFigures
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
            long enough, or the rate too low for any line to be seen.
        hum_hz: Its frequency, Hz.
        stands_out: Whether that line is well above its neighbours.
        hum_share: Share of the variance that the line makes up.
    """

    sd: float
    hum: float | None = None
    hum_hz: float | None = None
    stands_out: bool = False
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
    stretches = runs_of(quiet & np.isfinite(values))
    sd = max(_pooled_sd(values, stretches, rate_hz), step / math.sqrt(12.0))
    longest = max(stretches, key=len, default=Run(0, 0))
    if len(longest) < LEAST_WINDOW_S * rate_hz or rate_hz < 2.0 * UNSEEN_HZ:
        return NoiseFigures(sd)
    return _with_hum(longest.of(values)[: int(LONGEST_WINDOW_S * rate_hz)], rate_hz, sd)


def _pooled_sd(values: Floats, stretches: Sequence[Run], rate_hz: float) -> float:
    block = max(8, round(0.5 * rate_hz))
    parts = []
    for run in stretches:
        whole = len(run) // block
        if whole:
            rows = run.of(values)[: whole * block].reshape(whole, block)
            parts.append((rows - rows.mean(axis=1, keepdims=True)).ravel())
    if not parts:
        return clipped_sd(np.concatenate([values[:0], *(run.of(values) for run in stretches)]))
    return clipped_sd(np.concatenate(parts)) * math.sqrt(block / (block - 1.0))


def _with_hum(values: Floats, rate_hz: float, sd: float) -> NoiseFigures:
    count = len(values)
    window = np.hanning(count)
    spectrum = np.abs(np.fft.rfft((values - values.mean()) * window)) * 2.0 / window.sum()
    bin_hz = rate_hz / count
    best = NoiseFigures(sd, 0.0, MAINS_HZ[0])
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
        if amplitude > (best.hum or 0.0):
            best = NoiseFigures(sd, amplitude, line_hz, stands_out, power / variance)
    return best


@dataclass(frozen=True, slots=True)
class Noise:
    """Noise of a channel now and on record.

    Attributes:
        signal: The channel.
        now: Its noise.
        then: Its figures on record; None without one.
        span: What its noise is held against without a record, in its unit; 0 where nothing is.
    """

    signal: Signal
    now: NoiseFigures
    then: CheckFigures | None
    span: float

    @property
    def ratio(self) -> float | None:
        """Spread over the spread on record."""
        if self.then is None or self.then.noise is None or self.then.noise <= 0.0:
            return None
        return self.now.sd / self.then.noise

    @property
    def hums(self) -> bool:
        """Whether a mains line is larger than it may be, and larger than on record."""
        if self.now.hum is None or not self.now.stands_out:
            return False
        least = self.signal.limit("hum_mV") / 1000.0
        then = None if self.then is None else self.then.hum
        grown = then is None or self.now.hum > then * self.signal.limit("hum_ratio")
        return self.signal.unit == "V" and self.now.hum > least and grown

    @property
    def hum_explains(self) -> bool:
        """Whether the mains line is most of the noise."""
        return 100.0 * self.now.hum_share > self.signal.limit("common_pct")

    @property
    def grown(self) -> bool:
        """Whether the spread is larger than it may be: than on record, else than its share."""
        ratio = self.ratio
        if ratio is not None:
            return ratio > self.signal.limit("noise_ratio")
        if self.span <= 0.0 or self.signal.role not in ("control", "supply"):
            return False
        return 100.0 * self.now.sd / self.span > self.signal.limit("noise_pct")


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


def noise_findings(
    noises: Mapping[str, Noise], hands: Sequence[Hand], quiet: Flags
) -> Iterator[Finding]:
    """Noise that has grown, told apart by where it comes from: mains, the supply, or a wire.

    Args:
        noises: Noise by channel.
        hands: The controls.
        quiet: Where nothing is worked, shape (n,).

    Source: limits ``hum_*``, ``noise_*`` and ``common_pct``.
    """
    humming = sum(noise.hums for noise in noises.values())
    for noise in noises.values():
        if noise.signal.role == "supply" and noise.grown and not (noise.hums and humming > 1):
            followers = [each.name for each in hands if _follows(each, noise.signal, quiet)]
            yield from _supply_findings(noise, followers)
    for noise in noises.values():
        if noise.hums and (noise.hum_explains or humming > 1):
            yield from _hum_findings(noise, others=humming - 1)
        elif noise.grown and (noise.signal.role != "supply" or noise.hums):
            yield from _grown_findings(noise)


def _follows(hand: Hand, rail: Signal, quiet: Flags) -> bool:
    """Whether most of a control's noise is that of the supply that feeds it."""
    if hand.signal.channel.supply != rail.name:
        return False
    explained = explained_share(hand.signal.values, rail.values, quiet)
    return 100.0 * explained > hand.limit("common_pct")


def _hum_findings(noise: Noise, *, others: int) -> Iterator[Finding]:
    """Mains hum of one channel, and whether it is the only one."""
    hum_mV, most_mV = 1000.0 * (noise.now.hum or 0.0), noise.signal.limit("hum_mV")
    name = noise.signal.name
    if others:
        yield said.caution("hum-common", hum_mV, most_mV, channel=name, noise=noise, others=others)
    else:
        yield said.caution("hum", hum_mV, most_mV, channel=name, noise=noise)


def _grown_findings(noise: Noise) -> Iterator[Finding]:
    """Noise at rest that has grown, or is too large against the span."""
    signal, ratio = noise.signal, noise.ratio
    if ratio is None:
        pct, most_pct = 100.0 * noise.now.sd / noise.span, signal.limit("noise_pct")
        yield said.caution("noise-high", pct, most_pct, channel=signal.name, noise=noise)
        return
    failed = ratio > signal.limit("noise_fail_ratio")
    severity = Severity.FAIL if failed else Severity.CAUTION
    most = signal.limit("noise_fail_ratio" if failed else "noise_ratio")
    yield said.finding(severity, "noise-grown", ratio, most, channel=signal.name, noise=noise)


def _supply_findings(noise: Noise, followers: Sequence[str]) -> Iterator[Finding]:
    """Noise that comes with the supply, told apart from a noise of one channel."""
    rail, ratio, sd_mV = noise.signal, noise.ratio, 1000.0 * noise.now.sd
    failed = (ratio or 0.0) > rail.limit("noise_fail_ratio")
    known = ratio is not None
    yield said.finding(
        Severity.FAIL if failed else Severity.CAUTION,
        "supply-noise",
        ratio if known else sd_mV,
        rail.limit("noise_ratio") if known else 10.0 * rail.limit("noise_pct") * noise.span,
        channel=rail.name,
        unit="" if known else "mV",
        sd_mV=sd_mV,
        who=", ".join(followers) or "the channels that it feeds",
    )

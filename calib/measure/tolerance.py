"""Tolerance limits: where a promised share of future readings stays, at a promised confidence.

The model of every limit that is printed as a voltage, in one place.

*Readings.* A future reading of a control is ``level of that stay + noise``. The distance d from the
mean within which the promised share of them lies is a property of the control, estimated as

    d = hypot(z·T, q),

T the standard deviation of the levels of the stays, z the normal quantile of the share and q the
noise's own quantile. It is a distance that readings need and no uncertainty. What is not known of
it, and of the mean, is the margin less the distance:

    margin = hypot(k(n)·T, q·√(ν/χ²(ν))),

k(n) the exact one-sided factor of n stays and χ²(ν) the quantile that ν degrees of freedom fall
short of with the risk that the confidence leaves. Each half keeps its promise alone; together they
keep it a little better (`tests/bench/promise.py`).

*Scale.* A wrong reference, divider, supply, temperature or converter moves every future reading by
the same amount: a shift of the whole distribution, with the standard uncertainty u (type B). It
does not make the distance larger. Shift and what is unknown of the distance are independent, and
are added in squares; the distance stands before them as it is:

    limit = mean ± (d + hypot(margin - d, z_c·u)),

z_c the one-sided normal quantile of the confidence.

*Evenings.* Where rest was measured on K evenings the mean is the grand mean of the evenings, and

    d = hypot(z·E, z·S),   margin = hypot(k(K)·E, z·S·√(ν/χ²(ν))),

E the standard deviation of the evenings' means, S that of a reading within an evening, pooled over
the evenings (see `calib.checks.travel.evenings`).

Source: one-sided factors of normal samples, ISO 16269-6 (noncentral t; its tables are run through
`one_sided_factor` in tests/reference); JCGM 100, 4.3 (a shift known by its bounds), 5.1.2
(independent contributions) and 4.4; the sum in squares of the two halves is our own choice and is
held against its promise by the campaigns `promise`, `shift` and `evenings`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from calib.measure.distributions import chi2_quantile, noncentral_t_quantile, normal_quantile
from calib.measure.spread import LevelSpread
from calib.measure.tails import NoiseTail, noise_tail

Method = Literal["stays", "one stay", "evenings"]

# Share of the converter's error (LSB/√12 without flicker) that is taken for the least spread of
# the levels. Own choice: a campaign of still codes, spreads from 0.02 to 1 LSB, kept its promise
# with it in every cell; the whole of it was kept too, and wasted a third more.
STEP_SHARE = 0.7


@dataclass(frozen=True)
class Reach:
    """How far one side of a level reaches, in the unit of the readings.

    Attributes:
        distance: What the promised share of future readings needs, as estimated.
        margin: The same at the promised confidence; never less.
    """

    distance: float
    margin: float

    def shifted(self, u_shift: float, confidence: float) -> float:
        """The margin that also holds for a shift of all readings, in their unit.

        Args:
            u_shift: Standard uncertainty of the shift.
            confidence: Confidence, between 0.5 and 1.

        Source: the module's own docstring, *Scale*.
        """
        unknown = math.hypot(self.margin - self.distance, normal_quantile(confidence) * u_shift)
        return self.distance + unknown


@dataclass(frozen=True)
class ToleranceLimits:
    """One-sided tolerance limits of one future reading after one future press or release.

    Attributes:
        centre: The mean that both are counted from, in the unit of the readings.
        below: How far down the promised share of readings reaches.
        above: How far up it reaches.
        content: Promised share.
        confidence: Confidence of the promise.
        method: What the spread was taken between.
        tail_low: The noise's lower tail.
        tail_high: The noise's upper tail.
    """

    centre: float
    below: Reach
    above: Reach
    content: float
    confidence: float
    method: Method
    tail_low: NoiseTail
    tail_high: NoiseTail

    @property
    def low(self) -> float:
        """Limit above which the promised share lies, in the unit of the readings."""
        return self.centre - self.below.margin

    @property
    def high(self) -> float:
        """Limit below which the promised share lies, in the unit of the readings."""
        return self.centre + self.above.margin


def tolerance_limits(
    spread: LevelSpread, *, content: float = 0.999, confidence: float = 0.95
) -> ToleranceLimits:
    """One-sided tolerance limits of a level, in the unit of the readings.

    Args:
        spread: What the stays said.
        content: Share of future readings that shall stay within each limit.
        confidence: Confidence of that.

    Returns:
        Both limits; each keeps its promise by itself.

    Raises:
        ValueError: If content or confidence is not between 0.5 and 1.

    Source: the module's own docstring. The defaults are a requirement of this project.
    """
    _check(content, confidence)
    up, down = (
        noise_tail(
            residuals,
            lsb=spread.lsb,
            lag1=spread.lag1,
            dof_within=spread.dof_within,
            content=content,
            confidence=confidence,
        )
        for residuals in (spread.residuals, -spread.residuals)
    )
    return ToleranceLimits(
        centre=spread.mean,
        below=_reach(spread, down, spread.plateaus, content, confidence),
        above=_reach(spread, up, spread.plateaus, content, confidence),
        content=content,
        confidence=confidence,
        method="stays" if spread.plateaus > 1 else "one stay",
        tail_low=down,
        tail_high=up,
    )


def limits_after(spread: LevelSpread, limits: ToleranceLimits, plateaus: int) -> ToleranceLimits:
    """Limits to expect of another count of stays with the same spreads, in their unit.

    Source: own choice, because the spreads found so far are the best guess of the next ones.
    """
    content, confidence = limits.content, limits.confidence
    below = _reach(spread, limits.tail_low, plateaus, content, confidence)
    above = _reach(spread, limits.tail_high, plateaus, content, confidence)
    return replace(limits, below=below, above=above)


def _reach(
    spread: LevelSpread, tail: NoiseTail, plateaus: int, content: float, confidence: float
) -> Reach:
    floor = step_sd_of_means(spread)
    return reach(
        sd_levels=max(spread.sd_means, floor),
        count=max(plateaus, 2),
        noise_quantile=max(tail.quantile, normal_quantile(content) * floor),
        dof_noise=tail.dof,
        content=content,
        confidence=confidence,
    )


def step_sd_of_means(spread: LevelSpread) -> float:
    """Least standard deviation of levels that the converter's step lets us claim, in their unit.

    With one stay nothing is known of the spread between stays: the residual spread is then
    taken for it, with one degree of freedom, and the caller says so.

    Source: own choice, because equal codes on every press do not show a spread of zero; see
    `STEP_SHARE`.
    """
    if spread.plateaus > 1:
        return STEP_SHARE * spread.step_sd
    return max(STEP_SHARE * spread.step_sd, spread.sd_residual)


def reach(
    *,
    sd_levels: float,
    count: int,
    noise_quantile: float,
    dof_noise: float,
    content: float,
    confidence: float,
) -> Reach:
    """Reach of the readings about the mean of some levels, in the unit of the spreads.

    Args:
        sd_levels: Standard deviation of the levels.
        count: How many levels there are, at least 2.
        noise_quantile: Distance from its level that the promised share of the noise needs.
        dof_noise: Degrees of freedom of that distance; infinite where it is known.
        content: Share, between 0.5 and 1.
        confidence: Confidence, between 0.5 and 1.

    Returns:
        The reach; without noise its margin is the one-sided factor times `sd_levels`.

    Source: the module's own docstring, *Readings*.
    """
    levels = one_sided_factor(count, content, confidence) * sd_levels
    noise = noise_quantile * spread_factor(dof_noise, confidence)
    distance = math.hypot(normal_quantile(content) * sd_levels, noise_quantile)
    return Reach(distance, margin=math.hypot(levels, noise))


@lru_cache(maxsize=256)
def one_sided_factor(n: int, content: float, confidence: float) -> float:
    """Exact one-sided tolerance factor of a normal sample, no unit.

    Args:
        n: Sample size, at least 2.
        content: Share.
        confidence: Confidence.

    Returns:
        k such that mean + k·sd holds the share.

    Source: ISO 16269-6 by the noncentral t distribution; NIST/SEMATECH e-Handbook 7.2.6.3 (its
    own figure 1.8752 for n = 43 is the handbook's approximation; the exact one is 1.873954).
    """
    if n < 2:
        raise ValueError(f"{n} value(s): a spread needs at least two.")
    root = math.sqrt(n)
    shift = normal_quantile(content) * root
    return noncentral_t_quantile(confidence, n - 1, shift) / root


def spread_factor(dof: float, confidence: float) -> float:
    """Factor by which a standard deviation may be larger than it was found, no unit.

    Args:
        dof: Its degrees of freedom, above 0; infinite where it is known.
        confidence: Confidence that it is no larger.

    Source: χ² distribution of a normal sample's variance, √(ν/χ²); ISO 16269-6 uses the same.
    """
    if not math.isfinite(dof):
        return 1.0
    return math.sqrt(dof / chi2_quantile(1.0 - confidence, dof))


def _check(content: float, confidence: float) -> None:
    for name, value in (("content", content), ("confidence", confidence)):
        if not 0.5 <= value < 1.0:
            raise ValueError(f"{name} {value:g} is not between 0.5 and 1.")

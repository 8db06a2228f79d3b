"""Student's t, F, χ², binomial and noncentral t: shares beyond a figure, and figures for a share.

Written with the standard library alone: a library that has them all takes longer to
import than most commands take, and weighs more than everything else that is installed. The tests
hold each against it.

Source: continued fractions and series of the incomplete beta and gamma functions (NIST Digital
Library of Mathematical Functions 8.7.1, 8.9.2, 8.17.22), and their part in each law
(Abramowitz and Stegun, chapter 26), from memory.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache, lru_cache

_NEXT_TO_NOTHING = 1e-300
_ALIKE = 1e-15
_MOST_TERMS = 100_000
_NODES = 64
"""Own choice: the quantiles of a noncentral t agree to nine figures; with half of them to seven."""
_REACH_SDS = 9.0
"""Own choice: beyond so many standard deviations lies less than a double can tell from nothing."""
_KNOWN_DOF = 1e7
"""Own choice: with more degrees of freedom Student's t is normal to the seventh figure."""


def normal_beyond(z: float) -> float:
    """Share of the normal distribution above ``z``."""
    return 0.5 * math.erfc(z / math.sqrt(2.0))


@lru_cache(maxsize=256)
def normal_quantile(share: float) -> float:
    """Figure below which a share of the normal distribution lies, no unit."""
    if share < 0.5:
        return -normal_quantile(1.0 - share)
    return root(lambda z: normal_beyond(z) - (1.0 - share), 0.0, 40.0)


def student_beyond(t: float, dof: float) -> float:
    """Share of Student's t above ``t``; infinite degrees of freedom make it normal."""
    if dof > _KNOWN_DOF:
        return normal_beyond(t)
    square = t * t
    beyond = 0.5 * _beta(0.5 * dof, 0.5, dof / (dof + square), square / (dof + square))
    return beyond if t > 0.0 else 1.0 - beyond


@lru_cache(maxsize=1024)
def student_quantile(share: float, dof: float) -> float:
    """Figure below which a share of Student's t lies, no unit; of infinite degrees too."""
    if share < 0.5:
        return -student_quantile(1.0 - share, dof)
    return _above_nothing(lambda t: student_beyond(t, dof) - (1.0 - share))


def f_beyond(ratio: float, dof_above: float, dof_below: float) -> float:
    """Share of the F distribution above a ratio of two variances, 0 or more."""
    above, below = dof_above * ratio, dof_below
    return _beta(0.5 * dof_below, 0.5 * dof_above, below / (above + below), above / (above + below))


def chi2_beyond(chi2: float, dof: float) -> float:
    """Share of the χ² distribution above a sum of squares, 0 or more."""
    return 1.0 - _gamma(0.5 * dof, 0.5 * chi2) if chi2 < dof else _gamma_rest(dof, chi2)


@lru_cache(maxsize=256)
def chi2_quantile(share: float, dof: float) -> float:
    """Sum of squares below which a share of the χ² distribution lies."""
    return _above_nothing(lambda chi2: 1.0 - share - chi2_beyond(chi2, dof), up=-1.0)


def binomial_up_to(count: int, n: int, share: float) -> float:
    """Probability of at most ``count`` of ``n``, each with probability ``share``."""
    return 1.0 if count >= n else _beta(n - count, count + 1.0, 1.0 - share, share)


def noncentral_t_quantile(share: float, dof: int, shift: float) -> float:
    """Figure below which a share of the noncentral t distribution lies, no unit.

    Args:
        share: The share, above 0 and below 1.
        dof: Degrees of freedom, at least 1.
        shift: Noncentrality.
    """
    width = 1.0 + abs(shift)
    while _noncentral(shift - width, dof, shift) > share:
        width *= 2.0
    while _noncentral(shift + width, dof, shift) < share:
        width *= 2.0
    return root(lambda t: _noncentral(t, dof, shift) - share, shift - width, shift + width)


def _noncentral(t: float, dof: int, shift: float) -> float:
    """Share of the noncentral t distribution below ``t``.

    Source: its definition, a shifted normal over the root of χ² over its degrees of freedom. For
    most values of that root the normal's share is 0 or 1; in between it is integrated by Gauss's
    and Legendre's rule.
    """
    if t < 0.0:
        return 1.0 - _noncentral(-t, dof, -shift)
    if t == 0.0:
        return normal_beyond(shift)
    reach = _REACH_SDS / math.sqrt(2.0 * dof)
    low = max(0.0, 1.0 - reach, (shift - _REACH_SDS) / t)
    high = min(1.0 + reach, (shift + _REACH_SDS) / t)
    whole = chi2_beyond(dof * high**2, dof) if high > 0.0 else 1.0
    if high <= low:
        return whole
    front = math.log(2.0) + 0.5 * dof * math.log(0.5 * dof) - math.lgamma(0.5 * dof)
    for place, weight in _nodes():
        root_chi2 = low + (high - low) * place
        density = math.exp(front + (dof - 1) * math.log(root_chi2) - 0.5 * dof * root_chi2**2)
        whole += (high - low) * weight * density * normal_beyond(shift - t * root_chi2)
    return whole


@cache
def _nodes() -> tuple[tuple[float, float], ...]:
    """Places from 0 to 1 and weights of Gauss's and Legendre's rule."""
    from numpy.polynomial.legendre import leggauss

    places, weights = leggauss(_NODES)
    return tuple(zip((0.5 + 0.5 * places).tolist(), (0.5 * weights).tolist(), strict=True))


def root(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a function crosses 0 between two places at which it has opposite signs.

    Source: Ridders, IEEE Trans. Circuits Syst. 26 (1979), from memory.
    """
    at_low, at_high = function(low), function(high)
    found = low if at_low == 0.0 else high
    while at_low * at_high < 0.0:
        middle = 0.5 * (low + high)
        at_middle = function(middle)
        bend = math.copysign(math.sqrt(at_middle**2 - at_low * at_high), at_low)
        before, found = found, middle + (middle - low) * at_middle / bend
        if abs(found - before) <= _ALIKE * abs(found) or middle in (low, high):
            break
        at_found = function(found)
        for place, value in sorted([(middle, at_middle), (found, at_found)]):
            if at_low * value > 0.0:
                low, at_low = place, value
            else:
                high, at_high = place, value
                break
    return found


def _above_nothing(function: Callable[[float], float], up: float = 1.0) -> float:
    """Where a function that falls (rises, for ``up`` -1) from 0 on crosses 0."""
    high = 1.0
    while up * function(high) > 0.0:
        high *= 2.0
    return root(function, 0.0, high)


def _beta(a: float, b: float, x: float, rest: float) -> float:
    """Regularised incomplete beta function of ``x``; ``rest`` is 1 - x."""
    if x <= 0.0 or rest <= 0.0:
        return float(rest <= 0.0)
    if x > (a + 1.0) / (a + b + 2.0):
        return 1.0 - _beta(b, a, rest, x)
    front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    front += a * math.log(x) + b * math.log(rest)

    def part(m: int) -> float:
        half = m // 2
        if m % 2:
            return -(a + half) * (a + b + half) * x / ((a + m - 1) * (a + m))
        return half * (b - half) * x / ((a + m - 1) * (a + m))

    return math.exp(front) / (a * _continued(part, lambda _: 1.0, 1.0))


def _gamma(a: float, x: float) -> float:
    """Regularised lower incomplete gamma function, by its series; for ``x`` up to about ``a``."""
    if x <= 0.0:
        return 0.0
    term = total = 1.0 / a
    place = a
    while term > _ALIKE * total:
        place += 1.0
        term *= x / place
        total += term
    return total * math.exp(a * math.log(x) - x - math.lgamma(a))


def _gamma_rest(dof: float, chi2: float) -> float:
    """Share of χ² above a sum of squares that is not below ``dof``."""
    a, x = 0.5 * dof, 0.5 * chi2
    fraction = _continued(lambda m: m * (a - m), lambda m: x + 2.0 * m + 1.0 - a, x + 1.0 - a)
    return math.exp(a * math.log(x) - x - math.lgamma(a)) / fraction


def _continued(part: Callable[[int], float], whole: Callable[[int], float], first: float) -> float:
    """A continued fraction, ``first + part(1) / (whole(1) + part(2) / (whole(2) + ...))``.

    Source: Lentz's way, as modified by Thompson and Barnett (1986), from memory.
    """
    value = above = first or _NEXT_TO_NOTHING
    below = 0.0
    for m in range(1, _MOST_TERMS):
        below = 1.0 / (whole(m) + part(m) * below or _NEXT_TO_NOTHING)
        above = whole(m) + part(m) / above or _NEXT_TO_NOTHING
        value *= above * below
        if abs(above * below - 1.0) < _ALIKE:
            break
    return value

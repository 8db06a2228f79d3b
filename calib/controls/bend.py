"""Whether a converter bows, and the curve that takes the straight line's place where it does."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.measure.distributions import chi2_beyond, f_beyond
from calib.measure.uncertainty import rectangular_u

Floats = NDArray[np.float64]
Row = tuple[float, float, float]

LEAST_READINGS = 5
"""Own choice: four readings bend three ways by chance; with five two are left to judge by."""

CUBIC_READINGS = 6
"""Own choice: a knee near one end is no parabola; one reading more lets a cubic be asked too."""

BEND_CHANCE = 0.01
"""Own choice: chance below which the readings are told to bend."""

LEAST_BEND_V = 0.005
"""Own choice: half of the step in which controllers commonly take volts."""

MOST_EXPLAINED = 0.75
"""Own choice: a smooth curve takes at least this share of the residuals of readings that bend."""

LEAST_SCATTER_V = 0.003
"""Own choice: rounding of a meter to 10 mV; a voltage held and read by hand is no nearer."""

SAME_PLACE_V = 0.05
"""Own choice: readings nearer than this give a row between them no slope; they are taken as one."""

STRAIGHT_V = 0.001
"""Own choice: a curve this near its chord is written as the chord."""

PARTS = 4
"""Own choice: rows between two readings where the curve leaves its chord."""


@dataclass(frozen=True)
class Bend:
    """How readings leave a straight line.

    Attributes:
        deviation_V: Farthest that the bent fit lies from the straight one at a reading, V.
        is_one: Whether it is more than chance or one slip, and large enough to matter.
        rests_on_V: Logger's volts of the one end reading without which the rest is straight; None
            where the bend shows without any of them.
    """

    deviation_V: float
    is_one: bool
    rests_on_V: float | None = None


def find_bend(
    logger_V: Floats, true_V: Floats, scatter_V: float, *, beyond: bool = False
) -> Bend | None:
    """The bend of some readings; None with fewer than five, where nothing can be told.

    Readings bend where a parabola or a cubic takes far more of their residuals than chance would;
    or where a straight line is beyond what the meter's accuracy allows and such a curve explains
    most of it, unless one reading between the ends is alone to blame: that is a slip.

    Args:
        logger_V: The logger's volts, shape (n,).
        true_V: True volts, shape (n,).
        scatter_V: Standard deviation that a reading has at least, V: rounding and noise.
        beyond: Whether the straight line misses a reading by more than the meter may be off.

    Source: F-test of added terms (Draper and Smith, Applied Regression Analysis, from memory),
    the residual variance no smaller than what rounding makes; the smaller chance of two tests is
    doubled (Bonferroni). Leaving out one reading is own choice.
    """
    places = np.unique(logger_V).size
    if places < LEAST_READINGS:
        return None
    straight = np.polynomial.Polynomial.fit(logger_V, true_V, 1)(logger_V)
    degrees = (2, 3) if places >= CUBIC_READINGS else (2,)
    found = [_added(logger_V, true_V, straight, degree, scatter_V) for degree in degrees]
    best = min(found, key=lambda one: one.chance)
    surely = len(degrees) * best.chance < BEND_CHANCE
    lone = _lone(logger_V, true_V, scatter_V)
    at_end = lone in (int(np.argmin(logger_V)), int(np.argmax(logger_V)))
    most = max(found, key=lambda one: one.explained)
    smooth = beyond and most.explained >= MOST_EXPLAINED and (lone is None or at_end)
    deviation_V = best.deviation_V if surely else most.deviation_V
    is_one = (surely or smooth) and deviation_V >= LEAST_BEND_V
    return Bend(deviation_V, is_one, float(logger_V[lone]) if lone is not None and at_end else None)


@dataclass(frozen=True)
class _Added:
    """What a polynomial explains that the straight line does not, and how likely by chance."""

    deviation_V: float
    chance: float
    explained: float


def _added(x: Floats, y: Floats, straight: Floats, degree: int, scatter: float) -> _Added:
    bent = np.polynomial.Polynomial.fit(x, y, degree)(x)
    added, dof = degree - 1, len(x) - degree - 1
    before, after = float(((y - straight) ** 2).sum()), float(((y - bent) ** 2).sum())
    left = max(after / dof, scatter**2)
    chance = f_beyond((before - after) / added / left, added, dof) if left > 0.0 else 1.0
    explained = 1.0 - after / before if before > 0.0 else 0.0
    return _Added(float(np.abs(bent - straight).max()), chance, explained)


def _lone(x: Floats, y: Floats, scatter: float) -> int | None:
    """Index of the reading without which all others lie on a line; None where there is none.

    Source: chi-squared of the others against `scatter_V`, at `BEND_CHANCE`.
    """

    def left_without(place: int) -> float:
        others_x, others_y = np.delete(x, place), np.delete(y, place)
        line = np.polynomial.Polynomial.fit(others_x, others_y, 1)
        return float(((others_y - line(others_x)) ** 2).sum())

    left = [left_without(place) for place in range(len(x))]
    chi2 = min(left) / max(scatter, LEAST_SCATTER_V) ** 2
    return left.index(min(left)) if chi2_beyond(chi2, len(x) - 3) > BEND_CHANCE else None


def curve_through(
    logger_V: Floats, true_V: Floats, u_own_V: Floats, common: float
) -> tuple[Row, ...] | None:
    """Rows of a rising curve through readings: logger's volts, true volts, standard uncertainty.

    Args:
        logger_V: The logger's volts, shape (n,), in any order.
        true_V: True volts, shape (n,).
        u_own_V: Standard uncertainty of each reading that it shares with no other, V, shape (n,).
        common: Relative standard uncertainty that all readings share: the meter's own scale.

    Returns:
        Rows, straight in between to within a millivolt. Between two readings the doubt is
        the larger of theirs, and the curve's distance from the chord: nobody saw which it is.
        None with fewer than five places, or where true volts do not rise with the logger's.

    Source: monotone cubic through the readings (Fritsch and Carlson, SIAM J. Numer. Anal. 17
    (1980), slopes after Fritsch and Butland); the distance from the chord is own choice.
    """
    x, y, own = _merged(logger_V, true_V, u_own_V)
    if len(x) < LEAST_READINGS or not bool((np.diff(y) > 0.0).all()):
        return None
    slopes = _slopes(x, y)
    rows: list[Row] = []
    for left in range(len(x) - 1):
        rows.append((float(x[left]), float(y[left]), math.hypot(own[left], common * y[left])))
        at = np.linspace(x[left], x[left + 1], PARTS + 1)[1:-1]
        smooth = _between(x, y, slopes, left, at)
        off = np.abs(smooth - np.interp(at, x, y))
        if float(off.max()) < STRAIGHT_V:
            continue
        worst = max(own[left], own[left + 1])
        for place, value, chord in zip(at, smooth, off, strict=True):
            u_V = math.hypot(worst, rectangular_u(float(chord)), common * float(value))
            rows.append((float(place), float(value), u_V))
    rows.append((float(x[-1]), float(y[-1]), math.hypot(own[-1], common * y[-1])))
    return tuple(rows)


def _slopes(x: Floats, y: Floats) -> Floats:
    """Slopes at the readings of a curve that rises wherever they do; shape (n,).

    Source: Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984), from memory: a weighted
    harmonic mean of the chords on both sides, a parabola's slope at the ends.
    """
    width, chord = np.diff(x), np.diff(y) / np.diff(x)
    before, after = width[:-1] + 2.0 * width[1:], 2.0 * width[:-1] + width[1:]
    inner = (before + after) / (before / chord[:-1] + after / chord[1:])
    ends = [
        max(chord[at] + width[at] * (chord[at] - chord[to]) / (width[at] + width[to]), 0.0)
        for at, to in ((0, 1), (-1, -2))
    ]
    return np.concatenate([ends[:1], inner, ends[1:]])


def _between(x: Floats, y: Floats, slopes: Floats, left: int, at: Floats) -> Floats:
    """The cubic from one reading to the next by values and slopes, at places between them."""
    width = x[left + 1] - x[left]
    share = (at - x[left]) / width
    up = y[left] + (y[left + 1] - y[left]) * share**2 * (3.0 - 2.0 * share)
    lean = slopes[left] * (1.0 - share) - slopes[left + 1] * share
    return np.asarray(up + width * share * (1.0 - share) * lean, dtype=np.float64)


def _merged(x: Floats, y: Floats, own: Floats) -> tuple[Floats, Floats, Floats]:
    """Readings in rising order, those at one place averaged."""
    order = np.argsort(x, kind="stable")
    groups: list[list[int]] = []
    for index in order.tolist():
        if groups and x[index] - x[groups[-1][0]] < SAME_PLACE_V:
            groups[-1].append(index)
        else:
            groups.append([index])
    return (
        np.array([x[group].mean() for group in groups]),
        np.array([y[group].mean() for group in groups]),
        np.array([math.sqrt(float((own[group] ** 2).sum())) / len(group) for group in groups]),
    )

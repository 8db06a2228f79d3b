"""Truing of a logger's scale against a multimeter: still stretches, line or curve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.controls.bend import Bend, curve_through, find_bend
from calib.measure.distributions import chi2_beyond
from calib.measure.plateaus import Plateau, find_plateaus
from calib.measure.spread import effective_count, level_spread
from calib.measure.straight_line import fit_weighted_line
from calib.measure.uncertainty import rectangular_u, step_u
from calib.store.rig import Scale

Floats = NDArray[np.float64]

# Own choice: a voltage that a person sets on a potentiometer stands for seconds; what stands
# shorter is the hand on its way.
LEAST_HOLD_S = 1.0
# Own choice: chance of residuals this large, below which the readings contradict the meter.
LEAST_CONSISTENCY = 0.01
# Own choice: two stretches nearer than this are one that a touch broke in two; readings so near
# would not help the line either.
SAME_LEVEL_V = 0.05


@dataclass(frozen=True)
class MeterSpec:
    """Accuracy of a multimeter as its manual states it: ±(per cent of reading + digits).

    Attributes:
        pct: Per cent of the reading.
        digits: Count of last digits.
        step_V: Volts of one last digit in the range used.
    """

    pct: float
    digits: float
    step_V: float

    def half_width_V(self, volts: float) -> float:
        """Half-width of the meter's limits at a reading, V.

        Source: form of statement common to makers' manuals.
        """
        return self.pct / 100.0 * abs(volts) + self.digits * self.step_V

    def u_V(self, volts: float) -> float:
        """Standard uncertainty of a reading, V: rectangular, as no distribution is stated.

        Source: JCGM 100, 4.3.7; Fluke Calibration's advice of 2011 for such statements (seen in a
        copy of slides).
        """
        return rectangular_u(self.half_width_V(volts))


@dataclass(frozen=True)
class Stretch:
    """One still stretch of the logger's reading.

    Attributes:
        mean_V: Its mean, V.
        u_V: Standard uncertainty of the mean from noise and step, V.
        start_s: When it began, s.
        hold_s: How long it stood, s.
    """

    mean_V: float
    u_V: float
    start_s: float
    hold_s: float

    @property
    def end_s(self) -> float:
        """When it ended, s: not before it had stood for as long as it did."""
        return self.start_s + self.hold_s


@dataclass(frozen=True)
class Trued:
    """From the logger's volts to true volts: a straight line, and the curve where one was made.

    Attributes:
        scale: As the rig file keeps it, its date left open.
        residuals_V: Meter less line, V, shape (n,).
        allowed_V: What meter and logger allow for each residual, V, shape (n,).
        beyond: Whether the residuals from the line are larger than meter and logger allow.
        bend: How the readings leave the line; None with fewer than five.
    """

    scale: Scale
    residuals_V: Floats
    allowed_V: Floats
    beyond: bool
    bend: Bend | None = None


def still_stretches(
    time_s: Floats, volts: Floats, *, lsb_V: float = 0.0, gaps: Sequence[int] = ()
) -> tuple[Stretch, ...]:
    """Stretches of at least a second in which the reading stands still, in order of time.

    Args:
        time_s: Times, s, shape (n,), rising.
        volts: The logger's untrued volts, shape (n,).
        lsb_V: Step of the converter, V.
        gaps: Indices of readings before which the record has a gap.

    Returns:
        The stretches; neighbours at one level are one.

    Source: own choice, see `LEAST_HOLD_S` and `SAME_LEVEL_V`.
    """
    groups: list[list[Plateau]] = []
    for plateau in find_plateaus(time_s, volts, lsb=lsb_V, gaps=gaps).found:
        if groups and abs(groups[-1][-1].level - plateau.level) < SAME_LEVEL_V:
            groups[-1].append(plateau)
        else:
            groups.append([plateau])
    long = [group for group in groups if sum(part.hold_s for part in group) >= LEAST_HOLD_S]
    return tuple(_stretch(volts, group, lsb_V) for group in long)


def _stretch(volts: Floats, group: list[Plateau], lsb_V: float) -> Stretch:
    parts = [volts[part.first : part.stop] for part in group]
    values = np.concatenate([part[np.isfinite(part)] for part in parts])
    spread = level_spread([values], lsb=lsb_V)
    noise_V = spread.sd_residual / math.sqrt(effective_count(len(values), spread.lag1))
    u_V, hold_s = math.hypot(noise_V, spread.step_sd), sum(part.hold_s for part in group)
    return Stretch(mean_V=spread.mean, u_V=u_V, start_s=group[0].start_s, hold_s=hold_s)


def true_scale(
    stretches: Sequence[Stretch], meter_V: Sequence[float], spec: MeterSpec, *, curved: bool = False
) -> Trued:
    """Gain and offset of a logger from a multimeter's readings, with their covariance.

    The meter's digits are taken as independent from reading to reading; its per cent of reading
    is one error of its own scale, common to all, and goes into gain and offset whole: more
    readings do not shrink it. Where the readings bend, a straight line is worth no more than the
    bend, and a curve through them takes its place when it is asked for.

    Args:
        stretches: The logger's readings, at least two.
        meter_V: The meter's, in the same order, V.
        spec: The meter's accuracy.
        curved: Whether to make a curve, should the readings bend.

    Returns:
        The scale.

    Raises:
        ValueError: If there are fewer than two readings, or they are all equal.

    Source: weighted least squares (`calib.measure.straight_line`); JCGM 100, F.1.2.3 for errors
    that readings have in common; `calib.controls.bend`.
    """
    x = np.array([stretch.mean_V for stretch in stretches])
    y = np.array(meter_V, dtype=np.float64)
    u_x = np.array([stretch.u_V for stretch in stretches])
    digits_u = rectangular_u(spec.digits * spec.step_V)
    line = fit_weighted_line(x, y, u_x, np.full(len(y), digits_u))
    common = rectangular_u(spec.pct / 100.0)
    scatter_V = math.hypot(step_u(spec.step_V), line.slope * float(np.median(u_x)))
    allowed_V = np.array([spec.half_width_V(v) for v in y]) + 2.0 * line.slope * u_x
    consistency = chi2_beyond(line.chi2, line.dof) if line.dof > 0 else 1.0
    beyond = consistency < LEAST_CONSISTENCY or bool((np.abs(line.residuals) > allowed_V).any())
    bend = find_bend(x, y, scatter_V, beyond=beyond)
    curve, bowed_V = None, 0.0
    if bend is not None and bend.is_one:
        u_own_V = np.hypot(digits_u, line.slope * u_x)
        curve = curve_through(x, y, u_own_V, common) if curved else None
        bowed_V = rectangular_u(bend.deviation_V) if curve is None else 0.0
    scale = Scale(
        gain=line.slope,
        offset_V=line.intercept,
        u_gain=math.hypot(line.u_slope, common * line.slope),
        u_offset_V=math.hypot(line.u_intercept, common * line.intercept, bowed_V),
        cov=line.cov + common**2 * line.slope * line.intercept,
        date="",
        from_V=float(y.min()),
        to_V=float(y.max()),
        curve=curve,
    )
    return Trued(scale, line.residuals, allowed_V, beyond, bend)

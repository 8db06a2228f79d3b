"""Readings of a tilt sensor over time, in degrees and g: the mean of a rest, and how late it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from calib.measure.sliding import Run
from calib.tilt.attitude import Array, left_up_deg, nose_up_deg
from calib.tilt.stillness import find_rests

MOST_UNREST_DEG: Final = 1.5
"""Scatter, degrees, above which nothing counts as standing still. Own choice, because a sensor
noisier than that at rest cannot zero anything, and a hand that holds a machine moves it less."""

LEAST_SHIFT_DEG: Final = 0.3
"""Shift within 0.4 s, degrees, that is a movement however slow. Own choice, because a wheel that
rolls onto a plank shifts the reading by a degree in that time, and a held machine by a tenth."""

LEAST_STILL_S: Final = 1.2
"""Shortest rest that counts, s, the ringing of the suspension and the edges of the windows left
out. Own choice: what is left of a pose held for three seconds."""

_BATCHES: Final = 8
_RAD_DEG: Final = float(np.degrees(1.0))

_LONGEST_LAG_S: Final = 3.0
_SMOOTH_S: Final = 1.0
"""Own choice: as long as a wheel takes to roll onto a plank, so that what pushing the machine
does to an accelerometer averages out; both signals are smoothed alike, so the lag stays."""

_LEAST_SPAN_DEG: Final = 1.5
"""Own choice: a tilt smaller than this does not stand out of a push on the machine."""


@dataclass(frozen=True)
class TiltSeries:
    """What a tilt sensor said over time.

    Attributes:
        rate_hz: Readings per second.
        pitch_deg: Pitch channel, degrees, in its own sign, shape (n,); None where there is none.
        roll_deg: Roll channel, degrees, in its own sign, shape (n,); None where there is none.
        force_g: Trued specific force, g, shape (n, 3), in the axes that the rig file names;
            None without an accelerometer.
        breaks: Indices of readings before which some are missing.
    """

    rate_hz: float
    pitch_deg: Array | None = None
    roll_deg: Array | None = None
    force_g: Array | None = None
    breaks: tuple[int, ...] = ()

    @property
    def count(self) -> int:
        """Readings."""
        return int(self.motion_deg.shape[0])

    @property
    def reported_pitch_deg(self) -> Array | None:
        """The pitch that is judged, degrees: the channel's, else the accelerometer's, nose up."""
        if self.pitch_deg is not None or self.force_g is None:
            return self.pitch_deg
        return nose_up_deg(self.force_g)

    @property
    def reported_roll_deg(self) -> Array | None:
        """The roll that is judged, degrees: the channel's, else the accelerometer's, left up."""
        if self.roll_deg is not None or self.force_g is None:
            return self.roll_deg
        return left_up_deg(self.force_g)

    @property
    def motion_deg(self) -> Array:
        """All axes on one scale, degrees of tilt, shape (n, axes): what must stand still."""
        columns = [c for c in (self.pitch_deg, self.roll_deg) if c is not None]
        if self.force_g is not None:
            columns.extend((self.force_g * _RAD_DEG).T)
        return np.column_stack(columns) if columns else np.empty((0, 0))

    def between(self, start: int, stop: int) -> TiltSeries:
        """The readings from one index to before another."""
        pitch, roll, force = (
            None if each is None else each[start:stop]
            for each in (self.pitch_deg, self.roll_deg, self.force_g)
        )
        breaks = tuple(index - start for index in self.breaks if start < index < stop)
        return TiltSeries(self.rate_hz, pitch, roll, force, breaks)


@dataclass(frozen=True)
class TiltReading:
    """Mean of one still stretch.

    Attributes:
        pitch_deg: Pitch as judged, degrees.
        u_pitch_deg: Standard uncertainty of that mean from the noise, degrees.
        roll_deg: Roll as judged, degrees; None where nothing shows it.
        u_roll_deg: Its standard uncertainty from the noise, degrees.
        force_g: Mean specific force, g, shape (3,); None without an accelerometer.
        drift_deg: Pitch of the last quarter less that of the first, degrees.
        hold_s: Length of the stretch, s.
        pitch_from_force: Whether pitch is that of the mean force, not of a channel of its own.
        roll_from_force: The same for roll.
    """

    pitch_deg: float
    u_pitch_deg: float
    roll_deg: float | None = None
    u_roll_deg: float | None = None
    force_g: Array | None = None
    drift_deg: float = 0.0
    hold_s: float = 0.0
    pitch_from_force: bool = False
    roll_from_force: bool = False


def rests_of(series: TiltSeries, *, least_s: float = LEAST_STILL_S) -> tuple[Run, ...]:
    """The still stretches of a tilt sensor, judged over all its axes in degrees.

    Source: `find_rests`; limits are own choice, stated at `MOST_UNREST_DEG`, `LEAST_STILL_S`.
    """
    return find_rests(
        series.motion_deg,
        series.rate_hz,
        most_unrest=MOST_UNREST_DEG,
        least_s=least_s,
        least_shift=LEAST_SHIFT_DEG,
        breaks=series.breaks,
    )


def longest_rest(series: TiltSeries) -> Run | None:
    """The longest still stretch of a tilt sensor; None where it never stood still."""
    return max(rests_of(series), key=len, default=None)


def reading_of(series: TiltSeries, still: Run) -> TiltReading:
    """Mean reading, degrees, of one still stretch.

    Args:
        series: The readings; a pitch channel or an accelerometer is there.
        still: The stretch.

    Returns:
        The mean. With an accelerometer alone, pitch and roll are those of the mean force, since
        a mean of angles would be biased by the noise.

    Raises:
        ValueError: Neither a pitch channel nor an accelerometer is there.

    Source: `mean_u` for the uncertainty.
    """
    part = series.between(still.first, still.stop)
    pitch, roll = part.reported_pitch_deg, part.reported_roll_deg
    if pitch is None:
        raise ValueError("neither a pitch channel nor an accelerometer; a tilt reading needs one")
    force = None if part.force_g is None else part.force_g.mean(axis=0)
    mean_pitch, mean_roll = float(pitch.mean()), None if roll is None else float(roll.mean())
    if force is not None and part.pitch_deg is None:
        mean_pitch = float(nose_up_deg(force))
    if force is not None and part.roll_deg is None:
        mean_roll = float(left_up_deg(force))
    quarter = max(1, pitch.size // 4)
    return TiltReading(
        pitch_deg=mean_pitch,
        u_pitch_deg=mean_u(pitch),
        roll_deg=mean_roll,
        u_roll_deg=None if roll is None else mean_u(roll),
        force_g=force,
        drift_deg=float(pitch[-quarter:].mean() - pitch[:quarter].mean()),
        hold_s=pitch.size / part.rate_hz,
        pitch_from_force=part.pitch_deg is None,
        roll_from_force=force is not None and part.roll_deg is None,
    )


def mean_u(reading: Array) -> float:
    """Standard uncertainty of a mean of correlated readings, in their unit.

    Args:
        reading: Readings of one still stretch, shape (n,).

    Returns:
        Scatter of the means of eight equal batches, over the root of eight, and no less than
        independent readings would give, since eight batches may agree by chance; 0 for one
        reading.

    Source: method of batch means (Law, Simulation Modeling and Analysis, from memory), which
    needs no model of the correlation.
    """
    if reading.size < 2:
        return 0.0
    batches = _BATCHES if reading.size >= 2 * _BATCHES else reading.size
    length = reading.size // batches
    means = reading[: batches * length].reshape(batches, length).mean(axis=1)
    independent = reading.std(ddof=1) / np.sqrt(reading.size)
    return float(max(means.std(ddof=1) / np.sqrt(batches), independent))


@dataclass(frozen=True)
class Lag:
    """How late one signal is behind another, s, and how alike they are once it is undone."""

    lag_s: float
    likeness: float


def pitch_lag(series: TiltSeries) -> Lag | None:
    """Lag, s, of the pitch channel behind the accelerometer beside it, as `step_lag` finds it.

    None where one of the two is missing, or nothing tilts.
    """
    if series.pitch_deg is None or series.force_g is None:
        return None
    return step_lag(series.pitch_deg, nose_up_deg(series.force_g), series.rate_hz)


def step_lag(angle_deg: Array, reference_deg: Array, rate_hz: float) -> Lag | None:
    """Lag, s, of an angle behind a reference angle over one or more slow tilts.

    Args:
        angle_deg: The angle signal, degrees, shape (n,); its sign does not matter.
        reference_deg: Angle of the accelerometer beside it, degrees, shape (n,).
        rate_hz: Readings per second.

    Returns:
        The lag at which the two agree best, and their correlation there (0 to 1); None where the
        reference hardly tilts.

    Source: peak of the cross-correlation of the rates of change (common practice); rates in
    place of angles, so that the length of the rests between the tilts does not matter.
    """
    if np.ptp(reference_deg) < _LEAST_SPAN_DEG or np.ptp(angle_deg) == 0:
        return None
    smooth = max(1, round(_SMOOTH_S * rate_hz))
    angle, reference = (_rate(v, smooth) for v in (angle_deg, reference_deg))
    reach = min(round(_LONGEST_LAG_S * rate_hz), reference.size - 1)
    lags = np.arange(-reach, reach + 1)
    length = angle.size + reference.size
    spectrum = np.fft.rfft(angle, length) * np.conj(np.fft.rfft(reference, length))
    product = np.abs(np.fft.irfft(spectrum, length))[lags]  # lags below 0 stand at its end
    best = int(np.argmax(product))
    scale = float(np.linalg.norm(angle) * np.linalg.norm(reference))
    likeness = float(product[best]) / scale if scale > 0 else 0.0
    return Lag(lag_s=float(lags[best]) / rate_hz, likeness=likeness)


def _rate(value_deg: Array, smooth: int) -> Array:
    """Smoothed change from reading to reading."""
    window = np.hanning(smooth + 2)
    rate: Array = np.convolve(np.diff(value_deg), window / window.sum(), mode="same")
    return rate

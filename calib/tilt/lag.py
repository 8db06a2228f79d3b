"""How late an angle signal is behind an accelerometer beside it, in seconds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from calib.tilt.geometry import Array, nose_up_deg
from calib.tilt.series import TiltSeries

_LONGEST_LAG_S: Final = 3.0
_SMOOTH_S: Final = 1.0
"""Own choice: as long as a wheel takes to roll onto a plank, so that what pushing the machine
does to an accelerometer averages out; both signals are smoothed alike, so the lag stays."""

_LEAST_SPAN_DEG: Final = 1.5
"""Own choice: a tilt smaller than this does not stand out of a push on the machine."""


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

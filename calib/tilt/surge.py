"""False pitch, in degrees, that a push forward or back makes; what a launch would make of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from msgspec.structs import replace

from calib.measure.sliding import Run, runs_of
from calib.store.conversion import STANDARD_GRAVITY_M_S2
from calib.store.documents.finding import Severity
from calib.store.documents.tilt import SurgeDocument
from calib.tilt.attitude import Array, nose_up_deg
from calib.tilt.geometry import false_pitch_deg
from calib.tilt.series import TiltSeries, longest_rest, rests_of

LEAST_SHAKE_G: Final = 0.04
"""Root mean square fore-and-aft force, g, below which a shake proves nothing. Own choice, because
0.04 g is 2.3 degrees of false pitch, well above what a rocking suspension does by itself."""

FUSED_GAIN: Final = 0.3
UNFUSED_GAIN: Final = 0.7
"""Share of the false pitch of a bare accelerometer below which a sensor tells tilt from push, and
above which it does not. Own choice, because a fused sensor with the usual blending of one second
or more shows a sixth of a shake at one hertz, and a bare one shows all of it."""

LAUNCH_S: Final = 2.0
"""How long a hard launch lasts, s. Own choice, because a light machine has then reached the speed
at which its power, not its grip, limits the push."""

_STRONG: Final = 0.1
"""Own choice: rates with less than a tenth of the strongest one's power are not the shake."""

_PEAK_QUANTILE: Final = 0.98
"""Own choice: the largest fiftieth of a shake is jolts against the stops, not the push."""


UNSEEN: Final = SurgeDocument(verdict=Severity.UNKNOWN)
"""Nothing was seen. What is found stands in its document at once, and stays unknown until it is
judged."""


@dataclass(frozen=True)
class Strokes:
    """A shake that only the person saw: how far and how often, over how long."""

    stroke_mm: float
    count: int
    over_s: float

    @property
    def rate_hz(self) -> float:
        """Strokes there and back per second."""
        return self.count / self.over_s

    @property
    def rms_g(self) -> float:
        """Root mean square force, g, of a sinusoid of that stroke and rate.

        Source: a = (2 pi f)^2 times half the stroke.
        """
        peak_m_s2 = (2 * math.pi * self.rate_hz) ** 2 * self.stroke_mm / 2000
        return peak_m_s2 / STANDARD_GRAVITY_M_S2 / math.sqrt(2)


def find_surge(
    series: TiltSeries, *, launch_m_s2: float | None, strokes: Strokes | None = None
) -> SurgeDocument:
    """False pitch from a shake fore and aft on level ground.

    Args:
        series: Readings with a rest and a shake; axes as the vehicle's.
        launch_m_s2: Hardest forward acceleration of the machine, m/s²; None when unknown.
        strokes: The shake as the person counted it, for a sensor without accelerometer.

    Returns:
        What was seen, not judged yet. A bare accelerometer shows atan(a / g) of any push. A sensor
        that blends in a gyro, or that is slow, shows less of a short push than of a long one, so
        the launch is computed with the blending time that the shake reveals.

    Source: direction of the specific force; response of a first-order blend,
    1 / sqrt(1 + (2 pi f tau)^2) to a shake and 1 - exp(-T / tau) to a launch of T seconds
    (textbook first-order low pass). Limits are own choice, stated at each.
    """
    pitch = series.reported_pitch_deg
    rest = longest_rest(series)
    moved = None if rest is None else _longest_movement(series, rest)
    if pitch is None or rest is None or moved is None:
        return UNSEEN
    away = pitch - rest.of(pitch).mean()
    shown = moved.of(away)
    false_deg = float(np.quantile(np.abs(shown), _PEAK_QUANTILE))
    if series.force_g is None:
        if strokes is None:
            return replace(UNSEEN, false_pitch_deg=false_deg)
        noise = float(np.std(rest.of(pitch))) ** 2
        shown_deg = math.sqrt(max(0.0, float(np.var(shown)) - noise))
        bare_deg = math.degrees(math.atan(strokes.rms_g))
        return _counted(strokes, false_deg, shown_deg, bare_deg, launch_m_s2)
    bare = nose_up_deg(series.force_g)
    bare = moved.of(bare - rest.of(bare).mean())
    shake_g = float(np.sqrt(np.mean(np.tan(np.radians(bare)) ** 2)))
    shake_hz = _main_rate_hz(bare, series.rate_hz)
    if shake_g < LEAST_SHAKE_G:
        return replace(UNSEEN, shake_g=shake_g, shake_hz=shake_hz)
    gain = 1.0 if series.pitch_deg is None else _answer(bare, shown)
    return _judged(false_deg, shake_g, shake_hz, gain, launch_m_s2)


def surge_shown(
    most_deg: float, step_deg: float, strokes: Strokes, launch_m_s2: float | None
) -> SurgeDocument:
    """False pitch as the person read it off the controller's display while shaking.

    Args:
        most_deg: Largest change of the display from rest, degrees.
        step_deg: Step of the display: a change below it may have been one of its size.
        strokes: The shake as the person counted it.
        launch_m_s2: Hardest forward acceleration of the machine, m/s²; None when unknown.

    Returns:
        What was seen, likewise; a slow display shows too little, which the caller has to say.

    Source: as `find_surge`, with the peak of a sinusoid in place of its scatter.
    """
    false_deg = max(abs(most_deg), step_deg)
    peak_deg = math.degrees(math.atan(math.sqrt(2) * strokes.rms_g))
    return _counted(strokes, false_deg, false_deg, peak_deg, launch_m_s2)


def _counted(
    strokes: Strokes, false_deg: float, shown_deg: float, bare_deg: float, launch_m_s2: float | None
) -> SurgeDocument:
    """A push that is known only as the person counted it, by what it showed and had to show."""
    if strokes.rms_g < LEAST_SHAKE_G:
        return replace(UNSEEN, shake_g=strokes.rms_g, shake_hz=strokes.rate_hz)
    gain = shown_deg / bare_deg
    return _judged(false_deg, strokes.rms_g, strokes.rate_hz, gain, launch_m_s2)


def _judged(
    false_deg: float, shake_g: float, shake_hz: float, gain: float, launch_m_s2: float | None
) -> SurgeDocument:
    """The shake with what it says of blending and of a launch."""
    fused = True if gain <= FUSED_GAIN else False if gain >= UNFUSED_GAIN else None
    launch_deg = None if launch_m_s2 is None else false_pitch_deg(launch_m_s2)
    if launch_deg is not None and 0 < gain < 1 and shake_hz > 0:
        blend_s = math.sqrt(1 / gain**2 - 1) / (2 * math.pi * shake_hz)
        launch_deg *= 1 - math.exp(-LAUNCH_S / blend_s)
    return replace(
        UNSEEN,
        false_pitch_deg=false_deg,
        fused=fused,
        launch_false_pitch_deg=launch_deg,
        shake_g=shake_g,
        shake_hz=shake_hz,
        gain=gain,
    )


def _longest_movement(series: TiltSeries, rest: Run) -> Run | None:
    """The readings of the longest movement between two still stretches; None without one."""
    moved = np.ones(series.count, dtype=bool)
    for still in (*rests_of(series, least_s=0.5), rest):
        moved[still.first : still.stop] = False
    return max(runs_of(moved), key=len, default=None)


def _answer(bare_deg: Array, shown_deg: Array) -> float:
    """How much of a push comes through, over the rates at which it was pushed.

    Source: least-squares transfer, the cross-spectrum over the spectrum of the cause (textbook),
    which the noise of the pitch channel does not enter.
    """
    window = np.hanning(bare_deg.size)
    cause = np.fft.rfft(window * (bare_deg - bare_deg.mean()))
    effect = np.fft.rfft(window * (shown_deg - shown_deg.mean()))
    power = np.abs(cause) ** 2
    strong = power >= _STRONG * power.max()
    return float(abs(np.sum(effect[strong] * np.conj(cause[strong]))) / power[strong].sum())


def _main_rate_hz(value: Array, rate_hz: float) -> float:
    """Rate, Hz, that carries the middle of a movement's power; 0 for too few readings."""
    if value.size < 8:
        return 0.0
    power = np.abs(np.fft.rfft(value - value.mean())) ** 2
    rates = np.fft.rfftfreq(value.size, 1 / rate_hz)
    return float(rates[np.searchsorted(np.cumsum(power), power.sum() / 2)])

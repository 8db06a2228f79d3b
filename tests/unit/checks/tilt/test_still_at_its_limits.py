"""A long rest at both sides of each limit, by exact readings."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats

from calib.checks.tilt.still import average_s, judge_shown_still, judge_still
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.tilt import StillDocument
from calib.store.rig import Rig, read_rig
from tests.wheel_files import wheel_capture

Array = npt.NDArray[np.float64]
RATE_HZ = 10.0
TEXT = (
    "".join(
        f'[channels.{role}]\nrole = "{role}"\ncolumn = "{role}"\nunit = "deg"\n'
        for role in ("pitch", "roll")
    )
    + '[channels.throttle]\nrole = "control"\ncolumn = "throttle"\nunit = "V"\n'
)


def _rig(more: str = "") -> Rig:
    return read_rig(Path("rig.toml"), (TEXT + more).encode())


def _judged(
    pitch: Array, *, channel: str | None = None, more: str = "", **others: Array
) -> StillDocument:
    """The document of a pitch, with what lies beside it, or of one of the others."""
    capture = wheel_capture(np.arange(len(pitch)) / RATE_HZ, pitch=pitch, **others)
    return judge_still(capture, _rig(more), channel, ())


def _said(document: StillDocument, code: str) -> Finding:
    return next(each for each in document.findings if each.code == code)


def _flickering(count: int, by: float = 0.01) -> Array:
    """Nought, but for the flicker of every reading."""
    return np.resize([by, -by], count)


@pytest.mark.parametrize(
    ("drifts_deg", "severity"),
    [
        (0.0, Severity.PASS),
        (0.90, Severity.PASS),
        (-0.90, Severity.PASS),
        (0.91, Severity.UNKNOWN),
        (-0.91, Severity.UNKNOWN),
        (1.09, Severity.UNKNOWN),
        (1.11, Severity.FAIL),
        (-1.11, Severity.FAIL),
    ],
)
def test_a_display_drifts_by_what_it_showed_at_both_ends(
    drifts_deg: float, severity: Severity
) -> None:
    """In an hour by a tenth of a degree more or less; a degree an hour does not last a ride."""
    shown = (2.0, 2.0 + drifts_deg, 0.1)
    document = judge_shown_still(shown, 3600.0, 0.1, _rig(), ("mind",))
    found = _said(document, "drift")
    assert found.severity is severity
    assert bool(found.action) is (severity is not Severity.PASS)
    assert document.cautions == ("mind",)
    assert document.drift_per_h == pytest.approx(drifts_deg, abs=1e-9)
    # two rounded readings, each ±0.05, and the flicker of one: all rectangular
    u = np.sqrt(2.0 * 0.05**2 / 3.0 + 0.1**2 / 12.0)
    assert document.drift_u_per_h == pytest.approx(u)
    assert document.drift_expanded_per_h == pytest.approx(1.96 * u, rel=1e-4)
    assert (found.value, found.limit) == (document.drift_per_h, 1.0)


@pytest.mark.parametrize(("hold_s", "drift_per_h"), [(239.0, None), (240.0, 3.0), (1800.0, 0.4)])
def test_an_hour_is_foretold_from_four_minutes_on(hold_s: float, drift_per_h: float | None) -> None:
    """And by so much more as it is longer."""
    document = judge_shown_still((1.0, 1.2, 0.1), hold_s, 0.1, _rig(), ())
    assert document.drift_per_h == pytest.approx(drift_per_h)
    assert (document.noise is None) is (drift_per_h is None)
    assert document.hold_s == hold_s
    if drift_per_h is None:
        found = _said(document, "rest-too-short")
        assert (found.value, found.limit) == (hold_s, 240.0)


@pytest.mark.parametrize(
    ("flicker_deg", "step_deg", "noise_deg", "severity"),
    [
        (3.46, 0.1, 3.46, Severity.PASS),
        (3.47, 0.1, 3.47, Severity.CAUTION),
        (0.0, 0.5, 0.5, Severity.PASS),
    ],
)
def test_a_display_flickers_evenly_over_its_range(
    flicker_deg: float, step_deg: float, noise_deg: float, severity: Severity
) -> None:
    """Its range over the root of twelve, and a step at the least; up to a degree is fit."""
    shown = (0.0, 0.0, flicker_deg)
    document = judge_shown_still(shown, 3600.0, step_deg, _rig(), ())
    assert document.noise == pytest.approx(noise_deg / np.sqrt(12.0))
    assert (_said(document, "noise").severity, _said(document, "noise").limit) == (severity, 1.0)


def test_a_persons_own_limits_of_a_rest_count() -> None:
    """What is at a limit is within it."""
    shown = (0.0, 0.0, 0.0)
    own = "[channels.pitch.limits]\ntilt_noise_deg = 0.0\ndrift_deg_per_h = 0.0\n"
    assert judge_shown_still(shown, 3600.0, 0.0, _rig(own), ()).verdict is Severity.PASS


@pytest.mark.parametrize(("count", "noise"), [(299, None), (300, 2.0**0.5 * 0.01)])
def test_half_a_minute_says_something_of_noise(count: int, noise: float | None) -> None:
    """And nothing of an hour; a rest from end to end is as long as the capture."""
    document = _judged(_flickering(count))
    assert document.hold_s == count / RATE_HZ
    assert document.noise == (None if noise is None else pytest.approx(noise, rel=0.01))
    assert (document.average_s is None) is (noise is None)
    code, limit = ("rest-too-short", 30.0) if noise is None else ("drift-unknown", 240.0)
    found = _said(document, code)
    assert (found.severity, found.limit) == (Severity.UNKNOWN, limit)


@pytest.mark.parametrize(("count", "known"), [(2399, False), (2400, True)])
def test_four_minutes_logged_foretell_an_hour(count: int, known: bool) -> None:
    """Sixteen parts of fifteen seconds."""
    assert (_judged(_flickering(count)).drift_per_h is not None) is known


def _in_parts(levels: Array) -> Array:
    """Sixteen parts of fifteen seconds, each of one level, that flicker."""
    return np.repeat(levels, 150) + _flickering(2400)


@pytest.mark.parametrize(
    ("an_hour_deg", "bent_deg"),
    [(0.3, 0.0005), (1.5, 0.0005), (-1.5, 0.004), (0.9, 0.004), (0.9, 0.008)],
)
def test_a_drift_is_the_straight_line_through_sixteen_means(
    an_hour_deg: float, bent_deg: float
) -> None:
    """With the uncertainty of its slope, of fourteen degrees of freedom.

    None is without a bend: of a line without any the library knows the uncertainty to 1e-8 only.
    """
    hours = (np.arange(16) + 0.5) * 15.0 / 3600.0
    levels = an_hour_deg * hours + bent_deg * np.resize([1.0, -1.0, 0.0, 0.0], 16)
    document = _judged(_in_parts(levels))
    line = scipy.stats.linregress(hours, levels)
    assert document.drift_per_h == pytest.approx(line.slope)
    assert document.drift_u_per_h == pytest.approx(line.stderr, abs=1e-9)
    factor = float(scipy.stats.t.ppf(0.975, 14))
    assert document.drift_expanded_per_h == pytest.approx(factor * line.stderr, abs=1e-9)
    low, high = (abs(line.slope) + way * factor * line.stderr for way in (-1.0, 1.0))
    severity = Severity.PASS
    if high > 1.0:
        severity = Severity.FAIL if low > 1.0 else Severity.UNKNOWN
    assert _said(document, "drift").severity is severity


def test_noise_is_what_stands_out_of_two_seconds() -> None:
    """From reading to reading where that is more; a slow wander is none of it."""
    slow = np.resize(np.repeat([0.05, -0.05], 10), 600)
    assert _judged(slow).noise == pytest.approx(0.05, rel=0.02)
    slower = np.linspace(0.0, 5.0, 600)
    assert _judged(slower + _flickering(600)).noise == pytest.approx(2.0**0.5 / 100, rel=0.01)


@pytest.mark.parametrize(("by_deg", "severity"), [(0.7, Severity.PASS), (0.72, Severity.CAUTION)])
def test_an_angle_is_too_noisy_from_a_degree_on(by_deg: float, severity: Severity) -> None:
    """And the averaging time at which it is quietest is said beside it."""
    document = _judged(_flickering(600, by_deg))
    found = _said(document, "noise")
    assert (found.severity, found.limit) == (severity, 1.0)
    best = int(np.argmin(document.sigma))
    quietest = f"the quietest average is {document.tau_s[best]:.3g} s long and scatters by"
    assert f"{quietest} {document.sigma[best]:.2g} deg" in found.text


def test_volts_are_held_against_no_limit_of_angles() -> None:
    """A control's noise and drift are told in volts, and nothing is said against them."""
    volts = 1.0 + _flickering(2400, 5.0) + np.linspace(0.0, 2.0, 2400)
    document = _judged(volts, channel="throttle", throttle=volts)
    assert (document.unit, document.channel, document.lag_s) == ("V", "throttle", None)
    assert document.drift_per_h == pytest.approx(30.0, rel=0.01)
    assert [each.code for each in document.findings] == ["noise"]
    assert (_said(document, "noise").severity, _said(document, "noise").limit) == (
        Severity.PASS,
        None,
    )


def test_each_channel_is_read_by_its_name() -> None:
    """The roll where it is asked for, the pitch otherwise; rows in which it is missing are not."""
    pitch, roll = _flickering(400, 0.02), _flickering(400, 0.05)
    for channel, by in ((None, 0.02), ("pitch", 0.02), ("roll", 0.05)):
        document = _judged(pitch, channel=channel, roll=roll)
        assert document.noise == pytest.approx(2.0**0.5 * by, rel=0.01)
        assert (document.unit, document.channel) == ("deg", channel)
    roll[100] = np.nan
    missed = _judged(pitch, channel="roll", roll=roll)
    assert missed.noise == pytest.approx(2.0**0.5 * 0.05, rel=0.01)


@pytest.mark.parametrize(("count", "hold_s"), [(19, 0.0), (20, 2.0)])
def test_no_rest_is_shorter_than_two_seconds(count: int, hold_s: float) -> None:
    """Windows of half a second need some room."""
    document = _judged(_flickering(count))
    assert document.hold_s == hold_s
    assert _said(document, "rest-too-short").value == hold_s


def test_the_longest_rest_is_judged() -> None:
    """However far it moved before it: forty seconds of a minute."""
    moved = np.concatenate([np.zeros(150), np.linspace(0.0, 40.0, 50), np.full(400, 40.0)])
    document = _judged(moved + _flickering(600))
    assert document.hold_s == pytest.approx(40.0, abs=0.5)
    assert document.noise == pytest.approx(2.0**0.5 * 0.01, rel=0.01)


def test_a_rest_says_how_late_the_angle_is_behind_the_force() -> None:
    """Where an accelerometer lies beside it; and that the angle was frozen, where it was."""
    time_s = np.arange(1000) / RATE_HZ
    angle = np.radians(5.0 * np.sin(0.5 * time_s))
    x, y, z = np.sin(angle), np.zeros(1000), np.cos(angle)
    pitch = np.degrees(np.concatenate([np.zeros(5), angle[:-5]]))
    more = "".join(
        f'[channels.{axis}]\nrole = "accel-{axis}"\ncolumn = "{axis}"\nunit = "g"\n'
        for axis in "xyz"
    )
    assert _judged(pitch, more=more, x=x, y=y, z=z).lag_s == pytest.approx(0.5)
    pitch[400:800] = pitch[400]
    frozen = _said(_judged(pitch, more=more, x=x, y=y, z=z), "frozen")
    assert (frozen.severity, frozen.channel) == (Severity.FAIL, "pitch")


@pytest.mark.parametrize(
    ("unit", "sigma", "tau_s"),
    [
        ("deg", (0.05, 0.02, 0.01, 0.03), 2.0),
        ("deg", (0.05, 0.03, 0.021, 0.03), 4.0),
        ("V", (0.05, 0.02, 0.01, 0.03), 4.0),
    ],
)
def test_an_angle_is_averaged_until_it_is_good_to_two_hundredths(
    unit: str, sigma: tuple[float, ...], tau_s: float
) -> None:
    """All else, and an angle that never is, until it is quietest."""
    assert average_s(np.array([1.0, 2.0, 4.0, 8.0]), np.array(sigma), unit) == tau_s

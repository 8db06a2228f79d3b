"""What is said of a tilt signal as such, at both sides of each limit, by exact readings."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from calib.checks.tilt.signal import (
    bound_findings,
    gravity_ratio,
    one_of_each,
    only_pitch_deg,
    spoilt_findings,
    stuck_findings,
)
from calib.store.documents import said
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Rig, read_rig
from calib.tilt.inputs import TiltInputs, find_inputs, series_of
from calib.tilt.series import TiltReading, TiltSeries, rests_of
from tests.wheel_files import wheel_capture

Array = npt.NDArray[np.float64]
RATE_HZ = 100.0


def _accelerometer(more: str = "") -> str:
    return "".join(
        f'[channels.a{axis}]\nrole = "accel-{axis}"\ncolumn = "a{axis}"\nunit = "g"\n{more}'
        for axis in "xyz"
    )


def _channel(name: str, more: str = 'unit = "deg"\n') -> str:
    return f'[channels.{name}]\nrole = "{name}"\ncolumn = "{name}"\n{more}'


BOTH = _accelerometer() + _channel("pitch")


def _rig(text: str) -> Rig:
    return read_rig(Path("rig.toml"), text.encode())


def _inputs(text: str = BOTH, columns: tuple[str, ...] = ("ax", "ay", "az", "pitch")) -> TiltInputs:
    return find_inputs(_rig(text), columns)


def _only(findings: list[Finding], code: str) -> Finding | None:
    """The finding of a code; None where it was not said."""
    found = [each for each in findings if each.code == code]
    assert len(found) <= 1
    return found[0] if found else None


def _restless(count: int) -> Array:
    """An accelerometer near one g, no two readings of which are alike."""
    return np.column_stack(
        [1e-4 * np.arange(count), np.zeros(count), np.full(count, 1.0)],
    )


@pytest.mark.parametrize(("alike", "told"), [(19, False), (20, True), (60, True)])
def test_an_accelerometer_that_repeats_twenty_readings_is_frozen(alike: int, told: bool) -> None:
    """All three axes to the last digit; the share of the capture is said."""
    force = _restless(80)
    force[10 : 10 + alike] = force[10]
    found = _only(
        list(spoilt_findings(TiltSeries(RATE_HZ, force_g=force), _inputs(), None)), "frozen"
    )
    assert (found is not None) is told
    if found is not None:
        assert (found.severity, found.value, found.limit) == (Severity.FAIL, alike, 20.0)
        assert f"for {100 * alike / 80:.0f} % of the capture" in found.text


def test_one_axis_that_moves_is_no_frozen_accelerometer() -> None:
    """A quiet axis of a coarse sensor stands on one code for long; all three do not."""
    series = TiltSeries(RATE_HZ, force_g=_restless(80))
    assert list(spoilt_findings(series, _inputs(), None)) == []


GRAVITY = "[channels.ax.limits]\ngravity_pct = 25.0\ngravity_fail_pct = 12.5\n"


@pytest.mark.parametrize(
    ("ratio", "severity", "limit"),
    [
        (None, None, None),
        (1.0, None, None),
        (1.049, None, None),
        (0.951, None, None),
        (1.051, Severity.CAUTION, 1.05),
        (0.949, Severity.CAUTION, 1.05),
        (1.119, Severity.CAUTION, 1.05),
        (1.121, Severity.FAIL, 1.12),
        (0.879, Severity.FAIL, 1.12),
    ],
)
def test_a_rest_shows_one_g_within_a_twentieth(
    ratio: float | None, severity: Severity | None, limit: float | None
) -> None:
    """Beyond it is a caution, and beyond twelve hundredths no sensor's own error."""
    series = TiltSeries(RATE_HZ, force_g=_restless(80))
    found = _only(list(spoilt_findings(series, _inputs(), ratio)), "gravity")
    assert (None if found is None else found.severity) == severity
    if found is not None:
        assert found.value == ratio
        assert found.limit == pytest.approx(limit)


@pytest.mark.parametrize(
    ("own", "ratio", "severity"),
    [
        ("gravity_pct = 10.0\ngravity_fail_pct = 5.0\n", 1.09, None),
        ("gravity_pct = 10.0\ngravity_fail_pct = 5.0\n", 1.11, Severity.FAIL),
        ("gravity_pct = 12.5\ngravity_fail_pct = 12.5\n", 1.125, None),
        ("gravity_pct = 6.25\ngravity_fail_pct = 12.5\n", 1.125, Severity.CAUTION),
        ("gravity_pct = 6.25\ngravity_fail_pct = 12.5\n", 1.0625, None),
    ],
)
def test_a_persons_own_limits_of_gravity_count(
    own: str, ratio: float, severity: Severity | None
) -> None:
    """What is at a limit is within it; a failure below the caution counts from the caution on."""
    text = _accelerometer() + f"[channels.az.limits]\n{own}"
    series = TiltSeries(RATE_HZ, force_g=_restless(80))
    found = list(spoilt_findings(series, _inputs(text, ("ax", "ay", "az")), ratio))
    assert [each.severity for each in found] == ([] if severity is None else [severity])


@pytest.mark.parametrize(("steepest", "told"), [(90.0, False), (90.5, True), (-90.5, True)])
def test_no_machine_on_its_wheels_stands_steeper_than_upright(steepest: float, told: bool) -> None:
    """A tenth of the readings may be odd; what the rest reaches has to be an angle."""
    pitch = np.zeros(101)
    pitch[:11] = steepest
    series = TiltSeries(RATE_HZ, pitch_deg=pitch)
    found = list(spoilt_findings(series, _inputs(), None))
    assert [(e.code, e.value, e.limit) for e in found] == ([("unit", 90.5, 90.0)] if told else [])
    pitch[10] = 0.0
    assert list(spoilt_findings(series, _inputs(), None)) == []


def test_a_pitch_without_a_reading_is_not_judged() -> None:
    """Nothing is too steep of nothing."""
    assert list(spoilt_findings(TiltSeries(RATE_HZ, np.empty(0)), _inputs(), None)) == []


@pytest.mark.parametrize(
    ("axis", "force_g", "told"),
    [(0, 3.92, True), (0, -3.92, True), (2, 3.92, True), (0, 3.9, False)],
)
def test_an_accelerometer_clips_within_two_hundredths_of_its_range(
    axis: int, force_g: float, told: bool
) -> None:
    """By the middle of each axis, either way; without a range nobody knows its end."""
    force = np.zeros((9, 3))
    force[:5, axis] = force_g
    series = TiltSeries(RATE_HZ, force_g=force)
    ranged = _inputs(_accelerometer("range_g = 4.0\n"), ("ax", "ay", "az"))
    found = _only(list(bound_findings(series, ranged)), "clips")
    assert (found is not None) is told
    if found is not None:
        assert (found.value, found.limit) == (3.92, 4.0)
        assert f"({abs(force_g):.2f} g)" in found.text
    assert list(bound_findings(series, _inputs())) == []


VOLTS = (
    'unit = "count"\nfull_scale = 1024\nreference_V = 5.0\nzero_V = 2.5\n'
    "sensitivity_V_per_deg = 0.05\n"
)


@pytest.mark.parametrize(("beyond", "told"), [(2, False), (3, True)])
@pytest.mark.parametrize("end", [0, 1])
def test_a_hundredth_of_the_readings_may_touch_an_end_of_the_pitch(
    end: int, beyond: int, told: bool
) -> None:
    """More of them are a signal that is cut off, and which end it is is said."""
    inputs = _inputs(_channel("pitch", VOLTS), ("pitch",))
    limits = inputs.pitch_limits_deg()
    assert limits is not None
    pitch = np.zeros(200)
    pitch[:beyond] = limits[end]
    found = _only(list(bound_findings(TiltSeries(RATE_HZ, pitch), inputs)), "clips")
    assert (found is not None) is told
    if found is not None:
        assert (found.value, found.limit) == (limits[end], limits[end])
        assert " deg)" in found.text


@pytest.mark.parametrize(("volts_a_deg", "told"), [("0.01", False), ("0.009", True)])
def test_a_pitch_is_coarse_beyond_half_a_degree_a_step(volts_a_deg: str, told: bool) -> None:
    """Five volts in a thousand steps: five millivolts, half a degree at ten millivolts each."""
    more = VOLTS.replace("0.05", volts_a_deg).replace("1024", "1000")
    inputs = _inputs(_channel("pitch", more), ("pitch",))
    found = list(bound_findings(TiltSeries(RATE_HZ, np.zeros(50)), inputs))
    assert [each.code for each in found] == (["coarse"] if told else [])


@pytest.mark.parametrize(
    ("columns", "told"), [(["ax", "ay", "az"], False), (["ax", "ay", "other"], True)]
)
def test_a_truing_of_other_columns_is_told(columns: list[str], told: bool) -> None:
    """It belongs to the part that was trued; where there is no accelerometer it is nobody's."""
    truing = (
        "[tilt.truing]\nbias = [0.0, 0.0, 0.0]\n"
        "matrix = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]\n"
        f'u = 0.001\ndate = "2026-01-01"\ncolumns = {columns}\n'.replace("'", '"')
    )
    series = TiltSeries(RATE_HZ, force_g=_restless(50))
    found = list(bound_findings(series, _inputs(BOTH + truing)))
    assert [each.code for each in found] == (["truing-of-others"] if told else [])
    alone = _inputs(BOTH + truing, ("pitch",))
    assert list(bound_findings(TiltSeries(RATE_HZ, np.zeros(50)), alone)) == []


def test_gravity_is_that_of_the_whole_force() -> None:
    """|g| over what it must be; nothing where there is no accelerometer."""
    assert gravity_ratio(TiltReading(0.0, 0.1), _inputs()) is None
    reading = TiltReading(0.0, 0.1, force_g=np.array([0.0, 0.6, 0.8]) * 1.1)
    assert gravity_ratio(reading, _inputs()) == pytest.approx(1.1)
    local = _inputs(_accelerometer().replace('"g"', '"m/s2"') + "[tilt]\nlatitude_deg = 90.0\n")
    assert local.gravity_g > 1.002
    assert gravity_ratio(reading, local) == pytest.approx(1.1 / local.gravity_g)


def test_of_each_code_the_worst_is_said_once() -> None:
    """And the first of those that are as bad."""
    told = [
        said.caution("gravity/some", 1.06, 1.05),
        said.fail("gravity", 1.2, 1.12),
        said.fail("gravity", 1.3, 1.12),
        said.caution("coarse", 0.6, 0.5),
    ]
    kept = one_of_each(told)
    assert [(each.code, each.value) for each in kept] == [("gravity", 1.2), ("coarse", 0.6)]


@pytest.mark.parametrize(
    ("first", "second", "only"),
    [
        ([0.5] * 20, [0.5] * 25, 0.5),
        ([0.5] * 19, [0.5] * 25, None),
        ([0.5] * 20, [0.75] * 25, None),
        ([0.5] * 20, [0.5] * 24 + [0.25], None),
    ],
)
def test_a_pitch_says_one_value_where_twenty_readings_of_each_capture_do(
    first: list[float], second: list[float], only: float | None
) -> None:
    """Fewer say nothing, and a second standing that reads another one shows it alive."""
    series = [TiltSeries(RATE_HZ, np.array(each)) for each in (first, second)]
    assert only_pitch_deg(series, _rig(BOTH)) == only


def test_an_accelerometer_alone_says_no_one_pitch() -> None:
    """There is no channel that could be dead."""
    series = [TiltSeries(RATE_HZ, force_g=_restless(40))]
    assert only_pitch_deg(series, _rig(_accelerometer())) is None


def _stuck(pitch: Array, rate_hz: float = RATE_HZ, text: str = "") -> list[Finding]:
    """What is said of a pitch alone."""
    capture = wheel_capture(np.arange(len(pitch)) / rate_hz, pitch=pitch)
    inputs, series = series_of(capture, _rig(text or _channel("pitch")))
    return list(stuck_findings(capture, inputs, series))


NOISY, CALM = (0.125, 0.0, -0.125, 0.0), (0.125, 0.0, 0.0, -0.125, 0.0, 0.0)
"""Codes of an eighth of a degree, seven tenths and six tenths of a step about their mean."""


def _beside(run: int, noise: tuple[float, ...], longest: int = 0, other: int = 0) -> Array:
    """A still pitch with that noise before and after a run of equal readings.

    Args:
        run: How many readings are alike.
        noise: The readings elsewhere, over and over.
        longest: How many are alike elsewhere too.
        other: How many readings come after the run; as many as before it when 0.
    """
    before = np.tile(noise, 600 // len(noise))
    before[100 : 100 + longest] = 0.25
    after = np.tile(noise, 600 // len(noise))[: other or 600]
    return np.concatenate([before, np.full(run, 0.25), after])


@pytest.mark.parametrize(
    ("run", "noise", "told"),
    [(148, NOISY, False), (149, NOISY, True), (300, NOISY, True), (300, CALM, False)],
)
def test_noise_of_six_tenths_of_a_step_leaves_no_code_for_a_hundred_and_fifty_readings(
    run: int, noise: tuple[float, ...], told: bool
) -> None:
    """It stays with a chance of 0.87 each time: once in a thousand million after 149 times."""
    found = _stuck(_beside(run, noise))
    assert [(e.code, e.severity) for e in found] == [("frozen", Severity.FAIL)] * told
    if told:
        assert (found[0].value, found[0].limit) == (run / RATE_HZ, 0.4)
        assert found[0].channel == "pitch"
        assert "while its own noise should have moved it" in found[0].text


@pytest.mark.parametrize(("run", "told"), [(149, False), (190, False), (204, True)])
def test_noise_that_is_filtered_repeats_itself_more_often(run: int, told: bool) -> None:
    """Ten alike each time: one in ten is another, so it takes two hundred to be rare."""
    slow = tuple(np.repeat(NOISY, 10).tolist())
    assert bool(_stuck(_beside(run, slow))) is told


@pytest.mark.parametrize(("run", "told"), [(200, False), (201, True)])
def test_a_run_is_odd_beyond_five_times_the_longest_elsewhere(run: int, told: bool) -> None:
    """Forty readings alike at rest show how far this noise repeats itself."""
    assert bool(_stuck(_beside(run, NOISY, longest=40))) is told


@pytest.mark.parametrize(("calm", "told"), [(19, True), (20, False)])
def test_the_quietest_rest_says_how_quiet_a_channel_may_be(calm: int, told: bool) -> None:
    """Of twenty readings at least."""
    pitch = np.concatenate([_beside(300, NOISY)[:900], np.resize(CALM, calm)])
    assert bool(_stuck(pitch)) is told


@pytest.mark.parametrize(("rate_hz", "run", "told"), [(400.0, 159, False), (400.0, 160, True)])
def test_no_run_below_four_tenths_of_a_second_is_looked_at(
    rate_hz: float, run: int, told: bool
) -> None:
    """A fast hand makes two strokes in it."""
    assert bool(_stuck(_beside(run, NOISY), rate_hz)) is told


def test_a_channel_that_never_changes_has_no_noise_to_tell_it_by() -> None:
    """A coarse one rests on one code, and so does a dead one."""
    assert _stuck(np.full(800, 0.25)) == []


def test_a_roll_is_held_against_its_own_noise_and_not_against_the_force() -> None:
    """The force says how the pitch moved."""
    text = _channel("pitch") + _channel("roll")
    pitch = _beside(300, NOISY)
    capture = wheel_capture(np.arange(pitch.size) / RATE_HZ, pitch=pitch, roll=np.roll(pitch, 21))
    inputs, series = series_of(capture, _rig(text))
    assert [each.channel for each in stuck_findings(capture, inputs, series)] == ["pitch", "roll"]


def _beside_force(angle_deg: Array, pitch: Array) -> list[Finding]:
    """What is said of a pitch beside a force that says how the machine really stood."""
    capture = wheel_capture(
        np.arange(len(pitch)) / RATE_HZ,
        ax=np.sin(np.radians(angle_deg)),
        ay=np.zeros(len(pitch)),
        az=np.cos(np.radians(angle_deg)),
        pitch=pitch,
    )
    inputs, series = series_of(capture, _rig(BOTH))
    return list(stuck_findings(capture, inputs, series))


def _by_force(angle_deg: Array, first: int, stop: int, step_deg: float = 0.0) -> list[Finding]:
    """The same of a pitch that follows the force but for one stretch."""
    pitch = step_deg * np.round(angle_deg / step_deg) if step_deg else angle_deg.copy()
    pitch[first:stop] = pitch[first]
    found = _beside_force(angle_deg, pitch)
    return [each for each in found if each.severity is Severity.FAIL]


def _swing(count: int, peak_deg: float, every_s: float = 2.0) -> Array:
    way = np.sin(2.0 * math.pi * np.arange(count) / (every_s * RATE_HZ))
    return np.asarray(peak_deg * way)


@pytest.mark.parametrize(
    ("peak_deg", "step_deg", "told"),
    [(0.45, 0.0, False), (0.55, 0.0, True), (0.95, 0.5, False), (1.1, 0.5, True)],
)
def test_a_pitch_sleeps_through_a_degree_and_through_four_of_its_steps(
    peak_deg: float, step_deg: float, told: bool
) -> None:
    """Half a wheel on a plank; or what noise and a code that is just not left can make of it."""
    angle = np.concatenate([_swing(800, 8.0), _swing(600, peak_deg), _swing(800, 8.0)])
    found = _by_force(angle, 800, 1400, step_deg)
    assert bool(found) is told
    if found:
        assert found[0].value == pytest.approx(6.0, abs=0.03)
        assert "while the machine was moved" in found[0].text


@pytest.mark.parametrize(("before_s", "told"), [(1.7, False), (2.6, True)])
def test_a_pitch_whose_lag_nobody_knows_may_be_two_seconds_late(
    before_s: float, told: bool
) -> None:
    """The machine swings by too little to measure it; what it does in the last counts for none."""
    push = round(0.5 * RATE_HZ)
    angle = np.concatenate([_swing(800, 0.7), np.zeros(600), _swing(800, 0.7)])
    at = 1400 - round(before_s * RATE_HZ)
    angle[at : at + push] = _swing(push, 0.7, 0.5)
    assert bool(_by_force(angle, 800, 1400)) is told


@pytest.mark.parametrize(("push_s", "told"), [(0.3, False), (0.6, True)])
def test_a_pitch_whose_lag_is_known_has_three_tenths_more(push_s: float, told: bool) -> None:
    """What a lag is off that was measured while a part of the signal was frozen."""
    push = round(push_s * RATE_HZ)
    angle = np.concatenate([_swing(1000, 8.0), np.zeros(400), _swing(1100, 8.0)])
    angle[1400 - push : 1400] = np.linspace(0.0, 8.0, push)
    assert bool(_by_force(angle, 1000, 1400)) is told


@pytest.mark.parametrize(("asleep", "told"), [(59, False), (60, True), (80, True)])
def test_an_angle_may_repeat_itself_through_six_tenths_of_a_second_of_movement(
    asleep: int, told: bool
) -> None:
    """It may be calm, and it may be frozen: so little moved that nobody can tell."""
    angle = np.zeros(500)
    angle[200:320] = _swing(120, 0.9, 0.2)
    series = TiltSeries(RATE_HZ, force_g=np.column_stack([np.radians(angle)] * 3))
    last = rests_of(series)[-1].first
    pitch = np.zeros(500)
    pitch[: last - asleep : 2] = 0.01
    pitch[last - asleep - 1] = 0.01
    found = _beside_force(angle, pitch)
    assert [(e.code, e.severity) for e in found] == [("frozen", Severity.UNKNOWN)] * told
    if told:
        assert (found[0].value, found[0].limit) == (asleep / RATE_HZ, 0.6)


def test_a_pitch_that_was_frozen_is_not_called_asleep_as_well() -> None:
    """The one is sure, the other a doubt."""
    angle = np.concatenate([_swing(800, 8.0), _swing(600, 8.0), _swing(800, 8.0)])
    pitch = angle.copy()
    pitch[800:1400] = 0.0
    assert [each.severity for each in _beside_force(angle, pitch)] == [Severity.FAIL]


@pytest.mark.parametrize(("readings", "told"), [(1, False), (2, True)])
def test_a_jolt_is_evened_out_over_a_tenth_of_a_second(readings: int, told: bool) -> None:
    """One reading of eight degrees is eight tenths of one; a stroke of the hand stays."""
    angle = np.concatenate([_swing(800, 8.0), np.zeros(600), _swing(800, 8.0)])
    angle[1000 : 1000 + readings] = 8.0
    assert bool(_by_force(angle, 800, 1400)) is told

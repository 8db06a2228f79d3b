"""A tilt signal and what is judged of it at both sides of each limit, by exact series."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from calib.checks.tilt.level import rest_findings, standing_findings
from calib.checks.tilt.signal import bound_findings, stuck_findings
from calib.checks.tilt.signs import sign_findings
from calib.store.documents.finding import Finding, Severity
from calib.store.documents.tilt import AxisZeroFigures
from calib.store.rig import Rig, read_rig
from calib.tilt.geometry import raised_angle
from calib.tilt.inputs import series_of
from calib.tilt.series import TiltReading, TiltSeries
from calib.tilt.signs import Against, Signs
from calib.tilt.zero import LevelZero
from tests.wheel_files import wheel_capture

Array = npt.NDArray[np.float64]

TEXT = (
    "".join(
        f'[channels.a{axis}]\nrole = "accel-{axis}"\ncolumn = "a{axis}"\nunit = "g"\n'
        for axis in "xyz"
    )
    + '[channels.pitch]\nrole = "pitch"\ncolumn = "p"\nunit = "deg"\n'
)
RATE_HZ = 100.0


def _rig(text: str = TEXT) -> Rig:
    return read_rig(Path("rig.toml"), text.encode())


def _stuck(force_deg: Array, pitch: Array) -> list[str]:
    """What fails of a pitch beside a force that says how the machine really stood."""
    capture = wheel_capture(
        np.arange(len(pitch)) / RATE_HZ,
        ax=np.sin(np.radians(force_deg)),
        ay=np.zeros(len(pitch)),
        az=np.cos(np.radians(force_deg)),
        p=pitch,
    )
    inputs, series = series_of(capture, _rig())
    found = stuck_findings(capture, inputs, series)
    return [e.code for e in found if e.channel == "pitch" and e.severity is Severity.FAIL]


def _rocking(count: int) -> Array:
    """Eight degrees up and down every two seconds."""
    return np.asarray(8.0 * np.sin(np.pi * np.arange(count) / RATE_HZ))


def _frozen(pitch: Array, first: int, stop: int) -> Array:
    frozen = pitch.copy()
    frozen[first:stop] = frozen[first]
    return frozen


@pytest.mark.parametrize(("others", "told"), [(199, False), (200, True)])
def test_how_a_pitch_follows_the_force_wants_two_hundred_readings(others: int, told: bool) -> None:
    """Ten times the shortest run that is looked at, besides the frozen ones."""
    angle = _rocking(others + 400)
    assert ("frozen" in _stuck(angle, _frozen(angle, others // 2, others // 2 + 400))) is told


def test_a_machine_that_stands_still_after_it_moved_is_not_frozen() -> None:
    """What moved before the run, or within a tenth of a second of it, is not held against it."""
    angle = np.concatenate([_rocking(800), np.zeros(500), _rocking(800)])
    assert "frozen" not in _stuck(angle, angle)


@pytest.mark.parametrize(("apart_deg", "told"), [(0.0, True), (3.5, True), (6.0, False)])
def test_a_pitch_is_held_against_the_force_where_that_explains_half_of_it(
    apart_deg: float, told: bool
) -> None:
    """Seven tenths of 8 and of 3.5 degrees are 5.7 and 2.5: four tenths are left unexplained."""
    angle = _rocking(3000)
    own = apart_deg * np.sin(2.0 * np.pi * 1.3 * np.arange(3000) / RATE_HZ)
    assert ("frozen" in _stuck(angle, _frozen(angle + own, 1000, 1600))) is told


@pytest.mark.parametrize(("moves_s", "told"), [(0.9, True), (0.15, False)])
def test_a_prompt_pitch_has_three_tenths_of_a_second_to_follow(moves_s: float, told: bool) -> None:
    """A push in the last of a frozen stretch says that it is frozen, but not in its very last."""
    push = round(RATE_HZ * moves_s)
    angle = np.concatenate([_rocking(1000), np.zeros(400), _rocking(1100)])
    angle[1400 - push : 1400] = 8.0 * np.sin(np.pi * np.arange(push) / push)
    assert ("frozen" in _stuck(angle, _frozen(angle, 1000, 1400))) is told


def _codes(findings: list[Finding]) -> list[str]:
    return [each.code for each in findings]


@pytest.mark.parametrize(
    ("noise_deg", "sway_deg", "told"),
    [(0.0, 0.3, True), (0.0, 0.12, False), (0.38, 0.3, True), (0.45, 0.3, False)],
)
def test_a_machine_rocks_beyond_four_standard_deviations_of_a_mean(
    noise_deg: float, sway_deg: float, told: bool
) -> None:
    """Noise that turns by 0.9 degrees each time makes 0.09 in a mean of fifty."""
    sway = np.tile(np.repeat([sway_deg, -sway_deg], 50), 6)
    pitch = sway + np.tile([noise_deg, -noise_deg], 300)
    series = TiltSeries(RATE_HZ, pitch_deg=pitch)
    reading = TiltReading(0.0, 0.01, hold_s=6.0)
    assert ("rocks" in _codes(list(rest_findings(series, series, reading, "x", _rig())))) is told


@pytest.mark.parametrize(
    ("firsts", "turned", "apart"),
    [
        ((0.0, 3.5), (0.0,), None),
        ((0.0, 3.625), (0.0,), 3.625),
        ((0.0,), (1.0, -2.75, 0.5), 3.75),
        ((0.0,), (5.0,), None),
        ((-6.0, -2.0), (), 4.0),
    ],
)
def test_leans_differ_within_one_heading(
    firsts: tuple[float, ...], turned: tuple[float, ...], apart: float | None
) -> None:
    """By more than 3.5 degrees; between the headings a lean turns with the machine."""
    zero = LevelZero(
        "single", AxisZeroFigures(reading=0.0, zero=0.0, u=0.1, u95=0.2), None, 2, None, 0.1
    )
    first, second = (
        [TiltReading(0.0, 0.01, roll_deg=roll) for roll in rolls] for rolls in (firsts, turned)
    )
    found = [
        each.value
        for each in standing_findings(zero, first, second, None, _rig())
        if each.code == "lean-differs"
    ]
    assert found == ([] if apart is None else [apart])


def _scale(
    ratio: float, u: float | None = None, against: Against = "block", gravity: float | None = None
) -> Finding:
    signs = Signs(raised_angle(100, 1250), scale_ratio=ratio, scale_u=u, against=against)
    found = sign_findings(signs, None, "It", _rig(), gravity)
    return next(each for each in found if each.code == "scale")


@pytest.mark.parametrize(
    ("ratio", "words"),
    [
        (math.pi / 180.0, "in radians"),
        (1.19 * math.pi / 180.0, "in radians"),
        (180.0 / math.pi, "in degrees"),
        (0.81 * 180.0 / math.pi, "in degrees"),
        (1.3 * math.pi / 180.0, "wrong"),
        (1.3 * 180.0 / math.pi, "wrong"),
    ],
)
def test_a_scale_off_by_a_radian_is_a_unit(ratio: float, words: str) -> None:
    """Within a fifth of it, either way round."""
    found = _scale(ratio)
    assert (found.severity, found.limit) == (Severity.FAIL, 1.0)
    assert words in found.text


@pytest.mark.parametrize(
    ("ratio", "u", "severity"),
    [
        (1.099, None, Severity.PASS),
        (0.901, None, Severity.PASS),
        (1.101, None, Severity.FAIL),
        (0.899, None, Severity.FAIL),
        (1.139, 0.02, Severity.CAUTION),
        (1.141, 0.02, Severity.FAIL),
    ],
)
def test_a_scale_may_be_a_tenth_off_and_by_what_springs_may_do(
    ratio: float, u: float | None, severity: Severity
) -> None:
    """Twice the uncertainty beyond the tenth is a caution; where none is known, nothing is."""
    assert _scale(ratio, u).severity is severity


@pytest.mark.parametrize(
    ("ratio", "gravity", "severity"),
    [(1.059, None, Severity.PASS), (1.061, None, Severity.FAIL), (1.079, 1.02, Severity.CAUTION),
     (1.081, 1.02, Severity.FAIL), (1.079, 0.98, Severity.CAUTION)],
)  # fmt: skip
def test_an_accelerometer_that_shows_another_gravity_may_itself_be_off(
    ratio: float, gravity: float | None, severity: Severity
) -> None:
    """By as much as it is off at rest, beyond six hundredths."""
    found = _scale(ratio, against="accelerometer", gravity=gravity)
    assert found.severity is severity
    assert found.limit == 1.0


VOLTS = (
    '[channels.pitch]\nrole = "pitch"\ncolumn = "p"\nunit = "count"\nfull_scale = 1024\n'
    "reference_V = 5.0\nzero_V = 2.5\nsensitivity_V_per_deg = 0.05\n"
)


@pytest.mark.parametrize(("off_deg", "told"), [(0.05, True), (0.15, False), (0.5, False)])
@pytest.mark.parametrize("upper", [True, False])
def test_a_pitch_clips_within_a_thousandth_of_the_ends_of_its_range(
    off_deg: float, told: bool, upper: bool
) -> None:
    """A hundred degrees between them, two hundredths of a twentieth: a tenth of a degree."""
    capture = wheel_capture(np.arange(200) / RATE_HZ, p=np.full(200, 512.0))
    inputs, _ = series_of(capture, _rig(VOLTS))
    limits = inputs.pitch_limits_deg()
    assert limits is not None
    low, high = limits
    assert high - low == pytest.approx(100.0, abs=0.2)
    stands = high - off_deg if upper else low + off_deg
    series = TiltSeries(RATE_HZ, pitch_deg=np.full(200, stands))
    assert ("clips" in _codes(list(bound_findings(series, inputs)))) is told

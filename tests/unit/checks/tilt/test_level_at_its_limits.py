"""A standing, a zero and a rider at both sides of each limit, by exact readings."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Literal

import msgspec
import numpy as np
import numpy.typing as npt
import pytest

from calib.checks.tilt.level import (
    LevelSettings,
    Rider,
    Shown,
    Standings,
    judge_level,
    never_still,
    rest_findings,
    rider_finding,
    standing_findings,
    zero_findings,
)
from calib.store.documents.finding import BudgetLine, Finding, Severity
from calib.store.documents.tilt import AxisZeroFigures, LevelDocument, Method, SignsDocument
from calib.store.rig import Rig, read_rig
from calib.tilt.series import TiltReading, TiltSeries
from calib.tilt.zero import LevelZero, TypedSlope
from tests.wheel_files import wheel_capture

Array = npt.NDArray[np.float64]
RATE_HZ = 100.0
PITCH = '[channels.pitch]\nrole = "pitch"\ncolumn = "p"\nunit = "deg"\n'
AMBIENT = '[channels.air]\nrole = "ambient"\ncolumn = "t"\nunit = "degC"\n'


def _rig(text: str = PITCH) -> Rig:
    return read_rig(Path("rig.toml"), text.encode())


def _values(findings: list[Finding], code: str) -> list[float | None]:
    return [each.value for each in findings if each.code == code]


def _at_rest(
    pitch: Array | None = None,
    *,
    whole: Array | None = None,
    hold_s: float = 6.0,
    pitch_deg: float = 0.0,
    u_deg: float = 0.01,
    drift_deg: float = 0.0,
) -> list[Finding]:
    """What is said of a rest whose mean reading is given."""
    series = TiltSeries(RATE_HZ, pitch_deg=np.zeros(0) if pitch is None else pitch)
    capture = series if whole is None else TiltSeries(RATE_HZ, pitch_deg=whole)
    reading = TiltReading(pitch_deg, u_deg, drift_deg=drift_deg, hold_s=hold_s)
    return list(rest_findings(capture, series, reading, "the first standing", _rig()))


@pytest.mark.parametrize(("count", "told"), [(99, " (99 readings)"), (100, "")])
def test_fewer_than_a_hundred_readings_may_be_why_no_rest_was_found(count: int, told: str) -> None:
    """So they are told."""
    found = never_still(count, "the first standing")
    assert (found.severity, found.value) == (Severity.FAIL, count)
    assert found.text == f"In the first standing the machine never stood still{told}."


@pytest.mark.parametrize(("hold_s", "told"), [(2.99, True), (3.0, False)])
def test_a_standing_lasts_three_seconds(hold_s: float, told: bool) -> None:
    """A suspension rings and a hand settles within two."""
    found = _at_rest(hold_s=hold_s)
    assert _values(found, "rest-too-short") == [hold_s] * told


@pytest.mark.parametrize(
    ("drift_deg", "u_deg", "told"),
    [
        (0.1, 0.0, False),
        (0.11, 0.0, True),
        (-0.11, 0.0, True),
        (0.19, 0.05, False),
        (0.21, 0.05, True),
    ],
)
def test_a_reading_creeps_beyond_a_tenth_of_a_degree(
    drift_deg: float, u_deg: float, told: bool
) -> None:
    """And beyond four standard uncertainties of its mean."""
    found = _at_rest(drift_deg=drift_deg, u_deg=u_deg)
    assert _values(found, "rest-drifts") == [abs(drift_deg)] * told
    assert all(each.limit == 0.1 for each in found)


@pytest.mark.parametrize(("count", "told"), [(299, False), (300, True), (349, True)])
def test_a_sway_is_looked_for_in_six_half_seconds(count: int, told: bool) -> None:
    """It is how their means scatter about a straight line, whatever is left over at the end."""
    means = np.array([0.3, -0.3, 0.3, -0.3, 0.3, 0.2])
    pitch = np.append(np.repeat(means, 50), np.full(49, 9.0))[:count]
    line = np.polyfit(np.arange(6), means, 1)
    sway_deg = math.sqrt(float(((means - np.polyval(line, np.arange(6))) ** 2).sum()) / 4.0)
    found = _at_rest(pitch)
    assert _values(found, "rocks") == pytest.approx([sway_deg] * told)


@pytest.mark.parametrize(("sway_deg", "told"), [(0.11, False), (0.14, True)])
def test_a_machine_that_stands_sways_by_less_than_fifteen_hundredths(
    sway_deg: float, told: bool
) -> None:
    """A slow creep is no sway; it is told as one."""
    means = sway_deg * np.resize([1.0, -1.0], 12) + np.linspace(0.0, 2.0, 12)
    assert bool(_values(_at_rest(np.repeat(means, 50)), "rocks")) is told


@pytest.mark.parametrize(
    ("before_s", "by_deg", "told"),
    [(4.0, 0.29, False), (4.0, 0.32, True), (4.0, -0.32, True), (2.5, 2.0, False)],
)
def test_a_machine_was_moved_within_one_capture_by_three_tenths_of_a_degree(
    before_s: float, by_deg: float, told: bool
) -> None:
    """Only another rest that is long enough for a standing says so."""
    whole = np.concatenate([np.zeros(round(before_s * RATE_HZ)), np.full(600, by_deg)])
    whole += np.resize([0.01, -0.01], whole.size)
    found = _at_rest(whole[-500:], whole=whole, pitch_deg=by_deg)
    assert _values(found, "moved") == pytest.approx([abs(by_deg)] * told, abs=0.005)
    limits = [each.limit for each in found if each.code == "moved"]
    assert limits == pytest.approx([0.3] * told)


def _zero(
    method: Method = "turned",
    u95: float = 0.2,
    slope: float | None = None,
    repeat_deg: float | None = None,
) -> LevelZero:
    pitch = AxisZeroFigures(reading=0.0, zero=1.25, u=0.1, u95=u95, floor_slope=slope)
    return LevelZero(method, pitch, None, 2, repeat_deg, 0.25)


@pytest.mark.parametrize(
    ("method", "u95", "code", "severity"),
    [
        ("turned", 0.6, "zero", Severity.PASS),
        ("turned", 0.61, "zero-uncertain", Severity.CAUTION),
        ("typed-slope", 0.6, "zero", Severity.PASS),
        ("single", 0.1, "floor-not-separated", Severity.CAUTION),
    ],
)
def test_a_zero_is_good_to_six_tenths_of_a_degree(
    method: Method, u95: float, code: str, severity: Severity
) -> None:
    """How it was told from the floor is said; one standing never tells it."""
    found = list(zero_findings(_zero(method, u95), "Level reads", _rig()))
    assert [(e.code, e.severity, e.value, e.limit) for e in found] == [(code, severity, u95, 0.6)]
    assert "1.25" in found[0].text
    ways = [each in found[0].text for each in ("turned end for end", "by the typed slope")]
    if code == "zero":
        assert ways == [method == "turned", method == "typed-slope"]


def test_a_zero_says_what_makes_most_of_its_doubt() -> None:
    """The first share of its budget; nothing where it has none."""
    shares = tuple(BudgetLine(source=name, u=0.1, type="B", dof=None) for name in ("hand", "wind"))
    for budget, source in ((shares, "hand"), (shares[:1], "hand"), ((), "nothing")):
        zero = _zero()
        pitch = msgspec.structs.replace(zero.pitch, budget=budget)
        (found,) = zero_findings(replace(zero, pitch=pitch), "Level reads", _rig())
        assert found.text.endswith(f"most of it from {source}.")


@pytest.mark.parametrize(
    ("slope", "told"), [(3.0, False), (-3.0, False), (3.1, True), (-3.1, True), (None, False)]
)
def test_a_floor_is_steep_from_three_degrees_on(slope: float | None, told: bool) -> None:
    """Either way; more is a ramp, or other marks."""
    found = list(zero_findings(_zero(slope=slope), "Level reads", _rig()))
    assert _values(found, "steep-floor") == [3.1] * told


def _standing(
    *rolls: float, change_K: float | None = None, repeat_deg: float | None = None
) -> list[Finding]:
    firsts = [TiltReading(0.0, 0.01, roll_deg=roll) for roll in rolls] or [TiltReading(0.0, 0.01)]
    zero = _zero(repeat_deg=repeat_deg)
    return list(standing_findings(zero, firsts, [], change_K, _rig()))


@pytest.mark.parametrize(
    ("rolls", "most"),
    [((), None), ((8.0,), None), ((-8.0, -7.0), None), ((8.1,), 8.1), ((-8.1, -6.0), 8.1)],
)
def test_a_machine_leans_by_eight_degrees_and_more(
    rolls: tuple[float, ...], most: float | None
) -> None:
    """The farthest of its standings, either way."""
    assert _values(_standing(*rolls), "leans") == ([] if most is None else [most])


@pytest.mark.parametrize(("change_K", "told"), [(None, False), (3.0, False), (3.1, True)])
def test_a_garage_warms_by_three_kelvin(change_K: float | None, told: bool) -> None:
    """Between the standings."""
    assert _values(_standing(change_K=change_K), "temperature") == [change_K] * told


@pytest.mark.parametrize(("repeat_deg", "told"), [(None, False), (0.25, False), (0.26, True)])
def test_standings_differ_beyond_what_settling_explains(
    repeat_deg: float | None, told: bool
) -> None:
    """The limit is the zero's own."""
    found = _standing(repeat_deg=repeat_deg)
    assert _values(found, "standings-differ") == [repeat_deg] * told
    assert all(each.limit == 0.25 for each in found)


def _force(nose_up_deg: float) -> Array:
    angle = math.radians(nose_up_deg)
    return np.array([math.sin(angle), 0.0, math.cos(angle)])


def _turned(first: TiltReading, turned: TiltReading) -> list[Finding]:
    return list(standing_findings(_zero(), [first], [turned], None, _rig()))


@pytest.mark.parametrize(("apart_deg", "told"), [(0.05, True), (0.07, False), (2.0, False)])
def test_a_machine_that_was_turned_reads_another_way_up(apart_deg: float, told: bool) -> None:
    """By six hundredths of a degree at least: hands and floors are not so exact."""
    first, turned = (
        TiltReading(0.0, 0.01, force_g=_force(deg), pitch_from_force=True)
        for deg in (0.0, apart_deg)
    )
    assert _values(_turned(first, turned), "not-turned") == pytest.approx([apart_deg] * told)
    assert _turned(TiltReading(0.0, 0.01), turned) == []
    assert _turned(first, TiltReading(0.0, 0.01)) == []


@pytest.mark.parametrize(
    ("by_channel", "by_force", "apart"),
    [
        (2.0, 2.78, None),
        (2.0, 2.82, 0.41),
        (-2.82, 2.0, 0.41),
        (2.82, -2.0, 0.41),
        (-2.0, 2.0, None),
    ],
)
def test_pitch_and_accelerometer_see_the_same_floor_within_four_tenths(
    by_channel: float, by_force: float, apart: float | None
) -> None:
    """Half of what turning changed in each, whichever sign they have."""
    first = TiltReading(1.0, 0.01, force_g=_force(1.0))
    turned = TiltReading(1.0 - by_channel, 0.01, force_g=_force(1.0 - by_force))
    found = _values(_turned(first, turned), "sensors-disagree")
    assert found == pytest.approx([] if apart is None else [apart])


@pytest.mark.parametrize(
    ("tilt_deg", "code", "severity"),
    [
        (0.35, "rider-not-seen", Severity.CAUTION),
        (-0.35, "rider-not-seen", Severity.CAUTION),
        (0.36, "rider-tilt", Severity.PASS),
        (-6.0, "rider-tilt", Severity.PASS),
        (6.1, "rider-tilt", Severity.CAUTION),
        (-6.1, "rider-tilt", Severity.CAUTION),
    ],
)
def test_a_rider_tilts_the_machine_by_up_to_six_degrees(
    tilt_deg: float, code: str, severity: Severity
) -> None:
    """Less than a suspension settles by is no rider; and the way is said."""
    found = rider_finding(Rider(tilt_deg, 0.5), _rig())
    assert (found.code, found.severity, found.value) == (code, severity, tilt_deg)
    if code == "rider-tilt":
        assert (" up" in found.text, " down" in found.text) == (tilt_deg > 0, tilt_deg < 0)


def _judged(
    *pitches: float,
    seated: tuple[float, ...] = (),
    text: str = PITCH,
    air_degC: tuple[Array | float, ...] = (),
    settings: LevelSettings = LevelSettings(),  # noqa: B008
    signs: SignsDocument | None = None,
    turned: bool = True,
) -> LevelDocument:
    """The document of standings that read these pitches, the last of them turned."""
    captures = []
    for place, deg in enumerate((*pitches, *seated)):
        columns = {"p": deg + np.resize([0.01, -0.01], 500)}
        if air_degC:
            columns["t"] = np.ones(500) * air_degC[min(place, len(air_degC) - 1)]
        captures.append(wheel_capture(np.arange(500) / RATE_HZ, **columns))
    firsts = len(pitches) - turned
    standings = Standings(
        first=tuple(captures[:firsts]),
        turned=tuple(captures[firsts : len(pitches)]),
        seated=tuple(captures[len(pitches) :]),
    )
    return judge_level(standings, _rig(text), settings, (), signs=signs)


def _u_of(document: LevelDocument, source: str) -> float | None:
    assert document.pitch is not None
    return next((line.u for line in document.pitch.budget if line.source == source), None)


@pytest.mark.parametrize(
    ("air", "change_K"),
    [
        ((12.0, 16.0), 4.0),
        ((16.0, 12.0), 4.0),
        ((12.0, np.nan), None),
        ((np.concatenate([np.full(249, 40.0), np.full(251, 12.0)]), 16.0), 4.0),
    ],
)
def test_the_garage_is_as_warm_as_the_middle_of_its_readings(
    air: tuple[Array | float, ...], change_K: float | None
) -> None:
    """In every standing, or nobody knows."""
    document = _judged(0.5, -0.3, text=PITCH + AMBIENT, air_degC=air)
    assert _values(list(document.findings), "temperature") == ([] if change_K is None else [4.0])
    # three kelvin either way where nobody knows, halved by turning
    known_K = 3.0 if change_K is None else change_K
    expected = math.degrees(0.31e-3) * known_K / 2.0 / math.sqrt(3.0)
    assert _u_of(document, "temperature") == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize(
    ("expects", "pitch_sign", "tilt_deg"),
    [
        ("", None, 2.0),
        ('[tilt]\nexpects = "nose-up-positive"\n', None, 2.0),
        ('[tilt]\nexpects = "nose-down-positive"\n', None, -2.0),
        ('[tilt]\nexpects = "nose-down-positive"\n', 1, 2.0),
        ("", -1, -2.0),
        ("", 0, 2.0),
    ],
)
def test_a_riders_tilt_is_positive_nose_up(
    expects: str, pitch_sign: int | None, tilt_deg: float
) -> None:
    """By the sign that was proven, else by the one that the controller expects."""
    signs = None
    if pitch_sign is not None:
        sign: Literal[-1, 1] | None = None if not pitch_sign else 1 if pitch_sign > 0 else -1
        signs = SignsDocument(verdict=Severity.PASS, pitch_sign=sign)
    document = _judged(0.5, 0.7, -0.3, seated=(2.6,), text=PITCH + expects, signs=signs)
    assert document.pitch is not None
    assert document.pitch.rider_tilt == pytest.approx(tilt_deg)
    assert document.pitch.rider_tilt_u == pytest.approx(0.5, abs=0.001)
    assumed = [each.text for each in document.findings if each.code == "sign-assumed"]
    assert len(assumed) == (not pitch_sign)
    if assumed:
        assert ("nose-down" if "down" in expects else "nose-up") in assumed[0]


@pytest.mark.parametrize(("seated", "kept"), [(0.84, None), (0.86, 0.36)])
def test_a_rider_who_was_not_seen_is_not_kept(seated: float, kept: float | None) -> None:
    """Thirty-five hundredths of a degree are what a suspension does by itself."""
    document = _judged(0.5, -0.3, seated=(seated,))
    assert document.pitch is not None
    assert document.pitch.rider_tilt == (None if kept is None else pytest.approx(kept))


def test_a_rider_may_be_typed_from_the_display() -> None:
    """Half a degree of how a rider sits, and two rounded readings."""
    shown = Shown(level_deg=1.0, seated_deg=3.0, step_deg=1.2)
    document = judge_level(Standings(), _rig(), LevelSettings(shown=shown), ())
    assert document.pitch is not None
    assert document.pitch.rider_tilt == pytest.approx(2.0)
    assert document.pitch.rider_tilt_u == pytest.approx(math.hypot(0.5, 1.2 / 6.0**0.5))
    assert (document.basis, document.standings, document.method) == ("controller", 1, "single")
    assert _u_of(document, "step of the display") == pytest.approx(1.2 / 12.0**0.5)
    usual = judge_level(Standings(), _rig(), LevelSettings(shown=Shown(level_deg=1.0)), ())
    assert _u_of(usual, "step of the display") == pytest.approx(0.1 / 12.0**0.5)


@pytest.mark.parametrize(
    ("stated", "typed_mm", "used_mm"),
    [("", None, 1250.0), ("wheelbase_mm = 1000\n", None, 1000.0), ("", 1500.0, 1500.0)],
)
def test_a_wheelbase_is_typed_or_stated_or_that_of_a_light_machine(
    stated: str, typed_mm: float | None, used_mm: float
) -> None:
    """A suspension that settles by some millimetres tilts a shorter one more."""
    settings = LevelSettings(wheelbase_mm=typed_mm)
    document = _judged(0.5, -0.3, text=PITCH + f"[tilt]\n{stated}", settings=settings)
    same = _judged(0.5, -0.3, settings=LevelSettings(wheelbase_mm=used_mm))
    other = _judged(0.5, -0.3, settings=LevelSettings(wheelbase_mm=used_mm + 1.0))
    assert document.pitch is not None
    assert same.pitch is not None
    assert other.pitch is not None
    assert document.pitch.u == same.pitch.u
    assert document.pitch.u > other.pitch.u


@pytest.mark.parametrize(
    ("yaw_deg", "u_deg"), [(None, 10.0 / 3.0**0.5), (0.0, 2.0), (1.5, 2.5), (-1.5, 2.5)]
)
def test_a_yaw_that_was_read_is_good_to_two_degrees(yaw_deg: float | None, u_deg: float) -> None:
    """What is left of it takes the place of ten degrees by eye; the hand leans by a degree."""
    signs = SignsDocument(verdict=Severity.PASS, pitch_sign=1, yaw_deg=yaw_deg)
    document = _judged(0.5, signs=signs, turned=False)
    share = _u_of(document, "lean, through a sensor that is not square")
    assert share == pytest.approx(math.radians(u_deg))


def test_a_typed_slope_is_told_as_the_way() -> None:
    """And so is one standing, where no zero could be made as well."""
    typed = LevelSettings(typed_slope=TypedSlope(0.5, 0.2))
    assert _judged(0.5, settings=typed, turned=False).method == "typed-slope"
    assert _judged(0.5, turned=False).method == "single"
    assert _judged(0.5, -0.3).method == "turned"


def test_the_standings_are_told_by_their_numbers() -> None:
    """Where there are several of one heading."""
    one = _judged(0.5, turned=False)
    assert one.standings == 1
    moving = wheel_capture(np.arange(500) / RATE_HZ, p=20.0 * np.sin(np.arange(500) / 10.0))
    for captures, labels in (((moving,), ("",)), ((moving, moving), (" (1)", " (2)"))):
        document = judge_level(Standings(first=captures), _rig(), LevelSettings(), ())
        said = [each.text for each in document.findings if each.code == "never-still"]
        assert said == [
            f"In the first standing{label} the machine never stood still." for label in labels
        ]
        assert document.pitch is None
        assert document.verdict is Severity.FAIL


def test_a_rider_who_sat_twice_tilts_it_by_the_mean() -> None:
    """Against the mean of the standings without."""
    document = _judged(0.5, 0.9, -0.3, seated=(2.5, 3.5))
    assert document.pitch is not None
    assert document.pitch.rider_tilt == pytest.approx(3.0 - 0.7)


def test_the_noisier_sitting_says_how_well_a_riders_tilt_is_known() -> None:
    """Half a degree of how a rider sits, and the noise of the mean."""
    noises_deg = (0.01, 0.8)
    readings = [np.resize([by, by, -by, -by], 500) for by in (0.01, *noises_deg)]
    captures = [wheel_capture(np.arange(500) / RATE_HZ, p=2.0 * (n > 0) + each)
                for n, each in enumerate(readings)]  # fmt: skip
    standings = Standings(first=(captures[0],), seated=(captures[1], captures[2]))
    document = judge_level(standings, _rig(), LevelSettings(), ())
    assert document.pitch is not None
    u_deg = math.hypot(0.5, 0.8 / math.sqrt(500.0))
    assert document.pitch.rider_tilt_u == pytest.approx(u_deg, rel=1e-3)


def test_a_garage_whose_sensor_was_not_always_logged_has_no_known_change() -> None:
    """A channel that the second standing lacks says nothing of both."""
    readings = np.resize([0.01, -0.01], 500)
    time_s = np.arange(500) / RATE_HZ
    first = wheel_capture(time_s, p=0.5 + readings, t=np.full(500, 12.0))
    second = wheel_capture(time_s, p=readings - 0.3)
    standings = Standings(first=(first,), turned=(second,))
    document = judge_level(standings, _rig(PITCH + AMBIENT), LevelSettings(), ())
    expected = math.degrees(0.31e-3) * 3.0 / 2.0 / math.sqrt(3.0)
    assert _u_of(document, "temperature") == pytest.approx(expected, rel=0.01)

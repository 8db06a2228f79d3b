"""A level zero judged from captures: what is found odd, and what no zero is made of."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calib.checks.tilt.level import LevelSettings, Shown, Standings, judge_level
from calib.errors import UsageError
from calib.store.capture import Capture
from calib.store.documents.finding import Severity
from calib.store.documents.tilt import LevelDocument, SignsDocument
from calib.tilt.zero import TypedSlope
from tests.tilt_files import (
    ACCEL,
    PITCH,
    Motion,
    force_columns,
    pitch_column,
    tilt_capture,
    tilt_rig,
)
from tests.tilt_world import SQUARE, Floor, Sensor, turned

CAUTIONS = ("mind your feet",)


def _standing(
    folder: Path, name: str, heading: float, seed: int = 1, sensor: Sensor | None = None,
    floor: Floor | None = None, nose_up: float = 0.0, left_up: float = 0.0,
) -> Capture:  # fmt: skip
    rng = np.random.default_rng((seed, int(heading)))
    used = sensor or Sensor(turned(2.0, -3.0), (0.01, 0.02, -0.01), noise_g=0.003)
    attitude = (floor or Floor(0.9, 10.0)).stand(heading, nose_up, left_up)
    motion = Motion([(attitude, 6.0)])
    return tilt_capture(folder, name, force_columns(used, motion, rng))


def _both(folder: Path, **given: object) -> LevelDocument:
    standings = Standings(first=(_standing(folder, "a", 0),), turned=(_standing(folder, "b", 180),))
    return judge_level(standings, tilt_rig(folder), LevelSettings(**given), CAUTIONS)  # type: ignore[arg-type]


def _codes(document: LevelDocument) -> dict[str, Severity]:
    return {f.code: f.severity for f in document.findings}


def test_turned_zero_is_free_of_the_floor(tmp_path: Path) -> None:
    """A floor of 0.9 degrees: zero and slope both within 0.03 of the truth, verdict pass."""
    document = _both(tmp_path, stand=True)
    sensor = Sensor(turned(2.0, -3.0), (0.01, 0.02, -0.01))
    level = sensor.force(turned())
    true_zero = np.degrees(np.arctan2(level[0], np.hypot(level[1], level[2])))
    assert document.verdict is Severity.PASS
    assert document.method == "turned"
    assert document.pitch is not None
    assert document.pitch.zero == pytest.approx(true_zero, abs=0.03)
    assert document.pitch.floor_slope == pytest.approx(0.9 * np.cos(np.radians(10)), abs=0.03)
    assert document.roll is not None
    assert document.roll.floor_slope is not None
    assert document.pitch.u == pytest.approx(
        float(np.linalg.norm([line.u for line in document.pitch.budget]))
    )


def test_single_standing_is_a_caution_that_names_the_floor(tmp_path: Path) -> None:
    """One standing: the floor's possible slope is in the zero, and it is told."""
    document = judge_level(
        Standings(first=(_standing(tmp_path, "a", 0),)), tilt_rig(tmp_path), LevelSettings(), ()
    )
    assert document.verdict is Severity.CAUTION
    assert _codes(document)["floor-not-separated"] is Severity.CAUTION
    assert document.pitch is not None
    assert document.pitch.floor_slope is None
    assert document.pitch.u > 0.5
    assert document.roll is not None
    assert document.roll.u >= 1.0


def test_typed_slope_takes_the_floors_place(tmp_path: Path) -> None:
    """A measured slope of 0.9 ± 0.2: method typed-slope, zero with at least that uncertainty."""
    document = judge_level(
        Standings(first=(_standing(tmp_path, "a", 0, floor=Floor(0.9, 0.0), sensor=Sensor()),)),
        tilt_rig(tmp_path),
        LevelSettings(typed_slope=TypedSlope(0.9, 0.2)),
        (),
    )
    assert document.method == "typed-slope"
    assert document.pitch is not None
    assert document.pitch.zero == pytest.approx(0.0, abs=0.02)
    assert document.pitch.u > 0.2
    assert document.verdict is Severity.PASS


def test_rider_tilt_is_nose_up_positive(tmp_path: Path) -> None:
    """The rear sags by 2.5 degrees when the rider sits."""
    standings = Standings(
        first=(_standing(tmp_path, "a", 0),),
        turned=(_standing(tmp_path, "b", 180),),
        seated=(_standing(tmp_path, "c", 0, nose_up=2.5),),
    )
    document = judge_level(standings, tilt_rig(tmp_path), LevelSettings(stand=True), ())
    assert document.pitch is not None
    assert document.pitch.rider_tilt == pytest.approx(2.5, abs=0.05)
    assert _codes(document)["rider-tilt"] is Severity.PASS


def test_typed_readings_alone_make_a_zero(tmp_path: Path) -> None:
    """Only the controller sees the sensor: what its display shows is enough."""
    document = judge_level(
        Standings(),
        tilt_rig(tmp_path, "", '[tilt]\nsensor = "controller"\n'),
        LevelSettings(shown=Shown(0.8, -1.4, 3.3)),
        (),
    )
    assert document.basis == "controller"
    assert document.pitch is not None
    assert document.pitch.zero == pytest.approx(-0.3)
    assert document.pitch.floor_slope == pytest.approx(1.1)
    assert document.pitch.rider_tilt == pytest.approx(2.5)
    assert document.shown is not None
    assert document.shown.zero == document.pitch.zero
    assert document.capture is None
    assert document.verdict is Severity.PASS


def test_typed_turned_without_level_is_wrong_use(tmp_path: Path) -> None:
    """Half a pair of typed readings is refused, and so is nothing at all."""
    rig = tilt_rig(tmp_path)
    with pytest.raises(UsageError, match="without --shown-level"):
        judge_level(Standings(), rig, LevelSettings(shown=Shown(None, 1.0)), ())
    with pytest.raises(UsageError, match="nothing to make a zero of"):
        judge_level(Standings(), rig, LevelSettings(), ())


def _refused(document: LevelDocument, code: str) -> None:
    assert document.pitch is None
    assert document.roll is None
    assert document.verdict is Severity.FAIL
    assert code in _codes(document)
    assert "no-zero" in _codes(document)


def _judge_columns(
    folder: Path, columns: dict[str, np.ndarray], rig_text: str = ACCEL
) -> LevelDocument:
    capture = tilt_capture(folder, "odd", columns)
    return judge_level(Standings(first=(capture,)), tilt_rig(folder, rig_text), LevelSettings(), ())


def test_a_capture_that_moves_all_the_time_makes_no_zero(tmp_path: Path) -> None:
    """Rocked from end to end."""
    time_s = np.arange(0, 12, 0.01)
    angle = np.radians(5 * np.sin(2 * np.pi * 0.8 * time_s))
    columns = {"ax": np.sin(angle), "ay": 0 * angle, "az": np.cos(angle)}
    _refused(_judge_columns(tmp_path, columns), "never-still")


@pytest.mark.parametrize("length_g", [0.0, 0.5, 1.6])
def test_an_accelerometer_that_does_not_show_one_g_makes_no_zero(
    tmp_path: Path, length_g: float
) -> None:
    """Free fall, half a g, a wrong scale."""
    rng = np.random.default_rng(1)
    noise = rng.normal(0, 0.002, (3, 800))
    columns = {"ax": noise[0], "ay": noise[1], "az": noise[2] + length_g}
    _refused(_judge_columns(tmp_path, columns), "gravity")


def test_constant_bytes_make_no_zero(tmp_path: Path) -> None:
    """The same three numbers for eight seconds are a frozen signal, not a still machine."""
    columns = {"ax": np.full(800, 0.02), "ay": np.full(800, 0.01), "az": np.full(800, 1.0)}
    _refused(_judge_columns(tmp_path, columns), "frozen")


def test_a_channel_that_says_one_value_makes_no_zero(tmp_path: Path) -> None:
    """A pitch channel that never changes may be dead; a second standing that differs proves not."""
    _refused(_judge_columns(tmp_path, {"p": np.full(800, 0.5)}, PITCH), "frozen")
    rig = tilt_rig(tmp_path, PITCH)
    first, second = (
        tilt_capture(tmp_path, name, {"p": np.full(800, value)})
        for name, value in (("a", 0.5), ("b", -0.3))
    )
    alive = judge_level(Standings(first=(first,), turned=(second,)), rig, LevelSettings(), ())
    assert alive.pitch is not None
    assert alive.pitch.zero == pytest.approx(0.1)


def test_a_machine_that_rocks_is_told(tmp_path: Path) -> None:
    """Held by a hand that sways by a third of a degree, slowly enough to pass for standing."""
    rng = np.random.default_rng(1)
    time_s = np.arange(0, 12, 0.01)
    pitch = 0.35 * np.sin(2 * np.pi * 0.3 * time_s) + rng.normal(0, 0.2, time_s.size)
    document = _judge_columns(tmp_path, {"p": pitch}, PITCH)
    assert _codes(document)["rocks"] is Severity.CAUTION


def test_a_garage_that_warms_is_told(tmp_path: Path) -> None:
    """Five kelvin between the standings: told, and in the budget."""
    text = PITCH + '\n[channels.air]\nrole = "ambient"\ncolumn = "t"\nunit = "degC"\n'
    rng = np.random.default_rng(2)
    first, second = (
        tilt_capture(tmp_path, name, {"p": rng.normal(0.2, 0.02, 800), "t": np.full(800, degC)})
        for name, degC in (("a", 12.0), ("b", 17.0))
    )
    rig = tilt_rig(tmp_path, text)
    document = judge_level(Standings(first=(first,), turned=(second,)), rig, LevelSettings(), ())
    finding = next(f for f in document.findings if f.code == "temperature")
    assert finding.value == pytest.approx(5.0)
    assert document.pitch is not None
    shares = {line.source: line.u for line in document.pitch.budget}
    assert shares["temperature"] == pytest.approx(0.01776 * 5 / (2 * 3**0.5), rel=0.01)


def test_a_clipped_sensor_makes_no_zero(tmp_path: Path) -> None:
    """An axis that stands at the end of its range."""
    rng = np.random.default_rng(1)
    text = ACCEL.replace("range_g = 4.0", "range_g = 1.0")
    noise = rng.normal(0, 0.002, (3, 800))
    columns = {"ax": noise[0], "ay": noise[1], "az": np.minimum(1.0 + noise[2], 1.0)}
    _refused(_judge_columns(tmp_path, columns, text), "clips")


def test_standings_that_differ_are_told(tmp_path: Path) -> None:
    """Two standings of one heading 1.5 degrees apart: moved on its marks, or it rocks."""
    standings = Standings(
        first=(_standing(tmp_path, "a", 0), _standing(tmp_path, "c", 0, nose_up=1.5)),
        turned=(_standing(tmp_path, "b", 180),),
    )
    document = judge_level(standings, tilt_rig(tmp_path), LevelSettings(), ())
    assert _codes(document)["standings-differ"] is Severity.CAUTION
    assert document.pitch is not None
    assert document.pitch.budget[0].source == "standings that differ"


def test_a_machine_that_leans_is_told(tmp_path: Path) -> None:
    """Leaned by 12 degrees, and held differently from one standing to the next."""
    leaned = judge_level(
        Standings(first=(_standing(tmp_path, "a", 0, left_up=12.0),)),
        tilt_rig(tmp_path), LevelSettings(), (),
    )  # fmt: skip
    assert "leans" in _codes(leaned)
    differs = judge_level(
        Standings(
            first=(
                _standing(tmp_path, "a", 0, left_up=-2.0),
                _standing(tmp_path, "b", 0, left_up=2.5),
            )
        ),
        tilt_rig(tmp_path), LevelSettings(), (),
    )  # fmt: skip
    assert "lean-differs" in _codes(differs)


def test_a_reading_that_creeps_is_told(tmp_path: Path) -> None:
    """A sensor that drifts by half a degree while the machine stands."""
    rng = np.random.default_rng(1)
    creeping = np.linspace(0, 0.6, 1500) + rng.normal(0, 0.02, 1500)
    document = _judge_columns(tmp_path, {"p": creeping}, PITCH)
    assert _codes(document)["rest-drifts"] is Severity.CAUTION


def test_a_machine_moved_within_one_capture_is_told(tmp_path: Path) -> None:
    """Two rests one degree apart in what should be one standing."""
    motion = Motion([(turned(), 5.0), (turned(1.2), 6.0)])
    rng = np.random.default_rng(1)
    document = _judge_columns(tmp_path, {"p": pitch_column(motion, rng)}, PITCH)
    assert _codes(document)["moved"] is Severity.CAUTION
    assert document.pitch is not None
    assert document.pitch.reading == pytest.approx(1.2, abs=0.03)


def test_a_steep_floor_is_doubted(tmp_path: Path) -> None:
    """Four degrees of floor are a ramp, or other marks."""
    standings = Standings(
        first=(_standing(tmp_path, "a", 0, floor=Floor(4.0, 0.0)),),
        turned=(_standing(tmp_path, "b", 180, floor=Floor(4.0, 0.0)),),
    )
    document = judge_level(standings, tilt_rig(tmp_path), LevelSettings(stand=True), ())
    assert _codes(document)["steep-floor"] is Severity.CAUTION


def test_pitch_channel_and_accelerometer_must_see_the_same_floor(tmp_path: Path) -> None:
    """A channel of half the scale sees half the floor: told before it is trusted."""
    captures = []
    for name, heading in (("a", 0.0), ("b", 180.0)):
        motion = Motion([(Floor(2.0, 0.0).stand(heading), 6.0)])
        rng = np.random.default_rng(int(heading))
        columns = force_columns(Sensor(SQUARE, noise_g=0.002), motion, rng)
        columns["p"] = pitch_column(motion, rng, gain=0.5)
        captures.append(tilt_capture(tmp_path, name, columns))
    document = judge_level(
        Standings(first=(captures[0],), turned=(captures[1],)),
        tilt_rig(tmp_path, ACCEL + PITCH),
        LevelSettings(),
        (),
    )
    assert _codes(document)["sensors-disagree"] is Severity.CAUTION


def test_a_proven_yaw_shrinks_the_budget(tmp_path: Path) -> None:
    """Once `calib signs` knows how far the sensor is turned, less is left to assume."""
    standings = Standings(
        first=(_standing(tmp_path, "a", 0),), turned=(_standing(tmp_path, "b", 180),)
    )
    rig = tilt_rig(tmp_path)
    before = judge_level(standings, rig, LevelSettings(), ())
    signs = SignsDocument(verdict=Severity.PASS, pitch_sign=1, yaw_deg=0.5)
    after = judge_level(standings, rig, LevelSettings(), (), signs=signs)
    assert before.pitch is not None
    assert after.pitch is not None
    assert after.pitch.u < before.pitch.u
    assert "sign-assumed" in _codes(before)
    assert "sign-assumed" not in _codes(after)


def test_a_machine_that_was_not_turned_is_doubted(tmp_path: Path) -> None:
    """The same standing twice, called first and turned: the zero would hold the whole floor."""
    document = judge_level(
        Standings(
            first=(_standing(tmp_path, "a", 0, seed=1),),
            turned=(_standing(tmp_path, "b", 0, seed=2),),
        ),
        tilt_rig(tmp_path), LevelSettings(), (),
    )  # fmt: skip
    assert _codes(document)["not-turned"] is Severity.CAUTION


def test_cautions_are_handed_on(tmp_path: Path) -> None:
    """Every document carries the cautions of its flow."""
    assert _both(tmp_path).cautions == CAUTIONS

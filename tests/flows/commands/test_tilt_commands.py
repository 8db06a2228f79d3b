"""The tilt commands with files and typed readings, as a script runs them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from calib.store.records import load_records
from calib.store.rig import load_rig
from tests.tilt_evening import (
    UP,
    all_poses,
    evening,
    file,
    judged,
    rest,
    run,
    shake,
    standings,
)
from tests.tilt_files import (
    ACCEL,
    HEAD,
    PITCH,
    TILT,
    Motion,
    force_columns,
    pitch_column,
    write_capture,
)
from tests.tilt_world import Sensor, turned


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a rig file that has a pitch channel beside an accelerometer."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "rig.toml").write_text(HEAD + ACCEL + PITCH + TILT, encoding="utf-8")
    return tmp_path


def test_level_turned_from_files(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Zero, floor and rider's tilt of the pitch channel, with the contract's keys."""
    first, second, seated = standings(here)
    code, document = judged(
        capsys, "level", "--from", first, "--turned-from", second, "--seated-from", seated
    )
    assert code == 0
    assert document["schema"] == "calib.level/1"
    assert document["method"] == "turned"
    assert document["pitch"]["zero"] == pytest.approx(0.4, abs=0.02)
    assert document["pitch"]["floor_slope"] == pytest.approx(0.9, abs=0.02)
    assert document["pitch"]["rider_tilt"] == pytest.approx(2.5, abs=0.02)
    assert document["roll"]["floor_slope"] is None
    assert document["roll"]["u"] >= 1.0
    assert document["capture"]["samples"] == 600


def test_level_single_is_a_caution(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 0, method single, no slope, no rider: null, never absent."""
    first, _, _ = standings(here)
    code, document = judged(capsys, "level", "--from", first)
    assert code == 0
    assert document["verdict"] == "caution"
    assert document["method"] == "single"
    assert document["pitch"]["floor_slope"] is None
    assert document["pitch"]["rider_tilt"] is None


def test_level_with_a_typed_slope(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """--floor-slope-deg serves where there is no room to turn."""
    first, _, _ = standings(here)
    _, document = judged(
        capsys, "level", "--from", first, "--floor-slope-deg", "0.9", "--floor-slope-u-deg", "0.2"
    )
    assert document["method"] == "typed-slope"
    assert document["pitch"]["zero"] == pytest.approx(0.4, abs=0.02)
    assert document["pitch"]["floor_slope_u"] == pytest.approx(0.2)


def test_level_typed_alone_opens_no_port(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A sensor that only the controller sees: typed readings are enough."""
    code, document = judged(
        capsys, "level", "--shown-level", "0.8", "--shown-turned", "-1.4", "--shown-step-deg", "0.1"
    )
    assert code == 0
    assert document["basis"] == "controller"
    assert document["pitch"]["zero"] == pytest.approx(-0.3)
    assert document["capture"] is None
    assert here.exists()


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("level", "--turned-from", "FIRST"), 2),
        (("level", "--from", "FIRST", "--turned"), 2),
        (("level", "--from", "FIRST", "--seated"), 2),
        (("level", "--from", "missing.csv"), 3),
        (("level", "--from", "FIRST", "--turned-from", "missing.csv"), 3),
        (("level", "--shown-turned", "1"), 2),
        (("signs", "--from", "FIRST"), 2),
        (("signs", "--from", "FIRST", "--block-mm", "1300"), 2),
        (("signs", "--from", "FIRST", "--block-mm", "0"), 2),
        (("signs", "--front-raised", "FIRST", "--block-mm", "100"), 2),
        (("signs", "--shown-front-raised", "4", "--block-mm", "100"), 2),
        (("surge", "--from", "FIRST", "--stroke-mm", "60"), 2),
        (("surge", "--shown-most", "0.4"), 2),
        (("level", "--shown-seated", "1"), 2),
        (("still", "throttle", "--from", "FIRST"), 2),
        (("poses", "--from", "missing.csv"), 3),
    ],
)
def test_wrong_use_and_missing_files(
    here: Path, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], code: int
) -> None:
    """One document that says what to do next, and the right exit code; nothing is recorded."""
    first, _, _ = standings(here)
    given = [str(first) if word == "FIRST" else word for word in arguments]
    ended, document = judged(capsys, *given)
    assert ended == code
    assert document["schema"] == "calib.error/1"
    assert document["exit_code"] == code
    assert document["what"]
    assert document["hint"]
    assert not load_records(here)


def test_signs_from_one_file_a_pose(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Level, front, rear, left, right by name."""
    files = {
        "--from": file(here, "a", [(turned(), 4.0)]),
        "--front-raised": file(here, "bb", [(turned(UP), 4.0)]),
        "--rear-raised": file(here, "ccc", [(turned(-UP), 4.0)]),
        "--leaned-left": file(here, "dddd", [(turned(left_up=-10), 4.0)]),
        "--leaned-right": file(here, "eeeee", [(turned(left_up=10), 4.0)]),
    }
    named = [item for pair in files.items() for item in pair]
    code, document = judged(capsys, "signs", *named, "--block-mm", "100")
    assert code == 0, document["findings"]
    assert document["convention"] == "nose-up-positive"
    assert document["pitch_sign"] == 1
    assert document["axis_ok"] is True
    assert document["scale_ratio"] == pytest.approx(1.0, abs=0.02)
    assert document["gravity_ratio"] == pytest.approx(1.0, abs=0.01)


def test_signs_reversed_ends_with_one(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The wrong sign is a fail, and exit code 1."""
    code, document = judged(
        capsys, "signs", "--from", all_poses(here), "--block-mm", "100",
        "--expects", "nose-down-positive",
    )  # fmt: skip
    assert code == 1
    assert document["verdict"] == "fail"


def test_signs_typed_after_a_typed_level(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The level reading typed in `calib level` serves `calib signs`."""
    assert here.exists()
    judged(capsys, "level", "--shown-level", "0.2", "--shown-turned", "-0.2")
    code, document = judged(
        capsys, "signs", "--block-mm", "100", "--shown-front-raised", "4.8",
        "--shown-leaned-left", "0.5",
    )  # fmt: skip
    assert code == 0, document["findings"]
    assert document["shown_pitch_sign"] == 1


def test_poses_are_written_to_the_rig_file(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Bias and matrix go under [tilt.truing]; comments and the rest stay as they were."""
    rig_path = here / "rig.toml"
    rig_path.write_text("# mine\n" + rig_path.read_text(), encoding="utf-8")
    rng = np.random.default_rng(6)
    sensor = Sensor(bias_g=(0.05, -0.04, 0.03), gain=(1.02, 0.99, 1.01), noise_g=0.003)
    motion = Motion([(face, 3.5) for face in Rotation.random(20, rng=rng)])
    columns = force_columns(sensor, motion, rng)
    columns["p"] = pitch_column(motion, rng)
    code, document = judged(capsys, "poses", "--from", write_capture(here, "faces", columns))
    assert code == 0
    assert document["claim"] == "full"
    truing = load_rig(rig_path).tilt.truing
    assert truing is not None
    assert truing.bias == pytest.approx((0.05, -0.04, 0.03), abs=0.002)
    assert rig_path.read_text().startswith("# mine\n")
    assert load_rig(rig_path).tilt.wheelbase_mm == 1250


def test_the_gate_opens_after_a_whole_evening_and_shuts_after_a_change(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Unknown on nothing, trusted on everything, stale after a note, shut by a new answer."""
    code, document = judged(capsys, "trust")
    assert (code, document["trusted"], document["verdict"]) == (1, False, "unknown")
    evening(here)
    code, document = judged(capsys, "trust")
    assert (code, document["trusted"]) == (0, True), document["evidence"]
    assert all(set(e) >= {"name", "verdict", "age_h", "text"} for e in document["evidence"])
    code, document = judged(capsys, "trust", "--on-signal-loss", "goes on")
    assert (code, document["trusted"], document["verdict"]) == (1, False, "fail")
    code, document = judged(capsys, "trust", "--on-signal-loss", "aid off")
    assert document["trusted"] is True
    for option in (("--rewired",), ("--remounted",), ("--changed", "tyre", "--remark", "new")):
        code, document = judged(capsys, "trust", *option)
        assert (code, document["trusted"], document["verdict"]) == (1, False, "unknown")


def test_a_sensor_that_only_the_controller_sees_is_gated_by_typed_readings(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No column, no port, no file: all ten pieces of evidence from its display and the rig file."""
    rig = HEAD + TILT + 'sensor = "controller"\n'
    (here / "rig.toml").write_text(rig, encoding="utf-8")
    for arguments in (
        ("level", "--shown-level", "0.9", "--shown-turned", "-0.7", "--shown-seated", "3.3"),
        ("signs", "--block-mm", "100", "--shown-front-raised", "5.4", "--shown-leaned-left", "1.2",
         "--shown-lag-s", "0.2"),
        ("surge", "--shown-most", "0.4", "--stroke-mm", "80", "--strokes", "15", "--over-s", "10"),
        ("still", "--for", "600", "--shown", "0.9", "0.9", "0.1"),
    ):  # fmt: skip
        code, document = judged(capsys, *arguments)
        assert (code, document["verdict"]) == (0, "pass"), document["findings"]
    code, document = judged(capsys, "trust")
    assert (code, document["trusted"]) == (0, True), document["evidence"]
    judged(capsys, "level", "--shown-level", "2.9", "--shown-turned", "1.3")
    code, document = judged(capsys, "trust")
    assert document["trusted"] is False


def test_pages_fit_eighty_columns_and_need_no_colour(
    here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every page of a full evening: 80 columns, plain text; its cautions came before the flow."""
    monkeypatch.setenv("NO_COLOR", "1")
    first, second, seated = standings(here)
    commands: dict[str, tuple[str | Path, ...]] = {
        "level": ("--from", first, "--turned-from", second, "--seated-from", seated),
        "signs": ("--from", all_poses(here), "--block-mm", "100"),
        "surge": ("--from", shake(here)),
        "still": ("--from", rest(here)),
        "poses": ("--from", first),
        "trust": (),
    }
    pages = {name: run(capsys, name, *arguments)[1] for name, arguments in commands.items()}
    for name, page in pages.items():
        assert "\x1b[" not in page, name
        assert max(len(line) for line in page.splitlines()) <= 80, name
        assert "BEFORE YOU TOUCH THE MACHINE" not in page, name
    assert "truly level it reads +0.40" in pages["level"]
    assert "front higher" in pages["level"]
    assert "the controller expects: nose-up-positive" in pages["signs"]
    assert "it reads a push" not in pages["surge"]
    assert "average for" in pages["still"]
    assert "The rig file is left as it was" in pages["poses"]
    assert "Inputs proven; the aid itself is not tested." in pages["trust"]


@pytest.mark.parametrize(
    "mounting", [turned(left=90), turned(left_up=180), turned(left=180), turned(90)]
)
def test_the_axes_are_written_as_they_lie_and_the_same_poses_then_prove_the_sign(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    mounting: Rotation,
) -> None:
    """What a turned sensor is told to write, --write writes; nothing is turned or measured anew."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "rig.toml").write_text(HEAD + ACCEL + TILT, encoding="utf-8")
    sensor = Sensor(mounting, noise_g=0.003)
    poses = {
        "--from": turned(),
        "--front-raised": turned(UP),
        "--rear-raised": turned(-UP),
        "--leaned-left": turned(left_up=-11.0),
        "--leaned-right": turned(left_up=10.0),
    }
    given: list[str | Path] = ["--block-mm", "100"]
    for index, (option, attitude) in enumerate(poses.items()):
        columns = force_columns(sensor, Motion([(attitude, 4.0)]), np.random.default_rng(index))
        given += [option, write_capture(tmp_path, f"pose{index}", columns)]
    code, before = judged(capsys, "signs", *given)
    assert code == 1
    assert {"mounting"} <= {finding["code"] for finding in before["findings"]}
    assert len(before["axes"]) == 3
    code, after = judged(capsys, "signs", *given, "--write")
    assert code == 0, after["findings"]
    assert after["pitch_sign"] == 1
    assert after["axes"] == []
    channels = load_rig(tmp_path / "rig.toml").channels
    assert {axis["channel"]: (axis["role"], axis["sign"]) for axis in before["axes"]} == {
        name: (channel.role, channel.sign) for name, channel in channels.items()
    }

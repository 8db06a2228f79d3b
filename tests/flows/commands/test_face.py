"""What `import calib` gives a notebook: the examples in its docstrings, and what they leave out."""

from __future__ import annotations

import doctest
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import calib
from calib import face
from calib.errors import UsageError
from tests.hands import make_rig, pressed
from tests.tilt_evening import all_poses, rest, standings
from tests.tilt_files import ACCEL, HEAD, PITCH, TILT, write_capture


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with captures of a throttle and of a tilt sensor, and a rig file for each."""
    folder = tmp_path_factory.mktemp("evening")
    (folder / "rig.toml").write_text(HEAD + ACCEL + PITCH + TILT, encoding="utf-8")
    standings(folder)
    all_poses(folder)
    rest(folder)
    (folder / "rig.toml").rename(folder / "tilt.toml")
    make_rig(folder)
    write_capture(folder, "throttle", {"a0": pressed()})
    return folder


@pytest.fixture
def here(evening: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The same, as the working directory."""
    monkeypatch.chdir(evening)
    return evening


@pytest.mark.usefixtures("here")
def test_every_example_says_what_happens() -> None:
    """They run in the order of the page, as in one notebook."""
    found = doctest.DocTestFinder().find(face, "face", globs={"calib": calib})
    by_line = sorted((test for test in found if test.examples), key=lambda test: test.lineno or 0)
    assert {test.name.split(".")[-1] for test in by_line} == {
        name for name in calib.__all__ if name.islower()
    }
    runner = doctest.DocTestRunner()
    globs: dict[str, object] = {"calib": calib}
    for test in by_line:
        test.globs = globs
        runner.run(test, clear_globs=False)
    assert runner.summarize(verbose=False).failed == 0


@pytest.mark.usefixtures("here")
def test_readings_are_in_base_units_by_channel() -> None:
    """As many as there are times, and a frame has the same."""
    readings = calib.read_capture("first.csv", calib.load_rig("tilt.toml"))
    assert {name: readings.unit(name) for name in readings} == {
        "ax": "g", "ay": "g", "az": "g", "pitch": "deg",
    }  # fmt: skip
    assert readings["az"].shape == readings.time_s.shape
    frame = readings.to_frame()
    assert frame["az"].tolist() == readings["az"].tolist()
    assert frame.index.tolist() == readings.time_s.tolist()


@pytest.mark.usefixtures("here")
def test_a_channel_that_is_not_there_is_no_key() -> None:
    """As of any mapping."""
    readings = calib.read_capture("throttle.csv", calib.load_rig())
    assert "regen" not in readings
    with pytest.raises(KeyError, match="regen"):
        readings["regen"]


def test_a_text_log_is_read_as_the_commands_read_it(here: Path, tmp_path: Path) -> None:
    """And leaves nothing beside itself."""
    volts = pressed()
    lines = [f"{10 * index},{value:.4f}" for index, value in enumerate(volts)]
    shutil.copy(here / "rig.toml", tmp_path)
    log = tmp_path / "log.csv"
    log.write_text("\n".join(["t_ms,a0", *lines, ""]), encoding="utf-8")
    rig_path = tmp_path / "rig.toml"
    rig_path.write_text(HEAD + rig_path.read_text(encoding="utf-8"), encoding="utf-8")
    rig = calib.load_rig(rig_path)
    assert calib.read_capture(log, rig)["throttle"] == pytest.approx(volts, abs=1e-4)
    assert calib.travel(log, rig, "throttle").presses == 5
    assert sorted(path.name for path in tmp_path.iterdir()) == ["log.csv", "rig.toml"]


@pytest.mark.usefixtures("here")
def test_a_pose_of_no_such_name_is_told() -> None:
    """With the names that there are."""
    rig = calib.load_rig("tilt.toml")
    with pytest.raises(UsageError, match="no pose 'on its side'"):
        calib.signs({"on its side": "first.csv"}, rig, calib.SignsSettings(block_mm=100))


def test_a_name_that_is_not_public_is_no_attribute() -> None:
    """And every public one is listed."""
    with pytest.raises(AttributeError, match="no attribute 'numbers'"):
        _ = calib.numbers
    assert set(calib.__all__) < set(dir(calib))
    assert np.all([getattr(calib, name) is getattr(face, name) for name in calib.__all__])


def test_the_command_line_starts_without_it() -> None:
    """``import calib`` alone loads neither the judges nor numpy."""
    code = "import sys, calib; print(any(name in sys.modules for name in ('numpy', 'calib.face')))"
    assert subprocess.check_output([sys.executable, "-c", code], text=True).strip() == "False"

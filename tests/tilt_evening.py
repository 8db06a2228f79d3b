"""A whole evening at a tilt sensor, from files, through the command line."""

from __future__ import annotations

import contextlib
import io
import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from calib.cli import main
from calib.tilt.geometry import raised_angle
from tests.schemas import hold
from tests.tilt_files import Motion, force_columns, pitch_column, write_capture
from tests.tilt_world import RATE_HZ, Floor, Sensor, turned

EIGHT = datetime(2026, 3, 1, 20, 0, tzinfo=UTC)
"""When it begins on the clock that only a test moves."""

UP = raised_angle(100, 1250).angle_deg
FLOOR = Floor(0.9, 0.0)
SENSOR = Sensor(turned(1.0, 0.5, 1.5), noise_g=0.003)


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str]:
    """Run the command line in this process: exit code and what stdout got."""
    with pytest.raises(SystemExit, match=r"\d+") as ended:
        main([str(argument) for argument in arguments])
    code = ended.value.code
    assert isinstance(code, int)
    return code, capsys.readouterr().out


def judged(
    capsys: pytest.CaptureFixture[str], *arguments: str | Path
) -> tuple[int, dict[str, Any]]:
    """The same under --json: the one document, which its published schema allows."""
    code, out = run(capsys, *arguments, "--json")
    document: dict[str, Any] = json.loads(out)
    name = document["schema"].removeprefix("calib.").partition("/")[0]
    hold(document, name)
    return code, document


def file(folder: Path, name: str, steps: list[tuple[Rotation, float]]) -> Path:
    """A capture of a machine that is held in some attitudes."""
    rng = np.random.default_rng(len(name))
    motion = Motion(steps)
    columns = force_columns(SENSOR, motion, rng)
    columns["p"] = 0.4 + pitch_column(motion, rng)
    return write_capture(folder, name, columns)


def standings(folder: Path) -> tuple[Path, Path, Path]:
    """The first standing, the turned one, and one with the rider."""
    return (
        file(folder, "first", [(FLOOR.stand(0), 6.0)]),
        file(folder, "turned", [(FLOOR.stand(180), 6.0)]),
        file(folder, "seated", [(FLOOR.stand(0, nose_up=2.5), 6.0)]),
    )


def all_poses(folder: Path) -> Path:
    """Every pose of `calib signs` in one capture."""
    level = turned()
    steps = [(level, 4.0)]
    for pose in (turned(UP), turned(-UP), turned(left_up=10), turned(UP), turned(left_up=-10)):
        steps += [(pose, 3.2), (level, 3.2)]
    return file(folder, "poses of the machine", steps)


def shake(folder: Path) -> Path:
    """A rest, a shake, a rest."""
    rng = np.random.default_rng(5)
    time_s = np.arange(int(16 * RATE_HZ)) / RATE_HZ
    inside = (time_s > 4) & (time_s < 12)
    push = np.where(inside, 0.2 * np.sin(2 * np.pi * 1.5 * time_s), 0.0)
    columns = force_columns(SENSOR, Motion([(turned(), 16.0)]), rng, push)
    columns["p"] = 0.02 * np.degrees(np.arctan(push)) + rng.normal(0, 0.05, push.size)
    return write_capture(folder, "shake", columns)


def rest(folder: Path) -> Path:
    """Five minutes of rest."""
    return file(folder, "rest", [(turned(), 300.0)])


def evening(folder: Path) -> None:
    """Everything that trust needs, from files in the folder where it runs."""
    first, second, seated = standings(folder)
    for arguments in (
        ("level", "--from", first, "--turned-from", second, "--seated-from", seated),
        ("signs", "--from", all_poses(folder), "--block-mm", "100"),
        ("surge", "--from", shake(folder)),
        ("still", "--from", rest(folder)),
    ):
        out = io.StringIO()
        with contextlib.redirect_stdout(out), pytest.raises(SystemExit, match="0"):
            main([*(str(argument) for argument in arguments), "--json"])
        assert json.loads(out.getvalue())["verdict"] == "pass", out.getvalue()

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from calib.store.rig import load_rig
from tests.e2e.running import calib
from tests.unit.controls.test_meter import steps

RIG = """\
# the logger on the bench
[link]
port = "/dev/null"

[time]
column = "t_ms"
unit = "ms"

[channels.throttle]  # right grip
role = "control"
column = "a0"
unit = "count"
full_scale = 1024
reference_V = 5.0
"""


def logged(folder: Path, *levels_V: float) -> None:
    """A rig file and a text log of a potentiometer turned from level to level."""
    (folder / "rig.toml").write_text(RIG, encoding="utf-8")
    counts = np.floor(steps(*levels_V) * 1024.0 / 5.0).astype(int)
    lines = [f"{10 * index},{count}" for index, count in enumerate(counts)]
    (folder / "log.csv").write_text("\n".join(["t_ms,a0", *lines, ""]), encoding="utf-8")


def test_the_scale_goes_into_the_rig_file(tmp_path: Path) -> None:
    """Gain, offset, uncertainty and date are written; comments stay; a record is kept."""
    logged(tmp_path, 0.9, 2.4, 4.0)
    given = ["--meter-V", "0.882", "--meter-V", "2.352", "--meter-V", "3.92"]
    spec = ["--meter-pct", "0.5", "--meter-digits", "2", "--meter-step-V", "0.001"]
    done = calib("meter", "throttle", "--from", "log.csv", *given, *spec, "--json", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    assert document["schema"] == "calib.meter/1"
    scale = load_rig(tmp_path / "rig.toml").channel("throttle").scale
    assert scale is not None
    assert (scale.gain, scale.cov) == (document["gain"], document["cov"])
    text = (tmp_path / "rig.toml").read_text(encoding="utf-8")
    assert "# the logger on the bench" in text
    assert "# right grip" in text
    assert list((tmp_path / "records").glob("*meter*"))


def test_a_slip_writes_nothing(tmp_path: Path) -> None:
    """A reading off the line exits 1 and leaves the rig file as it was; the page says why."""
    logged(tmp_path, 0.9, 2.4, 4.0)
    given = ["--meter-V", "0.9", "--meter-V", "2.6", "--meter-V", "4.0"]
    done = calib("meter", "throttle", "--from", "log.csv", *given, cwd=tmp_path)
    assert done.returncode == 1
    assert "UNKNOWN" in done.stdout
    assert (tmp_path / "rig.toml").read_text(encoding="utf-8") == RIG


def test_a_capture_needs_the_meter_s_readings(tmp_path: Path) -> None:
    """A capture without readings is wrong use, in one line."""
    logged(tmp_path, 0.9, 4.0)
    done = calib("meter", "throttle", "--from", "log.csv", cwd=tmp_path)
    assert done.returncode == 2
    assert "--meter-V" in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1

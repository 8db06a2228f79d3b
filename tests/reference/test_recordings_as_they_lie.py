"""Open recordings, through the command line as they lie: poses of three sensors, a line of NIST's.

Sources and licences: SOURCE.txt beside each recording; figures from its EXPECTED.json.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.e2e.running import calib
from tests.tools import require_recording


def rig(folder: Path, time: str, columns: tuple[str, str, str], unit: str) -> None:
    """A rig file of a whole accelerometer."""
    channels = [
        f'[channels.a{axis}]\nrole = "accel-{axis}"\ncolumn = "{column}"\n{unit}\n'
        for axis, column in zip("xyz", columns, strict=True)
    ]
    (folder / "rig.toml").write_text(f"[time]\n{time}\n" + "".join(channels), encoding="utf-8")


def judged(folder: Path, *arguments: str | Path) -> dict[str, Any]:
    """The one document of a command."""
    done = calib(*arguments, "--json", cwd=folder)
    document: dict[str, Any] = json.loads(done.stdout)
    assert "findings" in document, document
    return document


def expected(recording: Path) -> dict[str, Any]:
    """The recording's reference answers."""
    answers: dict[str, Any] = json.loads((recording / "EXPECTED.json").read_text())
    return answers


def test_six_faces_beside_a_text_column(tmp_path: Path) -> None:
    """Six faces of a sensor in counts: all six found, the bias within 5 mg, the scale unclaimed."""
    folder = require_recording("imu_six_faces_counts")
    rig(tmp_path, "rate_hz = 102.4", ("acc_x", "acc_y", "acc_z"),
        'unit = "count"\ncounts_per_g = 2048')  # fmt: skip
    found = judged(tmp_path, "poses", "--from", next(folder.glob("*.csv")))
    assert (found["poses"], found["distinct"], found["claim"]) == (6, 6, "bias")
    answers = expected(folder)
    middle = np.array(answers["six_face_bias"]) / np.array(answers["six_face_counts_per_g"])
    assert found["bias"] == pytest.approx(middle, abs=0.005)
    assert found["matrix"] is None
    assert any("twelve poses" in finding["action"] for finding in found["findings"])


def test_thirty_eight_poses_give_everything(tmp_path: Path) -> None:
    """Offsets within 0.2 counts of the published fit of the same recording."""
    folder = require_recording("xsens_multipos")
    rig(tmp_path, 'column = "t_s"\nunit = "s"', ("ax", "ay", "az"),
        'unit = "count"\ncounts_per_g = 4000\nzero_count = 32768')  # fmt: skip
    found = judged(tmp_path, "poses", "--from", folder / "xsens_multipos.csv")
    assert found["claim"] == "full"
    published = expected(folder)["calibration"]["thr10"]["triangular"]["bias_counts"]
    offset = 32768 + 4000 * np.array(found["bias"])
    assert offset == pytest.approx(published, abs=0.2)


def test_six_rests_that_are_all_alike_claim_nothing(tmp_path: Path) -> None:
    """Six rests near level are one pose: said so, and nothing is written."""
    folder = require_recording("ngimu_motion")
    rig(tmp_path, 'column = "Time (s)"\nunit = "s"',
        ("Accelerometer X (g)", "Accelerometer Y (g)", "Accelerometer Z (g)"),
        'unit = "g"')  # fmt: skip
    before = (tmp_path / "rig.toml").read_text(encoding="utf-8")
    found = judged(tmp_path, "poses", "--from", folder / "sensor_data.csv")
    assert (found["poses"], found["distinct"], found["claim"]) == (6, 1, "none")
    assert (tmp_path / "rig.toml").read_text(encoding="utf-8") == before


def test_a_certified_line_is_met(tmp_path: Path) -> None:
    """An instrument against a standard, out of the file with its prose: the certified line.

    The regression here is of the standard on the instrument, so its slope is r2 over the
    certified one, and it passes through both means.
    """
    folder = require_recording("nist_lines_anova")
    (tmp_path / "rig.toml").write_text(
        '[link]\ncolumns = ["y", "x"]\nseparator = "blank"\n[time]\nrate_hz = 1\n'
        '[channels.y]\nrole = "other"\ncolumn = "y"\nunit = "V"\n'
        '[channels.x]\nrole = "other"\ncolumn = "x"\nunit = "V"\n',
        encoding="utf-8",
    )
    accuracy = ("--meter-pct", "0", "--meter-digits", "3", "--meter-step-V", "1")
    found = judged(
        tmp_path, "meter", "y", "--true-channel", "x", *accuracy, "--from", folder / "Norris.dat"
    )
    line = expected(folder)["Norris"]["certified"]
    assert found["capture"]["samples"] == 36
    assert found["gain"] == pytest.approx(line["r2"] / line["B1"], rel=1e-9)
    points = np.array([(point["logger"], point["meter"]) for point in found["points"]])
    y, x = points.mean(axis=0)
    assert line["B0"] + line["B1"] * x == pytest.approx(y, rel=1e-9)
    assert found["offset_V"] == pytest.approx(x - found["gain"] * y, abs=1e-9)
    assert not any(finding["code"] == "converter-bends" for finding in found["findings"])

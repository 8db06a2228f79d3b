"""A common 12-bit converter's published counts against millivolts, through the command line.

Source: esp32_219_modules (average of 219 modules; its SOURCE.txt and EXPECTED.json say more).
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from calib.store.conversion import to_base
from calib.store.rig import load_rig
from tests.e2e.running import calib
from tests.hands import pressed
from tests.tools import require_recording
from tests.unit.controls.test_meter import steps

Array = npt.NDArray[np.float64]

NO_CLOCK = """
[time]
rate_hz = 1
"""
CLOCK = """
[time]
column = "t_ms"
unit = "ms"
"""
RIG = """\
[channels.throttle]
role = "control"
column = "count"
unit = "count"
full_scale = 4096
reference_V = 3.3

[channels.truth]
role = "other"
column = "mV_atten{atten}"
unit = "mV"
"""
METER = ("--meter-pct", "0", "--meter-digits", "1", "--meter-step-V", "0.001")
FULL_V = 2.95


def in_folder(folder: Path, atten: int = 3) -> Path:
    """A rig file in a folder, and the published table as it lies."""
    table = require_recording("esp32_219_modules") / "table.csv"
    (folder / "rig.toml").write_text(RIG.format(atten=atten) + NO_CLOCK, encoding="utf-8")
    return table


def with_clock(folder: Path) -> None:
    """The rig file for a log that has a clock."""
    text = RIG.format(atten=3)
    (folder / "rig.toml").write_text(text + CLOCK, encoding="utf-8")


def counts_of(table: Path, volts: Array, atten: int = 3) -> Array:
    """What the published converter makes of volts at its pin."""
    rows = np.loadtxt(table, delimiter=",", skiprows=1)
    return np.floor(np.interp(1e3 * volts, rows[:, 1 + atten], rows[:, 0]))


def log(path: Path, counts: Array) -> None:
    """A log of counts at 100 Hz."""
    lines = [f"{10 * index},{count:.0f}" for index, count in enumerate(counts)]
    path.write_text("\n".join(["t_ms,count", *lines, ""]), encoding="utf-8")


def trued(folder: Path, table: Path, *levels_V: float, curve: bool = False) -> dict[str, object]:
    """``calib meter`` on a potentiometer at some voltages, as a good meter shows them."""
    with_clock(folder)
    log(folder / "held.csv", counts_of(table, steps(*levels_V)))
    given = [word for level_V in levels_V for word in ("--meter-V", f"{level_V:g}")]
    wanted = ["--curve"] if curve else []
    done = calib(
        *("meter", "throttle", "--from", "held.csv", *given, *wanted, "--json"), cwd=folder
    )
    document: dict[str, object] = json.loads(done.stdout)
    return document


def travelled(folder: Path, table: Path) -> tuple[int, dict[str, object]]:
    """``calib travel`` of a control that ends at `FULL_V` at the published converter's pin."""
    volts = pressed(rest_V=0.85, full_V=FULL_V, presses=6)
    log(folder / "presses.csv", counts_of(table, volts))
    done = calib("travel", "throttle", "--from", "presses.csv", "--json", cwd=folder)
    document: dict[str, object] = json.loads(done.stdout)
    return done.returncode, document


def codes(document: dict[str, object]) -> set[str]:
    """Codes of a document's findings."""
    findings = document["findings"]
    assert isinstance(findings, list)
    return {finding["code"] for finding in findings}


def full_mean(document: dict[str, object]) -> float:
    """Mean of full travel, V."""
    full = document["full"]
    assert isinstance(full, dict)
    return float(full["mean"])


@pytest.mark.parametrize("atten", [0, 1, 2, 3])
def test_the_published_table_is_followed(tmp_path: Path, atten: int) -> None:
    """Given the table as it lies, every published row reads within 3 mV on a curve.

    Where the table is straight, within the worst residual of a straight line.
    """
    table = in_folder(tmp_path, atten)
    done = calib(
        *("meter", "throttle", "--from", table, "--true-channel", "truth", *METER[:3], "8"),
        *(*METER[4:], "--curve", "--json"),
        cwd=tmp_path,
    )
    assert done.returncode == 0, done.stdout
    expected = json.loads((table.parent / "EXPECTED.json").read_text())[f"atten{atten}"]
    rows = np.loadtxt(table, delimiter=",", skiprows=1)
    read = to_base(load_rig(tmp_path / "rig.toml").channel("throttle"), rows[:, 0])
    off_mV = np.abs(1e3 * read - rows[:, 1 + atten])
    if json.loads(done.stdout)["curve"] is None:
        assert off_mV.max() <= abs(expected["worst_residual_mV"]) + 0.5
    else:
        assert off_mV.max() < 3.0


def test_a_line_trued_below_the_bow_gives_no_full_travel(tmp_path: Path) -> None:
    """Trued at 0.5, 1.5 and 2.5 V the line is straight; full travel beyond it is refused."""
    table = in_folder(tmp_path)
    document = trued(tmp_path, table, 0.5, 1.5, 2.5)
    assert document["verdict"] == "caution"
    assert codes(document) == {"offset-far-off", "trued", "meter-assumed"}
    assert "converter-bends" not in codes(document)
    status, travel = travelled(tmp_path, table)
    assert abs(full_mean(travel) - FULL_V) > 0.03
    assert status == 1
    assert travel["verdict"] == "unknown"
    assert "outside-trued" in codes(travel)


def test_six_readings_name_the_bow(tmp_path: Path) -> None:
    """Six readings up to full travel are told to bend, and no slip is suspected."""
    table = in_folder(tmp_path)
    document = trued(tmp_path, table, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0)
    assert document["verdict"] == "unknown"
    assert "converter-bends" in codes(document)
    assert "residuals" not in codes(document)
    assert load_rig(tmp_path / "rig.toml").channel("throttle").scale is None


@pytest.mark.parametrize("levels_V", [(0.5, 1.0, 1.5, 2.0, 2.5, 3.0), (0.6, 1.2, 1.8, 2.4, 2.96)])
def test_a_curve_gives_full_travel(tmp_path: Path, levels_V: tuple[float, ...]) -> None:
    """A curve through five or six readings gives full travel within 0.03 V, with a caution.

    All but the last reading are straight: the bend rests on that one, and the page says so.
    """
    table = in_folder(tmp_path)
    document = trued(tmp_path, table, *levels_V, curve=True)
    assert document["verdict"] == "caution"
    assert "bend-on-one-reading" in codes(document)
    status, travel = travelled(tmp_path, table)
    assert status == 0, travel["findings"]
    assert full_mean(travel) == pytest.approx(FULL_V, abs=0.03)
    rest = travel["rest"]
    assert isinstance(rest, dict)
    assert rest["mean"] == pytest.approx(0.85, abs=0.03)

"""A truing goes along when axes are exchanged, and is left out when they are others."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from calib.checks.tilt.level import LevelSettings, Standings, judge_level
from calib.store.rig import Rig, Truing
from calib.tilt.inputs import in_axes, series_of
from tests.tilt_files import ACCEL, tilt_capture, tilt_rig

TRUING = Truing(
    bias=(0.01, -0.02, 0.03),
    matrix=((1.01, 0.002, 0.003), (0.0, 0.98, 0.001), (0.0, 0.0, 1.02)),
    u=0.001,
    date="2026-11-25",
    columns=("ax", "ay", "az"),
)
TABLE = (
    "[tilt.truing]\nbias = [0.01, -0.02, 0.03]\n"
    "matrix = [[1.01, 0.002, 0.003], [0.0, 0.98, 0.001], [0.0, 0.0, 1.02]]\n"
    'u = 0.001\ndate = "2026-11-25"\ncolumns = ["ax", "ay", "az"]\n'
)
READING = np.array([0.2, -0.3, 0.9])


def test_exchanged_and_turned_axes_keep_their_own_truing() -> None:
    """Whatever order and sign the axes are named in, each column is corrected the same."""
    plain = in_axes(TRUING, ("ax", "ay", "az"))
    turned = in_axes(TRUING, ("-ay", "ax", "az"))
    assert plain is not None
    assert turned is not None
    (bias_g, matrix), (turned_bias_g, turned_matrix) = plain, turned
    x, y, z = matrix @ (READING - bias_g)
    again = turned_matrix @ (np.array([-READING[1], READING[0], READING[2]]) - turned_bias_g)
    np.testing.assert_allclose(again, [-y, x, z], atol=1e-15)


def test_other_columns_have_no_truing() -> None:
    """A truing of columns that are not all named any more, or named twice, is none."""
    assert in_axes(TRUING, ("ax", "ay", "bz")) is None
    assert in_axes(TRUING, ("ax", "ax", "az")) is None


def axes_rig(folder: Path, **named: str) -> Rig:
    """A rig file trued in ax, ay, az whose axes are other columns."""
    heads = {axis: f'role = "accel-{axis[1]}"\ncolumn = ' for axis in named}
    text = ACCEL
    for axis, column in named.items():
        text = text.replace(f'{heads[axis]}"{axis}"', f'{heads[axis]}"{column}"')
    return tilt_rig(folder, text, TABLE)


def test_the_forces_move_with_the_columns(tmp_path: Path) -> None:
    """Exchanging two columns in the rig file exchanges two trued forces, and nothing else."""
    columns = {
        name: value + np.random.default_rng(1).normal(0, 1e-3, 500)
        for name, value in zip(("ax", "ay", "az", "b"), (*READING, 0.0), strict=True)
    }
    capture = tilt_capture(tmp_path, "one", columns)
    _, plain = series_of(capture, axes_rig(tmp_path))
    _, swapped = series_of(capture, axes_rig(tmp_path, ax="ay", ay="ax"))
    assert plain.force_g is not None
    assert swapped.force_g is not None
    np.testing.assert_allclose(swapped.force_g[:, [1, 0, 2]], plain.force_g, atol=1e-12)


def test_a_truing_of_others_is_said(tmp_path: Path) -> None:
    """Where the rig file names a column that was not trued, the page says so and does without."""
    rng = np.random.default_rng(1)
    columns = {
        name: value + rng.normal(0, 1e-3, 500)
        for name, value in zip(("ax", "ay", "az", "b"), (0.0, 0.0, 1.0, 1.0), strict=True)
    }
    capture = tilt_capture(tmp_path, "one", columns)
    standings = Standings(first=(capture,))
    document = judge_level(standings, axes_rig(tmp_path, az="b"), LevelSettings(), ())
    said = [finding.text for finding in document.findings if finding.code == "truing-of-others"]
    assert said == [
        "The accelerometer was trued in columns ax, ay, az, and the rig file names ax, ay, b now: "
        "that truing is left out."
    ]

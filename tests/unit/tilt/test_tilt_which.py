from __future__ import annotations

from itertools import permutations, product

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.tilt.which import Stand, find_tilt, stand_of

RNG = np.random.default_rng(3)
G = 9.80665
Floats = NDArray[np.float64]


def stand(
    nose_up_deg: float,
    *,
    zero: float,
    per_g: float,
    unit_sd: float,
    more: float,
    whole: bool = True,
) -> Stand:
    """A clock-free line of four columns: throttle, x, y, z, and an inclinometer's volts."""
    pitch = np.radians(nose_up_deg)
    force = np.array([np.sin(pitch), 0.02, np.cos(pitch)]) * per_g + zero
    columns = np.concatenate([[203.0], force, [more]])
    values = columns + np.array([1.0, *[unit_sd] * 3, 0.004]) * RNG.standard_normal((300, 5))
    if whole:
        values[:, :4] = np.round(values[:, :4])
    return stand_of(values)


@pytest.mark.parametrize(
    ("zero", "per_g", "unit", "counts"),
    [(32768, 8192, "count", 8192), (0, 16384, "count", 16384), (0, 256, "count", 256),
     (0, 1, "g", None), (0, 1000, "mg", None), (0, G, "m/s2", None)],
)  # fmt: skip
def test_three_columns_that_measure_g_are_found(
    zero: float, per_g: float, unit: str, counts: float | None
) -> None:
    """Unit and scale are those at which the vector is 1 g long in both standings."""
    whole = unit == "count"
    one = stand(0.5, zero=zero, per_g=per_g, unit_sd=0.002 * per_g, more=2.5, whole=whole)
    other = stand(4.0, zero=zero, per_g=per_g, unit_sd=0.002 * per_g, more=2.62, whole=whole)
    tilt = find_tilt(one, other, skip={0})
    assert tilt.triple is not None
    assert (tilt.triple.x, tilt.triple.y, tilt.triple.z) == (1, 2, 3)
    assert (tilt.triple.unit, tilt.triple.counts_per_g) == (unit, counts)
    assert tilt.angles == (4,)


def test_standing_still_tells_nothing() -> None:
    """Where the front was not raised, no column is taken for tilt."""
    one = stand(0.5, zero=32768, per_g=8192, unit_sd=16, more=2.5)
    other = stand(0.52, zero=32768, per_g=8192, unit_sd=16, more=2.501)
    assert find_tilt(one, other, skip={0}) == find_tilt(one, one, skip={0})
    assert find_tilt(one, other, skip={0}).triple is None
    assert find_tilt(one, other, skip={0}).angles == ()


def test_a_control_that_moved_is_left_out_where_it_is_known() -> None:
    """The throttle's column is none of the tilt sensor's."""
    one = stand(0.5, zero=32768, per_g=8192, unit_sd=16, more=2.5)
    other = stand(4.0, zero=32768, per_g=8192, unit_sd=16, more=2.62)
    other.mean[0] += 300.0
    assert 0 not in find_tilt(one, other, skip={0}).angles
    assert 0 in find_tilt(one, other, skip=()).angles


MOUNTINGS = [
    mounted
    for order in permutations(range(3))
    for signs in product((1.0, -1.0), repeat=3)
    if np.linalg.det(mounted := np.diag(signs)[list(order)]) > 0
]
"""The 24 ways in which a sensor's axes may lie along a machine's."""


@pytest.mark.parametrize("mounted", MOUNTINGS, ids=[str(number) for number in range(24)])
def test_axes_and_signs_are_told_however_a_square_sensor_lies(mounted: Floats) -> None:
    """Level and front raised give each axis its column and its sign, the one across included."""
    stands = []
    for nose_up_deg in (0.5, 4.0):
        pitch = np.radians(nose_up_deg)
        force = mounted @ [np.sin(pitch), 0.01, np.cos(pitch)]
        stands.append(stand_of(force + 0.002 * RNG.standard_normal((300, 3))))
    level, raised = stands
    triple = find_tilt(level, raised, skip=()).triple
    assert triple is not None
    stated = np.zeros((3, 3))
    for axis, (column, sign) in enumerate(
        zip((triple.x, triple.y, triple.z), triple.signs, strict=True)
    ):
        stated[axis, column] = sign
    assert stated @ mounted == pytest.approx(np.eye(3))

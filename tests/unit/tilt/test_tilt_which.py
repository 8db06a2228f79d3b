from __future__ import annotations

from itertools import permutations, product

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.tilt.which import Stand, Triple, find_tilt, stand_of

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


def vectors(one: tuple[float, float, float], other: tuple[float, float, float]) -> Triple | None:
    """What three columns are taken for that read these without noise, and a fourth beside them."""
    level, raised = (stand_of(np.tile([*force, 7.5], (2, 1))) for force in (one, other))
    return find_tilt(level, raised, skip={3}).triple


def nosed(
    angle_deg: float, length: float = 1.0, base_deg: float = 0.5
) -> tuple[float, float, float]:
    """A force of this length on a machine with its nose raised beyond half a degree."""
    angle = np.radians(base_deg + angle_deg)
    return (float(length * np.sin(angle)), 0.0, float(length * np.cos(angle)))


@pytest.mark.parametrize(
    ("length", "found"), [(1.055, True), (1.065, False), (0.945, True), (0.935, False)]
)
def test_an_accelerometer_measures_gravity_to_six_per_cent(length: float, found: bool) -> None:
    """In both standings; the angle between them is that of the directions alone."""
    assert (vectors(nosed(0.0, length), nosed(4.0, length)) is not None) is found
    assert vectors(nosed(0.0, length), nosed(0.5, length)) is None


@pytest.mark.parametrize(
    ("change", "found"), [(0.0145, True), (0.0155, False), (-0.0145, True), (-0.0155, False)]
)
def test_its_length_changes_by_no_more_than_fifteen_thousandths(change: float, found: bool) -> None:
    """A bias changes it little."""
    assert (vectors(nosed(0.0), nosed(4.0, 1.0 + change)) is not None) is found


@pytest.mark.parametrize(
    ("angle_deg", "found"), [(0.75, False), (0.85, True), (19.5, True), (20.5, False)]
)
def test_a_raised_front_turns_it_by_one_to_twenty_degrees(angle_deg: float, found: bool) -> None:
    """From 0.8 on, for a low plank on a long machine."""
    assert (vectors(nosed(0.0), nosed(angle_deg)) is not None) is found


@pytest.mark.parametrize(("upright", "found"), [(0.69, False), (0.7, True), (0.71, True)])
def test_one_axis_is_upright(upright: float, found: bool) -> None:
    """Within 45 degrees; a vector between three axes is no machine's."""
    rest = float(np.sqrt((1.0 - upright**2) / 2.0))
    turn = np.radians(4.0)
    one = (rest, rest, upright)
    other = (
        float(np.cos(turn) * rest + np.sin(turn) * upright),
        rest,
        float(np.cos(turn) * upright - np.sin(turn) * rest),
    )
    assert (vectors(one, other) is not None) is found


USUAL = [
    (zero, 2.0**power)
    for zero in (0.0, 32768.0, 8192.0, 2048.0, 512.0)
    for power in range(6, 15)
    # these two are within the tolerance of milli-g, and of signed counts
    if (zero, power) not in ((0.0, 10), (512.0, 14))
]


@pytest.mark.parametrize(("zero", "per_g"), USUAL)
def test_every_usual_zero_and_scale_of_counts_is_found(zero: float, per_g: float) -> None:
    """Signed or offset binary, 64 to 16384 counts for 1 g: the direction comes out right."""
    level, raised = (
        stand_of(np.tile([float(round(per_g * each + zero)) for each in force], (4, 1)))
        for force in (nosed(0.0, base_deg=4.0), nosed(12.0, base_deg=4.0))
    )
    triple = find_tilt(level, raised, skip=()).triple
    assert triple is not None
    assert (triple.x, triple.y, triple.z, triple.signs) == (0, 1, 2, (1, 1, 1))
    assert (triple.unit, triple.zero_count, triple.counts_per_g) == ("count", zero, per_g)


@pytest.mark.parametrize(("sds", "angles"), [(3.9, ()), (4.1, (0,)), (-4.1, (0,))])
def test_an_angle_moves_by_four_deviations_of_one_reading(
    sds: float, angles: tuple[int, ...]
) -> None:
    """Of the noisier of the two standings."""
    noisy = np.tile([0.1, -0.1], 50)[:, None]
    level, raised = stand_of(noisy), stand_of(0.5 * noisy + 0.1 * sds)
    assert find_tilt(level, raised, skip=()).angles == angles
    assert find_tilt(raised, level, skip=()).angles == angles
    assert find_tilt(level, raised, skip=(0,)).angles == ()


def test_whole_numbers_are_known_to_their_step() -> None:
    """A count that never changes is known to 1/√12, and one that is noisier as its noise says."""
    assert stand_of(np.full((5, 1), 512.0)).sd == pytest.approx([12.0**-0.5])
    assert stand_of(np.array([[510.0], [514.0]])).sd == pytest.approx([2.0])
    assert stand_of(np.full((5, 1), 0.25)).sd[0] < 1e-6


def test_two_columns_are_no_accelerometer_and_the_next_column_may_be_anything() -> None:
    """Two that measure g together lack the axis across; a column behind the three is not asked."""
    level, raised = (stand_of(np.tile(nosed(at)[::2], (4, 1))) for at in (0.0, 4.0))
    assert find_tilt(level, raised, skip=()).triple is None
    assert vectors(nosed(0.0), nosed(4.0)) is not None
    level, raised = (stand_of(np.tile(nosed(at), (4, 1))) for at in (0.0, 4.0))
    for skipped in range(3):
        assert find_tilt(level, raised, skip={skipped}).triple is None


def test_what_did_not_turn_at_all_is_no_raised_front() -> None:
    """Whatever the direction: rounding makes no angle of none, and no error either."""
    rng = np.random.default_rng(21)
    for force in rng.normal(size=(300, 3)):
        still = stand_of(np.tile(force / np.linalg.norm(force), (4, 1)))
        assert find_tilt(still, still, skip=()).triple is None

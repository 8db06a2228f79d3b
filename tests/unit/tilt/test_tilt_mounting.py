"""The mounting in words: every right-angled mounting has its own, and the words are true."""

from __future__ import annotations

import itertools
import re

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from calib.tilt.mounting import describe_mounting
from tests.tilt_world import turned

HAND_TURNS = {
    "a quarter turn to the left about the upright axis": turned(left=90),
    "a quarter turn to the right about the upright axis": turned(left=-90),
    "a half turn about the upright axis": turned(left=180),
    "tipped a quarter turn onto its right side": turned(left_up=90),
    "tipped a quarter turn onto its left side": turned(left_up=-90),
    "rolled upside down about the long axis": turned(left_up=180),
    "tipped a quarter turn backward onto its rear edge": turned(nose_up=90),
    "tipped a quarter turn forward onto its front edge": turned(nose_up=-90),
}


def _seen(mounting: Rotation) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Forward, left and up of the vehicle, as a sensor with that mounting sees them."""
    return mounting.inv().apply(np.eye(3))


@pytest.mark.parametrize(("words", "mounting"), HAND_TURNS.items())
def test_a_turn_of_the_hand_is_named_as_the_hand_made_it(words: str, mounting: Rotation) -> None:
    """Each single turn of a sensor gets the words of that turn, off square by 6 degrees or not."""
    for extra in (Rotation.identity(), turned(nose_up=4, left=-4)):
        found = describe_mounting(*_seen(mounting * extra))
        assert words in found.text
        assert not found.right
        assert found.rest_deg < 6


def test_every_right_angled_mounting_has_words_of_its_own() -> None:
    """24 mountings, 24 texts, one of them right; and no code letters for axes or angles."""
    texts = set()
    for mounting in Rotation.create_group("O"):
        found = describe_mounting(*_seen(mounting))
        assert found.rest_deg == pytest.approx(0, abs=1e-6)
        assert found.sensor_to_vehicle == pytest.approx(mounting.as_matrix(), abs=1e-9)
        assert found.right == bool(mounting.magnitude() < 1e-9)
        assert not re.search(r"[±+-]?[XYZ]\b|\d{2,}°|(yaw|pitch|roll)[ _-]?\d", found.text)
        texts.add(found.text)
    assert len(texts) == 24


def test_a_small_turn_is_right_and_told() -> None:
    """Eight degrees off square is mounted as the rig file says, and the angle is named."""
    found = describe_mounting(*_seen(turned(left=8)))
    assert found.right
    assert found.rest_deg == pytest.approx(8)
    assert "within 8 degrees" in found.text


def test_exchanged_columns_are_not_called_a_turning() -> None:
    """X and y exchanged make a left hand: the rig file is wrong, not the mounting."""
    found = describe_mounting(np.eye(3)[1], np.eye(3)[0], np.eye(3)[2])
    assert found.sensor_to_vehicle is None
    assert not found.right
    assert "left hand" in found.text
    assert "accel-x looks left" in found.remedy
    assert "accel-y looks forward" in found.remedy


def test_the_remedy_says_how_the_axes_lie() -> None:
    """A sensor turned a quarter to the left: its x looks left, its y backward."""
    found = describe_mounting(*_seen(turned(left=90)))
    assert "accel-x looks left" in found.remedy
    assert "accel-y looks backward" in found.remedy
    assert "accel-z looks up" in found.remedy


MIRRORED = [
    mirrored
    for order in itertools.permutations(range(3))
    for signs in itertools.product((1.0, -1.0), repeat=3)
    if np.linalg.det(mirrored := np.diag(signs) @ np.eye(3)[list(order)]) < 0
]
"""The 24 ways in which three axes form a left hand."""


@pytest.mark.parametrize("seen", MIRRORED, ids=[str(number) for number in range(24)])
def test_every_left_hand_is_named_axis_by_axis(
    seen: np.ndarray[tuple[int, int], np.dtype[np.float64]],
) -> None:
    """For each vehicle axis the sensor's axis along it, and which way that counts."""
    leaned = seen @ turned(nose_up=5.0).as_matrix()
    found = describe_mounting(*leaned)
    assert found.axes is not None
    for row, (column, sign) in enumerate(found.axes):
        assert seen[row, column] == sign
    assert found.rest_deg == pytest.approx(5.0)
    assert (found.right, found.sensor_to_vehicle) == (False, None)
    assert describe_mounting(*seen).rest_deg == pytest.approx(0.0, abs=1e-9)


def test_directions_may_have_any_length() -> None:
    """Forces of thrice and of a fifth of 1 g point the same way."""
    forward, left, up = _seen(turned(left=8.0, nose_up=3.0))
    left = left + 0.2 * forward  # a lean by hand is never quite square
    plain = describe_mounting(forward, left, up)
    scaled = describe_mounting(3.0 * forward, 0.2 * left, 0.9 * up)
    assert scaled.sensor_to_vehicle == pytest.approx(plain.sensor_to_vehicle)
    assert scaled.rest_deg == pytest.approx(plain.rest_deg)


def test_turned_end_over_end_in_one_turn() -> None:
    """A half turn about the axis across is named as one turn."""
    text = describe_mounting(*_seen(turned(nose_up=180.0))).text
    assert text == "the sensor is turned: tipped upside down end over end"


def test_a_turned_sensor_has_its_axes_renamed() -> None:
    """Turned a quarter to the left, its x looks left and its y backward."""
    found = describe_mounting(*_seen(turned(left=90)))
    assert found.axes == ((1, -1), (0, 1), (2, 1))
    assert describe_mounting(*_seen(turned())).axes is None

"""The mounting in words: every right-angled mounting has its own, and the words are true."""

from __future__ import annotations

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

from __future__ import annotations

import itertools

import msgspec
import pytest

from calib.show.ruler import (
    BROKEN_WIRE,
    HAND_OFF,
    STOP,
    Ruler,
    Zone,
    pointer_row,
    ruler_rows,
    travel_ruler,
)
from calib.store.documents.finding import Severity
from calib.store.documents.travel import DeadBand, FaultWindow, TravelDocument
from tests.unit.evidence import level

DRIVE = "drive"


def document(start: float, end: float) -> TravelDocument:
    """A control with the given dead band."""
    return TravelDocument(
        verdict=Severity.PASS,
        channel="throttle",
        acts="drive",
        reversed=start > end,
        dead_band=DeadBand(start=start, end=end, dead_travel_pct=3.0),
        fault_window=FaultWindow(low=0.4, high=4.4),
    )


def test_zones_follow_each_other_from_rest_to_stop() -> None:
    """From low to high volts: wire, hand off, drive, end of travel, wire; without gaps."""
    zones = travel_ruler(document(0.9, 3.7)).zones
    assert [zone.word for zone in zones] == [BROKEN_WIRE, HAND_OFF, DRIVE, STOP, BROKEN_WIRE]
    for left, right in itertools.pairwise(zones):
        assert left.high_V == right.low_V


def test_a_reversed_control_has_its_stop_at_low_volts() -> None:
    """Reversed: the hand is off at high volts, and the stop lies at low ones."""
    zones = travel_ruler(document(3.7, 0.9)).zones
    assert [zone.word for zone in zones] == [BROKEN_WIRE, STOP, DRIVE, HAND_OFF, BROKEN_WIRE]


def test_without_a_dead_band_no_zone_is_claimed() -> None:
    """An unknown travel shows a bare scale: no zone is made up."""
    unknown = TravelDocument(verdict=Severity.UNKNOWN, channel="throttle", acts="drive")
    assert travel_ruler(unknown).zones == ()
    assert "█" not in "".join(ruler_rows(travel_ruler(unknown), 78))


def test_without_fault_thresholds_no_broken_wire_zone_is_claimed() -> None:
    """Where there is no room for a safe threshold, no zone says that a broken wire is told."""
    bare = TravelDocument(
        verdict=Severity.CAUTION,
        channel="throttle",
        acts="drive",
        dead_band=DeadBand(start=0.9, end=3.7, dead_travel_pct=3.0),
        fault_window=FaultWindow(low=None, high=None),
    )
    assert [zone.word for zone in travel_ruler(bare).zones] == [HAND_OFF, DRIVE, STOP]


@pytest.mark.parametrize(("start", "end"), [(0.9, 3.7), (3.7, 0.9), (0.85, 4.2), (1.2, 2.0)])
def test_every_zone_has_its_word_and_both_values_stand_under_the_bar(
    start: float, end: float
) -> None:
    """Meaning is in words and numbers, whatever the widths of the zones."""
    rows = ruler_rows(travel_ruler(document(start, end)), 78)
    text = "\n".join(rows)
    for word in (BROKEN_WIRE, HAND_OFF, DRIVE, STOP, f"{start:.2f}", f"{end:.2f}"):
        assert word in text
    assert {len(row) for row in rows} == {78}


def test_the_pointer_stands_where_the_bar_does() -> None:
    """The arrow is under the column that its volts have on the bar, and never leaves the row."""
    ruler = Ruler(zones=(Zone(DRIVE, 0.0, 5.0),))
    assert pointer_row(ruler, 51, 2.5, (2.5, 2.5)).index("▲") == 25
    assert pointer_row(ruler, 51, 9.9, (0.0, 9.9)).index("▲") == 50


def test_a_ruler_in_the_controllers_volts_marks_none_of_the_loggers() -> None:
    """Rest and full were measured on another scale, so they decide nothing on this one."""
    own = msgspec.structs.replace(document(0.9, 3.7), basis="controller", full=level(6.2))
    assert travel_ruler(own).high_V == pytest.approx(5.0)

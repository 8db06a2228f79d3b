from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calib.checks.bench.unplug import WIRES, Travel, Wire, judge_pulled, judge_unplug, typed_pulled
from calib.store.documents.check import CheckDocument, PulledWire
from calib.store.documents.finding import Severity
from tests.hands import VOLT_RIG, make_rig

TRAVEL = Travel(1.1, 4.0, settle_s=0.5)
TIME_S = np.arange(500) / 100.0


def _pulled(wire: Wire, level_V: float) -> PulledWire:
    return judge_pulled(wire, TIME_S, np.full(500, level_V), TRAVEL)


def _judged(
    tmp_path: Path, pulled: list[PulledWire], travel: Travel | None = TRAVEL
) -> CheckDocument:
    return judge_unplug(make_rig(tmp_path), "throttle", travel, pulled, ())


def test_every_wire_outside_the_travel_and_the_display_too_passes(tmp_path: Path) -> None:
    """Low, high, low, and the controller's own word with the tap off."""
    pulled = [_pulled("signal", 0.02), _pulled("ground", 4.9), _pulled("supply", 0.1)]
    document = _judged(tmp_path, [*pulled, typed_pulled("signal", 0.0)])
    assert document.verdict is Severity.PASS
    assert [each.code for each in document.findings] == [
        "broken-wire-safe", "broken-wire-safe", "broken-wire-safe", "broken-wire-safe",
    ]  # fmt: skip


def test_without_the_controller_s_word_it_is_a_caution(tmp_path: Path) -> None:
    """A divider to ground hides a floating wire."""
    document = _judged(tmp_path, [_pulled(wire, 0.0) for wire in WIRES])
    assert document.verdict is Severity.CAUTION
    assert document.findings[0].code == "tap-on"


@pytest.mark.parametrize("level_V", [1.2, 2.5, 3.9])
def test_one_reading_inside_the_travel_fails(level_V: float, tmp_path: Path) -> None:
    """A single sample that stays inside would drive the machine."""
    volts = np.zeros(500)
    volts[300] = level_V
    pulled = [judge_pulled("signal", TIME_S, volts, TRAVEL)]
    assert pulled[0].inside == 1
    document = _judged(tmp_path, [*pulled, _pulled("ground", 4.9), _pulled("supply", 0.0)])
    assert document.verdict is Severity.FAIL
    assert document.findings[0].code == "broken-wire-drives"


def test_a_display_inside_the_travel_fails(tmp_path: Path) -> None:
    """The logger's pull-down hid it, the controller shows it."""
    pulled = [_pulled(wire, 0.0) for wire in WIRES]
    assert _judged(tmp_path, [*pulled, typed_pulled("signal", 2.1)]).verdict is Severity.FAIL


def test_a_wire_that_discharges_in_time_is_safe_and_timed() -> None:
    """From 2 V down within 0.2 s: told with that time."""
    volts = np.where(TIME_S < 0.2, 2.0, 0.0)
    found = judge_pulled("signal", TIME_S, volts, TRAVEL)
    assert found.inside == 0
    assert found.settle_s == pytest.approx(0.19)


def test_a_wire_that_never_leaves_the_travel_has_no_time() -> None:
    """Nothing is extrapolated."""
    assert _pulled("signal", 2.0).settle_s is None


def test_a_wire_that_was_not_pulled_is_unknown(tmp_path: Path) -> None:
    """Two of three prove nothing of the third."""
    document = _judged(tmp_path, [_pulled("signal", 0.0), _pulled("ground", 4.9)])
    assert document.verdict is Severity.UNKNOWN
    assert any("supply wire of throttle was not pulled" in f.text for f in document.findings)


def test_without_a_travel_nothing_can_lie_outside_it(tmp_path: Path) -> None:
    """Unknown, with the command to run first."""
    document = _judged(tmp_path, [], travel=None)
    assert document.verdict is Severity.UNKNOWN
    assert "calib travel throttle" in document.findings[0].action


@pytest.mark.parametrize(
    ("name", "words"),
    [("throttle", "drive the machine"), ("regen", "brake the machine"), ("lever", "work on the")],
)
def test_what_a_broken_wire_would_do_is_said_of_each_control(
    name: str, words: str, tmp_path: Path
) -> None:
    """A lever that brakes does not drive, and of one that nobody described nothing is made up."""
    rig = make_rig(tmp_path, VOLT_RIG.replace("throttle", name))
    document = judge_unplug(rig, name, TRAVEL, [_pulled("signal", 2.0)], ())
    assert words in document.findings[0].text

"""What is turned, rolled and shown at both sides of each limit, by exact rings and readings."""

from __future__ import annotations

import numpy as np
import pytest

from calib.checks.wheel.judgement import Display, Known, Tape, WheelRun, judge_wheel
from calib.measure.coverage import KNOWN_FACTOR
from calib.store.documents.finding import Severity
from tests.wheel_files import counts, hand, levels, ring, wheel_capture, wheel_rig


@pytest.mark.parametrize("true_kmh", [20.0, 25.0])
@pytest.mark.parametrize("shown_kmh", [24.0, 25.0, 26.5])
def test_a_display_is_off_by_its_share_of_what_is_true(true_kmh: float, shown_kmh: float) -> None:
    """In per cent, with both uncertainties beside it; a pass where they explain it."""
    display = Display("speed", shown_kmh, 0.1, true_kmh, 0.25)
    document = judge_wheel(WheelRun(display=display), wheel_rig(), ())
    found = next(each for each in document.findings if each.code == "speed-shown")
    off_pct = 100.0 * (shown_kmh / true_kmh - 1.0)
    half_pct = 100.0 * KNOWN_FACTOR * shown_kmh / true_kmh * np.hypot(
        0.1 / 12**0.5 / shown_kmh, 0.25 / true_kmh
    )  # fmt: skip
    assert found.value == pytest.approx(off_pct, abs=1e-9)
    assert found.limit == pytest.approx(half_pct, rel=0.02)
    assert (found.severity is Severity.PASS) == (abs(off_pct) <= half_pct)


def test_a_display_of_which_all_is_sure_may_be_right() -> None:
    """It shows what is true, without a step and without a doubt: off by nought is explained."""
    display = Display("speed", 25.0, true=25.0)
    document = judge_wheel(WheelRun(display=display), wheel_rig(), ())
    found = next(each for each in document.findings if each.code == "speed-shown")
    assert (found.severity, found.value, found.limit) == (Severity.PASS, 0.0, 0.0)


@pytest.mark.parametrize(
    ("mm", "code"),
    [(601.0, "circumference"), (598.0, "circumference-odd"), (2598.0, "circumference"),
     (2602.0, "circumference-odd")],
)  # fmt: skip
def test_a_circumference_is_odd_beyond_what_a_wheel_has(mm: float, code: str) -> None:
    """From 0.6 m to 2.6 m in a turn."""
    run = WheelRun(tape=Tape((mm / 100.0,), 10, seated=True))
    found = {each.code: each for each in judge_wheel(run, wheel_rig(), ()).findings}
    assert code in found
    if code == "circumference-odd":
        assert found[code].limit == (600.0 if mm < 600.0 else 2600.0)


@pytest.mark.parametrize(
    ("known", "code"),
    [
        (Known(), "nothing-true"),
        (Known(pulses_a_turn=6), "nothing-true"),
        (Known(mm=2000.0, u_mm=5.0), "nothing-true"),
        (Known(6, 2000.0), "nothing-true"),
        (Known(6, 2000.0, 5.0), "speed-shown"),
    ],
)
def test_what_is_set_says_what_is_shown_where_all_of_the_wheel_is_known(
    known: Known, code: str
) -> None:
    """Pulses a turn, circumference and what that is known to; and both settings."""
    run = WheelRun(display=Display(set_pulses=6, set_mm=2100.0), known=known)
    assert judge_wheel(run, wheel_rig(), ()).findings[0].code == code
    for half in (Display(set_pulses=6), Display(set_mm=2100.0)):
        found = judge_wheel(WheelRun(display=half, known=known), wheel_rig(), ()).findings
        assert found[0].code == "nothing-true"


def test_a_count_that_never_moved_is_no_pulse_and_no_fault_of_the_program() -> None:
    """It has no gap to time, and no turn."""
    capture = wheel_capture(np.arange(3000) / 1000.0, w=np.full(3000, 7.0))
    found = judge_wheel(WheelRun("wheel", capture, 10), wheel_rig("pulses"), ())
    assert "no-pulse" in {each.code for each in found.findings}
    assert found.turned is None


@pytest.mark.parametrize(("high", "told"), [(1.0, "level"), (2.0, None)])
def test_a_column_of_noughts_and_ones_is_a_level_that_the_rig_file_calls_a_count(
    high: float, told: str | None
) -> None:
    """Up to one: that is what a level sends."""
    _, turns = hand(10.0)
    capture = wheel_capture(np.arange(len(turns)) / 1000.0, w=high * levels(ring(6), turns))
    found = judge_wheel(WheelRun("wheel", capture, 10), wheel_rig("pulses"), ())
    actions = [each.action for each in found.findings if each.code == "unit"]
    assert any("wheel=level" in action for action in actions) is (told == "level")


@pytest.mark.parametrize(("rate_hz", "turns", "timed"), [(1000.0, 10, True), (20.0, 10, False)])
def test_the_gaps_of_a_count_are_seen_where_no_sample_brings_two_pulses(
    rate_hz: float, turns: int, timed: bool
) -> None:
    """And one sample in five brings one, at the most."""
    _, path = hand(float(turns), rate_hz=1000.0)
    every = round(1000.0 / rate_hz)
    column = counts(ring(8), path)[::every]
    capture = wheel_capture(np.arange(len(column)) / rate_hz, w=column)
    found = judge_wheel(WheelRun("wheel", capture, turns), wheel_rig("pulses"), ())
    assert found.turned is not None
    assert bool(found.turned.gaps_deg) is timed


@pytest.mark.parametrize(("ratio", "missed"), [(1.55, False), (1.7, True)])
def test_a_gap_of_more_than_one_and_six_tenths_is_a_missed_magnet(
    ratio: float, missed: bool
) -> None:
    """Five gaps alike, and one that is so many times as long."""
    gap = 1.0 / (5.0 + ratio)
    magnets = [(0.05 + gap * place, 0.3 * gap) for place in range(6)]
    time_s, turns = hand(10.0)
    capture = wheel_capture(time_s, w=levels(magnets, turns))
    found = judge_wheel(WheelRun("wheel", capture, 10), wheel_rig(), ())
    assert ("magnet-missed" in {each.code for each in found.findings}) is missed


def test_a_document_names_its_capture_where_there_was_one() -> None:
    """A tape alone was logged by nobody."""
    time_s, turns = hand(10.0)
    capture = wheel_capture(time_s, w=levels(ring(6), turns))
    assert judge_wheel(WheelRun("wheel", capture, 10), wheel_rig(), ()).capture is not None
    assert judge_wheel(WheelRun(tape=Tape((20.0,), 10)), wheel_rig(), ()).capture is None

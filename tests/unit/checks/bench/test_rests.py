"""Where a control rests: at home, at one of two levels, or anywhere in its play."""

from __future__ import annotations

import numpy as np
import pytest

from calib.checks.bench.control import rest_findings
from calib.checks.bench.hands import Ends, at_rest, read_hand
from calib.store.documents.finding import Finding, Severity
from tests.records import record_of
from tests.unit.checks.bench.evening import Floats, checked, flicker, presses, rig, told
from tests.unit.checks.bench.waves import flat, noise, ramp, signals_of_one, volts_signal

RATE_HZ = 100.0
FULL_V = 4.0


def _found(*rests_V: float) -> list[Finding]:
    """Presses from 1 V, each let go to another rest, 3 s long."""
    parts = [flat(1.0, 3.0, RATE_HZ)]
    last_V = 1.0
    for rest_V in rests_V:
        parts += [ramp(last_V, FULL_V, 0.5, RATE_HZ), flat(FULL_V, 1.0, RATE_HZ)]
        parts += [ramp(FULL_V, rest_V, 0.15, RATE_HZ), flat(rest_V, 3.0, RATE_HZ)]
        last_V = rest_V
    volts = np.concatenate(parts)
    signals = signals_of_one(volts_signal(volts + noise(len(volts), 0.003)), RATE_HZ)
    hand = read_hand(signals, signals.by_name["throttle"], None, None)
    return list(rest_findings(signals, hand, at_rest(signals, [hand])))


def test_a_control_that_comes_home_has_nothing_to_say() -> None:
    """Half a per cent of scatter is what springs do."""
    assert _found(1.0, 1.01, 0.995, 1.005) == []


def test_two_levels_are_told_with_their_distance() -> None:
    """Home or 0.3 V above it, by turns: 10 % of the span."""
    (finding,) = _found(1.3, 1.0, 1.3, 1.0)
    assert finding.code == "two-rests"
    assert finding.value is not None
    assert abs(finding.value - 10.0) < 1.0
    assert "1.000 V" in finding.text
    assert "1.3" in finding.text


def test_any_level_within_a_range_is_play() -> None:
    """Rests spread over 12 % of the span, none of them twice."""
    (finding,) = _found(1.09, 1.36, 1.18, 1.27, 1.05, 1.31)
    assert finding.code == "play"


def test_a_little_spread_is_scatter() -> None:
    """Three per cent of the span is a caution."""
    (finding,) = _found(1.09, 1.045, 1.02, 1.07, 1.03)
    assert finding.code == "rest-scatters"


@pytest.mark.parametrize(("full_V", "presses"), [(1.18, 0), (2.0, 3)])
def test_what_follows_its_neighbours_by_some_hundredths_was_not_worked(
    full_V: float, presses: int
) -> None:
    """Six hundredths of the span on record are cross-talk; a third of it is a weak control."""
    parts = [flat(1.0, 3.0, RATE_HZ)]
    for _ in range(3):
        parts += [ramp(1.0, full_V, 0.4, RATE_HZ), flat(full_V, 1.0, RATE_HZ)]
        parts += [ramp(full_V, 1.0, 0.15, RATE_HZ), flat(1.0, 2.0, RATE_HZ)]
    volts = np.concatenate(parts)
    signals = signals_of_one(volts_signal(volts + noise(len(volts), 0.003)), RATE_HZ)
    hand = read_hand(signals, signals.by_name["throttle"], None, Ends(1.0, 4.0))
    assert (len(hand.presses), hand.half) == (presses, 0)


def _moved(by_V: float, from_s: float, to_s: float) -> Floats:
    """What a hand adds between two times of 20 s; it takes 0.3 s each way."""
    corners_s = [from_s, from_s + 0.3, to_s - 0.3, to_s]
    return by_V * np.interp(np.arange(2000) / RATE_HZ, corners_s, [0.0, 1.0, 1.0, 0.0])


@pytest.mark.parametrize(("last_V", "half_V"), [(4.0, 1.0), (2.0, 1.0), (1.0, 2.0)])
def test_what_was_not_pressed_and_let_go_is_no_rest_either(last_V: float, half_V: float) -> None:
    """A hand on the control at the end, or half a press between: rest is 1 V, and so is quiet."""
    volts = presses(1.0, 4.0, (4.0, 8.0)) + _moved(half_V - 1.0, 11.0, 15.0)
    volts += _moved(last_V - 1.0, 18.0, 30.0)
    signals = signals_of_one(volts_signal(volts), RATE_HZ)
    hand = read_hand(signals, signals.by_name["throttle"], None, None)
    assert len(hand.presses) == 2
    assert hand.released == (last_V == 1.0)
    assert {float(each) for run in hand.rests for each in run.of(volts)} == {1.0}
    assert set(volts[at_rest(signals, [hand])].tolist()) == {1.0}


@pytest.mark.parametrize(("last_V", "ended_in_hand"), [(1.0, False), (1.7, False), (1.8, True)])
def test_a_control_that_is_off_its_rest_at_the_end_is_not_shown_to_come_back(
    last_V: float, ended_in_hand: bool
) -> None:
    """It may stick there. A quarter of the travel and less is a thumb, as for `travel`."""
    volts = presses(1.0, 4.0, (4.0, 8.0)) + _moved(last_V - 1.0, 18.0, 30.0)
    other = presses(1.0, 4.0, (13.0, 15.0)) + flicker(0.004)
    document = checked(rig(), a0=volts + flicker(0.004), a1=other)
    assert (told(document, "ended-in-hand", "throttle") is not None) == ended_in_hand
    assert told(document, "ended-in-hand", "regen") is None
    if ended_in_hand:
        assert document.verdict.value == "unknown"
        figures = document.channels["throttle"].figures
        assert figures is not None
        assert figures.rest is not None
        assert figures.rest.mean == pytest.approx(1.002, abs=1e-4)


@pytest.mark.parametrize(("away_s", "rest_V", "half"), [(9.0, 1.0, 1), (11.0, None, 0)])
def test_what_is_seldom_at_one_end_and_never_pressed_is_a_wire_that_wanders(
    away_s: float, rest_V: float | None, half: int
) -> None:
    """Half of the time at rest at least, or all of it counts: noise must still be seen there.

    A hand that is still on at the end made half a press; of a wire that is no press at all.
    """
    volts = presses(1.0, 4.0, ()) + _moved(1.5, 20.0 - away_s, 30.0)
    signals = signals_of_one(volts_signal(volts), RATE_HZ)
    hand = read_hand(signals, signals.by_name["throttle"], None, None)
    assert (hand.presses, hand.half) == ((), half)
    means = [float(run.of(volts).mean()) for run in hand.rests]
    assert means == [rest_V or pytest.approx(volts.mean(), abs=0.01)]
    assert bool(at_rest(signals, [hand]).all()) == (rest_V is None)


@pytest.mark.parametrize(
    ("held_s", "recorded", "code"),
    [
        (3.0, False, "which-end-is-rest"),
        (3.0, True, "which-end-is-rest"),
        (13.0, False, "reversed"),
        (13.0, True, "direction-changed"),
    ],
)
def test_a_capture_that_begins_in_the_hand_mistakes_every_end_for_the_other(
    held_s: float, recorded: bool, code: str
) -> None:
    """It is not called reversed where it stood longer at what looks like full travel."""
    other = presses(1.0, 4.0, (17.0, 18.5)) + flicker(0.004)
    before = checked(rig(), a0=presses(1.0, 4.0, (4.0, 8.0)) + flicker(0.004), a1=other)
    held = presses(1.0, 4.0, (15.0,)) + _moved(3.0, -1.0, held_s) + flicker(0.004)
    document = checked(rig(), a0=held, a1=other, earlier=record_of(before) if recorded else None)
    throttle = [each for each in document.findings if each.channel == "throttle"]
    assert code in [each.code for each in throttle]
    if code == "which-end-is-rest":
        assert [each.severity for each in throttle] == [Severity.UNKNOWN]

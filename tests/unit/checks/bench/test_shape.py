from __future__ import annotations

import numpy as np
import pytest

from calib.checks.bench.hands import Ends, Hand, read_hand
from calib.checks.bench.shape import (
    Spot,
    largest_reversal,
    return_findings,
    returns,
    reversals,
    spot_findings,
)
from calib.checks.bench.signals import Signals
from calib.store.documents.finding import Severity
from tests.unit.checks.bench.waves import Floats, flat, noise, ramp, signals_of_one, volts_signal

REST_V, FULL_V = 1.0, 4.0
ENDS = Ends(REST_V, FULL_V)


def _worked(*ways: Floats, rate_hz: float) -> tuple[Signals, Hand]:
    """One press for each way back, with a second of hold and two of rest."""
    parts = [flat(REST_V, 3.0, rate_hz)]
    for way in ways:
        parts += [ramp(REST_V, FULL_V, 0.8, rate_hz), flat(FULL_V, 1.2, rate_hz), way]
        parts += [flat(REST_V, 2.5, rate_hz)]
    volts = np.concatenate(parts)
    signals = signals_of_one(volts_signal(volts + noise(len(volts), 0.001)), rate_hz)
    return signals, read_hand(signals, signals.by_name["throttle"], None, None)


@pytest.mark.parametrize("rate_hz", [1000.0, 100.0, 50.0])
@pytest.mark.parametrize("return_s", [0.15, 0.5, 1.5])
def test_a_straight_return_is_timed(rate_hz: float, return_s: float) -> None:
    """A straight way back takes its own time less the bands of 3 and 5 % at its ends."""
    way = ramp(FULL_V, REST_V, return_s, rate_hz)
    signals, hand = _worked(way, way, rate_hz=rate_hz)
    found = returns(signals, hand, ENDS)
    assert len(found) == 2
    for each in found:
        assert each.time_s == pytest.approx(0.92 * return_s, abs=0.03 + 1.0 / rate_hz)


def test_return_limits_say_caution_then_fail() -> None:
    """0.2 s passes, 0.6 s is a caution above 0.3 s, 2 s fails above 1 s."""
    verdicts = {}
    for return_s in (0.2, 0.6, 2.0):
        way = ramp(FULL_V, REST_V, return_s, 200.0)
        signals, hand = _worked(way, rate_hz=200.0)
        verdicts[return_s] = next(return_findings(hand, returns(signals, hand, ENDS)), None)
    assert verdicts[0.2] is None
    slow, failed = verdicts[0.6], verdicts[2.0]
    assert slow is not None
    assert failed is not None
    assert (slow.severity, slow.limit) == (Severity.CAUTION, 0.3)
    assert (failed.severity, failed.limit) == (Severity.FAIL, 1.0)


def test_the_slowest_return_counts() -> None:
    """One of three releases that is slow is enough."""
    quick, slow = ramp(FULL_V, REST_V, 0.15, 200.0), ramp(FULL_V, REST_V, 0.8, 200.0)
    signals, hand = _worked(quick, slow, quick, rate_hz=200.0)
    finding = next(return_findings(hand, returns(signals, hand, ENDS)), None)
    assert finding is not None
    assert finding.value == pytest.approx(0.7, abs=0.05)


def test_a_press_that_begins_slowly_belongs_to_no_return() -> None:
    """Where noise hides that it has left rest, its beginning is not a control that hangs."""
    rate_hz = 50.0
    parts = [flat(REST_V, 3.0, rate_hz)]
    for _ in range(3):
        parts += [
            ramp(REST_V, REST_V + 0.3, 2.5, rate_hz),
            ramp(REST_V + 0.3, FULL_V, 1.0, rate_hz),
        ]
        parts += [flat(FULL_V, 1.2, rate_hz), ramp(FULL_V, REST_V, 0.15, rate_hz)]
        parts += [flat(REST_V, 0.8, rate_hz)]
    volts = np.concatenate(parts)
    signals = signals_of_one(volts_signal(volts + noise(len(volts), 0.012)), rate_hz)
    hand = read_hand(signals, signals.by_name["throttle"], None, None)
    found = returns(signals, hand, ENDS)
    assert len(found) == 3
    assert max(each.time_s for each in found) < 0.3


@pytest.mark.parametrize("hang_share", [0.1, 0.4])
def test_hanging_part_open_is_called_sticking(hang_share: float) -> None:
    """A control that stands still on the way back sticks, wherever it does."""
    hang_V = REST_V + hang_share * (FULL_V - REST_V)
    way = np.concatenate(
        [
            ramp(FULL_V, hang_V, 0.1, 200.0),
            flat(hang_V, 1.2, 200.0),
            ramp(hang_V, REST_V, 0.1, 200.0),
        ]
    )
    signals, hand = _worked(way, rate_hz=200.0)
    finding = next(return_findings(hand, returns(signals, hand, ENDS)), None)
    assert finding is not None
    assert finding.code == "sticks"
    assert f"at {100 * hang_share:.0f} %" in finding.text


def test_the_largest_fall_on_the_way_in_is_found() -> None:
    """Up to 0.5, back to 0.3, on to 1: it fell by 0.2 at 0.5."""
    share = np.concatenate(
        [np.linspace(0, 0.5, 50), np.linspace(0.5, 0.3, 10), np.linspace(0.3, 1, 70)]
    )
    found = largest_reversal(share)
    assert found.size == pytest.approx(0.2)
    assert found.at == pytest.approx(0.5)
    assert largest_reversal(np.linspace(0, 1, 100)).size == 0.0


def test_a_worn_spot_is_seen_in_each_press_and_at_its_place() -> None:
    """A dent of 20 % of the span at 60 % of the travel is found there in both presses."""
    rate_hz = 100.0
    share = np.linspace(0.0, 1.0, 150)
    worn = share - 0.2 * np.exp(-0.5 * ((share - 0.6) / 0.03) ** 2)
    press = np.concatenate(
        [
            REST_V + 3.0 * worn,
            flat(FULL_V, 1.0, rate_hz),
            ramp(FULL_V, REST_V, 0.15, rate_hz),
            flat(REST_V, 2.0, rate_hz),
        ]
    )
    volts = np.concatenate([flat(REST_V, 3.0, rate_hz), press, press])
    signals = signals_of_one(volts_signal(volts + noise(len(volts), 0.002)), rate_hz)
    hand = read_hand(signals, signals.by_name["throttle"], None, None)
    found = reversals(signals, hand, ENDS)
    finding = next(spot_findings(hand, found, []), None)
    assert finding is not None
    assert finding.severity is Severity.FAIL
    # highest before the dent less lowest in it, from the formula: 0.517 less 0.398
    assert finding.value == pytest.approx(11.9, abs=1.0)
    assert "in 2 of 2 presses" in finding.text
    assert found[0].at == pytest.approx(0.517, abs=0.03)


def test_a_waver_seen_once_is_only_a_caution() -> None:
    """One small fall in one of three presses may have been the hand."""
    way = ramp(FULL_V, REST_V, 0.15, 100.0)
    _, hand = _worked(way, rate_hz=100.0)
    finding = next(spot_findings(hand, [Spot(0.07, 0.4), Spot(0.0, 0.0), Spot(0.0, 0.0)], []), None)
    assert finding is not None
    assert finding.severity is Severity.CAUTION
    assert not list(spot_findings(hand, [Spot(0.03, 0.4)], []))


@pytest.mark.parametrize("rest_s", [0.35, 0.6, 1.2, 3.0])
@pytest.mark.parametrize("sd_V", [0.002, 0.05])
def test_a_rest_of_a_third_of_a_second_is_enough(rest_s: float, sd_V: float) -> None:
    """A control worked soon after the start is no dead one: what stood still before is its rest."""
    parts = [flat(1.0, rest_s, 100.0)]
    for _ in range(3):
        parts += [ramp(1.0, 4.0, 0.3, 100.0), flat(4.0, 0.8, 100.0), ramp(4.0, 1.0, 0.2, 100.0)]
        parts += [flat(1.0, 0.8, 100.0)]
    volts = np.concatenate(parts)
    volts = volts + noise(len(volts), sd_V)
    signals = signals_of_one(volts_signal(volts), 100.0)
    hand = read_hand(signals, signals.by_name["throttle"], None, None)
    assert len(hand.presses) == 3
    assert hand.head_V == pytest.approx(1.0, abs=0.03)
    assert hand.head_sd_V == pytest.approx(sd_V, rel=0.4)

"""Where a control rests: at home, at one of two levels, or anywhere in its play."""

from __future__ import annotations

import numpy as np
import pytest

from calib.checks.bench.control import rest_findings
from calib.checks.bench.hands import Ends, at_rest, read_hand
from calib.store.documents.finding import Finding
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

from __future__ import annotations

import numpy as np
import pytest

from calib.checks.bench.crossing import track_findings
from calib.checks.bench.hands import Ends, read_hand
from calib.store.documents.finding import Finding
from tests.unit.checks.bench.waves import Floats, flat, noise, ramp, signals_of_all, volts_signal

RATE_HZ = 100.0
ENDS = {"a": Ends(1.0, 4.0), "b": Ends(0.5, 2.0)}


def _swept() -> Floats:
    once = [ramp(0.0, 1.0, 1.0, RATE_HZ), flat(1.0, 1.0, RATE_HZ), ramp(1.0, 0.0, 0.3, RATE_HZ)]
    return np.concatenate([flat(0.0, 3.0, RATE_HZ), *once, flat(0.0, 2.0, RATE_HZ)])


def _found(second_share: Floats) -> Finding | None:
    share = _swept()
    first = volts_signal(1.0 + 3.0 * share + noise(len(share), 0.002, 1), "a")
    second = volts_signal(0.5 + 1.5 * second_share + noise(len(share), 0.002, 2), "b")
    signals = signals_of_all([first, second], RATE_HZ)
    hands = [read_hand(signals, each, None, None) for each in (first, second)]
    return next(track_findings(signals, hands[0], hands[1], ENDS), None)


def test_two_tracks_of_half_the_volts_agree() -> None:
    """They are compared in per cent of their own travel."""
    finding = _found(_swept())
    assert finding is not None
    assert finding.code == "tracks-agree"


@pytest.mark.parametrize(("wrong_s", "told"), [(0.05, False), (0.3, True)])
def test_a_disagreement_must_last(wrong_s: float, told: bool) -> None:
    """20 % for 50 ms is a moment, for 300 ms a failing track."""
    share = _swept()
    first = round(4.5 * RATE_HZ)
    share[first : first + round(wrong_s * RATE_HZ)] -= 0.2
    finding = _found(share)
    assert finding is not None
    assert finding.code == ("tracks-disagree" if told else "tracks-agree")
    assert finding.value == pytest.approx(20.0, abs=1.0)


def test_a_track_without_its_ends_is_not_judged() -> None:
    """What was not worked has no travel to compare in."""
    signal = volts_signal(flat(1.0, 5.0, RATE_HZ), "c")
    signals = signals_of_all([signal], RATE_HZ)
    hand = read_hand(signals, signal, None, None)
    assert not list(track_findings(signals, hand, hand, ENDS))

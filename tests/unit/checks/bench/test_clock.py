from __future__ import annotations

import numpy as np
import pytest

from calib.checks.bench.judgement import clock_findings
from calib.store.documents.finding import Finding
from tests.unit.checks.bench.waves import Floats

STEADY_S = np.arange(1000) / 100.0


def _told(time_s: Floats, arrival_s: Floats) -> list[Finding]:
    return list(clock_findings(time_s, arrival_s, missed_pct=0.1, jump_s=0.05))


def test_a_steady_clock_gives_no_finding() -> None:
    """Nothing missed, nothing jumped, nothing said."""
    assert _told(STEADY_S, STEADY_S) == []


def test_missed_samples_are_counted_and_timed() -> None:
    """Ten lines lost in one place and one in another are eleven, the longest 0.11 s."""
    kept = np.ones(1000, dtype=bool)
    kept[100:110] = False
    kept[500] = False
    (finding,) = _told(STEADY_S[kept], STEADY_S[kept])
    assert "11 of 1000 samples" in finding.text
    assert "0.11 s" in finding.text
    assert finding.code == "samples-missed"
    assert finding.value == pytest.approx(100 * 11 / 1000)


def test_a_clock_that_leaps_ahead_of_the_host_is_a_jump_and_no_gap() -> None:
    """The host saw no time pass: nothing was missed, the clock is wrong."""
    time_s = STEADY_S.copy()
    time_s[400:] += 10.0
    (finding,) = _told(time_s, STEADY_S)
    assert finding.value == pytest.approx(10.0)
    assert finding.code == "clock-jumps"


def test_bursts_of_a_usb_line_are_no_jump() -> None:
    """Forty lines that arrive at once do not make a jump of the device's clock."""
    arrival_s = np.repeat(STEADY_S[39::40], 40)
    assert _told(STEADY_S, arrival_s) == []


def test_too_few_samples_say_nothing() -> None:
    """Two samples have one step and no usual one."""
    assert _told(STEADY_S[:2], STEADY_S[:2]) == []

from __future__ import annotations

import numpy as np
import pytest

from calib.checks.bench.whole import ClockFigures, clock_figures, clock_findings
from calib.store.documents.finding import Finding

STEADY_S = np.arange(1000) / 100.0


def _told(figures: ClockFigures) -> list[Finding]:
    return list(clock_findings(figures, missed_pct=0.1, jump_s=0.05))


def test_a_steady_clock_gives_no_finding() -> None:
    """Nothing missed, nothing jumped, nothing said."""
    assert (
        list(clock_findings(clock_figures(STEADY_S, STEADY_S, 0.05), missed_pct=0.1, jump_s=0.05))
        == []
    )


def test_missed_samples_are_counted_and_timed() -> None:
    """Ten lines lost in one place and one in another are eleven, the longest 0.11 s."""
    kept = np.ones(1000, dtype=bool)
    kept[100:110] = False
    kept[500] = False
    figures = clock_figures(STEADY_S[kept], STEADY_S[kept], 0.05)
    assert figures.missed == 11
    assert figures.longest_s == pytest.approx(0.11)
    (finding,) = _told(figures)
    assert finding.code == "samples-missed"
    assert finding.value == pytest.approx(100 * 11 / 1000)


def test_a_clock_that_leaps_ahead_of_the_host_is_a_jump_and_no_gap() -> None:
    """The host saw no time pass: nothing was missed, the clock is wrong."""
    time_s = STEADY_S.copy()
    time_s[400:] += 10.0
    figures = clock_figures(time_s, STEADY_S, 0.05)
    assert figures.missed == 0
    assert len(figures.jumps_s) == 1
    assert figures.jumps_s[0] == pytest.approx(10.0)
    (finding,) = _told(figures)
    assert finding.code == "clock-jumps"


def test_bursts_of_a_usb_line_are_no_jump() -> None:
    """Forty lines that arrive at once do not make a jump of the device's clock."""
    arrival_s = np.repeat(STEADY_S[39::40], 40)
    assert (
        list(clock_findings(clock_figures(STEADY_S, arrival_s, 0.05), missed_pct=0.1, jump_s=0.05))
        == []
    )


def test_too_few_samples_say_nothing() -> None:
    """Two samples have one step and no usual one."""
    figures = clock_figures(STEADY_S[:2], STEADY_S[:2], 0.05)
    assert figures.missed == 0

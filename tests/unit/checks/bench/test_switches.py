from __future__ import annotations

import numpy as np
import pytest

from calib.checks.bench.signals import Signals
from calib.checks.bench.switches import SwitchFigures, switch_figures, switch_findings
from calib.store.rig import Channel
from tests.unit.checks.bench.waves import Floats, flat, signals_of_one, volts_signal

BRAKE = Channel(role="switch", column="a3", unit="V", active="low", threshold_V=2.5)
RATE_HZ = 1000.0


def _seen(volts: Floats, rate_hz: float = RATE_HZ) -> tuple[Signals, SwitchFigures]:
    signals = signals_of_one(volts_signal(volts, "brake", channel=BRAKE), rate_hz)
    return signals, switch_figures(signals, signals.by_name["brake"])


def _pulled(*bounces_ms: int) -> Floats:
    """Off, on for a second, off, with chatter of so many milliseconds at each change."""
    on_bounce, off_bounce = bounces_ms
    off, on = flat(5.0, 1.0, RATE_HZ), flat(0.0, 1.0, RATE_HZ)
    on[1:on_bounce:2] = 5.0
    last = flat(5.0, 1.0, RATE_HZ)
    last[1:off_bounce:2] = 0.0
    return np.concatenate([off, on, last])


def _codes(volts: Floats, *, asked: bool = True, then_on: bool | None = False) -> list[str]:
    signals, figures = _seen(volts)
    found = switch_findings(signals.by_name["brake"], figures, asked=asked, then_on=then_on)
    return [finding.code for finding in found]


def test_a_clean_throw_is_counted_once_each_way() -> None:
    """On at 1 s, off at 2 s, one change each."""
    _, figures = _seen(_pulled(0, 0))
    assert [(throw.at_s, throw.changes, throw.on) for throw in figures.throws] == [
        (1.0, 1, True),
        (2.0, 1, False),
    ]
    assert figures.on_from_to_s == [(1.0, 2.0)]
    assert _codes(_pulled(0, 0)) == []


def test_chatter_is_timed_and_belongs_to_its_throw() -> None:
    """Twelve milliseconds of chatter is one throw with its changes, and a caution above 5 ms."""
    signals, figures = _seen(_pulled(12, 0))
    assert len(figures.throws) == 2
    assert figures.throws[0].chatter_s == pytest.approx(0.012, abs=0.002)
    (finding,) = switch_findings(signals.by_name["brake"], figures, asked=True, then_on=False)
    assert finding.code == "switch-bounces"
    assert finding.value == pytest.approx(12.0, abs=2.0)


def test_short_chatter_is_usual() -> None:
    """Three milliseconds are what sound contacts do."""
    assert _codes(_pulled(4, 4)) == []


@pytest.mark.parametrize("level_V", [0.0, 5.0])
def test_a_switch_that_never_changes_fails_where_it_was_asked_for(level_V: float) -> None:
    """Stuck on and stuck off are the same finding with another cause."""
    assert _codes(flat(level_V, 3.0, RATE_HZ)) == ["switch-never-changed"]
    assert _codes(flat(level_V, 3.0, RATE_HZ), asked=False) == ["switch-not-worked"]


def test_a_switch_that_rests_on_is_inverted() -> None:
    """On at rest and off when worked is the wrong way round."""
    assert _codes(5.0 - _pulled(0, 0)) == ["switch-inverted"]


def test_a_switch_that_rested_on_in_the_record_may_do_so() -> None:
    """Where the last good check had it so, it is the way that it is built."""
    assert _codes(5.0 - _pulled(0, 0), then_on=True) == []

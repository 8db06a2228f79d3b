"""All numbers changed at once: columns, codes, unit; told by one explanation that fits all."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from calib.checks.bench.signals import Signal, Signals, copied_rows
from calib.checks.bench.truth import renumbered_findings
from calib.store.documents.check import CheckFigures, CheckLevel
from calib.store.rig import Channel
from tests.unit.checks.bench.waves import Floats, noise

THEN_MV = {"a": 850.0, "b": 4100.0, "c": 2500.0, "d": 1300.0, "e": 600.0}


def _signals(sent: Callable[[int], float]) -> Signals:
    """Channels in millivolts; what each place sends now."""
    by_name = {}
    for place, name in enumerate(THEN_MV):
        channel = Channel(role="other", column=place, unit="mV")
        raw: Floats = sent(place) + noise(500, 0.0005 * sent(place), place)
        by_name[name] = Signal(
            name=name, channel=channel, unit="V", values=raw / 1000.0, raw=raw, step=0.0,
            last_code=None, place=place,
        )  # fmt: skip
    time_s = np.arange(500) / 100.0
    return Signals(time_s=time_s, arrival_s=time_s, rate_hz=100.0, by_name=by_name)


def _then() -> dict[str, CheckFigures]:
    level = {
        name: CheckLevel(mean=value / 1000.0, sd=0.0, u=0.001, stays=1)
        for name, value in THEN_MV.items()
    }
    return {name: CheckFigures(unit="V", rest=each) for name, each in level.items()}


def _codes(sent: Callable[[int], float]) -> list[str]:
    return [each.code for each in renumbered_findings(_signals(sent), _then())]


VALUES = list(THEN_MV.values())


def test_numbers_as_on_record_say_nothing() -> None:
    """Nor do rests that moved by two per cent."""
    assert _codes(lambda place: VALUES[place]) == []
    assert _codes(lambda place: 1.02 * VALUES[place]) == []


def test_volts_for_millivolts_are_a_changed_unit() -> None:
    """A thousandth of each number."""
    (finding,) = renumbered_findings(_signals(lambda place: VALUES[place] / 1000.0), _then())
    assert finding.code == "unit-changed"
    assert finding.value == pytest.approx(0.001)
    assert _codes(lambda place: VALUES[place] * 1000.0) == ["unit-changed"]


@pytest.mark.parametrize("by", [-2, -1, 1, 2])
def test_columns_that_moved_are_told_with_how_far(by: int) -> None:
    """Each place sends what its neighbour sent; those at the edge send something else."""

    def sent(place: int) -> float:
        return VALUES[place + by] if 0 <= place + by < len(VALUES) else 3300.0

    (finding,) = renumbered_findings(_signals(sent), _then())
    assert finding.code == "columns-shifted"
    assert finding.value == by


def test_shifted_codes_are_told() -> None:
    """A quarter of each number: two bits."""
    (finding,) = renumbered_findings(_signals(lambda place: VALUES[place] / 4.0), _then())
    assert finding.code == "codes-shifted"
    assert "2 bits" in finding.text


def test_one_channel_that_moved_is_no_change_of_program() -> None:
    """One sensor that reads three times as much is that sensor's own affair."""
    assert _codes(lambda place: VALUES[place] * (3.0 if place == 0 else 1.0)) == []


def test_lines_sent_twice_are_counted_and_left_out() -> None:
    """Every tenth line comes twice, with its time."""
    rng = np.random.default_rng(5)
    order = np.sort(np.concatenate([np.arange(1000), np.arange(0, 1000, 10)]))
    columns = [rng.normal(size=1000)[order] for _ in range(3)]
    flags, share = copied_rows(columns, (np.arange(1000) / 100.0)[order])
    assert int(flags.sum()) == 100
    assert share == pytest.approx(0.1, abs=0.02)


def test_measurements_sent_twice_are_told_from_quiet_ones() -> None:
    """Each value twice is a copy; a reading that seldom changes is merely quiet."""
    rng = np.random.default_rng(6)
    time_s = np.arange(2000) / 100.0
    twice = [np.repeat(rng.normal(size=1000), 2) for _ in range(2)]
    flags, share = copied_rows(twice, time_s)
    assert share == pytest.approx(0.5, abs=0.05)
    assert int((~flags).sum()) == 1000
    quiet = [np.floor(200.45 + 0.1 * rng.normal(size=2000))]
    flags, share = copied_rows(quiet, time_s)
    assert not flags.any()
    assert share == 0.0

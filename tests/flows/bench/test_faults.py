from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.errors import UsageError
from calib.mule import faults, hands
from calib.mule.bench import CONTROLS, Bench, draw_bench
from calib.mule.sampler import COLUMN_OF, Sampler
from calib.mule.stage import Stage

SECONDS = 110


def _worked(bench: Bench) -> NDArray[np.float64]:
    """Counts against time of a bench that is checked, posed and pushed; time is column 0."""
    stage = Stage(bench)
    hands.bench_check(stage)
    hands.tilt_poses(stage)
    hands.surge(stage)
    got = Sampler(stage).block(int(SECONDS * bench.logger.rate_hz))
    return np.column_stack([got.t_ms, got.counts]).astype(np.float64)


SOUND = _worked(draw_bench(21))


def _unlike(kind: str, severity: int, target: str | None = None) -> float:
    """How far a fault takes the readings from the sound ones: root mean square over all."""
    got = _worked(faults.planted(kind, severity, target).on(draw_bench(21)))
    if len(got) != len(SOUND):
        return float(abs(len(got) - len(SOUND)))
    return float(np.sqrt(np.mean((got - SOUND) ** 2)))


def test_there_are_enough_kinds() -> None:
    """The bench check's issue asks for at least 24 kinds."""
    assert len(faults.KINDS) >= 40


@pytest.mark.parametrize("kind", faults.KINDS)
def test_plain_fault_shows_more_than_a_subtle_one(kind: str) -> None:
    """Every kind changes what the logger sends, at its plainest by more than at its subtlest."""
    plain, subtle = _unlike(kind, 1), _unlike(kind, 5)
    assert plain > 0.0
    if faults.KINDS[kind].graded:
        assert plain > subtle
    else:
        assert plain == subtle


@pytest.mark.parametrize("kind", [k for k, f in faults.KINDS.items() if f.targets == CONTROLS])
def test_fault_of_one_control_can_strike_the_other(kind: str) -> None:
    """A fault of the lever changes the lever's readings."""
    got = _worked(faults.planted(kind, 1, "regen").on(draw_bench(21)))
    column = 1 + COLUMN_OF["regen"]
    assert np.abs(got[:, column] - SOUND[:, column]).max() > 15


def test_lost_ground_reads_full_travel_with_the_hand_off() -> None:
    """The dangerous one: at rest the throttle reads near the supply."""
    got = _worked(faults.planted("ground-lost").on(draw_bench(21)))
    assert got[:500, 1 + COLUMN_OF["throttle"]].min() > 950


def test_parsing_takes_a_kind_with_and_without_severity() -> None:
    """KIND is its plainest; KIND:4 is the fourth of five."""
    assert faults.parse("ground-lost") == faults.Planted("ground-lost", 1, "throttle")
    assert faults.parse("ground-lost:4").severity == 4


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("gremlins", "no fault named 'gremlins'.*ground-lost"),
        ("ground-lost:6", "'6'.*1 to 5"),
        ("ground-lost:", "''.*1 to 5"),
        ("ground-lost:٣", "1 to 5"),
    ],
)
def test_unknown_kind_or_severity_is_wrong_use(text: str, match: str) -> None:
    """The error lists what there is."""
    with pytest.raises(UsageError, match=match):
        faults.parse(text)


def test_fault_cannot_strike_what_it_has_no_part_in() -> None:
    """A rail fault on the brake is refused."""
    with pytest.raises(UsageError, match="cannot strike 'brake'"):
        faults.planted("rail-low", 1, "brake")

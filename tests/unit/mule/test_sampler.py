from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calib.mule import faults, hands
from calib.mule.bench import KINDS, draw_bench
from calib.mule.sampler import COLUMN_OF, Sampler
from calib.mule.stage import Stage


def _pressed(seed: int = 3, kind: str = "ordinary") -> Stage:
    stage = Stage(draw_bench(seed, kind))
    hands.presses(stage, "throttle", 2)
    return stage


@settings(max_examples=15, deadline=None)
@given(st.lists(st.integers(1, 120), min_size=1, max_size=6))
def test_any_split_into_blocks_gives_the_same_counts(sizes: list[int]) -> None:
    """The device's small blocks and the campaign's one block are the same signal."""
    whole = Sampler(_pressed()).block(sum(sizes))
    parts = Sampler(_pressed())
    blocks = [parts.block(size) for size in sizes]
    assert np.array_equal(whole.counts, np.concatenate([b.counts for b in blocks]))
    assert np.array_equal(whole.t_ms, np.concatenate([b.t_ms for b in blocks]))


@pytest.mark.parametrize("kind", KINDS)
def test_same_seed_same_counts_other_seed_others(kind: str) -> None:
    """A bench is drawn by its seed alone."""
    first = Sampler(_pressed(3, kind)).block(300).counts
    again = Sampler(_pressed(3, kind)).block(300).counts
    other = Sampler(_pressed(4, kind)).block(300).counts
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_a_press_spans_the_travel_that_the_sensor_has() -> None:
    """Rest and full read what share of the rail the sensor gives there."""
    stage = _pressed()
    hall = stage.bench.throttle.hall
    counts = Sampler(stage).block(round(100 * stage.cursor_s)).counts[:, COLUMN_OF["throttle"]]
    converter = stage.bench.logger.converter
    ends_v = hall.share(np.array([0.0, 1.0])) * stage.bench.rail.volts
    rest, full = ends_v * converter.codes / converter.reference_v
    assert np.median(counts[:200]) == pytest.approx(rest, abs=5)
    assert np.percentile(counts, 97) == pytest.approx(full, abs=6)


def test_rest_differs_a_little_after_each_release() -> None:
    """Two plateaus of rest differ by the spring, far less than the travel."""
    bench = draw_bench(5, "quiet")
    stage = Stage(bench)
    levels = []
    sampler = Sampler(stage)
    for _ in range(8):
        stage.press("throttle", hold_s=0.5)
        sampler.block(round(1000 * (stage.cursor_s - sampler.now_s)) + 300)
        stage.not_before(sampler.now_s)
        stage.wait(0.5)
        levels.append(sampler.block(500).counts[:, COLUMN_OF["throttle"]].mean())
    assert 1.0 < np.std(levels) < 25.0


def test_missed_lines_leave_holes_in_the_time() -> None:
    """Lost lines are missing, in runs, and about as many as the logger loses."""
    bench = draw_bench(2)
    bench = replace(bench, logger=replace(bench.logger, missed_share=0.1, missed_run=2))
    got = Sampler(Stage(bench)).block(5000)
    assert len(got.t_ms) == pytest.approx(4500, abs=120)
    assert set(np.unique(np.diff(got.t_ms))) >= {10, 30}


def test_switch_pulls_its_pin_to_ground_while_the_brake_is_held() -> None:
    """Off is the pull-up's code, on next to nothing."""
    stage = Stage(draw_bench(1))
    stage.wait(1.0)
    stage.pull_brake(1.0)
    brake = Sampler(stage).block(300).counts[:, COLUMN_OF["brake"]]
    assert brake[:99].min() > 1000
    assert brake[105:195].max() < 15
    assert brake[205:].min() > 1000


def test_raised_front_raises_pitch_by_block_over_wheelbase() -> None:
    """Pitch rises by asin(block / wheelbase), as the sensor scales it."""
    stage = Stage(draw_bench(8, "quiet"))
    stage.raise_axle(100.0)
    stage.wait(8.0)
    pitch = Sampler(stage).block(10_000).counts[:, COLUMN_OF["pitch"]]
    bench = stage.bench
    per_deg = bench.pitch.v_per_deg * 4096 / bench.logger.converter.reference_v
    moved_deg = (pitch[8000:].mean() - pitch[:20].mean()) / per_deg
    expected_deg = np.degrees(np.arcsin(100.0 / bench.garage.wheelbase_mm)) * bench.pitch.gain
    assert moved_deg == pytest.approx(expected_deg, abs=0.15)


def test_pulled_wires_read_the_pull_then_the_supply_then_as_before() -> None:
    """Signal out reads the input's pull, ground out the supply; put back, it reads as before."""
    stage = Stage(draw_bench(1))
    stage.wait(1.0)
    stage.pull_wire("regen", "signal")
    stage.pull_wire("regen", "ground")
    stage.plug_in("regen")
    regen = Sampler(stage).block(1300).counts[:, COLUMN_OF["regen"]]
    assert regen[:190].min() > 150
    assert regen[210:590].max() < 40
    assert regen[710:1090].min() > 950
    assert np.abs(regen[1110:] - regen[50]).max() < 20


def test_rewired_bench_goes_on_with_its_fault() -> None:
    """After a rewire the same bench reads as its fault makes it."""
    stage = Stage(draw_bench(1))
    sampler = Sampler(stage)
    before = sampler.block(200).counts[:, COLUMN_OF["throttle"]]
    stage.not_before(sampler.now_s)
    stage.rewire(faults.planted("ground-lost").on(stage.bench))
    after = sampler.block(200).counts[:, COLUMN_OF["throttle"]]
    assert before.max() < 300
    assert after.min() > 950


def test_held_control_reads_what_a_meter_on_its_wire_shows() -> None:
    """The logger's volts at a held control are those of the wire, but for its own scale."""
    stage = Stage(draw_bench(6, "quiet"))
    stage.hold("throttle", 0.5, 3.0)
    got = Sampler(stage).block(3500).counts[1000:, COLUMN_OF["throttle"]].mean()
    converter = stage.bench.logger.converter
    volts = (got + 0.5 - converter.skew_codes) * converter.reference_v / converter.codes
    assert volts == pytest.approx(stage.wire_v("throttle"), abs=0.003)
    stage.hands_off()
    assert stage.controls["throttle"].last < 0.02

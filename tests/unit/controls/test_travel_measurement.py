from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from calib.controls.presses import count_presses
from calib.controls.travel import LevelMeasurement, TravelMeasurement, measure_travel
from calib.measure.spread import level_spread
from calib.measure.tolerance import tolerance_limits
from tests.bench.hands import Hand, Worked, work


def worked(seed: int = 1, **changed: object) -> Worked:
    """A synthetic capture of a plain hand, some of its habits changed."""
    return work(Hand(**changed), np.random.default_rng(seed))  # type: ignore[arg-type]


def test_five_presses_are_measured() -> None:
    """Five presses give six rest and five full plateaus with their limits around them."""
    capture = worked()
    result = measure_travel(capture.time_s, capture.volts, lsb_V=0.005)
    assert result.hand.count == 5
    assert (result.hand.half, result.hand.unheld, result.glitches, result.dropouts) == (0, 0, 0, 0)
    assert result.hand.worked
    assert result.hand.released
    assert not result.hand.reversed
    assert result.rest is not None
    assert result.full is not None
    assert (result.rest.spread.plateaus, result.full.spread.plateaus) == (6, 5)
    assert result.rest.mean == pytest.approx(1.1, abs=0.005)
    assert result.full.mean == pytest.approx(3.7, abs=0.005)
    for level in (result.rest, result.full):
        assert level.limits.low < level.mean < level.limits.high
        assert 0 < level.spread.n_effective <= level.spread.samples
    assert result.span_V == pytest.approx(2.6, abs=0.01)


def test_reversed_control() -> None:
    """A control that rests high is told by where the capture begins."""
    capture = worked(rest_V=4.1, full_V=0.9)
    result = measure_travel(capture.time_s, capture.volts)
    assert result.hand.reversed
    assert result.hand.count == 5
    assert result.rest is not None
    assert result.rest.mean == pytest.approx(4.1, abs=0.01)


def test_never_worked() -> None:
    """A control that only hums was never worked; nothing is guessed of full travel."""
    rng = np.random.default_rng(2)
    result = measure_travel(np.arange(2000) / 200.0, 0.8 + 0.003 * rng.normal(size=2000))
    assert not result.hand.worked
    assert result.hand.count == 0
    assert result.full is None
    assert result.rest is not None
    assert result.rest.mean == pytest.approx(0.8, abs=0.001)


def test_never_released() -> None:
    """A control pressed and kept pressed was worked, not released, and has no press."""
    capture = worked(presses=1)
    kept = capture.time_s < capture.stills[1, 1] - 0.01
    result = measure_travel(capture.time_s[kept], capture.volts[kept])
    assert result.hand.worked
    assert not result.hand.released
    assert result.hand.count == 0


def test_half_presses_are_counted_apart() -> None:
    """A press let go half way is no press and no part of full travel."""
    capture = worked(presses=5, half=(1, 3))
    result = measure_travel(capture.time_s, capture.volts)
    assert (result.hand.count, result.hand.half) == (3, 2)
    assert result.full is not None
    assert result.full.mean == pytest.approx(3.7, abs=0.01)
    assert result.rest is not None
    assert result.rest.spread.plateaus == 6


def test_flick_without_a_hold_is_counted_apart() -> None:
    """A press that never stands still at full travel is counted as unheld."""
    capture = worked(seed=3)
    extra_t = np.arange(1, 200) / 200.0
    bump = 2.6 * np.clip(1.0 - np.abs(extra_t - 0.3) / 0.15, 0.0, None)
    time_s = np.concatenate([capture.time_s, capture.time_s[-1] + extra_t])
    volts = np.concatenate([capture.volts, capture.levels[-1] + bump])
    result = measure_travel(time_s, volts)
    assert (result.hand.count, result.hand.unheld, result.hand.half) == (5, 1, 0)


def test_glitches_are_counted_and_not_averaged() -> None:
    """Single readings at a rail are counted and leave mean and spread as they were."""
    clean = worked(seed=4, hold_s=(1.0, 2.0))
    dirty = clean.volts.copy()
    at = (clean.stills[:, 0] + 0.5) * 200.0
    dirty[at.astype(int)] = 5.0
    before = measure_travel(clean.time_s, clean.volts)
    after = measure_travel(clean.time_s, dirty)
    assert after.glitches == len(at)
    assert after.hand.count == 5
    assert before.rest is not None
    assert after.rest is not None
    assert after.rest.mean == pytest.approx(before.rest.mean, abs=1e-4)
    assert after.rest.spread.sd_within == pytest.approx(before.rest.spread.sd_within, rel=0.02)


@pytest.mark.parametrize("level", [0.0, 5.0])
@pytest.mark.parametrize("length_s", [0.05, 0.4])
def test_dropout_at_rest_is_no_press(level: float, length_s: float) -> None:
    """A line that breaks to either rail, briefly or long, is a drop-out and never a press."""
    capture = worked(seed=5, hold_s=(1.2, 2.0))
    volts = capture.volts.copy()
    start = int((capture.stills[2, 0] + 0.4) * 200.0)
    volts[start : start + int(length_s * 200.0)] = level
    result = measure_travel(capture.time_s, volts)
    assert result.hand.count == 5
    assert result.dropouts >= 1
    assert result.rest is not None
    assert result.rest.spread.plateaus == 6
    assert result.rest.mean == pytest.approx(1.1, abs=0.01)


def test_return_time_is_from_letting_go_to_standing_still() -> None:
    """The return time is that of the release movement."""
    capture = worked(seed=6, move_s=(0.2, 0.2))
    result = measure_travel(capture.time_s, capture.volts)
    assert result.return_median_s == pytest.approx(0.2, abs=0.05)
    assert result.return_max_s is not None
    assert result.return_max_s < 0.27


def test_live_count_agrees_with_the_measurement_at_every_moment() -> None:
    """The live counter never counts backwards and ends where the measurement does."""
    capture = worked(seed=7)
    counts = [
        count_presses(capture.time_s[:n], capture.volts[:n], lsb_V=0.005).count
        for n in range(40, len(capture.time_s), 40)
    ]
    assert all(b >= a for a, b in itertools.pairwise(counts))
    whole = count_presses(capture.time_s, capture.volts, lsb_V=0.005)
    assert whole.count == measure_travel(capture.time_s, capture.volts, lsb_V=0.005).hand.count


def test_drift_is_told_from_chance() -> None:
    """A rest that climbs from press to press is a drift; one that only scatters is none."""
    capture = worked(seed=8, presses=8, sd_between_V=0.001, hold_s=(0.6, 1.0))
    climbing = capture.volts + 0.05 * capture.time_s / capture.time_s[-1]
    still = measure_travel(capture.time_s, capture.volts, lsb_V=0.005)
    moved = measure_travel(capture.time_s, climbing, lsb_V=0.005)
    assert still.drift_V is None
    assert moved.drift_V == pytest.approx(0.05, abs=0.01)


def test_nothing_at_all() -> None:
    """An empty capture is an unworked control without levels."""
    result = measure_travel(np.empty(0), np.empty(0))
    assert (result.hand.worked, result.rest, result.full, result.hand.count) == (
        False,
        None,
        None,
        0,
    )


def test_trembling_inside_the_dead_band_is_not_part_of_the_return() -> None:
    """A spring that trembles for long within 3 % of the span has come home before it is still."""
    quiet: dict[str, Any] = {
        "sd_within_V": 0.0004,
        "sd_between_V": 0.0,
        "lsb_V": 0.0012,
        "rate_hz": 1000.0,
    }
    calm = worked(move_s=(0.2, 0.2), **quiet)
    trembling = worked(move_s=(0.2, 0.2), rebound_V=0.05, creep_V=0.02, **quiet)
    expected = measure_travel(calm.time_s, calm.volts).return_max_s
    got = measure_travel(trembling.time_s, trembling.volts).return_max_s
    assert got == pytest.approx(expected, abs=0.05)


def test_hand_on_its_way_at_a_slow_rate_is_no_glitch() -> None:
    """At 50 Hz a plateau's border holds readings of the movement; none is counted as a glitch."""
    for seed in range(20):
        slow = worked(seed, rate_hz=50.0, sd_within_V=0.012, move_s=(0.8, 1.2))
        result = measure_travel(slow.time_s, slow.volts, lsb_V=0.005)
        assert (result.glitches, result.dropouts) == (0, 0)


@pytest.mark.parametrize(
    ("length", "glitches", "dropouts"), [(2, 1, 0), (3, 1, 0), (4, 0, 1), (5, 0, 1)]
)
def test_how_long_a_glitch_is(length: int, glitches: int, dropouts: int) -> None:
    """At 1 kHz what is over within 3 ms is a glitch, and what lasts longer a drop-out."""
    capture = worked(seed=4, rate_hz=1000.0, hold_s=(1.0, 1.5))
    dirty = capture.volts.copy()
    start = int((capture.stills[2, 0] + 0.6) * 1000.0)
    dirty[start : start + length] = 5.0
    result = measure_travel(capture.time_s, dirty)
    assert (result.glitches, result.dropouts) == (glitches, dropouts)
    step_s = 0.001 * (1.0 + 1e-12)  # as stamps are, by rounding
    stamped = np.linspace(0.0, (len(dirty) - 1) * step_s, len(dirty))
    result = measure_travel(stamped, dirty)
    assert (result.glitches, result.dropouts) == (glitches, dropouts)


def test_the_largest_tremble_and_the_farthest_sinking_are_told() -> None:
    """One press of five that trembles or sinks is what the page speaks of."""
    capture = worked(seed=9, presses=5, hold_s=(1.0, 1.0), sd_between_V=0.0)
    start, end = capture.stills[3]
    inside = (capture.time_s > start) & (capture.time_s < end)
    swing_V = 0.05 * np.sin(2.0 * np.pi * 8.0 * capture.time_s)
    trembling = measure_travel(capture.time_s, capture.volts + swing_V * inside)
    assert trembling.full is not None
    assert trembling.full.tremble_V == pytest.approx(0.05, rel=0.2)
    sinking = (
        capture.volts - 0.06 * np.clip((capture.time_s - start) / (end - start), 0, 1) * inside
    )
    sunk = measure_travel(capture.time_s, sinking)
    assert sunk.full is not None
    assert sunk.full.sunk_V == pytest.approx(0.04, abs=0.015)
    calm = measure_travel(capture.time_s, capture.volts)
    assert calm.full is not None
    assert max(calm.full.tremble_V, abs(calm.full.sunk_V)) < 0.01


Floats = NDArray[np.float64]
PRESS = ((60, 1.0), (200, 1.0), (40, 0.0), (200, 0.0))


def drawn(*legs: tuple[int, float], rest_V: float = 1.0, span_V: float = 3.0) -> Floats:
    """Volts of a control that rests for 200 readings and goes through (readings, share at the end).

    The last digit flickers, so that the way of the hand is not taken for the converter's steps.
    """
    ends = np.cumsum([0, 200, *(readings for readings, _ in legs)])
    shares = [0.0, 0.0, *(share for _, share in legs)]
    volts = rest_V + span_V * np.interp(np.arange(ends[-1]), ends, shares)
    volts += 1e-4 * np.tile([0.5, -0.5], len(volts))[: len(volts)]
    return np.asarray(volts, dtype=np.float64)


def measured(volts: Floats, rate_hz: float = 200.0) -> TravelMeasurement:
    """What a capture at an even rate says."""
    return measure_travel(np.arange(len(volts)) / rate_hz, volts)


@pytest.mark.parametrize(("readings", "return_s"), [(40, 0.195), (90, 0.44), (190, 0.92)])
def test_a_release_is_timed_from_the_stop_to_the_dead_band(readings: int, return_s: float) -> None:
    """From the last reading within 1 % of the stop to the first within 3 % of rest."""
    found = measured(drawn((60, 1.0), (200, 1.0), (readings, 0.0), (200, 0.0)))
    assert found.returns_s == pytest.approx([return_s], abs=1e-9)
    assert (found.return_median_s, found.return_max_s) == (found.returns_s[0], found.returns_s[0])


def test_a_tap_that_makes_no_stay_at_rest_has_come_home_all_the_same() -> None:
    """Two taps with fifteen readings between them: neither waits for the rest behind both."""
    tap = ((20, 1.0), (40, 1.0), (16, 0.0))
    found = measured(drawn(*PRESS, *tap, (15, 0.0), *tap, (200, 0.0)))
    assert found.hand.count == 3
    assert found.returns_s == pytest.approx([0.195, 0.08, 0.08], abs=0.011)


def climbing(*levels: float) -> Floats:
    """Presses between which rest stands at these shares of the travel."""
    legs = [leg for level in levels for leg in ((60, 1.0), (200, 1.0), (40, level), (200, level))]
    return drawn(*legs)


@pytest.mark.parametrize(("ratio", "told"), [(6.40, True), (6.15, False)])
def test_drift_is_told_where_chance_is_below_one_per_cent(ratio: float, told: bool) -> None:
    """Student's t of two degrees of freedom is 9.925 there.

    By hand: steps of s and strays of ±r that no line follows have t = s/r·√2.5, so 6.277.
    """
    step, stray = 0.01, 0.01 / ratio
    first, *later = np.arange(4) * step + stray * np.array([1.0, -1.0, -1.0, 1.0])
    found = measured(climbing(*(later - first)))
    assert found.rest is not None
    assert found.rest.spread.plateaus == 4
    assert found.drift_V == (pytest.approx(0.09, rel=1e-3) if told else None)
    assert measured(climbing(*(later - first)[:2])).drift_V is None


def test_a_rest_that_climbs_step_by_step_drifts() -> None:
    """Evenly, with no scatter at all: nothing else could explain it. One that stays has none."""
    code_V = 5.0 / 1024
    legs = climbing(4 * code_V / 3.0, 8 * code_V / 3.0, 12 * code_V / 3.0)
    found = measured(np.round(legs / code_V) * code_V)
    assert found.drift_V == 12 * code_V
    still = measured(np.round(climbing(0.0, 0.0, 0.0) / code_V) * code_V)
    assert still.drift_V is None


def test_drift_may_go_down_and_hysteresis_is_from_the_first_rest() -> None:
    """The middle of what rest is after a release, less what it was before the first press."""
    found = measured(climbing(-0.01, -0.0201, -0.03))
    assert found.drift_V == pytest.approx(-0.09, rel=0.01)
    assert found.hysteresis_V == pytest.approx(-0.0603, abs=2e-4)
    assert measured(climbing(0.01, 0.02)).hysteresis_V == pytest.approx(0.045, abs=2e-4)
    assert measured(climbing(0.01)).hysteresis_V is None


def test_no_stays_move_by_nothing() -> None:
    """A level without stays of its own neither sinks nor trembles."""
    spread = level_spread([np.array([1.0, 1.1, 0.9])])
    bare = LevelMeasurement(spread, tolerance_limits(spread), ())
    assert (bare.sunk_V, bare.tremble_V) == (0.0, 0.0)


@pytest.mark.parametrize(("rest_V", "span_V"), [(1.0, 0.8), (1.0, 3.0), (4.0, -0.8)])
def test_a_level_lies_on_the_travels_side_however_short_the_travel(
    rest_V: float, span_V: float
) -> None:
    """A thumb laid on at 3 % makes the level of rest, a hand that sinks to 97 % that of full."""
    thumb, sunk = ((10, 0.03), (200, 0.03)), ((10, 0.97), (200, 0.97))
    volts = drawn(*PRESS, *thumb, *PRESS[:2], *sunk, *PRESS[2:], rest_V=rest_V, span_V=span_V)
    found = measured(volts)
    assert found.rest is not None
    assert found.full is not None
    assert (found.rest.spread.means - rest_V) / span_V == pytest.approx([0.0, 0.03, 0.0], abs=2e-4)
    assert (found.full.spread.means - rest_V) / span_V == pytest.approx([1.0, 0.97], abs=2e-4)
    assert found.rest.sunk_V == pytest.approx(0.03 * abs(span_V), rel=0.01)
    assert found.full.sunk_V == pytest.approx(0.03 * abs(span_V), rel=0.01)
    assert found.hand.reversed is (span_V < 0.0)


def at_a_kilohertz(*odd: tuple[int, int, float], grain_V: float = 0.0) -> TravelMeasurement:
    """One press at 1 kHz with some readings (first, count) off by some volts.

    Within each block of five the readings lie at -2, -1, 0, 1 and 2 grains.
    """
    volts = np.repeat(drawn(*PRESS), 5)
    volts += grain_V * np.tile([-2.0, -1.0, 0.0, 1.0, 2.0], len(volts) // 5)
    for first, count, off_V in odd:
        volts[first : first + count] += off_V
    return measured(volts, 1000.0)


REST, FULL, HOME = 500, 1800, 3000
"""Readings in the middle of the stays of that press."""


def test_glitches_and_drop_outs_at_both_ends_are_summed() -> None:
    """One glitch at rest and two at full travel; two drop-outs at rest and one at full travel."""
    assert (at_a_kilohertz().glitches, at_a_kilohertz().dropouts) == (0, 0)
    found = at_a_kilohertz((REST, 1, 1.0), (FULL, 1, -1.0), (FULL + 100, 2, -1.0))
    assert (found.glitches, found.dropouts) == (3, 0)
    found = at_a_kilohertz((REST, 5, 1.0), (HOME, 5, 1.0), (FULL, 5, -1.0))
    assert (found.glitches, found.dropouts) == (0, 3)
    found = at_a_kilohertz((REST, 60, 1.0), (HOME, 5, 1.0), (FULL, 60, -1.0))
    assert (found.glitches, found.dropouts, found.hand.count) == (0, 3, 1)


@pytest.mark.parametrize(("share", "count"), [(0.98, 0), (1.02, 1)])
def test_how_far_off_a_glitch_and_a_drop_out_lie(share: float, count: int) -> None:
    """Three per cent of the span; eight robust deviations of noise; a fifth of the span.

    By hand: half of the readings lie a grain from their block's middle, or less.
    """
    assert at_a_kilohertz((REST + 2, 1, 0.09 * share)).glitches == count
    noise_V = 8.0 * 1.4826 * 0.01
    assert at_a_kilohertz((REST + 2, 1, noise_V * share), grain_V=0.01).glitches == count
    assert at_a_kilohertz((REST, 5, 0.6 * share)).dropouts == count


def test_what_is_off_at_the_edge_of_a_stay_is_the_hand() -> None:
    """The first reading that counts, 20 ms behind the edge, is no glitch; the next one is."""
    for odd, glitches in ((4, 0), (5, 1)):
        volts = drawn(*PRESS)
        volts[odd] += 1.0
        assert measured(volts).glitches == glitches
        last = drawn(*PRESS)
        last[-1 - odd] += 1.0
        assert measured(last).glitches == glitches


def test_what_is_missing_and_what_is_broken_is_counted() -> None:
    """Missing readings and breaks of the record change no pace."""
    volts = drawn(*PRESS)
    volts[50:53] = np.nan
    found = measure_travel(np.arange(len(volts)) / 200.0, volts, gaps=[100, 150])
    assert found.hand.plateaus.rate_hz == pytest.approx(200.0)


def test_a_code_that_changes_at_rest_is_no_movement_though_nobody_told_the_step() -> None:
    """Readings show their converter's step by themselves: all of the stay makes the level.

    By hand: 80 of the 192 readings that are clear of the stay's edges are one code higher.
    """
    coarse = np.round(drawn(*PRESS, *PRESS, span_V=0.8) / 0.02) * 0.02
    coarse[760:840] += 0.02
    coarse[560:640] += 0.02
    found = measured(coarse)
    assert found.hand.count == 2
    assert found.rest is not None
    assert found.rest.sunk_V == 0.0
    assert found.rest.spread.means[1] == pytest.approx(1.0 + 0.02 * 80 / 192, abs=2e-4)

"""What no hand makes: each limit of a drop-out at both sides, by exact readings."""

from __future__ import annotations

import numpy as np
import pytest

from calib.checks.bench.dropouts import DropOut, Reach, drop_out_findings, find_drop_outs
from calib.checks.bench.hands import Ends, read_hand
from calib.measure.sliding import Run
from tests.unit.checks.bench.waves import Floats, flat, ramp, signals_of_one, volts_signal

RATE_HZ = 1000.0


def _found(
    volts: Floats,
    *,
    rate_hz: float = RATE_HZ,
    glitch_pct: float = 12.5,
    span_V: float = 4.0,
    sd_V: float = 0.0,
    direction: int = 1,
    top_known: bool = True,
) -> list[tuple[int, int, bool]]:
    """Drop-outs of a control that rests at 1 V, by their readings, and whether they would pull."""
    reach = Reach(1.0, sd_V, span_V, direction, top_known)
    found = find_drop_outs(volts, reach, rate_hz=rate_hz, glitch_pct=glitch_pct)
    return [(drop.run.first, drop.run.stop, drop.into_travel) for drop in found]


def _open(level_V: float, *, count: int = 20, rest_V: float = 1.0) -> Floats:
    volts = flat(rest_V, 6.0, RATE_HZ)
    volts[2000 : 2000 + count] = level_V
    return volts


@pytest.mark.parametrize(
    ("level_V", "sd_V", "dropped"),
    [(0.5, 0.0, False), (0.484375, 0.0, True), (0.0, 0.1, False), (-0.015625, 0.1, True),
     (1.5, 0.0, False), (1.515625, 0.0, True), (2.0, 0.1, False), (2.015625, 0.1, True)],
)  # fmt: skip
def test_an_excursion_is_an_eighth_of_the_span_and_ten_standard_deviations(
    level_V: float, sd_V: float, dropped: bool
) -> None:
    """Of 4 V that is half a volt; a tenth of a volt of noise makes a volt of it. Either way."""
    found = _found(_open(level_V), sd_V=sd_V)
    assert found == ([(2000, 2020, level_V > 1.0)] if dropped else [])


@pytest.mark.parametrize(("level_V", "dropped"), [(6.0, False), (6.015625, True)])
@pytest.mark.parametrize(("direction", "into"), [(1, False), (-1, False)])
def test_what_lies_a_quarter_of_the_span_beyond_full_travel_is_no_hand(
    level_V: float, dropped: bool, direction: int, into: bool
) -> None:
    """However slowly it went there: twice an excursion beyond the 4 V above rest, or below it."""
    volts = np.concatenate(
        [flat(1.0, 1.0, RATE_HZ), ramp(1.0, 5.0, 0.5, RATE_HZ), flat(5.0, 0.5, RATE_HZ),
         flat(level_V, 0.5, RATE_HZ), flat(5.0, 0.5, RATE_HZ), ramp(5.0, 1.0, 0.5, RATE_HZ)]
    )  # fmt: skip
    found = _found(1.0 + direction * (volts - 1.0), direction=direction)
    assert found == ([(2000, 2500, into)] if dropped else [])
    assert _found(1.0 + direction * (volts - 1.0), direction=direction, top_known=False) == []


@pytest.mark.parametrize(("count", "dropped"), [(2000, True), (2001, False)])
@pytest.mark.parametrize("level_V", [0.0, 3.0])
def test_what_lasts_longer_than_two_seconds_is_no_drop_out(
    count: int, dropped: bool, level_V: float
) -> None:
    """Two thousand readings at 1 kHz, away from the travel or into it."""
    found = _found(_open(level_V, count=count))
    assert found == ([(2000, 2000 + count, level_V > 1.0)] if dropped else [])


@pytest.mark.parametrize(("step_V", "dropped"), [(2.42, False), (2.46, True)])
def test_no_hand_is_quicker_than_one_that_crosses_its_travel_in_eight_hundredths(
    step_V: float, dropped: bool
) -> None:
    """Its peak is 1.875 of its mean speed, and a third more: at 50 Hz 2.44 V of 4 V a reading."""
    volts = flat(1.0, 6.0, 50.0)
    volts[100:103] += step_V
    assert _found(volts, rate_hz=50.0) == ([(100, 103, True)] if dropped else [])


@pytest.mark.parametrize(("stands_V", "dropped"), [(1.5, True), (1.515625, False), (0.5, True)])
def test_a_leap_begins_within_an_excursion_of_rest(stands_V: float, dropped: bool) -> None:
    """What leaps from part of the way up is a hand that slips off."""
    volts = flat(1.0, 6.0, RATE_HZ)
    volts[:2000] = stands_V
    volts[2000:2020] = 3.0
    assert _found(volts) == ([(2000, 2020, True)] if dropped else [])


@pytest.mark.parametrize(("back_V", "dropped"), [(1.484375, True), (1.5, False), (0.515625, True),
                                                 (0.5, False)])  # fmt: skip
def test_a_leap_comes_back_to_rest(back_V: float, dropped: bool) -> None:
    """Not farther from it than an excursion; what is a press and its release comes back slowly."""
    volts = flat(1.0, 6.0, RATE_HZ)
    volts[2000:2020] = 3.0
    volts[2020] = back_V
    assert _found(volts) == ([(2000, 2020, True)] if dropped else [])


@pytest.mark.parametrize(("stands", "dropped"), [(0.1875, True), (0.21, False)])
def test_near_rest_is_a_twentieth_of_the_span_at_least(stands: float, dropped: bool) -> None:
    """Where the limit of a glitch is less: 0.2 V of 4 V."""
    volts = flat(1.0 + stands, 6.0, RATE_HZ)
    volts[2000:2020] = 3.0
    assert bool(_found(volts, glitch_pct=1.0)) is dropped


def test_each_leap_is_joined_with_the_next_leap_back() -> None:
    """Two in a row, one of a single reading, and one that never comes back, which is no drop-out.

    What leaves twice before it comes back left once.
    """
    volts = flat(1.0, 6.0, RATE_HZ)
    volts[1000:1010] = 3.0
    volts[1500] = 3.0
    volts[2000:2010] = 3.0
    volts[2010:2020] = 5.0
    volts[3000:] = 3.0
    assert _found(volts) == [(1000, 1010, True), (1500, 1501, True), (2000, 2020, True)]


def test_two_drop_outs_that_one_reading_parts_are_two() -> None:
    """The contact closed between them, however briefly."""
    volts = flat(1.0, 6.0, RATE_HZ)
    volts[2000:2010] = 3.0
    volts[2011:2020] = 3.0
    assert _found(volts) == [(2000, 2010, True), (2011, 2020, True)]


@pytest.mark.parametrize(
    ("levels_V", "dropped"),
    [((1.515625, 2.0), True), ((1.5, 2.0), False), ((1.75, 1.234375), True),
     ((1.75, 1.25), False)],
)  # fmt: skip
def test_a_leap_is_more_than_an_excursion_both_ways(
    levels_V: tuple[float, float], dropped: bool
) -> None:
    """In two steps, of which one must be such a leap: away, then back to rest."""
    volts = flat(1.0, 6.0, RATE_HZ)
    volts[2000:2010], volts[2010:2020] = levels_V
    assert bool(_found(volts)) is dropped


@pytest.mark.parametrize(
    ("span_V", "rate_hz", "known"),
    [(0.0, 1000.0, False), (0.5, 1000.0, True), (4.0, 0.0, False), (4.0, 0.5, True)],
)
def test_without_a_span_or_a_rate_nothing_is_called_a_drop_out(
    span_V: float, rate_hz: float, known: bool
) -> None:
    """Nobody knows how far or how quickly a hand would have gone; of any span and rate one does."""
    volts = flat(1.0, 6.0, 1000.0)
    volts[2000] = -9.0
    assert bool(_found(volts, span_V=span_V, rate_hz=rate_hz)) is known


def test_a_drop_out_is_left_out_with_one_reading_on_each_side() -> None:
    """Those may be half of it; at the very start there is none before."""
    volts = flat(1.0, 6.0, 100.0)
    volts[300:305] = -1.0
    signals = signals_of_one(volts_signal(volts), 100.0)
    hand = read_hand(signals, signals.by_name["throttle"], None, Ends(1.0, 4.0))
    assert np.flatnonzero(np.isnan(hand.volts)).tolist() == list(range(299, 306))
    volts[:2] = -1.0
    hand = read_hand(signals, volts_signal(volts), None, Ends(1.0, 4.0))
    assert np.flatnonzero(np.isnan(hand.volts)).tolist() == [0, 1, 2, *range(299, 306)]


def _said(*levels: tuple[float, int, bool], supply_V: float | None = None) -> tuple[str, str]:
    """Code and words of drop-outs by level, readings, and whether they went into the travel."""
    volts = flat(1.0, 6.0, RATE_HZ)
    drops = [
        DropOut(Run(1000 * (place + 1), 1000 * (place + 1) + count), level_V, into)
        for place, (level_V, count, into) in enumerate(levels)
    ]
    time_s = np.arange(len(volts)) / RATE_HZ
    (found,) = drop_out_findings(volts_signal(volts), drops, time_s, 1.25, supply_V)
    assert (found.value, found.limit) == (float(len(levels)), 0.0)
    return found.code, found.text


@pytest.mark.parametrize(
    ("level_V", "supply_V", "code"),
    [(4.5, None, "drop-outs"), (4.515625, None, "drop-outs-high"), (0.25, None, "drop-outs"),
     (0.234375, None, "drop-outs-low"), (3.59, 4.0, "drop-outs"), (3.61, 4.0, "drop-outs-high"),
     (0.21, 4.0, "drop-outs"), (0.19, 4.0, "drop-outs-low")],
)  # fmt: skip
def test_a_drop_out_names_its_wire_within_a_twentieth_of_ground_and_a_tenth_of_the_supply(
    level_V: float, supply_V: float | None, code: str
) -> None:
    """A lost ground leaves a little less than the supply; where none is logged it is 5 V."""
    assert _said((level_V, 20, True), supply_V=supply_V)[0] == code


def test_of_several_drop_outs_the_longest_is_timed_and_the_middle_one_names_the_wire() -> None:
    """Thirty readings at 1 kHz are 30 ms from the first to the last and one more."""
    code, text = _said((0.0, 10, False), (0.0, 30, False), (2.0, 20, False))
    assert code == "drop-outs-low"
    assert "30 ms" in text
    assert "1.0 s" in text
    assert "1.25" in text


@pytest.mark.parametrize(
    ("into", "pulls"), [((True, True), True), ((True, False), True), ((False, False), False)]
)
def test_one_drop_out_into_the_travel_is_enough_to_pull(
    into: tuple[bool, bool], pulls: bool
) -> None:
    """The drive asks nobody how often."""
    _, text = _said((2.0, 10, into[0]), (2.0, 10, into[1]))
    assert ("the drive would have pulled" in text) is pulls


def test_a_drop_out_of_a_capture_of_one_reading_has_no_length() -> None:
    """There is no step from which to tell it; of two there is."""
    drop = DropOut(Run(0, 1), 0.0, into_travel=False)
    for time_s, words in ((np.array([7.0]), " 0 ms"), (np.array([7.0, 7.25]), "250 ms")):
        (found,) = drop_out_findings(volts_signal(np.ones(2)), [drop], time_s, 1.0, None)
        assert words in found.text

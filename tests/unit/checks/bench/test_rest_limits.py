"""How a rest is told as one level, two, or play: each share and each limit at both of its sides."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from calib.checks.bench.control import level_of, rest_findings
from calib.checks.bench.hands import Ends, Hand, read_hand
from calib.checks.bench.signals import Signals
from calib.measure.sliding import Run
from calib.store.rig import Channel
from tests.unit.checks.bench.waves import Floats, flat, signals_of_one, volts_signal

RATE_HZ = 80.0
"""Eight readings in a tenth of a second, whose mean is exact."""

SPAN_V = 8.0


def _hand(
    volts: Floats, *, step: float = 0.0, limits: dict[str, float] | None = None
) -> tuple[Signals, Hand]:
    channel = Channel(role="control", column="a0", unit="V", limits=limits or {})
    signal = replace(volts_signal(volts, channel=channel), step=step)
    signals = signals_of_one(signal, RATE_HZ)
    still = replace(signal, values=flat(0.0, len(volts) / RATE_HZ, RATE_HZ))
    hand = read_hand(signals, still, None, Ends(0.0, SPAN_V))
    return signals, replace(hand, signal=signal, volts=volts)


def _told(
    means: list[float],
    *,
    step: float = 0.0,
    calm: list[bool] | None = None,
    limits: dict[str, float] | None = None,
) -> list[tuple[str, float | None, str]]:
    """What is said of a rest whose means of a tenth of a second are given, and its words."""
    signals, hand = _hand(np.repeat(means, 8), step=step, limits=limits or {})
    flags = np.ones(len(hand.volts), dtype=np.bool_) if calm is None else np.repeat(calm, 8)
    found = rest_findings(signals, hand, flags)
    return [(each.code, each.value, each.text) for each in found]


def _codes(
    means: list[float], limits: dict[str, float] | None = None
) -> list[tuple[str, float | None]]:
    return [(code, value) for code, value, _ in _told(means, limits=limits)]


@pytest.mark.parametrize(
    ("usual", "lesser", "known"),
    [(91, 9, False), (90, 10, True), (50, 50, True), (9, 1, False), (8, 2, True), (13, 2, True)],
)
@pytest.mark.parametrize("up", [True, False])
def test_the_lesser_of_two_levels_is_a_tenth_of_the_rest_and_two_means_at_least(
    usual: int, lesser: int, known: bool, up: bool
) -> None:
    """Whichever lies higher: what is there for less came home late."""
    usual_V, other_V = (1.0, 2.0) if up else (2.0, 1.0)
    found = _told([usual_V] * usual + [other_V] * lesser)
    assert [(code, value) for code, value, _ in found] == ([("two-rests", 12.5)] if known else [])
    if known and usual > lesser:
        assert f"{usual_V:.3f} V" in found[0][2]
        assert f"{other_V:.3f} V" in found[0][2]
        assert found[0][2].index(f"{usual_V:.3f}") < found[0][2].index(f"{other_V:.3f}")


@pytest.mark.parametrize(("between", "code"), [(10, "two-rests"), (11, "play")])
def test_a_tenth_of_the_rest_may_lie_between_two_levels(between: int, code: str) -> None:
    """A change from one to the other takes a little time; more than that is play."""
    means = [1.0] * 45 + [1.5] * between + [2.0] * (55 - between)
    assert [told for told, _ in _codes(means)] == [code]


@pytest.mark.parametrize(("off", "code"), [(0.125, "two-rests"), (0.1875, "play")])
def test_a_mean_is_at_a_level_up_to_an_eighth_of_their_distance(off: float, code: str) -> None:
    """Above the lower one as below the higher one."""
    for at_V in (1.0 + off, 2.0 - off):
        means = [1.0] * 40 + [at_V] * 20 + [2.0] * 40
        assert [told for told, _ in _codes(means)] == [code]


@pytest.mark.parametrize(("apart_V", "known"), [(2.25, True), (2.5, False), (-2.25, True),
                                                (-2.5, False)])  # fmt: skip
def test_what_is_farther_than_three_tenths_of_the_span_is_no_rest(
    apart_V: float, known: bool
) -> None:
    """There a wire is open or a hand is on it: of 8 V that is 2.4 V, up or down."""
    found = _codes([4.0] * 60 + [4.0 + apart_V] * 40)
    assert found == ([("two-rests", 28.125)] if known else [])


@pytest.mark.parametrize(("apart_V", "known"), [(0.75, True), (0.765625, False)])
def test_at_three_tenths_of_the_span_itself_it_still_rests(apart_V: float, known: bool) -> None:
    """Of 2.5 V that is 0.75 V."""
    signals, hand = _hand(np.repeat([1.0] * 60 + [1.0 + apart_V] * 40, 8))
    hand = replace(hand, span_V=2.5)
    assert bool(list(rest_findings(signals, hand, np.ones(800, dtype=np.bool_)))) is known


def test_of_two_levels_that_are_as_usual_the_lower_one_is_named_first() -> None:
    """Somebody has to be."""
    ((_, _, text),) = _told([2.0] * 50 + [1.0] * 50)
    assert text.index("1.000") < text.index("2.000")


@pytest.mark.parametrize(("step", "off_V"), [(0.0, 0.0), (0.125, 0.125), (0.01, 0.01)])
def test_a_step_of_the_converter_is_taken_off(step: float, off_V: float) -> None:
    """A level that lies between two codes reads as either of them."""
    ((code, value, _),) = _told([1.0] * 50 + [2.0] * 50, step=step)
    assert code == "two-rests"
    assert value == pytest.approx(12.5 * (1.0 - off_V))
    scattered = [1.0 + 0.01 * place for place in range(100)]
    ((code, value, _),) = _told(scattered, step=0.2)
    # from the tenth lowest to the tenth highest of them
    assert code == "play"
    assert value == pytest.approx(12.5 * (0.99 * 0.8 - 0.2))


def test_six_standard_deviations_of_a_mean_are_taken_off_as_well() -> None:
    """The usual step from mean to mean is 0.6745 and a root of two of that deviation."""
    noise_V = 6.0 * 0.0625 / 0.6745 / 2.0**0.5
    means = [1.0, 1.0625] * 25 + [2.0, 2.0625] * 25
    ((code, value, _),) = _told(means)
    assert code == "two-rests"
    assert value == pytest.approx(12.5 * (1.0 - noise_V))
    ((code, value, _),) = _told([2.0 * each for each in means], limits={"two_rests_pct": 90.0})
    assert code == "play"
    assert value == pytest.approx(12.5 * (2.125 - 2.0 * noise_V))


@pytest.mark.parametrize(
    ("limits", "code"),
    [
        ({"two_rests_pct": 12.25}, "two-rests"),
        ({"two_rests_pct": 12.5}, "play"),
        ({"two_rests_pct": 12.5, "play_pct": 12.25}, "play"),
        ({"two_rests_pct": 12.5, "play_pct": 12.5}, "rest-scatters"),
        ({"two_rests_pct": 12.5, "play_pct": 12.5, "rest_scatter_pct": 12.25}, "rest-scatters"),
        ({"two_rests_pct": 12.5, "play_pct": 12.5, "rest_scatter_pct": 12.5}, None),
    ],
)
def test_a_rest_is_named_by_the_first_limit_that_it_is_beyond(
    limits: dict[str, float], code: str | None
) -> None:
    """A volt of eight apart is 12.5 %; at a limit itself it still passes that limit."""
    found = _codes([1.0] * 50 + [2.0] * 50, limits)
    assert found == ([] if code is None else [(code, 12.5)])


@pytest.mark.parametrize(("at_once", "count", "known"), [(1, 12, False), (2, 4, True),
                                                         (2, 3, False), (7, 1, False),
                                                         (8, 1, True)])  # fmt: skip
def test_a_rest_is_told_from_eight_means_on_of_stretches_of_two(
    at_once: int, count: int, known: bool
) -> None:
    """A lone mean between two presses shows nothing of how a rest moves."""
    means, calm = [], []
    for place in range(count * at_once):
        means += [1.0 if place < count * at_once / 2 else 2.0]
        calm += [True]
        if (place + 1) % at_once == 0:
            means += [5.0]
            calm += [False]
    assert bool(_told(means, calm=calm)) is known


def test_drop_outs_are_no_rest() -> None:
    """Where a control has no reading, the rest ends and begins anew."""
    volts = np.repeat([1.0, 1.0, 1.0, 1.0, 9.0, 2.0, 2.0, 2.0, 2.0], 8)
    volts[32:40] = np.nan
    signals, hand = _hand(volts)
    (found,) = rest_findings(signals, hand, np.ones(len(volts), dtype=np.bool_))
    assert (found.code, found.value) == ("two-rests", 12.5)


def test_a_control_whose_span_is_nought_has_no_share_of_it() -> None:
    """Nothing is said of how its rest lies; of any span there is something to say."""
    signals, hand = _hand(np.repeat([1.0, 2.0], 80))
    calm = np.ones(len(hand.volts), dtype=np.bool_)
    assert list(rest_findings(signals, replace(hand, span_V=0.0), calm)) == []
    assert list(rest_findings(signals, replace(hand, span_V=0.5, volts=hand.volts / 16.0), calm))


@pytest.mark.parametrize(
    ("stays", "mean", "sd", "u"),
    [
        ([[1.0] * 20, [2.0] * 20, [3.0] * 20, [2.0] * 20], 2.0, (2.0 / 3.0) ** 0.5, 6.0**-0.5),
        ([[1.0] * 20, [2.0] * 20], 1.5, 0.5**0.5, 0.5),
        ([[1.0, 3.0] * 8], 2.0, 0.0, 0.25),
        ([[1.0, 3.0] * 2], 2.0, 0.0, 0.5),
    ],
)
def test_a_level_is_known_by_what_its_stays_or_else_its_readings_scatter(
    stays: list[list[float]], mean: float, sd: float, u: float
) -> None:
    """Spread of the stays over the root of their count; of one stay, spread of its readings."""
    volts = np.concatenate([np.array(each) for each in stays])
    _, hand = _hand(volts)
    edges = np.cumsum([0, *map(len, stays)]).tolist()
    runs = [Run(first, stop) for first, stop in pairwise(edges)]
    found = level_of(hand, runs)
    assert found is not None
    assert (found.mean, found.stays) == (mean, len(stays))
    assert found.sd == pytest.approx(sd)
    assert found.u == pytest.approx(u)


def test_a_level_leaves_out_what_is_no_reading() -> None:
    """A stay of drop-outs is none, and without any stay there is no level."""
    volts = np.repeat([1.0, np.nan, 3.0], 8)
    volts[3] = np.nan
    _, hand = _hand(volts)
    found = level_of(hand, [Run(0, 8), Run(8, 16), Run(16, 24)])
    assert found is not None
    assert (found.mean, found.stays) == (2.0, 2)
    assert level_of(hand, [Run(8, 16)]) is None
    assert level_of(hand, []) is None

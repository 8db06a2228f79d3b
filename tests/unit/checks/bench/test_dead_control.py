"""A control that does not answer: how far it moved after all, and which wire its level names."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from calib.store.documents.check import CheckDocument
from calib.store.records import Record
from tests.records import record_of
from tests.unit.checks.bench.evening import (
    CONTROL,
    RAIL,
    THROTTLE_S,
    Floats,
    checked,
    flicker,
    level,
    presses,
    rig,
    told,
)

ONE = CONTROL.format("throttle", "a0")
FED = ONE + 'supply = "rail"\n' + RAIL
ANSWERS = ("no-answer", "signal-open", "signal-at-ground", "signal-at-supply", "frozen",
           "half-pressed")  # fmt: skip


def _answers(document: CheckDocument) -> list[str]:
    """What is said of a control that does not answer."""
    return [
        each.code
        for each in document.findings
        if each.code in ANSWERS and each.channel == "throttle"
    ]


@cache
def _sound(rest_V: float, full_V: float, size: float = 0.004) -> Record:
    """What is on record of a control that answered, and flickered by so much."""
    volts = presses(rest_V, full_V, THROTTLE_S) + flicker(size)
    return record_of(checked(rig(ONE), a0=volts))


@cache
def _fed(rest_V: float, full_V: float) -> Record:
    """The same beside a logged supply of 5 V."""
    volts = presses(rest_V, full_V, THROTTLE_S)
    return record_of(checked(rig(FED), a0=volts, v=level(5.0)))


def _kept(rest_V: float, reach_V: float, for_s: float, lasts_s: float = 20.0) -> Floats:
    """A control that is worked once, at the end, and is still held when the capture ends.

    It flickers by 1/128 V, which is part of how far it reaches.
    """
    volts = level(rest_V, lasts_s)
    volts[-round(100.0 * for_s) :] += reach_V - np.copysign(1.0 / 128.0, reach_V)
    return volts + flicker(1.0 / 128.0, lasts_s)


@pytest.mark.parametrize(
    ("reach_V", "span_V", "code"),
    [
        (1.5, 3.0, "no-answer"),
        (1.5625, 3.0, "half-pressed"),
        (-1.5, 3.0, "no-answer"),
        (-1.5625, 3.0, "half-pressed"),
        (0.5, None, "no-answer"),
        (0.5625, None, "half-pressed"),
    ],
)
def test_a_control_was_half_pressed_beyond_half_its_span_and_half_a_volt(
    reach_V: float, span_V: float | None, code: str
) -> None:
    """It was never let go again; what moved by less may have been its neighbour."""
    rest_V = 1.25 if reach_V > 0.0 else 3.75
    way_V = 0.0 if span_V is None else np.copysign(span_V, reach_V)
    earlier = None if span_V is None else _sound(rest_V, rest_V + way_V, 0.0)
    document = checked(rig(ONE), a0=_kept(rest_V, reach_V, 2.0), earlier=earlier)
    assert _answers(document) == [code]
    if code == "half-pressed":
        found = told(document, code)
        assert found is not None
        assert found.value == 1.0


@pytest.mark.parametrize(("reach_V", "code"), [(0.5, "no-answer"), (0.9, "half-pressed")])
def test_what_noise_reaches_is_no_half_press(reach_V: float, code: str) -> None:
    """Eight standard deviations: of 0.25 V of flicker that is 0.82 V, itself in it."""
    noise_V = flicker(0.25) - 0.125
    document = checked(rig(ONE), a0=_kept(1.25, reach_V, 2.0) + noise_V)
    assert _answers(document) == [code]


@pytest.mark.parametrize(("readings", "code"), [(6, "no-answer"), (8, "half-pressed")])
@pytest.mark.parametrize("reach_V", [2.0, -2.0])
def test_a_thousandth_of_a_check_is_no_half_press(readings: int, code: str, reach_V: float) -> None:
    """Of 6000 readings the six farthest say nothing, to either side."""
    document = checked(rig(ONE), a0=_kept(2.5, reach_V, readings / 100.0, 60.0))
    assert _answers(document) == [code]


@pytest.mark.parametrize(("reach_V", "codes"), [(2.5, ["signal-open"]), (2.6, [])])
def test_where_noise_hides_the_presses_a_control_that_reaches_full_travel_answers(
    reach_V: float, codes: list[str]
) -> None:
    """Means of half a second reach 85 % of the span on record: its noise is told, and no wire."""
    loud = presses(1.0, 1.0 + reach_V, (4.2, 8.2)) + flicker(2.0) - 1.0
    document = checked(rig(ONE), a0=loud, earlier=_sound(1.0, 4.0))
    assert _answers(document) == codes
    assert told(document, "noise-grown", "throttle") is not None


def test_noise_says_nothing_of_a_control_whose_travel_nobody_knows() -> None:
    """It did not answer in the check on record either: what is noisy now is an open wire."""
    silent = checked(rig(ONE), a0=level(1.0) + flicker(0.004))
    document = checked(rig(ONE), a0=level(1.0) + flicker(0.2) - 0.1, earlier=record_of(silent))
    assert _answers(document) == ["signal-open"]


def test_a_control_without_a_record_is_not_open_wherever_it_stands() -> None:
    """Nobody knows where it rests: it does not answer, and that is all."""
    for volts in (0.5, 1.25, 4.5):
        assert _answers(checked(rig(ONE), a0=level(volts) + flicker(0.004))) == ["no-answer"]


@pytest.mark.parametrize(
    ("stands_V", "code"), [(0.9, "no-answer"), (1.15, "no-answer"), (1.25, "signal-open"),
                           (0.55, "signal-open")]
)  # fmt: skip
def test_where_a_control_rests_is_looked_for_at_the_supply_of_today(
    stands_V: float, code: str
) -> None:
    """It rested at 1 V of 5 V and reached 4 V: at 4.5 V it rests at 0.9 V, give or take 0.3 V."""
    document = checked(
        rig(FED), a0=level(stands_V) + flicker(0.004), v=level(4.5), earlier=_fed(1.0, 4.0)
    )
    assert _answers(document) == [code]


def test_where_no_supply_was_logged_a_control_rests_where_it_did() -> None:
    """A supply that is logged since says nothing of the record."""
    document = checked(
        rig(FED), a0=level(1.25) + flicker(0.004), v=level(4.0), earlier=_sound(1.0, 4.0)
    )
    assert _answers(document) == ["no-answer"]


def _steps(sizes: float, count: int = 1280) -> Floats:
    """A flicker whose spread doubles exactly when its size does."""
    return sizes / 256.0 * np.resize([0.0, 1.0, 2.0, 1.0], count)


@pytest.mark.parametrize(("sizes", "code"), [(2.0, "no-answer"), (2.125, "signal-open")])
def test_a_wire_is_open_where_its_noise_has_more_than_doubled(sizes: float, code: str) -> None:
    """At its rest on record, which tells nothing; a noise of twice as much may be."""
    sound = checked(rig(ONE), a0=np.full(1280, 1.25) + _steps(1.0), rate_hz=64.0)
    document = checked(
        rig(ONE), a0=np.full(1280, 1.25) + _steps(sizes), rate_hz=64.0, earlier=record_of(sound)
    )
    assert _answers(document) == [code]


@pytest.mark.parametrize(
    ("limit_s", "code"), [(19.75, "frozen"), (20.0, "no-answer"), (20.25, "no-answer")]
)
def test_a_control_that_never_changed_is_frozen_beyond_that_time(limit_s: float, code: str) -> None:
    """1280 equal readings at 64 Hz are 20 s; at that time itself it may still be chance."""
    about = rig(f"{ONE}limits = {{frozen_s = {limit_s}}}\n")
    document = checked(about, a0=np.full(1280, 1.25), rate_hz=64.0)
    assert _answers(document) == [code]
    if code == "frozen":
        found = told(document, code)
        assert found is not None
        assert (found.value, found.limit) == (20.0, limit_s)
        assert "1280" in found.text


def test_a_control_that_is_frozen_against_its_record_is_told_once() -> None:
    """It flickered then, so that this alone is enough; its level is no second finding."""
    document = checked(rig(ONE), a0=level(1.25), earlier=_sound(1.0, 4.0))
    assert _answers(document) == ["frozen"]


@pytest.mark.parametrize(("supply_V", "pct"), [(None, 5.0), (4.0, 4.0), (10.0, 10.0)])
@pytest.mark.parametrize("above", [False, True])
def test_a_stated_supply_bounds_what_is_at_ground_and_at_the_supply(
    supply_V: float | None, pct: float, above: bool
) -> None:
    """Where none is stated it is 5 V; at the bounds themselves, 5 % of it and 95 %, it is neither.

    The user's own bound of 25 % and 75 % stands for both.
    """
    stated = "" if supply_V is None else f"supply_V = {supply_V}\n"
    own = "limits = {wire_at_ground_pct = 25.0, wire_at_supply_pct = 75.0}\n"
    about, share = rig(ONE + stated + own), 0.75 if above else 0.25
    beyond = 1.0 / 64.0 if above else -1.0 / 64.0
    assert _answers(checked(about, a0=level(pct * share) + flicker(0.0))) == ["frozen"]
    assert _answers(checked(about, a0=level(pct * share + beyond))) == [
        "signal-at-supply" if above else "signal-at-ground"
    ]


@pytest.mark.parametrize(("reach_V", "codes"), [(2.125, []), (2.109375, ["signal-open"])])
def test_eighty_five_per_cent_of_the_span_itself_is_enough(
    reach_V: float, codes: list[str]
) -> None:
    """Of 2.5 V that is 2.125 V, in a noise that turns by three volts each reading."""
    about = rig(ONE)
    sound = checked(about, a0=_worked(2.5), rate_hz=64.0)
    turning = np.resize([1.5, -1.5], 1600)
    document = checked(about, a0=_worked(reach_V) + turning, rate_hz=64.0, earlier=record_of(sound))
    assert _answers(document) == codes


def _worked(span_V: float) -> Floats:
    """A control at 64 Hz that is pressed twice and held for 2 s."""
    share = np.zeros(1600)
    for start in (400, 800):
        corners = [start - 20, start, start + 128, start + 148]
        share += np.interp(np.arange(1600), corners, [0.0, 1.0, 1.0, 0.0])
    return 1.0 + span_V * share


@pytest.mark.parametrize(("off_V", "code"), [(0.25, "no-answer"), (0.265625, "signal-open")])
def test_a_tenth_of_its_span_from_its_rest_itself_is_still_its_rest(
    off_V: float, code: str
) -> None:
    """Of 2.5 V; the flicker of today has its middle there."""
    sound = checked(rig(ONE), a0=_worked(2.5), rate_hz=64.0)
    stands = np.full(1280, 1.0 + off_V - 1.0 / 256.0) + _steps(1.0)
    document = checked(rig(ONE), a0=stands, rate_hz=64.0, earlier=record_of(sound))
    assert _answers(document) == [code]


@pytest.mark.parametrize(("off_V", "code"), [(0.0078125, "no-answer"), (0.015625, "signal-open")])
def test_what_never_went_anywhere_stands_elsewhere_from_a_hundredth_of_a_volt_on(
    off_V: float, code: str
) -> None:
    """Where it did not answer on record either; no control has a span of less than ten of them."""
    silent = checked(rig(ONE), a0=np.full(1280, 1.0), rate_hz=64.0)
    stands = np.full(1280, 1.0 + off_V) + np.resize([0.0, 0.0, 1e-4, 0.0], 1280)
    document = checked(rig(ONE), a0=stands, rate_hz=64.0, earlier=record_of(silent))
    assert _answers(document) == [code]

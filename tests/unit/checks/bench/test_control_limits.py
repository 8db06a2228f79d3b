"""One control of a bench check at both sides of each of its limits, by exact readings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calib.checks.bench.crossing import load_findings
from calib.checks.bench.hands import Ends, read_hand
from calib.checks.bench.switches import SwitchFigures, Throw
from calib.store.documents.finding import Severity
from calib.store.rig import Channel
from tests.records import record_of
from tests.unit.checks.bench.evening import (
    BRAKE,
    CONTROL,
    RAIL,
    REGEN_S,
    THROTTLE_S,
    TWO,
    checked,
    flicker,
    level,
    presses,
    rig,
    told,
)
from tests.unit.checks.bench.waves import flat, ramp, signals_of_one, volts_signal

FED = CONTROL.format("throttle", "a0") + 'supply = "rail"\n' + RAIL


@pytest.mark.parametrize(
    ("span_V", "supply_V", "at_5_V"),
    [
        (2.0, 5.0, None),
        (2.0 - 1.0 / 64.0, 5.0, 2.0 - 1.0 / 64.0),
        (1.75, 4.0, None),  # 2.19 V at 5 V
        (2.25, 8.0, 2.25 * 5.0 / 8.0),
    ],
)
def test_a_span_is_short_below_two_volts_at_a_supply_of_five(
    span_V: float, supply_V: float, at_5_V: float | None
) -> None:
    """Two volts of five are enough; a ratiometric control is held against its own supply."""
    volts = presses(1.0, 1.0 + span_V, THROTTLE_S)
    found = told(checked(rig(FED), a0=volts, v=level(supply_V)), "span-short", "throttle")
    assert (None if found is None else found.value) == (
        None if at_5_V is None else pytest.approx(at_5_V, rel=1e-6)
    )


@pytest.mark.parametrize(
    ("volts", "supply_V", "code", "limit_V"),
    [
        (0.125, 5.0, "signal-at-ground", 0.25),
        (0.25, 5.0, None, None),
        (0.1875, 4.0, "signal-at-ground", 0.2),
        (0.21, 4.0, None, None),
        (4.75, 5.0, None, None),
        (4.8125, 5.0, "signal-at-supply", 4.75),
        (3.85, 4.0, "signal-at-supply", 3.8),
        (3.75, 4.0, None, None),
    ],
)
def test_a_dead_control_points_to_the_wire_that_its_level_names(
    volts: float, supply_V: float, code: str | None, limit_V: float | None
) -> None:
    """Below 5 % of the supply at ground, above 95 % at the supply, told with that many volts."""
    document = checked(rig(FED), a0=level(volts), v=level(supply_V))
    found = [
        each
        for each in document.findings
        if each.code in ("signal-at-ground", "signal-at-supply") and each.channel == "throttle"
    ]
    assert [each.code for each in found] == ([] if code is None else [code])
    if found:
        assert found[0].value == volts
        assert found[0].limit == pytest.approx(limit_V)


@pytest.mark.parametrize(
    ("rest_V", "code"), [(1.25, "no-answer"), (1.35, "signal-open"), (0.65, "signal-open")]
)
def test_a_control_that_does_not_answer_is_open_a_tenth_of_its_span_from_its_rest(
    rest_V: float, code: str
) -> None:
    """It rested at 1 V and reached 4 V: from 0.3 V beside that rest on, nobody rests there."""
    about = rig(CONTROL.format("throttle", "a0"))
    sound = checked(about, a0=presses(1.0, 4.0, THROTTLE_S) + flicker(0.004))
    dead = checked(about, a0=level(rest_V) + flicker(0.004), earlier=record_of(sound))
    answers = [e.code for e in dead.findings if e.code in ("no-answer", "signal-open")]
    assert answers == [code]


@pytest.mark.parametrize(("seen_V", "counted"), [(0.6, 3), (0.2, 3)])
def test_without_a_record_a_small_travel_is_worked(seen_V: float, counted: int) -> None:
    """Nobody knows that it should go farther."""
    volts = presses(1.0, 1.0 + seen_V, (4.0, 7.0, 10.0))
    signals = signals_of_one(volts_signal(volts), 100.0)
    assert len(read_hand(signals, signals.by_name["throttle"], None, None).presses) == counted


@pytest.mark.parametrize(
    ("seen_V", "span_V", "counted"),
    [(0.48, 3.0, 0), (0.52, 3.0, 3), (0.28, 0.6, 0), (0.32, 0.6, 3)],
)
def test_with_a_record_half_a_volt_or_half_its_span_is_worked(
    seen_V: float, span_V: float, counted: int
) -> None:
    """What moves by less only follows its neighbour; half of a span below a volt is less."""
    volts = presses(1.0, 1.0 + seen_V, (4.0, 7.0, 10.0))
    signals = signals_of_one(volts_signal(volts), 100.0)
    known = Ends(1.0, 1.0 + span_V)
    assert len(read_hand(signals, signals.by_name["throttle"], None, known).presses) == counted


@pytest.mark.parametrize(("share", "rest_V"), [(0.02, 1.06), (0.045, 1.0)])
def test_a_control_has_left_rest_from_three_hundredths_of_its_way_on(
    share: float, rest_V: float
) -> None:
    """A thumb laid on after 0.5 s: what stood still before it is rest, if the thumb shows."""
    thumb_V = 1.0 + 3.0 * share
    volts = np.concatenate(
        [flat(1.0, 0.5, 100.0), flat(thumb_V, 2.0, 100.0), ramp(thumb_V, 4.0, 0.3, 100.0),
         flat(4.0, 1.0, 100.0), ramp(4.0, 1.0, 0.1, 100.0), flat(1.0, 2.0, 100.0)]
    )  # fmt: skip
    signals = signals_of_one(volts_signal(volts), 100.0)
    assert read_hand(signals, signals.by_name["throttle"], None, None).head_V == (
        pytest.approx(rest_V, abs=1e-9)
    )


@pytest.mark.parametrize(("moved", "code"), [(0.0, None), (0.6, "cross-talk")])
def test_cross_talk_is_told_beyond_four_sds_of_a_mean_and_not_of_a_reading(
    moved: float, code: str | None
) -> None:
    """A tenth of a volt of flicker hides no 0.1 V that the other control moves it by, each time."""
    lever = presses(1.0, 4.0, REGEN_S) + flicker(0.1) - 0.05
    lifted = lever + presses(0.0, 0.2 * moved, THROTTLE_S)
    document = checked(rig(TWO), a0=presses(1.0, 4.0, THROTTLE_S), a1=lifted)
    found = told(document, "cross-talk", "regen")
    assert (None if found is None else found.code) == code
    if found is not None:
        assert found.value == pytest.approx(100.0 * 0.2 * moved / 3.0, rel=0.05)
        assert found.severity is Severity.FAIL


def test_what_moves_by_less_than_its_noise_allows_is_no_cross_talk() -> None:
    """The user asks for 0.1 %, and 5 mV are 0.17 %; four sds of a mean of 0.05 V are 23 mV."""
    about = rig(TWO + "limits = {cross_talk_pct = 0.1}\n")
    lever = presses(1.0, 4.0, REGEN_S) + presses(0.0, 0.005, THROTTLE_S)
    for noise_V, is_told in ((0.0, True), (0.12, False)):
        document = checked(
            about, a0=presses(1.0, 4.0, THROTTLE_S), a1=lever + flicker(noise_V) - noise_V / 2.0
        )
        assert (told(document, "cross-talk", "regen") is not None) is is_told


def test_one_wire_is_told_with_the_share_that_the_lesser_moves() -> None:
    """Both move together; one by four fifths of the other in volts."""
    both = (*THROTTLE_S, *REGEN_S)
    document = checked(rig(TWO), a0=presses(1.0, 4.0, both), a1=presses(1.0, 3.4, both))
    found = told(document, "one-wire")
    assert found is not None
    assert found.value == pytest.approx(80.0, abs=0.5)


@pytest.mark.parametrize(
    ("throttle", "regen"), [((1.0, 4.0), (0.5, 4.0)), ((1.0, 4.0), (1.0, 3.75))]
)
@pytest.mark.parametrize("supply_V", [5.0, 4.5])
def test_two_plugs_changed_places_where_each_fits_the_others_levels(
    throttle: tuple[float, float], regen: tuple[float, float], supply_V: float
) -> None:
    """One end that differs is enough; in the wrong order with its own levels it was the person."""
    fed = 'supply = "rail"\n'
    about = rig(CONTROL.format("throttle", "a0") + fed + CONTROL.format("regen", "a1") + fed + RAIL)
    then = checked(
        about, a0=presses(*throttle, THROTTLE_S), a1=presses(*regen, REGEN_S), v=level(5.0)
    )
    scale = supply_V / 5.0
    first, second = scale * presses(*throttle, THROTTLE_S), scale * presses(*regen, REGEN_S)
    crossed = checked(about, a0=second, a1=first, v=level(supply_V), earlier=record_of(then))
    assert told(crossed, "channels-swapped", "throttle") is not None
    assert told(crossed, "channels-swapped", "regen") is not None
    late, early = scale * presses(*throttle, REGEN_S), scale * presses(*regen, THROTTLE_S)
    asked = checked(about, a0=late, a1=early, v=level(supply_V), earlier=record_of(then))
    assert told(asked, "channels-swapped") is None


@pytest.mark.parametrize(
    ("shift_V", "sd_V", "told_mV"),
    [
        (0.24, 0.1, None),
        (0.26, 0.1, 260.0),
        (-0.26, 0.1, -260.0),
        (0.0099, 0.0, None),
        (0.011, 0.0, 11.0),
    ],
)
def test_a_load_lifts_a_ground_by_more_than_ten_millivolts_and_four_sds_of_its_mean(
    shift_V: float, sd_V: float, told_mV: float | None
) -> None:
    """Half a second at 10 Hz is five readings: 4 x 0.1 V over the root of half of them is 0.253."""
    volts = flat(1.0, 10.0, 10.0)
    volts[50:55] += shift_V
    signals = signals_of_one(volts_signal(volts), 10.0)
    hand = replace(
        read_hand(signals, signals.by_name["throttle"], None, Ends(1.0, 4.0)), head_sd_V=sd_V
    )
    brake = volts_signal(volts, "brake", channel=Channel(role="switch", column="s", unit="V"))
    done = SwitchFigures(False, (Throw(5.0, 1, 0.0, on=True), Throw(5.5, 1, 0.0, on=False)))
    found = [each.value for each in load_findings(signals, hand, brake, done)]
    assert found == ([] if told_mV is None else [pytest.approx(told_mV)])


def test_a_load_is_held_against_half_a_second_on_each_side() -> None:
    """What happened earlier or later is none of its doing."""
    volts = flat(1.0, 10.0, 100.0)
    volts[500:600] += 0.05
    volts[400:449] += 0.4
    volts[651:700] += 0.4
    signals = signals_of_one(volts_signal(volts), 100.0)
    hand = replace(
        read_hand(signals, signals.by_name["throttle"], None, Ends(1.0, 4.0)), head_sd_V=0.0
    )
    brake = volts_signal(volts, "brake", channel=Channel(role="switch", column="s", unit="V"))
    done = SwitchFigures(False, (Throw(5.0, 1, 0.0, on=True), Throw(6.0, 1, 0.0, on=False)))
    (found,) = load_findings(signals, hand, brake, done)
    assert found.value == pytest.approx(50.0)
    assert found.limit == pytest.approx(10.0)


def test_what_nobody_works_is_kept_as_its_mean_with_what_that_is_known_to() -> None:
    """Spread of a reading over the root of their count; half of the readings repeat."""
    wheel = '[channels.wheel]\nrole = "wheel"\ncolumn = "w"\nunit = "level"\n'
    volts = np.tile([5.0, 5.1, 5.1, 5.1], 500)
    document = checked(rig(RAIL + wheel + BRAKE), v=volts, w=level(0.0), s=level(5.0))
    rail = document.channels["rail"].figures
    assert rail is not None
    assert rail.rest is not None
    assert rail.noise is not None
    assert rail.rest.mean == pytest.approx(5.075)
    assert rail.noise == pytest.approx(float(volts.std()), rel=0.02)
    assert rail.rest.u == pytest.approx(rail.noise / 2000.0**0.5)
    assert rail.repeats == pytest.approx(0.5, abs=1e-3)
    turned = document.channels["wheel"].figures
    assert turned is not None
    assert turned.rest is None
    switch = document.channels["brake"].figures
    assert switch is not None
    assert switch.rest is not None
    assert switch.rest.mean == 1.0


@pytest.mark.parametrize(("held", "judged"), [(17, False), (19, True)])
def test_a_load_that_is_held_for_less_than_three_edges_says_nothing(
    held: int, judged: bool
) -> None:
    """Its edges alone take 0.18 s."""
    volts = flat(1.0, 10.0, 100.0)
    volts[500 : 500 + held] += 0.05
    signals = signals_of_one(volts_signal(volts), 100.0)
    hand = replace(
        read_hand(signals, signals.by_name["throttle"], None, Ends(1.0, 4.0)), head_sd_V=0.0
    )
    brake = volts_signal(volts, "brake", channel=Channel(role="switch", column="s", unit="V"))
    off_s = 5.0 + held / 100.0
    done = SwitchFigures(False, (Throw(5.0, 1, 0.0, on=True), Throw(off_s, 1, 0.0, on=False)))
    assert bool(list(load_findings(signals, hand, brake, done))) is judged


def test_of_several_returns_the_slowest_is_kept() -> None:
    """What a later check is held against is the worst of them."""
    slow = presses(1.0, 4.0, (4.0, 8.0))
    slow[530:600] = np.linspace(4.0, 1.0, 70)
    figures = checked(rig(CONTROL.format("throttle", "a0")), a0=slow).channels["throttle"].figures
    assert figures is not None
    assert figures.return_s == pytest.approx(0.92 * 0.7, abs=0.03)

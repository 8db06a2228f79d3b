"""Supplies, switches, thermistors and the logger's program at both sides of each limit."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest

from calib.checks.bench.hands import Ends, read_hand
from calib.checks.bench.shape import sets_off_late
from calib.checks.bench.signals import Signal, Signals
from calib.checks.bench.supply import SupplyFigures, supply_figures, supply_findings
from calib.checks.bench.thermal import temperature_findings, temperature_of
from calib.checks.bench.truth import Number, numbers_of, renumbered_findings
from calib.checks.bench.unplug import travel_on_file
from calib.controls.presses import Press
from calib.store.documents.check import ChannelCheck, CheckDocument, CheckFigures, CheckLevel
from calib.store.documents.finding import Severity
from calib.store.rig import Channel
from tests.unit.checks.bench.evening import (
    BRAKE,
    RAIL,
    TWO,
    Floats,
    checked,
    level,
    presses,
    rig,
    told,
)
from tests.unit.checks.bench.waves import flat, signals_of_one, volts_signal
from tests.unit.evidence import Bench, bench, travel

RAILED = Channel(role="supply", column="v", unit="V")


def _rail(volts: Floats) -> SupplyFigures:
    signals = signals_of_one(volts_signal(volts, "rail", channel=RAILED), 100.0)
    return supply_figures(signals, signals.by_name["rail"])


@pytest.mark.parametrize(("away_V", "dip_V"), [(-0.25, 0.25), (0.25, 0.25), (0.0, 0.0)])
def test_a_supply_dips_by_its_farthest_mean_of_a_tenth_of_a_second(
    away_V: float, dip_V: float
) -> None:
    """Down or up, from the usual level; and a quiet one does neither."""
    volts = flat(5.0, 10.0, 100.0)
    volts[500:530] += away_V
    found = _rail(volts)
    assert found.dip_V == pytest.approx(dip_V, abs=1e-9)
    assert (found.low_V, found.high_V) == (5.0 + min(away_V, 0.0), 5.0 + max(away_V, 0.0))


def test_four_standard_deviations_of_a_mean_are_no_dip() -> None:
    """Readings that turn by 20 mV each time ask for 18 mV of a mean of ten; that is taken off."""
    volts = flat(5.0, 10.0, 100.0) + np.tile([0.01, -0.01], 500)
    volts[500:530] -= 0.25
    noise_V = 4.0 * 0.02 / math.sqrt(2.0 * 10.0)
    assert _rail(volts).dip_V == pytest.approx(0.25 - noise_V, abs=0.011)
    shallow = flat(5.0, 10.0, 100.0) + np.tile([0.01, -0.01], 500)
    shallow[500:530] -= 0.005
    assert _rail(shallow).dip_V == 0.0


@pytest.mark.parametrize(
    ("mean_V", "code", "severity"),
    [
        (4.75, None, None),
        (4.74, "supply-low", Severity.CAUTION),
        (4.5, "supply-low", Severity.CAUTION),
        (4.49, "supply-low", Severity.FAIL),
        (5.25, None, None),
        (5.26, "supply-high", Severity.CAUTION),
        (5.5, "supply-high", Severity.CAUTION),
        (5.51, "supply-high", Severity.FAIL),
    ],
)
def test_a_supply_is_low_or_high_beyond_a_twentieth_and_dead_beyond_a_tenth(
    mean_V: float, code: str | None, severity: Severity | None
) -> None:
    """Of five volts; at the limit itself it still passes, or is a caution."""
    rail = volts_signal(flat(mean_V, 1.0, 100.0), "rail", channel=RAILED)
    found = list(supply_findings(rail, SupplyFigures(mean_V, mean_V, mean_V, 0.0)))
    assert [(each.code, each.severity) for each in found] == (
        [] if code is None else [(code, severity)]
    )


@pytest.mark.parametrize(
    ("low_V", "dip_V", "severity"),
    [(4.9, 0.1, None), (4.9, 0.101, Severity.CAUTION), (4.5, 0.5, Severity.CAUTION),
     (4.4375, 0.5, Severity.FAIL)],
)  # fmt: skip
def test_a_supply_may_dip_by_two_per_cent_and_fails_below_what_a_sensor_bears(
    low_V: float, dip_V: float, severity: Severity | None
) -> None:
    """A dip is held against the supply's own level."""
    rail = volts_signal(flat(5.0, 1.0, 100.0), "rail", channel=RAILED)
    found = list(supply_findings(rail, SupplyFigures(5.0, low_V, 5.0, dip_V)))
    assert [each.severity for each in found] == ([] if severity is None else [severity])


@pytest.mark.parametrize(
    ("on_V", "severity", "limit"),
    [(3.5, None, None), (3.4375, Severity.CAUTION, 20.0), (3.0, Severity.CAUTION, 20.0),
     (2.9375, Severity.FAIL, 10.0)],
)  # fmt: skip
def test_a_switch_crept_within_a_fifth_of_five_volts_and_fails_within_a_tenth(
    on_V: float, severity: Severity | None, limit: float | None
) -> None:
    """From its threshold of 2.5 V to the nearer level."""
    volts = level(0.0)
    volts[500:700] = on_V
    found = told(checked(rig(BRAKE), s=volts), "switch-levels")
    assert (None if found is None else found.severity) == severity
    assert (None if found is None else found.limit) == limit


MOTOR = Channel(
    role="temperature", column="t", unit="V", ntc_R25_ohm=10_000.0, ntc_beta_K=3950.0,
    pullup_ohm=10_000.0, pullup_V=5.0,
)  # fmt: skip


def _sensor(degC: float, name: str, r25: float = 10_000.0) -> Signal:
    """What a thermistor of another resistance sends under a rig file that says ten kilohms."""
    ohms = r25 * math.exp(3950.0 * (1.0 / (degC + 273.15) - 1.0 / 298.15))
    return volts_signal(np.full(10, 5.0 * ohms / (ohms + 10_000.0)), name, channel=MOTOR)


@pytest.mark.parametrize("r25", [47_000.0, 100_000.0, 2_000.0])
def test_of_two_sensors_the_one_that_reads_no_garage_is_the_other_type(r25: float) -> None:
    """Without a record either may be; nobody's garage has 40 degrees of frost, or of sixty."""
    both = [_sensor(14.0, "motor", r25), _sensor(14.0, "ambient")]
    read = [temperature_of(each) for each in both]
    (found,) = temperature_findings([each for each in read if each is not None], cold=True)
    assert (found.code, found.channel) == ("temperature-wrong-type", "motor")


@pytest.mark.parametrize(
    ("degC", "code"),
    [(-40.0, None), (-40.5, "temperature-open"), (150.0, None), (150.5, "temperature-short")],
)
def test_a_temperature_is_absurd_beyond_its_limits(degC: float, code: str | None) -> None:
    """Not at them; and it is told with the limit that it broke."""
    about = rig('[channels.motor]\nrole = "temperature"\ncolumn = "t"\nunit = "degC"\n')
    document = checked(about, t=level(degC))
    found = [each for each in document.findings if each.code.startswith("temperature-")]
    assert [each.code for each in found] == ([] if code is None else [code])
    if found:
        assert found[0].limit == (-40.0 if degC < 0.0 else 150.0)


THEN_MV = (1850.0, 4100.0, 2500.0, 1300.0)


def _sent(now: tuple[float, ...], rate_hz: float = 100.0, head: int = 500) -> Signals:
    """Channels in millivolts that send so much from the start; others after ``head`` readings."""
    by_name = {}
    for place, value in enumerate(now):
        raw = np.full(500, value)
        raw[head:] = 7.0 * value
        channel = Channel(role="other", column=place, unit="mV")
        by_name[f"c{place}"] = Signal(
            name=f"c{place}", channel=channel, unit="V", values=raw / 1000.0, raw=raw, step=0.0,
            last_code=None, place=place,
        )  # fmt: skip
    time_s = np.arange(500) / rate_hz
    return Signals(time_s=time_s, arrival_s=time_s, rate_hz=rate_hz, by_name=by_name)


def _record() -> dict[str, CheckFigures]:
    return {
        f"c{place}": CheckFigures(
            unit="V", rest=CheckLevel(mean=value / 1000.0, sd=0.0, u=0.001, stays=1)
        )
        for place, value in enumerate(THEN_MV)
    }


@pytest.mark.parametrize(
    ("factor", "code", "words"),
    [
        (0.5, "codes-shifted", "down by 1 bits"),
        (1.0 / 256.0, "codes-shifted", "down by 8 bits"),
        (1.0 / 512.0, "unit-changed", "another unit"),
        (1000.0, "unit-changed", "a thousandth of the unit"),
        (0.001, "unit-changed", "a thousand times the unit"),
        (3.0, "unit-changed", "another unit"),
        (1.5, None, ""),
        (0.7, None, ""),
    ],
)
def test_one_factor_for_all_numbers_is_named_by_what_makes_it(
    factor: float, code: str | None, words: str
) -> None:
    """One to eight bits, a thousand either way; else another unit from a factor of 1.8 on."""
    now = tuple(factor * value for value in THEN_MV)
    found = list(renumbered_findings(_sent(now), _record()))
    assert [each.code for each in found] == ([] if code is None else [code])
    if found:
        assert found[0].value == pytest.approx(factor)
        assert words in found[0].text


def test_a_number_is_near_within_a_share_of_the_scale() -> None:
    """Up to that share, and no farther."""
    signal = volts_signal(np.ones(3))
    number = Number(signal, now=0.0, then=100.0, scale=1000.0)
    assert number.is_near(150.0, 0.05)
    assert number.is_near(50.0, 0.05)
    assert not number.is_near(150.5, 0.05)
    assert not number.is_near(49.5, 0.05)


@pytest.mark.parametrize(("rate_hz", "readings"), [(2.0, 8), (100.0, 150)])
def test_the_start_is_a_second_and_a_half_or_eight_readings(rate_hz: float, readings: int) -> None:
    """Its median is what a channel sent: half of it at one number, half at another."""
    signals = _sent(THEN_MV, rate_hz, head=readings // 2)
    found = numbers_of(signals, _record())
    assert [each.now for each in found] == pytest.approx([4.0 * value for value in THEN_MV])


def test_the_rate_that_a_chatter_needs_is_said() -> None:
    """Three readings within five milliseconds; at 100 Hz thirty milliseconds are seen."""
    document = checked(rig(BRAKE), s=level(0.0))
    assert any("shorter than 30 ms" in each and "600 Hz to judge 5 ms" in each
               for each in document.cannot_see)  # fmt: skip


@pytest.mark.parametrize(("start_s", "late"), [(0.6, True), (0.73, True), (0.76, False),
                                               (1.2, False)])  # fmt: skip
def test_a_signal_set_off_late_where_its_start_took_three_quarters_of_its_end(
    start_s: float, late: bool
) -> None:
    """From 5 to 20 % of the travel, against 80 to 95 % in a second."""
    time_s = np.arange(1200) / 100.0
    corners_s = np.cumsum([4.0, start_s / 3.0, start_s, 1.0, 1.0, 1.0 / 3.0])
    share = np.interp(time_s, corners_s, [0.0, 0.05, 0.2, 0.8, 0.95, 1.0])
    signals = signals_of_one(volts_signal(1.0 + 3.0 * share), 100.0)
    hand = read_hand(signals, signals.by_name["throttle"], None, Ends(1.0, 4.0))
    press = Press(leave_s=4.0, full_s=float(corners_s[-1]), let_go_s=11.5, back_s=11.9)
    assert sets_off_late(signals, replace(hand, presses=(press,)), Ends(1.0, 4.0)) is late
    assert not sets_off_late(signals, replace(hand, presses=()), Ends(1.0, 4.0))


def _checked_control(rest_V: float, full_V: float) -> CheckDocument:
    figures = CheckFigures(
        unit="V",
        rest=CheckLevel(mean=rest_V, sd=0.0, u=0.001, stays=3),
        full=CheckLevel(mean=full_V, sd=0.0, u=0.001, stays=3),
    )
    grip = ChannelCheck(verdict=Severity.PASS, role="control", figures=figures)
    return CheckDocument(verdict=Severity.PASS, channels={"grip": grip})


def _acts_V(here: Bench) -> tuple[float, float] | None:
    found = travel_on_file(here.filed, "grip")
    return None if found is None else (found.low_V, found.high_V)


def test_the_drive_acts_from_three_hundredths_above_rest_by_a_check(tmp_path: Path) -> None:
    """Below rest, where it reads lower when it is pressed; without a check nobody knows."""
    here = bench(tmp_path)
    assert _acts_V(here) is None
    here.keep(_checked_control(1.0, 4.0), None, "check", days=2)
    assert _acts_V(here) == pytest.approx((1.09, 4.0))
    here.keep(_checked_control(4.0, 1.0), None, "check", days=1)
    assert _acts_V(here) == pytest.approx((1.0, 3.91))


def test_the_drive_acts_from_its_dead_band_on_where_that_is_in_the_loggers_volts(
    tmp_path: Path,
) -> None:
    """A start on the controller's own scale is on no scale of the logger's; rest is."""
    here = bench(tmp_path)
    document = travel(rest_V=0.8, full_V=3.8, start_V=0.95)
    here.keep(document, "grip", days=2)
    assert _acts_V(here) == pytest.approx((0.95, 3.8))
    here.keep(msgspec.structs.replace(document, basis="controller"), "grip", days=1)
    assert _acts_V(here) == pytest.approx((0.89, 3.8))


@pytest.mark.parametrize(("dip_s", "told_so"), [(0.3, True), (0.0, False)])
def test_a_dip_of_the_supply_is_told_of_a_check(dip_s: float, told_so: bool) -> None:
    """With how deep it went."""
    volts = level(5.0)
    volts[900 : 900 + round(100 * dip_s)] = 4.75
    about = rig(TWO + RAIL)
    document = checked(about, a0=presses(1.0, 4.0, (4.0,)), a1=presses(1.0, 4.0, (9.0,)), v=volts)
    found = told(document, "supply-dips", "rail")
    assert (found is not None) is told_so
    if found is not None:
        assert found.value == pytest.approx(5.0)

"""What a capture shows before anything is judged, and what becomes of it in the document."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calib.checks.bench.gathered import Gathered
from calib.checks.bench.judgement import CheckSettings, judge_check
from calib.checks.bench.signals import Signal
from calib.store.documents.check import CheckFigures, CheckLevel
from calib.store.documents.finding import Severity
from calib.store.rig import Channel
from tests.records import record_of
from tests.unit.checks.bench.evening import (
    BRAKE,
    RAIL,
    THROTTLE_S,
    TWO,
    Floats,
    checked,
    flicker,
    level,
    presses,
    rig,
    told,
)
from tests.unit.checks.bench.waves import (
    counted_signal,
    flat,
    signals_of_all,
    signals_of_one,
    volts_signal,
)
from tests.wheel_files import wheel_capture

BRAKED = Channel(role="switch", column="s", unit="V")
RAILED = Channel(role="supply", column="v", unit="V")
FED = Channel(role="control", column="a0", unit="V", supply="rail")


def _switched(volts: Floats) -> Gathered:
    """A control beside a switch that is held from 5 to 8 s of 12."""
    held = flat(0.0, 12.0, 100.0)
    held[500:800] = 5.0
    brake = volts_signal(held, "brake", channel=BRAKED)
    signals = signals_of_all([volts_signal(volts), brake], 100.0)
    low = CheckLevel(mean=1.0, sd=0.0, u=0.0, stays=1)
    high = CheckLevel(mean=4.0, sd=0.0, u=0.0, stays=1)
    return Gathered(signals, {"throttle": CheckFigures(unit="V", rest=low, full=high)})


@pytest.mark.parametrize(
    ("at", "dropped"), [(492, True), (497, False), (600, False), (803, False), (808, True)]
)
def test_what_drops_out_while_a_switch_holds_a_load_is_no_drop_out(at: int, dropped: bool) -> None:
    """Nor within 0.05 s of it on either side: its current moves the ground."""
    volts = flat(1.0, 12.0, 100.0)
    volts[at : at + 2] = -1.0
    (hand,) = _switched(volts).hands
    assert [each.run.first for each in hand.drop_outs] == ([at] if dropped else [])


def test_while_a_load_is_on_nothing_is_calm_and_all_is_quiet_again() -> None:
    """A throw makes a tenth of a second loud each way; drop-outs are not calm either."""
    volts = flat(1.0, 12.0, 100.0)
    volts[1000:1002] = -1.0
    seen = _switched(volts)
    loud = [*range(490, 510), *range(790, 810)]
    assert np.flatnonzero(~seen.quiet).tolist() == loud
    assert np.flatnonzero(~seen.calm).tolist() == [*range(490, 810), *range(999, 1003)]


@pytest.mark.parametrize("worked_s", [4.0, 8.0])
def test_what_drops_out_while_another_control_is_worked_is_no_drop_out(worked_s: float) -> None:
    """What it does while it is itself worked is judged by its own rest."""
    volts = presses(1.0, 4.0, (14.0, 17.0))
    volts[450:453] = -1.0
    other = presses(1.0, 4.0, (worked_s, 11.0))
    signals = signals_of_all([volts_signal(volts), volts_signal(other, "regen")], 100.0)
    throttle, lever = Gathered(signals, {}).hands
    assert len(throttle.drop_outs) == (worked_s != 4.0)
    assert lever.drop_outs == ()


@pytest.mark.parametrize(("low_V", "used"), [(2.5, False), (2.53125, True)])
def test_a_supply_below_which_no_sensor_works_undoes_nothing(low_V: float, used: bool) -> None:
    """At that voltage itself it does not either; by its lowest mean of a tenth of a second."""
    rail = flat(5.0, 20.0, 80.0)
    rail[800:816] = low_V
    volts = rail * (0.2 + 0.001 * np.resize([0.0, 1.0, 2.0, 1.0], len(rail)))
    signals = signals_of_all(
        [volts_signal(volts, channel=FED), volts_signal(rail, "rail", channel=RAILED)], 80.0
    )
    seen = Gathered(signals, {})
    assert list(seen.rails) == ["rail"]
    assert (list(seen.supplies) == ["rail"]) is used
    assert seen.supply_V("throttle") == (5.0 if used else None)
    (hand,) = seen.hands
    assert (hand.drop_outs == ()) is used  # else its dip is one of the control


def test_a_stated_supply_stands_where_none_is_logged() -> None:
    """And what a control read on record is taken at the supply of today."""
    stated = Channel(role="control", column="a0", unit="V", supply_V=4.5)
    signals = signals_of_one(volts_signal(np.ones(400), channel=stated), 100.0)
    assert Gathered(signals, {}).supply_V("throttle") == 4.5
    rail = flat(4.0, 4.0, 100.0)
    signals = signals_of_all(
        [volts_signal(np.ones(400), channel=FED), volts_signal(rail, "rail", channel=RAILED)], 100.0
    )
    low = CheckLevel(mean=1.0, sd=0.0, u=0.0, stays=1)
    high = CheckLevel(mean=4.0, sd=0.0, u=0.0, stays=1)
    for then_V, span_V in ((5.0, 2.4), (None, 3.0)):
        then = CheckFigures(unit="V", rest=low, full=high, supply_V=then_V)
        (hand,) = Gathered(signals, {"throttle": then}).hands
        assert hand.span_V == pytest.approx(span_V)


def test_a_supply_that_copies_or_is_frozen_undoes_nothing() -> None:
    """It is the multiplexer's or an old value, and no supply."""
    counts = np.floor(600.0 + 200.0 * np.resize([0.0, 0.0, 1.0, 1.0], 2000))
    lever = counted_signal(counts, "height")
    rail: Signal = replace(lever, name="rail", channel=RAILED)
    other = replace(lever, channel=Channel(role="other", column="a1", unit="V"))
    third = replace(lever, name="third", channel=Channel(role="other", column="a2", unit="V"))
    seen = Gathered(signals_of_all([other, rail, third], 100.0), {})
    assert {name: each.name for name, each in seen.copied.items()} == {
        "rail": "height", "third": "height",
    }  # fmt: skip
    assert seen.supplies == {}
    alone = Gathered(signals_of_all([rail], 100.0), {})
    assert list(alone.supplies) == ["rail"]
    still = replace(rail, raw=np.full(2000, 700.0), values=np.full(2000, 3.5))
    then = {"rail": CheckFigures(unit="V", repeats=0.5)}
    frozen = Gathered(signals_of_all([still], 100.0), then)
    assert frozen.frozen == ("rail",)
    assert frozen.supplies == {}


@pytest.mark.parametrize(
    ("pressed", "recorded", "span_V"), [(True, False, 3.0), (False, True, 3.0), (False, False, 0.0)]
)
def test_noise_is_held_against_a_span_that_is_known(
    pressed: bool, recorded: bool, span_V: float
) -> None:
    """By a press or by the record; else all that is seen is the noise itself."""
    volts = presses(1.0, 4.0, THROTTLE_S if pressed else ()) + flicker(0.0625)
    low = CheckLevel(mean=1.0, sd=0.0, u=0.0, stays=1)
    high = CheckLevel(mean=4.0, sd=0.0, u=0.0, stays=1)
    then = {"throttle": CheckFigures(unit="V", rest=low, full=high)} if recorded else {}
    other = volts_signal(volts, "height", channel=Channel(role="other", column="h", unit="V"))
    signals = signals_of_all([volts_signal(volts), other], 100.0)
    noises = Gathered(signals, then).noises
    assert noises["throttle"].span == pytest.approx(span_V, abs=0.05)
    assert noises["height"].span == 0.0
    rail = volts_signal(level(4.5), "rail", channel=RAILED)
    assert Gathered(signals_of_one(rail, 100.0), {}).noises["rail"].span == 4.5


@pytest.mark.parametrize(
    ("raw", "repeats"), [([1.0], None), ([1.0, 1.0], 1.0), ([1.0, 1.0, 2.0, 2.0, 2.0], 0.75)]
)
def test_repeats_are_the_share_of_readings_that_are_as_the_one_before(
    raw: list[float], repeats: float | None
) -> None:
    """Of one reading there are none."""
    signal = volts_signal(np.array(raw), channel=Channel(role="other", column="h", unit="V"))
    seen = Gathered(signals_of_one(signal, 100.0), {})
    assert seen.repeats(signal) == repeats


HEIGHT = '[channels.{0}]\nrole = "{1}"\ncolumn = "{0}"\nunit = "{2}"\n'


def _figures(text: str, name: str, values: Floats) -> CheckFigures:
    """Figures of the one channel, whose column has its name."""
    capture = wheel_capture(np.arange(len(values)) / 100.0, **{name: values})
    figures = judge_check(capture, rig(text), ()).channels[name].figures
    assert figures is not None
    return figures


def test_what_nobody_works_is_kept_with_its_spread_and_its_repeats() -> None:
    """An accelerometer's as a voltage's; what is no voltage has no hum."""
    values = np.resize([0.0, 0.0, 0.0, 2.0, 2.0, 2.0], 1998)
    accel = _figures(HEIGHT.format("ax", "accel-x", "g"), "ax", values)
    assert accel.rest == CheckLevel(mean=1.0, sd=0.0, u=1998.0**-0.5, stays=1)
    assert (accel.noise, accel.hum, accel.degC, accel.unit) == (1.0, None, None, "g")
    assert accel.repeats == pytest.approx(2.0 / 3.0, abs=1e-3)
    other = _figures(HEIGHT.format("h", "other", "V"), "h", values)
    assert other.rest is not None
    assert (other.rest.sd, other.rest.stays) == (0.0, 1)
    assert other.hum is not None
    assert other.noise == pytest.approx(1.0, rel=0.03)


@pytest.mark.parametrize(("volts", "on"), [(0.0, 0.0), (5.0, 1.0)])
def test_a_switch_is_kept_by_how_it_began(volts: float, on: float) -> None:
    """On is one and off is nought, without a unit or a spread."""
    figures = _figures(BRAKE.replace('"s"', '"brake"'), "brake", level(volts))
    assert figures == CheckFigures(unit="", rest=CheckLevel(mean=on, sd=0.0, u=0.0, stays=1))


@pytest.mark.parametrize("role", ["temperature", "ambient"])
def test_a_temperature_is_kept_in_degrees_where_it_has_any(role: str) -> None:
    """A shorted thermistor is endlessly hot, which no record can hold."""
    text = HEIGHT.format("t", role, "V") + (
        "ntc_R25_ohm = 10000.0\nntc_beta_K = 3950.0\npullup_ohm = 10000.0\npullup_V = 5.0\n"
    )
    assert _figures(text, "t", level(2.5)).degC == pytest.approx(25.0)
    assert _figures(text, "t", level(0.0)).degC is None
    assert _figures(HEIGHT.format("t", role, "degC"), "t", level(12.5)).degC == 12.5


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (HEIGHT.format("h", "other", "V"), True),
        (HEIGHT.format("h", "pitch", "V"), True),
        (HEIGHT.format("h", "other", "V") + 'supply = "rail"\n', False),
        (HEIGHT.format("h", "other", "degC"), False),
        (HEIGHT.format("h", "control", "V"), False),
    ],
)
def test_the_loggers_scale_is_told_by_what_does_not_hang_on_the_supply(
    text: str, said: bool
) -> None:
    """In volts, and not worked by anybody."""
    about = rig(RAIL + text)
    first = checked(about, v=level(5.0), h=level(2.0) + flicker(0.004))
    moved = checked(about, v=level(4.5), h=level(1.8) + flicker(0.004), earlier=record_of(first))
    assert (told(moved, "logger-scale", "rail") is not None) is said


def test_a_supply_at_the_converters_end_has_no_level_that_is_known() -> None:
    """It clips, and is neither low nor high; the clipping is a caution."""
    text = '[channels.rail]\nrole = "supply"\ncolumn = "v"\nunit = "count"\n'
    about = rig(text + "full_scale = 1024\nreference_V = 3.3\n")
    clipped = checked(about, v=level(1023.0))
    found = told(clipped, "clips", "rail")
    assert found is not None
    assert found.severity is Severity.CAUTION
    assert "all the time" in found.text
    assert told(clipped, "supply-low") is None
    low = checked(about, v=level(1000.0))
    assert told(low, "clips") is None
    assert told(low, "supply-low") is not None


def test_each_channel_has_the_findings_that_are_its_own() -> None:
    """And a verdict of its own, the worst of them; the whole has the worst of all."""
    about = rig(TWO + RAIL)
    document = checked(
        about,
        a0=presses(1.0, 4.0, (4.0, 8.0)) + flicker(0.004),
        a1=level(2.0),
        v=level(4.7) + flicker(0.004),
    )
    for name, channel in document.channels.items():
        assert channel.findings == tuple(e for e in document.findings if e.channel == name)
        assert channel.role == about.channels[name].role
    assert document.channels["throttle"].verdict is Severity.PASS
    assert document.channels["rail"].verdict is Severity.CAUTION
    assert document.channels["regen"].verdict is not Severity.PASS
    assert document.verdict is document.channels["regen"].verdict


def test_without_a_word_a_check_was_whole_and_its_condition_is_not_known() -> None:
    """Only what is said is kept."""
    assert CheckSettings() == CheckSettings(quick=False, condition=None)
    document = checked(rig(), a0=level(1.0), a1=level(1.0), condition="cold", quick=True)
    assert (document.quick, document.condition, document.compared_with) == (True, "cold", None)
    bare = judge_check(wheel_capture(np.arange(600) / 64.0, a0=np.ones(600)), rig(), ())
    assert (bare.quick, bare.condition) == (False, None)


@pytest.mark.parametrize("value", [0.0, 1.0])
def test_a_wheel_has_no_level_that_is_kept(value: float) -> None:
    """Where it happens to stand says nothing."""
    figures = _figures(HEIGHT.format("w", "wheel", "level"), "w", level(value))
    assert figures == CheckFigures(unit="level")

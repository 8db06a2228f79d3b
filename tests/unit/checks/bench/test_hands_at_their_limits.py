"""Rests, noise and the shape of a press at both sides of each limit, by exact readings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calib.checks.bench.control import rest_findings
from calib.checks.bench.gathered import Gathered
from calib.checks.bench.hands import Ends, Hand, clipped_sd, read_hand
from calib.checks.bench.noise import Noise, NoiseFigures, noise_findings
from calib.checks.bench.shape import flats
from calib.checks.bench.signals import Signals
from calib.controls.presses import Press
from calib.store.documents.check import CheckFigures
from calib.store.documents.finding import Finding, Severity
from calib.store.rig import Channel
from tests.unit.checks.bench.evening import CONTROL, Floats, checked, flicker, presses, rig, told
from tests.unit.checks.bench.waves import (
    flat,
    ramp,
    signals_of_all,
    signals_of_one,
    volts_signal,
)

ENDS = Ends(1.0, 4.0)


def _read(volts: Floats, expected: Ends | None = None, rate_hz: float = 100.0) -> tuple[
    Signals, Hand
]:  # fmt: skip
    signals = signals_of_one(volts_signal(volts), rate_hz)
    return signals, read_hand(signals, signals.by_name["throttle"], None, expected)


@pytest.mark.parametrize(("glitch", "sd"), [(3.0, None), (3.1, 1.0), (6.0, 1.0), (50.0, 1.0)])
def test_readings_beyond_five_standard_deviations_are_left_out_of_the_noise(
    glitch: float, sd: float | None
) -> None:
    """Where nine of ten are 1 off, one standard deviation is 1 / 1.645, and five are 3.04."""
    values = np.tile([1.0, -1.0], 500)
    values[10] = glitch
    kept = float(np.delete(values, 10).std()) if sd is not None else float(values.std())
    assert clipped_sd(values) == pytest.approx(kept, rel=1e-6)
    assert clipped_sd(np.array([])) == 0.0


@pytest.mark.parametrize(("thumb_V", "rest_V"), [(0.07, None), (0.15, 1.0)])
def test_noise_of_a_mean_hides_no_thumb_and_noise_of_a_reading_none_either(
    thumb_V: float, rest_V: float | None
) -> None:
    """Noise of 49 mV is 16 mV in a mean of ten: six of those are 93 mV."""
    volts = np.concatenate(
        [flat(1.0, 0.5, 100.0), flat(1.0 + thumb_V, 2.0, 100.0), ramp(1.0, 4.0, 0.3, 100.0),
         flat(4.0, 1.0, 100.0), ramp(4.0, 1.0, 0.1, 100.0), flat(1.0, 2.0, 100.0)]
    )  # fmt: skip
    noise = flicker(0.12, len(volts) / 100.0) - 0.06
    _, hand = _read(volts + noise)
    rest_V = 1.0 + thumb_V if rest_V is None else rest_V
    assert hand.head_V == pytest.approx(rest_V, abs=0.02)


@pytest.mark.parametrize(("rate_hz", "starts_s", "told_so"), [
    (100.0, 0.24, True), (100.0, 0.5, False), (15.0, 0.1, True), (15.0, 1.0, False),
])  # fmt: skip
def test_a_control_that_moves_within_the_first_three_tenths_had_no_rest(
    rate_hz: float, starts_s: float, told_so: bool
) -> None:
    """By the last mean of that time against the first; at 15 Hz there are but two."""
    parts = [flat(1.0, starts_s, rate_hz)]
    for _ in range(3):
        parts += [ramp(1.0, 4.0, 0.4, rate_hz), flat(4.0, 1.5, rate_hz)]
        parts += [ramp(4.0, 1.0, 0.4, rate_hz), flat(1.0, 2.0, rate_hz)]
    _, hand = _read(np.concatenate(parts), rate_hz=rate_hz)
    assert hand.presses
    assert hand.needs_rest_s == (0.3 if told_so else None)


@pytest.mark.parametrize(("gap_s", "rests"), [(0.55, 2), (0.7, 3)])
def test_a_rest_keeps_clear_of_the_presses_beside_it(gap_s: float, rests: int) -> None:
    """From 0.2 s after one to 0.1 s before the next, and 0.3 s long at least."""
    signals, hand = _read(presses(1.0, 4.0, (4.0, 5.4 + gap_s)))
    first, last = hand.presses
    assert len(hand.rests) == rests
    times_s = [
        (float(signals.time_s[run.first]), float(signals.time_s[run.stop - 1]))
        for run in hand.rests
    ]
    assert times_s[0][1] == pytest.approx(first.leave_s - 0.1, abs=0.011)
    assert times_s[-1][0] == pytest.approx(last.back_s + 0.2, abs=0.011)
    if rests == 3:
        assert times_s[1][0] == pytest.approx(first.back_s + 0.2, abs=0.011)
        assert times_s[1][1] == pytest.approx(last.leave_s - 0.1, abs=0.011)


def test_a_throw_of_a_switch_is_not_quiet_for_a_tenth_of_a_second_each_way() -> None:
    """Nor while it chatters."""
    brake = Channel(role="switch", column="s", unit="V")
    volts = flat(0.0, 10.0, 100.0)
    volts[500:] = 5.0
    volts[502] = 0.0  # chatter of 0.03 s
    held = signals_of_all(
        [volts_signal(flat(1.0, 10.0, 100.0)), volts_signal(volts, "brake", channel=brake)], 100.0
    )
    loud = np.flatnonzero(~Gathered(held, {}).quiet)
    assert loud[0] == pytest.approx(490, abs=1)
    assert loud[-1] == pytest.approx(512, abs=1)


@pytest.mark.parametrize(("between", "apart"), [(0.1, True), (0.2, False), (0.8, False),
                                                (0.9, True)])  # fmt: skip
def test_a_rest_is_at_one_of_two_levels_within_an_eighth_of_their_distance(
    between: float, apart: bool
) -> None:
    """A seventh of the time farther from both, it is anywhere between them."""
    volts = np.concatenate(
        [flat(1.0, 6.0, 100.0), flat(1.0 + 0.3 * between, 2.0, 100.0), flat(1.3, 6.0, 100.0)]
    )
    signals, hand = _read(volts, ENDS)
    (found,) = rest_findings(signals, hand, np.ones(len(volts), dtype=np.bool_))
    assert found.code == ("two-rests" if apart else "play")
    assert found.value == pytest.approx(10.0, abs=0.01)


@pytest.mark.parametrize(("lasts_s", "known"), [(0.75, False), (0.85, True)])
def test_a_rest_is_told_from_eight_tenths_of_a_second_on(lasts_s: float, known: bool) -> None:
    """Eight means of a tenth of a second; and a control that has no span has no share of it."""
    volts = np.concatenate([flat(1.0, 0.5, 100.0), flat(1.3, 9.5, 100.0)])
    calm = np.zeros(len(volts), dtype=np.bool_)
    calm[: round(100 * lasts_s)] = True
    signals, hand = _read(volts, ENDS)
    assert bool(list(rest_findings(signals, hand, calm))) is known
    assert list(rest_findings(signals, replace(hand, span_V=0.0), calm)) == []


@pytest.mark.parametrize(("readings", "looked_at"), [(11, 0), (12, 1)])
def test_a_press_is_looked_at_for_flat_spots_from_twelve_readings_on(
    readings: int, looked_at: int
) -> None:
    """Quicker ones show nothing at this rate."""
    signals, hand = _read(presses(1.0, 4.0, (4.0,)), ENDS)
    press = Press(leave_s=4.0, full_s=4.0 + (readings - 0.5) / 100.0, let_go_s=5.3, back_s=5.4)
    assert len(flats(signals, replace(hand, presses=(press,), head_sd_V=0.0), ENDS)) == looked_at


@pytest.mark.parametrize(
    ("tremble", "noise", "found"),
    [(0.008, 0.0, True), (0.015, 0.0, False), (0.015, 0.02, True), (0.025, 0.02, False)],
)
def test_a_flat_spot_stands_still_within_a_hundredth_or_within_the_noise(
    tremble: float, noise: float, found: bool
) -> None:
    """Whichever is more: movement below it is none."""
    share = np.concatenate(
        [np.linspace(0.0, 0.5, 16)[:-1], np.full(8, 0.5), np.linspace(0.5, 1.0, 17)]
    )
    share[15:23] += np.tile([0.0, tremble], 4)
    volts = np.concatenate([flat(1.0, 4.0, 100.0), 1.0 + 3.0 * share, flat(4.0, 2.0, 100.0),
                            ramp(4.0, 1.0, 0.1, 100.0), flat(1.0, 2.0, 100.0)])  # fmt: skip
    signals, hand = _read(volts, ENDS)
    press = Press(leave_s=4.0, full_s=4.0 + (len(share) - 0.5) / 100.0, let_go_s=6.2, back_s=6.4)
    known = replace(hand, presses=(press,), head_sd_V=noise * 3.0 / 6.0)
    (spot,) = flats(signals, known, ENDS)
    assert (spot.size > 0.1) is found


def _noises(*given: tuple[str, str, NoiseFigures, float]) -> list[Finding]:
    """Findings of channels by name, role, noise, and noise on record."""
    noises = {}
    for name, role, now, then in given:
        channel = Channel(role=role, column=name, unit="V")  # type: ignore[arg-type]
        signal = volts_signal(np.ones(10), name, channel=channel)
        noises[name] = Noise(signal, now, CheckFigures(unit="V", noise=then, hum=0.001), 5.0)
    return list(noise_findings(noises, (), np.ones(10, dtype=np.bool_)))


def _hum(sd: float, hum: float, share: float) -> NoiseFigures:
    return NoiseFigures(sd, hum, 50.0, stands_out=True, hum_share=share)


def test_hum_on_two_channels_is_common_and_no_fault_of_the_supply() -> None:
    """Each channel is told with the count of the others, the supply too; it is not their cause."""
    rail, lever = _hum(0.06, 0.05, 0.9), _hum(0.06, 0.05, 0.9)
    two = _noises(("v", "supply", rail, 0.01), ("a", "control", lever, 0.01))
    assert [(each.code, each.channel) for each in two] == [("hum-common", "v"), ("hum-common", "a")]
    alone = _noises(("v", "supply", rail, 0.01), ("a", "control", NoiseFigures(0.01), 0.01))
    assert [(each.code, each.channel) for each in alone] == [("supply-noise", "v"), ("hum", "v")]


@pytest.mark.parametrize(("share", "code"), [(0.5, "noise-grown"), (0.51, "hum")])
def test_a_mains_line_that_is_less_than_half_of_the_noise_is_not_its_name(
    share: float, code: str
) -> None:
    """On one channel alone; what grew is told by its name."""
    (found,) = _noises(("a", "control", _hum(0.06, 0.05, share), 0.01))
    assert found.code == code


def test_noise_of_a_supply_is_told_once() -> None:
    """As the supply's, where no mains line is in it."""
    assert [each.code for each in _noises(("v", "supply", NoiseFigures(0.06), 0.01))] == [
        "supply-noise"
    ]


@pytest.mark.parametrize(
    ("sd", "severity", "limit"),
    [(0.5, None, None), (0.5625, Severity.CAUTION, 2.0), (2.0, Severity.CAUTION, 2.0),
     (2.0625, Severity.FAIL, 8.0)],
)  # fmt: skip
@pytest.mark.parametrize("role", ["control", "supply"])
def test_noise_may_double_and_fails_beyond_eight_times(
    role: str, sd: float, severity: Severity | None, limit: float | None
) -> None:
    """Against a quarter of a volt on record."""
    found = _noises(("a", role, NoiseFigures(sd), 0.25))
    assert [each.severity for each in found] == ([] if severity is None else [severity])
    if found and role == "control":
        assert found[0].limit == limit


def test_a_rest_too_short_is_told_of_a_check() -> None:
    """With how long it must be left alone."""
    about = rig(CONTROL.format("throttle", "a0"))
    found = told(checked(about, a0=presses(1.0, 4.0, (0.24, 3.0, 6.0))), "rest-too-short")
    assert found is not None
    assert (found.severity, found.limit) == (Severity.UNKNOWN, 0.3)


@pytest.mark.parametrize(
    ("pct", "sd", "told_mV"), [(1.0, 0.05, None), (1.0, 0.0625, 62.5), (2.0, 0.09375, None),
                               (2.0, 0.125, 125.0)]
)  # fmt: skip
def test_a_supply_without_a_record_may_make_a_hundredth_of_itself_in_noise(
    pct: float, sd: float, told_mV: float | None
) -> None:
    """Of five volts that is 50 mV; or the user's own share. Without a record it cannot fail."""
    channel = Channel(role="supply", column="v", unit="V", limits={"noise_pct": pct})
    signal = volts_signal(np.ones(10), "rail", channel=channel)
    noise = Noise(signal, NoiseFigures(sd), None, 5.0)
    found = list(noise_findings({"rail": noise}, (), np.ones(10, dtype=np.bool_)))
    assert [each.value for each in found] == ([] if told_mV is None else [told_mV])
    for each in found:
        assert each.limit == pytest.approx(50.0 * pct)
        assert each.severity is Severity.CAUTION


@pytest.mark.parametrize(
    ("rest_V", "full_V", "glitch_V", "pulls"),
    [(1.0, 1.8, 1.5, True), (1.0, 4.0, 2.5, True), (4.0, 1.0, 4.9, False), (4.0, 1.0, 2.0, True),
     (1.0, 1.8, 0.2, False)],
)  # fmt: skip
def test_a_control_that_does_not_answer_keeps_the_way_it_had_on_record(
    rest_V: float, full_V: float, glitch_V: float, pulls: bool
) -> None:
    """However small its span: a glitch towards full travel would have pulled, one away not."""
    volts = flat(rest_V, 10.0, 100.0)
    volts[500] = glitch_V
    _, hand = _read(volts, Ends(rest_V, full_V))
    assert [each.into_travel for each in hand.drop_outs] == [pulls]
